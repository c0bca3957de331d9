"""What is known of recordings, changed in the window: by a dialog for many, by the playhead for the ends of one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QDialog, QDialogButtonBox, QFormLayout, QLineEdit, QWidget

from app.formatting import plural, which
from app.study import actions
from app.study.recordings import trim as trimming
from app.study.state import Item
from app.ui.controller import Controller
from app.ui.widgets.controls import choice, line_edit, number_in
from app.ui.widgets.layout import column, say, words
from app.ui.workbench import Workbench
from data.recordings.model import About, Trim

WORDS = ("person", "activity", "placement", "trial")
SEVERAL = "several"
MOST_SHOWN = 12


SETTING_WORDS = (("staged trials", "staged"), ("free-living time", "free-living"))
"""How recordings were made: words and what a study says for them."""


class PropertiesDialog(QDialog):
    """`decided(names, said, start_s, end_s)`: only what was changed; a time of None stays as it is."""

    decided = Signal(tuple, dict, object, object)

    def __init__(self, items: Sequence[Item], in_use: Mapping[str, Sequence[str]],
                 parent: QWidget | None = None) -> None:
        """`in_use`: the words that the study's recordings have, to choose from."""
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Edit properties")
        self._names = tuple(item.name for item in items)
        self._changed: set[str] = set()
        self.heading = words(f"Of {which(self._names)}. Fields left unchanged are not applied.", wrap=True)
        self.fields: dict[str, QComboBox] = {}
        form = QFormLayout()
        form.setLabelAlignment(Qt.AlignmentFlag.AlignLeft)
        for name in WORDS:
            self.fields[name] = self._words(name, [getattr(item.about, name) for item in items], in_use.get(name, ()))
            form.addRow(name.capitalize(), self.fields[name])
        self.setting = self._setting([item.about for item in items])
        form.addRow("Recorded in", self.setting)
        known = dict.fromkeys(f"{key}: {value}" for item in items for key, value in item.about.properties)
        self.known = words(", ".join([*known][:MOST_SHOWN]) + (", …" if len(known) > MOST_SHOWN else ""), wrap=True)
        if known:
            form.addRow("From the file's name", self.known)
        self.start = self._seconds("Trim off the beginning, seconds", "start", [item.trim for item in items])
        self.end = self._seconds("Trim off the end, seconds", "end", [item.trim for item in items])
        form.addRow("Trim off the beginning, s", self.start)
        form.addRow("Trim off the end, s", self.end)
        self.fault = words(role="wrong", wrap=True)
        self.fault.hide()
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.change = buttons.addButton("Change", QDialogButtonBox.ButtonRole.AcceptRole)
        self.change.setProperty("role", "main")
        buttons.accepted.connect(self._decide)
        buttons.rejected.connect(self.close)
        note = words("Trimmed ends, as those of donning and handling, are not fed to the rule; a trim never cuts a "
                     "label.", "aside", True)
        column(self.heading, form, note, self.fault, buttons, margins=(18, 16, 18, 14), spacing=6, of=self)
        self.resize(440, 360)

    def _words(self, name: str, now: Sequence[str], in_use: Sequence[str]) -> QComboBox:
        box = choice(name.capitalize(), ((one, one) for one in in_use))
        box.setEditable(True)
        box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        common = now[0] if len(set(now)) == 1 else ""
        box.setCurrentText(common)
        line = box.lineEdit()
        assert line is not None
        line.setPlaceholderText(SEVERAL if len(set(now)) > 1 else "")
        line.textEdited.connect(lambda _: self._changed.add(name))
        box.activated.connect(lambda _: self._changed.add(name))
        return box

    def _setting(self, now: Sequence[About]) -> QComboBox:
        settings = {about.setting for about in now}
        entries = [("not known", ""), *SETTING_WORDS]
        box = choice("Recorded in", entries if len(settings) == 1 else [(SEVERAL, None), *entries],
                     settings.pop() if len(settings) == 1 else None)
        box.activated.connect(lambda _: self._changed.add("setting"))
        return box

    def _seconds(self, name: str, edge: str, now: Sequence[Trim]) -> QLineEdit:
        values = {getattr(trim, f"{edge}_s") for trim in now}
        alike = len(values) == 1
        line = line_edit(name, "0" if alike else SEVERAL, f"{values.pop():g}" if alike else "")
        line.textEdited.connect(lambda _: self._changed.add(edge))
        return line

    def _decide(self) -> None:
        try:
            start, end = (self._said(edge, line) for edge, line in (("start", self.start), ("end", self.end)))
        except ValueError as error:
            say(self.fault, str(error))
            return
        said = {name: " ".join(self.fields[name].currentText().split()) for name in WORDS if name in self._changed}
        if "setting" in self._changed and self.setting.currentData() is not None:
            said["setting"] = self.setting.currentData()
        self.decided.emit(self._names, said, start, end)
        self.close()

    def _said(self, edge: str, line: QLineEdit) -> float | None:
        """Seconds; None where that stays as it is."""
        if edge not in self._changed:
            return None
        return number_in(line.text(), 0.0, lambda value: 0 <= value < 1e9,
                         f"{line.accessibleName()}: a number from 0 on.")


class Properties(Controller):
    """Ties Recordings and the trace to what a study says of its recordings. Each change is one step."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.window.recordings.describe_asked.connect(self.ask)
        self.window.trace.trim_asked.connect(self.trim_here)

    def ask(self, names: tuple[str, ...]) -> PropertiesDialog:
        study = self.bench.session.study
        items = [item for item in study.items if item.name in set(names)]
        in_use = {word: sorted({getattr(item.about, word) for item in study.items} - {""}) for word in WORDS}
        dialog = PropertiesDialog(items, in_use, self.window)
        dialog.decided.connect(self.change)
        dialog.show()
        return dialog

    def change(self, names: tuple[str, ...], said: dict[str, str], start_s: float | None, end_s: float | None) -> None:
        """One step for all of it; what could not be trimmed is told."""
        session = self.bench.session
        study = actions.describe(session.study, names, said) if said else session.study
        if start_s is not None or end_s is not None:
            done = trimming.trim(study, session.library, names, start_s, end_s)
            study = done.study
            if done.problems:
                self.show_problem(f"{plural(len(done.problems), 'recording was', 'recordings were')} not "
                                  "trimmed.", *done.problems)
        words = [f"{key} {value}".strip() for key, value in said.items()]
        words += ["trim"] if start_s is not None or end_s is not None else []
        if words:
            self.bench.act(study, f"{', '.join(words)} of {which(names)}")

    def trim_here(self, edge: str) -> None:
        """Let the shown recording begin or end at the playhead, or take its ends back."""
        session, name = self.bench.session, self.window.recordings.current
        trace, item, recording = session.trace(name), session.study.item(name), session.library.get(name)
        if trace is None or item is None or recording is None:
            return
        if edge == "none":
            self._set(name, Trim(), f"take back the ends of {name}")
            return
        line, sample = trace.seconds, self.window.trace.playhead
        step = line.seconds(1) - line.seconds(0) if line.count > 1 else 0.0
        self._set(name, trimming.until(recording, item.trim, edge, line.seconds(sample), step),
                  f"trim the {'beginning' if edge == 'start' else 'end'} of {name}")

    def _set(self, name: str, trim: Trim, done: str) -> None:
        session = self.bench.session
        result = trimming.trim(session.study, session.library, [name], trim.start_s, trim.end_s)
        if result.problems:
            self.window.status.show_message(result.problems[0].sentence())
            return
        self.bench.act(result.study, done)
        said = trimming.in_words(trim)
        self.window.status.show_message(f"{said[0].upper()}{said[1:]}; the trimmed ends are not fed to the rule."
                                        if said else "Nothing is trimmed.")

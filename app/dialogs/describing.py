"""What is known of several recordings, changed at once: person, activity, placement, setting, trimmed ends."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QDialog, QDialogButtonBox, QFormLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from app.study.state import Item
from app.words import plainly
from data.recipe import SETTINGS_OF_USE
from data.recording import About, Trim

WORDS = ("person", "activity", "placement", "trial")
SEVERAL = "several"


class DescribeDialog(QDialog):
    """`decided(names, said, start_s, end_s)`: only what was changed; a time of None stays as it is."""

    decided = Signal(tuple, dict, object, object)

    def __init__(self, items: Sequence[Item], in_use: Mapping[str, Sequence[str]],
                 parent: QWidget | None = None) -> None:
        """`in_use`: the words that the study's recordings have, to choose from."""
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("What is known of the recordings")
        self.setModal(False)
        self._names = tuple(item.name for item in items)
        self._changed: set[str] = set()
        which = self._names[0] if len(items) == 1 else f"{len(items)} recordings"
        self.heading = QLabel(f"Of {which}. What is left as it stands is not changed.", wordWrap=True)
        self.fields: dict[str, QComboBox] = {}
        form = QFormLayout()
        form.setLabelAlignment(Qt.AlignmentFlag.AlignLeft)
        for name in WORDS:
            self.fields[name] = self._words(name, [getattr(item.about, name) for item in items], in_use.get(name, ()))
            form.addRow(name.capitalize(), self.fields[name])
        self.setting = self._setting([item.about for item in items])
        form.addRow("Setting", self.setting)
        self.start = self._seconds("Trim off the beginning, seconds", "start", [item.trim for item in items])
        self.end = self._seconds("Trim off the end, seconds", "end", [item.trim for item in items])
        form.addRow("Trim off the beginning, s", self.start)
        form.addRow("Trim off the end, s", self.end)
        self.fault = QLabel(wordWrap=True)
        self.fault.setProperty("role", "wrong")
        self.fault.hide()
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.change = buttons.addButton("Change", QDialogButtonBox.ButtonRole.AcceptRole)
        self.change.setProperty("role", "main")
        buttons.accepted.connect(self._decide)
        buttons.rejected.connect(self.close)
        note = QLabel("Trimmed ends, as those of donning and handling, are not fed to the rule; a trim never cuts a "
                      "label.", wordWrap=True)
        note.setProperty("role", "aside")
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 16, 18, 14)
        for part in (self.heading, form, note, self.fault, buttons):
            column.addLayout(part) if isinstance(part, QFormLayout) else column.addWidget(part)
        self.resize(440, 360)

    def _words(self, name: str, now: Sequence[str], in_use: Sequence[str]) -> QComboBox:
        box = QComboBox()
        box.setEditable(True)
        box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        box.setAccessibleName(name.capitalize())
        box.addItems(list(in_use))
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
        box = QComboBox()
        box.setAccessibleName("Setting")
        if len(settings) > 1:
            box.addItem(SEVERAL, None)
        for words, setting in (("not said", ""), *((one, one) for one in SETTINGS_OF_USE)):
            box.addItem(words, setting)
        if len(settings) == 1:
            box.setCurrentIndex(box.findData(settings.pop()))
        box.activated.connect(lambda _: self._changed.add("setting"))
        return box

    def _seconds(self, name: str, edge: str, now: Sequence[Trim]) -> QLineEdit:
        values = {getattr(trim, f"{edge}_s") for trim in now}
        line = QLineEdit(f"{values.pop():g}" if len(values) == 1 else "")
        line.setAccessibleName(name)
        line.setPlaceholderText(SEVERAL if len(values) > 1 else "0")
        line.textEdited.connect(lambda _: self._changed.add(edge))
        return line

    def _decide(self) -> None:
        try:
            start, end = (self._said(edge, line) for edge, line in (("start", self.start), ("end", self.end)))
        except ValueError as error:
            self.fault.setText(str(error))
            self.fault.show()
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
        try:
            value = float(plainly(line.text() or "0"))
        except ValueError:
            value = -1.0
        if not 0 <= value < 1e9:
            raise ValueError(f"{line.accessibleName()}: a number from 0 on.")
        return value

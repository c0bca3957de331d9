"""What is known of recordings, changed in the window: by a dialog for many, by the playhead for the ends of one."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from app.dialogs.describing import WORDS, DescribeDialog
from app.study import actions, trimming
from app.study.state import Study
from app.workbench import Workbench
from data.recording import Trim


class Describing(QObject):
    """Ties Recordings and the trace to what a study says of its recordings. Each change is one step."""

    sentences = Signal(str, list)
    """A heading and why some recordings were left as they are."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.bench, self.window = bench, bench.window
        self.window.recordings.describe_asked.connect(self.ask)
        self.window.trace.trim_asked.connect(self.trim_here)

    def ask(self, names: tuple[str, ...]) -> DescribeDialog:
        study = self.bench.session.study
        items = [item for item in study.items if item.name in set(names)]
        in_use = {word: sorted({getattr(item.about, word) for item in study.items} - {""}) for word in WORDS}
        dialog = DescribeDialog(items, in_use, self.window)
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
                self.sentences.emit(f"{len(done.problems)} recordings were not trimmed.",
                                    [problem.sentence() for problem in done.problems])
        which = names[0] if len(names) == 1 else f"{len(names)} recordings"
        words = [f"{key} {value}".strip() for key, value in said.items()]
        words += ["trim"] if start_s is not None or end_s is not None else []
        if words:
            self.bench.act(study, f"{', '.join(words)} of {which}")

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
        self._act(result.study, done, trim)

    def _act(self, study: Study, done: str, trim: Trim) -> None:
        self.bench.act(study, done)
        said = trimming.in_words(trim)
        self.window.status.show_message(f"{said[0].upper()}{said[1:]}; the trimmed ends are not fed to the rule."
                                        if said else "Nothing is trimmed.")

"""Report…: what the product is for, asked once; what is missing or stale; and where report and archive go."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import ClassVar

from PySide6.QtWidgets import QCheckBox, QPlainTextEdit, QPushButton, QWidget

from app.formatting import plural
from app.study import actions
from app.study.pipeline import Cancelled, Progress
from app.study.report import archive, dossier
from app.study.report.opening_sections import TITLES
from app.study.session import Session
from app.study.workers import processes
from app.ui.controller import SideDialog
from app.ui.files.file_dialogs import ask_place
from app.ui.widgets.controls import button
from app.ui.widgets.layout import column, holding, say, scrolled, words
from app.ui.workbench import Workbench
from data.study.intended_use import QUESTIONS, IntendedUse

PAGES, ARCHIVES = "Reports (*.html)", "Archives (*.zip)"
LINES = 52
"""Height of an answer, pixels: two lines; longer ones scroll."""


class ReportController(SideDialog):
    """`workers`: processes for what is computed; 1 for none."""

    title = "Report"
    size = (620, 640)
    background: ClassVar = {"report": "writing the report", "archive": "packing the archive"}

    def __init__(self, bench: Workbench, workers: int = 1) -> None:
        super().__init__(bench)
        self._shared_jobs = bench.jobs  # shown and cancelled in the status line
        self.workers = workers

    def content(self) -> QWidget:
        self.answers: dict[str, QPlainTextEdit] = {}
        parts: list[QWidget] = []
        for key, question in QUESTIONS.items():
            answer = QPlainTextEdit()
            answer.setAccessibleName(TITLES[key])
            answer.setPlaceholderText(question)
            answer.setTabChangesFocus(True)
            answer.setFixedHeight(LINES)
            self.answers[key] = answer
            parts += [words(TITLES[key], "aside", buddy=answer), answer]
        self.compute = QCheckBox("Compute what is missing or stale first")
        self.missing, self.said = words(role="aside", wrap=True), words(role="wrong", wrap=True)
        self.done = words(wrap=True)
        lead = words("What the report says of the product; it is kept in the study.", "aside", wrap=True)
        return holding(column(lead, (scrolled(holding(column(*parts, spacing=3))), 1), self.compute, self.missing,
                              self.said, self.done, spacing=6))

    def buttons(self) -> tuple[QPushButton, ...]:
        return self.save, self.pack

    @cached_property
    def save(self) -> QPushButton:
        return button("Save report…", self.ask_page, "main")

    @cached_property
    def pack(self) -> QPushButton:
        return button("Save archive…", self.ask_archive, tip="Study, recordings, labels, settings, export and report "
                      "in one ZIP that opens elsewhere")

    def show(self) -> None:
        self.bring()
        self.look()

    def look(self) -> None:
        """What is answered and what is missing, of the open study."""
        session = self.bench.session
        for key, answer in self.answers.items():
            text = getattr(session.study.intended_use, key)
            if answer.toPlainText() != text and not answer.hasFocus():
                answer.setPlainText(text)
        topics = [topic.title for topic in dossier.stale_topics(session)] if session.library else []
        can = session.path is not None
        self.compute.setVisible(bool(topics) and can)
        said = f"Missing or stale: {', '.join(topics)}." if topics else ""
        say(self.missing, said if can or not said else f"{said} Save the study to compute and keep them.")

    def keep_answers(self) -> None:
        """As one step, where something was answered anew."""
        study = self.bench.session.study
        use = replace(IntendedUse(), **{key: answer.toPlainText().strip() for key, answer in self.answers.items()})
        if use != study.intended_use:
            self.bench.act(actions.set_intended_use(study, use), "intended use")

    def ask_page(self) -> None:
        path = self._ask("Save the report", "report.html", PAGES)
        if path is not None:
            self.write(path)

    def ask_archive(self) -> None:
        path = self._ask("Save the archive", "hand-over.zip", ARCHIVES)
        if path is not None:
            self.write_archive(path)

    def _ask(self, title: str, ending: str, kinds: str) -> Path | None:
        session = self.bench.session
        if not session.ready or not session.study.items:
            say(self.said, "Wait until the recordings are scored: there is nothing to report on yet.")
            return None
        self.keep_answers()
        return ask_place(self.dialog, title, f"{session.study.title} {ending}", kinds)

    def write(self, page: Path) -> None:
        """The report, after what is missing was computed where that is wanted."""
        session, wanted = self.bench.session, self.compute.isVisible() and self.compute.isChecked()

        def work(session: Session, progress: Progress, cancelled: Cancelled) -> list[Path]:
            if wanted:
                with processes(self.workers) as executor:
                    dossier.compute_missing(session, executor, progress, cancelled)
            return dossier.write(session, page)

        self._start("report", session, work, lambda written: f"Wrote {page} and {plural(len(written) - 1, 'file')} "
                                                             "beside it: "
                    "open it in a browser, print it there.")

    def write_archive(self, to: Path) -> None:
        self._start("archive", self.bench.session, lambda session, progress, cancelled: archive.write(
            session, to, progress, cancelled), lambda names: f"Wrote {to}, {plural(len(names), 'file')}: check it "
                                                             "elsewhere with "
            f"plumbfall archive {to.name} --check.")

    def _start(self, kind: str, session: Session, work: Callable[[Session, Progress, Cancelled], list],
               words: Callable[[list], str]) -> None:
        """On another thread, over a session of its own: the open one goes on being edited."""
        own = session.copied()
        say(self.said, "")
        say(self.done, "")
        self._let_ask(False)
        self.start(kind, lambda progress, cancelled: work(own, progress, cancelled),
                   lambda done: self._done(words(done)), lambda problem: self._not_done(problem.sentence()),
                   lambda: self._not_done("Cancelled."))

    def _let_ask(self, may: bool) -> None:
        """One at a time: asked again, what is being computed would begin anew."""
        for made in self.buttons():
            made.setEnabled(may)

    def _not_done(self, sentence: str) -> None:
        self._let_ask(True)
        say(self.said, sentence)

    def _done(self, sentence: str) -> None:
        self._let_ask(True)
        self.window.status.show_message(sentence)
        say(self.done, sentence)
        self.look()

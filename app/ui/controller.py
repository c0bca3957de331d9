"""What every controller stands on: background jobs, timers, pages filled when shown, a dialog beside the window.

A controller ties a part of the window to the session. It registers itself with the `Controllers` of its workbench, and
the program closes them all: no thread and no timer outlives the window.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, ClassVar

from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QMessageBox, QPushButton, QWidget

from app.study.labels import edits
from app.study.state import Study
from app.ui.fault_log import FaultLog
from app.ui.importing.form import CONTROLS
from app.ui.jobs import FAULT, Job, Jobs, Work
from app.ui.widgets.layout import column
from app.ui.widgets.problem_dialog import ProblemsDialog
from data.problem import Problem, alike
from detect.rule.settings import BadSetting

if TYPE_CHECKING:
    from app.ui.workbench import Workbench

QUICK_MS, SPACED_MS = 12.0, 40
"""A page that took longer to fill is filled no more often than this while a setting is dragged."""


class Controllers:
    """The register: every controller of a window, the thread that they share, and the log of their failures."""

    def __init__(self, window: QWidget, faults: FaultLog) -> None:
        self.window, self.faults = window, faults
        self.jobs = self.own(Jobs(window))
        """Of work that the status line shows; such jobs wait for each other."""
        self._all: list[Controller] = []

    def __iter__(self) -> Iterator[Controller]:
        return iter(self._all)

    def add(self, controller: Controller) -> None:
        self._all.append(controller)

    def background(self) -> tuple[tuple[Controller, str], ...]:
        """Every kind of background job there is in the window, with its controller."""
        return tuple((one, kind) for one in self._all for kind in one.background)

    def own(self, jobs: Jobs) -> Jobs:
        """Faults of these jobs are logged and told."""
        jobs.broke.connect(self.faults.write)
        return jobs

    def show_sentences(self, heading: str, sentences: Sequence[str],
                       folded: Mapping[int, Sequence[str]] = MappingProxyType({})) -> ProblemsDialog:
        """A dialog that stays beside the window. `folded`: by row, the sentences that its one stands for."""
        dialog = ProblemsDialog(heading, sentences, self.window, folded)
        dialog.show()
        return dialog

    def close(self) -> None:
        """The window goes: no work and no timer outlives it."""
        for one in self._all:
            one.close()
        self.jobs.close()


class Controller(QObject):
    """Ties a part of the window to the session of a workbench.

    `background` names its background jobs: the kind, and what the status line says meanwhile. Jobs run on a thread of
    the controller's own, so that neither scoring nor a map waits for them; those of a controller made with `jobs`
    run there.
    """

    background: ClassVar[Mapping[str, str]] = {}

    def __init__(self, bench: Workbench, jobs: Jobs | None = None) -> None:
        super().__init__(bench)
        self.bench, self.window, self.controllers = bench, bench.window, bench.controllers
        self._shared_jobs = jobs
        self._timers: list[QTimer] = []
        self.controllers.add(self)

    @cached_property
    def jobs(self) -> Jobs:
        """The thread that this controller's jobs run on."""
        return self._shared_jobs or self.controllers.own(Jobs(self))

    def start(self, kind: str, work: Work, then: Callable[[Any], object],
              failed: Callable[[Problem], object] | None = None,
              stopped: Callable[[], object] = lambda: None, words: str = "", keeps: bool = False) -> Job:
        """Run `work` beside the window and hand its outcome to `then`; an earlier job of this kind is cancelled.

        `kind` is a key of `background`; `words` takes the place of what stands there. Exactly one of `then`, `failed`
        and `stopped` is called. `stopped`: the job was cancelled; one that `keeps` hands what it has so far to `then`.
        `failed` gets whatever went wrong, as a Problem whose cause is the exception (BadSetting and faults that nobody
        expected too); it puts buttons back and says so where the person waits. Without it a dialog lists the problem,
        and `stopped` puts the buttons back. Every failure is logged, whoever is told.
        """
        words = words or self.background[kind]

        def fail(problem: Problem) -> None:
            expected = problem.kind != FAULT  # else it is logged and told already
            if expected:
                self.controllers.faults.record(problem)
            if failed is not None:
                failed(problem)
                return
            if expected:
                self.show_problem(f"{words[:1].upper()}{words[1:]} failed.", problem)
            stopped()

        job = Job(kind, words, work, then, fail, stopped, keeps)
        self.jobs.start(job)
        return job

    def try_step(self, change: Callable[[Study], Study], done: str) -> None:
        """Make of the open study another one, as a step with the words `done`; what can't be is said below."""
        try:
            study = change(self.bench.session.study)
        except BadSetting as refused:
            self.window.status.show_message(refused_setting(refused))
            return
        self.bench.act(study, done)

    def confirm(self, heading: str, question: str) -> bool:
        """Whether the person says yes, which they have to choose."""
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Plumbfall", heading, parent=self.window)
        box.setInformativeText(question)
        box.setStandardButtons(QMessageBox.StandardButton.Yes | QMessageBox.StandardButton.No)
        box.setDefaultButton(QMessageBox.StandardButton.No)
        return bool(box.exec() == QMessageBox.StandardButton.Yes)

    def show_problem(self, heading: str, *problems: Problem) -> ProblemsDialog:
        """A dialog that lists what went wrong."""
        folded = {}
        sentences: list[str] = []
        for some in alike(problems):
            said = some.sentences(CONTROLS)
            if len(said) < len(some.problems):
                folded[len(sentences)] = tuple(problem.sentence(CONTROLS) for problem in some.problems)
            sentences += said
        return self.controllers.show_sentences(heading, sentences, folded)

    def try_saving(self, write: Callable[[], object], failed: str, done: str) -> None:
        """Write a file, and say so; `failed` heads the dialog of why it could not be written."""
        try:
            write()
        except Problem as problem:
            self.show_problem(failed, problem)
            return
        self.window.status.show_message(done)

    def later(self, ms: int, f: Callable[[], object]) -> QTimer:
        """A timer that calls `f` once, `ms` after it was last started: start it at every change. Not started yet."""
        timer = QTimer(self, singleShot=True, interval=ms)
        timer.timeout.connect(lambda: f())
        self._timers.append(timer)
        return timer

    def every(self, ms: int, f: Callable[[], object]) -> QTimer:
        """A timer that calls `f` again and again once it is started. Not started yet."""
        timer = self.later(ms, f)
        timer.setSingleShot(False)
        return timer

    def close(self) -> None:
        """The window goes: timers stop, and jobs of the controller's own end."""
        for timer in self._timers:
            timer.stop()
        if self._shared_jobs is None and "jobs" in self.__dict__:
            self.jobs.close()


class Page(QObject):
    """A page that is marked out of date by what changes, and filled while it can be seen or as soon as it is shown.

    After a change it is filled when no event waits; one that is slow to fill a moment later, so that a drag isn't held
    up. What waits already is not put off. When it is shown it is filled at once.
    """

    def __init__(self, controller: Controller, page: QWidget, fill: Callable[[], object]) -> None:
        """`fill` is what fills the page; call `mark` at every change."""
        super().__init__(controller)
        self._page, self._fill = page, fill
        self._took_ms = 0.0
        self.out_of_date = True
        self._soon = controller.later(0, self.fill)
        page.installEventFilter(self)

    def mark(self) -> None:
        """What it shows is out of date."""
        self.out_of_date = True
        if self._page.isVisible() and not self._soon.isActive():
            self._soon.start(0 if self._took_ms <= QUICK_MS else SPACED_MS)

    @property
    def waiting(self) -> bool:
        """Whether it is filled in a moment."""
        return self._soon.isActive()

    def fill(self) -> None:
        """At once, where it is out of date and can be seen."""
        if not self.out_of_date or not self._page.isVisible():
            return
        self.out_of_date = False
        began = time.perf_counter()
        self._fill()
        self._took_ms = (time.perf_counter() - began) * 1000

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Show:
            self.fill()  # before it is painted: nothing stale is seen
        return False


class SideDialog(Controller):
    """A dialog that stays beside the window: made when it is first asked for, since most starts never want it.

    Whoever derives from this says what the dialog is called, how large it is and what is in it, or makes a dialog of
    its own.
    """

    title = ""
    size = (760, 460)
    of_shown = False
    """Whether what is in it is of the shown recording."""
    wait_ms = 0
    """After a change; several may follow each other."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        bench.edited.connect(self.follow)
        if self.of_shown:
            self.window.recordings.recording_chosen.connect(lambda _: self.follow())

    @cached_property
    def panel(self) -> QWidget:
        """What fills the dialog, wired; made when it is first asked for."""
        raise NotImplementedError

    def content(self) -> QWidget:
        return self.panel

    def buttons(self) -> Sequence[QPushButton]:
        """What stands beside Close."""
        return ()

    @cached_property
    def dialog(self) -> QDialog:
        dialog, box = QDialog(self.window), QDialogButtonBox()
        dialog.setWindowTitle(self.title)
        for made in self.buttons():
            box.addButton(made, QDialogButtonBox.ButtonRole.ActionRole)
        box.addButton(QDialogButtonBox.StandardButton.Close).setAutoDefault(False)  # Enter belongs to rows and fields
        box.rejected.connect(dialog.close)
        column(self.content(), box, margins=(16, 14, 16, 12), spacing=6, of=dialog)
        dialog.resize(*self.size)
        return dialog

    @property
    def made(self) -> bool:
        return "dialog" in self.__dict__

    @property
    def visible(self) -> bool:
        return self.made and self.dialog.isVisible()

    def look(self) -> None:
        """Show what there is now; nothing where that is always the same."""

    def follow(self) -> None:
        """Something changed: look again once, when no event waits, where the dialog can be seen."""
        if self.visible:
            self._look_soon.start()

    @cached_property
    def _look_soon(self) -> QTimer:
        return self.later(self.wait_ms, self.look)

    def bring(self) -> None:
        """In front, with what was in it."""
        self.dialog.show()
        self.dialog.raise_()
        self.dialog.activateWindow()

    def close(self) -> None:
        super().close()
        if self.made:
            self.dialog.close()


def refused_setting(refused: BadSetting) -> str:
    return f"{refused.key} {refused.message} {refused.remedy}"


def go_to(bench: Workbench, recording: str, seconds: float | None = None) -> bool:
    """Show a recording, and the seconds around a time of its clock; a filter that hides it goes. False where it is
    not there."""
    recordings = bench.window.recordings
    if not recordings.shows(recording):
        recordings.filter.setText("")
    recordings.choose(recording)
    if recordings.current != recording:
        return False
    trace = bench.session.trace(recording)
    if trace is not None and seconds is not None:
        bench.window.trace.look_at(edits.nearest(trace.seconds, seconds))
    return True

"""Waking, mounting and self-test tied to the session: worked out beside the window, opened at the event by a click."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TypeVar

from PySide6.QtCore import QObject, QTimer, Signal

from app.jobs import Cancelled, Job, Jobs, Progress
from app.panels.device.fitting import FittingSection
from app.panels.device.front_end import FrontEndPage
from app.panels.device.mounting import CURVE, MountingSection
from app.panels.device.try_section import NUMBERS, TrySection
from app.panels.device.waking import FIGURES, WakingSection
from app.study.device import mounting, waking
from app.study.device.mounting import Made, MountingView, mounting_view
from app.study.device.self_testing import checked
from app.study.device.waking import WakingView, waking_view
from app.study.state import Study
from app.study.workers import processes
from app.workbench import Workbench
from data.problem import Problem
from detect.device.wake_doubts import doubts
from detect.rule import rule_of
from detect.settings import BadSetting

NOTHING = "There are no recordings to try it on yet."
WORTH_WORKERS = 3_000_000
"""Samples, from which on a sweep of angles is done sooner by processes that take a second to start."""
WAIT_MS = 250
"""After a change; numbers are typed one after the other."""

View = TypeVar("View")


class FrontEndTries(QObject):
    """Adds three sections to the page and runs them for the study in hand.

    `event_chosen`: recording and sample that somebody wants to see.
    """

    event_chosen = Signal(str, int)

    def __init__(self, bench: Workbench, page: FrontEndPage) -> None:
        super().__init__(bench)
        self.bench, self.page = bench, page
        # Its own thread: neither scoring nor a map waits for a sweep.
        self.jobs = Jobs(self)
        self.jobs.broke.connect(bench.jobs.broke)
        self.waking, self.mounting, self.fitting = WakingSection(), MountingSection(), FittingSection()
        for title, section in (("Waking", self.waking), ("Mounting", self.mounting), ("Self-test", self.fitting)):
            page.add_section(title, section)
            section.event_chosen.connect(self.event_chosen)
        self.waking.run_asked.connect(lambda: self.wake(self._show_waking))
        self.mounting.run_asked.connect(self.mount)
        self.fitting.run_asked.connect(self.check)
        for section in (self.waking, self.mounting):
            section.stop_asked.connect(self.jobs.cancel)
        self.jobs.progressed.connect(self._progress)
        self._again = QTimer(self, singleShot=True, interval=WAIT_MS)
        self._again.timeout.connect(self._wake_again)
        bench.edited.connect(self.look_again)
        page.section_shown.connect(lambda _: self.look_again())
        page.show_values(bench.session.study.device)
        self.look_again()

    def look_again(self) -> None:
        """What contradicts itself, at once; what is of another study is said to be. Waking, which is quick, is worked
        out again while it is looked at."""
        study = self.bench.session.study
        self.waking.show_remarks(doubts(study.device, study.front_end, rule_of(study.settings, study.front_end)))
        for section, view, needs in ((self.waking, self.waking.view, waking.key_of),
                                     (self.mounting, self.mounting.view, mounting.key_of)):
            section.show_stale(view is not None and needs(view.study) != needs(study))
        if self.waking.stale and self.waking.isVisible():
            self._again.start()

    def wake(self, take: Callable[[WakingView], None] | None = None) -> None:
        """The study in hand on a device that sleeps; without `take` it is shown where it stands."""
        def work(study: Study, made: Made, progress: Progress, cancelled: Cancelled) -> WakingView:
            return waking_view(study, made, cancelled)

        self._run(self.waking, "waking", "waking the device", work, take or self.waking.show_view)

    def mount(self) -> None:
        """The study in hand, mounted otherwise."""
        def work(study: Study, made: Made, progress: Progress, cancelled: Cancelled) -> MountingView:
            samples = made[2].engine.corpus.samples
            with processes((os.cpu_count() or 1) if samples >= WORTH_WORKERS else 1) as executor:
                return mounting_view(study, made, None, True, executor, progress, cancelled)

        self._run(self.mounting, "mounting", "turning the recordings", work, self._take_mounting)

    def check(self) -> None:
        """The self-test in the recording shown."""
        name = self.bench.window.recordings.current
        if not name:
            self.fitting.show_refusal("Choose the recording that holds the self-test.")
            return
        try:
            (found,) = checked(self.bench.session, [name])
        except Problem as problem:
            self.fitting.show_checked(None)
            self.fitting.show_refusal(problem.sentence())
        except BadSetting as refused:
            self.fitting.show_checked(None)
            self.fitting.show_refusal(_sentence(self.bench.session.study, refused))
        else:
            self.fitting.show_checked(found)

    def close(self) -> None:
        """The window goes."""
        self._again.stop()
        self.jobs.close()

    # Inside

    def _run(self, section: TrySection, kind: str, words: str, work: Callable[[Study, Made, Progress, Cancelled], View],
             take: Callable[[View], None]) -> None:
        session = self.bench.session
        if not session.study.items or not session.ready:
            section.show_refusal(NOTHING)
            return
        study, made = session.study, session.evaluated()[:3]

        def worked(progress: Progress, cancelled: Cancelled) -> View | BadSetting:
            try:
                return work(study, made, progress, cancelled)
            except BadSetting as refused:
                return refused

        def taken(found: View | BadSetting) -> None:
            if isinstance(found, BadSetting):
                section.show_refusal(_sentence(study, found))
            else:
                take(found)
                self.look_again()

        section.show_working(0.0)
        self.jobs.start(Job(kind, words, worked, taken, lambda problem: section.show_refusal(problem.sentence()),
                            lambda: section.show_refusal("") if not self.jobs.busy(kind) else None))

    def _show_waking(self, view: WakingView) -> None:
        self.waking.show_view(view)
        if self.waking.in_front == NUMBERS:
            self.waking.show_place(FIGURES)

    def _take_mounting(self, view: MountingView) -> None:
        self.mounting.show_view(view)
        self.mounting.show_remarks(view.said)
        if self.mounting.in_front == NUMBERS:
            self.mounting.show_place(CURVE)

    def _wake_again(self) -> None:
        if self.waking.stale and self.bench.session.ready:
            self.wake()

    def _progress(self, share: float) -> None:
        for section in (self.waking, self.mounting):
            if section.working:
                section.show_working(share)


def _sentence(study: Study, refused: BadSetting) -> str:
    row = study.device.row(refused.key)
    return f"{row.title[0].upper()}{row.title[1:]}: {refused.value} {row.unit} {refused.message} {refused.remedy}"

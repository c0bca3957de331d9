"""The section on range switching tied to the session: run beside the window, stale when something moves."""

from __future__ import annotations

from PySide6.QtCore import QObject

from app.jobs import Cancelled, Job, Jobs, Progress
from app.panels.device.ranges import SCORES, RangesSection
from app.study.device.material import in_hand
from app.study.device.ranges import RangesView, run
from app.workbench import Workbench


class DeviceRanges(QObject):
    """Ties the section to the session of a workbench."""

    def __init__(self, bench: Workbench, section: RangesSection) -> None:
        super().__init__(bench)
        self.bench, self.section = bench, section
        # Its own thread: neither scoring nor a map waits for a run.
        self.jobs = Jobs(self)
        section.run_asked.connect(self.run)
        section.stop_asked.connect(self.jobs.cancel)
        self.jobs.progressed.connect(section.show_working)
        bench.edited.connect(self.look_again)

    def look_again(self) -> None:
        """Whether what is shown is of the study in hand."""
        view = self.section.view
        self.section.show_stale(view is not None and not view.stands_for(self.bench.session.study))

    def run(self) -> None:
        """Read the recordings of the study in hand as the part would."""
        hand, section = in_hand(self.bench.session), self.section

        def working(progress: Progress, cancelled: Cancelled) -> RangesView:
            return run(hand, progress, cancelled)

        section.show_working(0.0)
        self.jobs.start(Job("ranges", "trying range switching", working, self._take,
                            lambda problem: section.show_refusal(problem.sentence()),
                            lambda: section.show_refusal("Called off.")))

    def _take(self, view: RangesView) -> None:
        self.section.show_view(view)
        self.section.show_place(SCORES)
        self.look_again()

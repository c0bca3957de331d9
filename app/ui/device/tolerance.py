"""Tolerance: a thousand devices that differ, how the score spreads over them, and what drives it."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import ClassVar

from app.study.device.tolerance import ToleranceView, as_csv, as_text, key_of, run
from app.study.state import Study
from app.study.workers import processes
from app.ui.device.tolerance_results import DevicesPlace, DriversTable, EventsTable, SpreadPlace
from app.ui.device.topic import Parts, Topic
from app.ui.device.topic_controller import TopicController
from app.ui.jobs import Cancelled, Progress, Work
from app.ui.widgets.quantity_form import QuantityForm, values_as_text
from app.ui.workbench import Workbench
from data.files import write_atomically
from detect.device.spread import spread

PARTS: Parts = (("Devices", spread.RUN), ("Tolerances, at most", spread.BOUNDS), ("How they spread", spread.SHAPE))
"""Headings and their rows."""

SPREAD, DRIVERS, DEVICES, EVENTS = "Spread", "Drivers", "Worst devices", "Events"
NOT_RUN = "Run draws devices and scores every recording with each."
FEW_DEVICES = 100
"""Up to so many are through before workers have started."""


class ToleranceTopic(Topic):
    def __init__(self) -> None:
        self.spread, self.drivers, self.devices, self.events = (SpreadPlace(), DriversTable(), DevicesPlace(),
                                                                EventsTable())
        super().__init__("Tolerance", QuantityForm("Numbers of tolerance", PARTS),
                         ((SPREAD, self.spread), (DRIVERS, self.drivers), (DEVICES, self.devices),
                          (EVENTS, self.events)), NOT_RUN)
        self.save = self.add_button("Save as CSV…", lambda: self.save_asked.emit("csv"),
                                    "Save every device with its numbers and figures as a CSV table")
        for place in (self.devices, self.events):
            place.event_chosen.connect(self.event_chosen)
        self.show_view(None)

    def fill(self, view: ToleranceView | None) -> None:
        for place in (self.spread, self.drivers, self.devices, self.events):
            place.show_view(view)
        self.save.setEnabled(view is not None)
        self.show_remarks(() if view is None else view.remarks)

    def as_text(self) -> str:
        """All that came of the run; before one, the numbers."""
        assert self.form is not None
        return values_as_text(self.form) if self.view is None else as_text(self.view)


class ToleranceController(TopicController):
    """A run that is stopped keeps the devices that are through."""

    background: ClassVar = {"tolerance": "scoring devices that differ"}
    saved_as = "devices"
    done = SPREAD

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self._stop = threading.Event()

    def make(self) -> ToleranceTopic:
        return ToleranceTopic()

    def stands_for(self, view: ToleranceView, study: Study) -> bool:
        return view.key == key_of(study)

    def work(self) -> Work:
        study, made = self.evaluated()
        workers = 1 if study.device.number("spread.devices") <= FEW_DEVICES else self.workers
        self._stop = stop = threading.Event()

        def work(progress: Progress, cancelled: Cancelled) -> ToleranceView:
            with processes(workers) as executor:
                return run(study, made, executor, progress, lambda: stop.is_set() or cancelled())

        return work

    def stop(self) -> None:
        """No further device; what is through is shown."""
        self._stop.set()

    def close(self) -> None:
        self._stop.set()
        super().close()

    def write(self, path: Path) -> None:
        write_atomically(path, as_csv(self.topic.view))

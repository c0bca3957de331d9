"""The sections of the front end page on the part itself, tied to the session."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from app.device.part import DevicePart
from app.device.ranges import DeviceRanges
from app.device.what_if import DeviceWhatIf
from app.jobs import Jobs
from app.panels.device.front_end import FrontEndPage
from app.workbench import Workbench


class DeviceFrontEnd(QObject):
    """Part, What if and Ranges."""

    broke = Signal(object)
    """An exception nobody expected, for the fault log."""

    def __init__(self, bench: Workbench, page: FrontEndPage) -> None:
        super().__init__(bench)
        self.part = DevicePart(bench, page)
        self.what_if = DeviceWhatIf(bench, page.what_if)
        self.ranges = DeviceRanges(bench, page.ranges)
        for jobs in self._jobs():
            jobs.broke.connect(self.broke)

    def close(self) -> None:
        """The window goes: runs end."""
        for jobs in self._jobs():
            jobs.close()

    def _jobs(self) -> tuple[Jobs, Jobs]:
        return self.what_if.jobs, self.ranges.jobs

"""The part's section tied to the session: what its numbers come to, and its front end taken into the score."""

from __future__ import annotations

from PySide6.QtCore import QObject

from app.panels.device.front_end import FrontEndPage
from app.study.device.part import part_view, taken, volts
from app.workbench import Workbench
from detect.device.part import ANALOGUE, DIGITAL
from detect.settings import BadSetting


class DevicePart(QObject):
    """Ties the section to the study in hand."""

    def __init__(self, bench: Workbench, page: FrontEndPage) -> None:
        super().__init__(bench)
        self.bench, self.section = bench, page.part
        self._kind = DIGITAL
        bench.edited.connect(self.fill)
        page.part.take_asked.connect(self.take)
        self.fill()

    def fill(self) -> None:
        study = self.bench.session.study
        self.section.show_part(part_view(study))
        if study.device.text("part.kind") != self._kind or self._kind == ANALOGUE:
            self._kind = study.device.text("part.kind")
            self.bench.window.trace.show_volts(volts(study))

    def take(self) -> None:
        """Score with the part's own front end."""
        try:
            self.bench.act(taken(self.bench.session.study), "take the part's front end")
        except BadSetting as refused:
            self.section.form.show_refusal(f"{refused.key} {refused.message} {refused.remedy}")

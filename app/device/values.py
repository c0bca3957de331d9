"""The device's numbers in the pages: shown as the study has them, changed with undo, refused in words."""

from __future__ import annotations

from PySide6.QtCore import QObject

from app.controls.quantity_form import with_its_unit
from app.panels.device.panel import DevicePanel
from app.study.device.part import changed as with_number
from app.workbench import Workbench
from detect.settings import BadSetting


class DeviceNumbers(QObject):
    """Ties the forms of the three pages to the study in hand."""

    def __init__(self, bench: Workbench, panel: DevicePanel) -> None:
        super().__init__(bench)
        self.bench, self.panel = bench, panel
        self.pages = (panel.front_end, panel.tolerance, panel.budget)
        for page in self.pages:
            page.asked.connect(lambda key, value, page=page: self._change(page, key, value))
        bench.edited.connect(self.show)
        self.show()

    def show(self) -> None:
        for page in self.pages:
            page.show_values(self.bench.session.study.device)

    def _change(self, page: QObject, key: str, value: object) -> None:
        study = self.bench.session.study
        try:
            changed = with_number(study, key, value)
        except BadSetting as refused:
            self.show()
            page.form.show_refusal(f"{refused.message} {refused.remedy}".strip().capitalize())  # type: ignore[attr-defined]
            return
        row = study.device.row(key)
        self.bench.act(changed, f"{row.title} {with_its_unit(changed.device[key], row.unit)}")

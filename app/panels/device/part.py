"""The part in use, analogue or digital: its numbers and what they come to."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.controls.quantity_form import QuantityForm, values_as_text
from app.theme import Theme
from detect.device.values import Quantity

PARTS: tuple[tuple[str, Sequence[Quantity]], ...] = ()
"""Headings and their rows."""


class PartSection(QWidget):
    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Part")
        self.form: QuantityForm = QuantityForm("Part", PARTS)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self.form)

    def set_theme(self, theme: Theme) -> None:
        """Nothing here is painted by hand."""

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(values_as_text(self.form))

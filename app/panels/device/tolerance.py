"""A thousand devices that differ: how the score spreads, and what drives it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.controls.quantity_form import QuantityForm
from app.theme import Theme
from detect.device.values import Quantity, Values

PARTS: tuple[tuple[str, Sequence[Quantity]], ...] = ()
"""Headings and their rows."""


class TolerancePage(QWidget):
    asked = Signal(str, object)
    """A number of the device is to become this."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Tolerance")
        self.form = QuantityForm("Tolerance", PARTS)
        self.form.asked.connect(self.asked)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self.form)

    def show_values(self, values: Values) -> None:
        self.form.show_values(values)

    def set_theme(self, theme: Theme) -> None:
        """Nothing here is painted by hand yet."""

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText("")

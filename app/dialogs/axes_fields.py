"""How the sensor sat, asked in an import: by its axes or by a still, upright stretch of the file, with a figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QGridLayout, QLabel, QWidget

from app.plot.axes_figure import AxesFigure
from app.study.seating import Stand, spoken, stood
from app.words import decimal
from data.problem import Problem
from data.told import SIDES, Axes

TURNED = "turned"
"""The answer that keeps a rotation which was told already."""


class AxesFields(QWidget):
    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._showing = False
        self.up = self._choice("Axis of the sensor that points up")
        self.forward = self._choice("Axis of the sensor that points forward")
        self.rest = QComboBox()
        self.rest.setAccessibleName("Stretch in which the wearer stands upright and still")
        self.rest.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.rest.setMinimumContentsLength(2)
        self.rest.currentIndexChanged.connect(self._said)
        self.figure = AxesFigure()
        self.words = QLabel(wordWrap=True)
        self.words.setProperty("role", "aside")
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        for row, (title, box) in enumerate((("up", self.up), ("forward", self.forward),
                                            ("or upright in", self.rest))):
            label = QLabel(title)
            label.setBuddy(box)
            grid.addWidget(label, row, 0)
            grid.addWidget(box, row, 1)
        grid.addWidget(self.words, 3, 0, 1, 2)
        grid.addWidget(self.figure, 0, 2, 4, 1)
        grid.setColumnStretch(1, 1)

    def _choice(self, name: str) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(name)
        box.addItem("not said", "")
        for side in SIDES:
            box.addItem(side.replace("-", "\u2212"), side)
        box.currentIndexChanged.connect(self._said)
        return box

    def show_axes(self, axes: Axes, stands: Sequence[Stand]) -> None:
        """`stands`: the still stretches of the file that is looked at."""
        self._showing = True
        self.up.setCurrentIndex(max(self.up.findData(axes.up), 0))
        self.forward.setCurrentIndex(max(self.forward.findData(axes.forward), 0))
        self.rest.clear()
        self.rest.addItem("not said", "")
        if axes.rotation:
            self.rest.addItem("turned as said", TURNED)
            self.rest.setCurrentIndex(1)
        for stand in stands:
            start_s = round(stand.start_s, 1) + 0.0
            self.rest.addItem(f"{decimal(start_s, 1)} to {decimal(round(stand.end_s, 1), 1)} s: leans by "
                              f"{stand.lean_deg:.0f}°", stand)
        self.figure.show_axes(axes)
        self.words.setText(spoken(axes))
        self._showing = False

    def axes(self, base: Axes) -> Axes:
        """What is said, over what was said before. ValueError, a sentence, where that makes no sense."""
        up, forward, rest = self.up.currentData(), self.forward.currentData(), self.rest.currentData()
        if isinstance(rest, Stand):
            if up:
                raise ValueError("Say which axis points up, or choose an upright stretch, not both.")
            try:
                return stood(rest, forward)
            except Problem as problem:
                raise ValueError(problem.sentence()) from None
        if not up and not forward:
            return replace(base, up="", forward="", rotation=base.rotation if rest == TURNED else ())
        if not up or not forward or up.lstrip("-") == forward.lstrip("-"):
            raise ValueError("Up and forward are two different axes of the sensor, or both left open; forward alone "
                             "goes with an upright stretch.")
        return Axes(up=up, forward=forward)

    def _said(self) -> None:
        if not self._showing:
            self.changed.emit()

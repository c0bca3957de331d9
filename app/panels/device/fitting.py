"""Fitting the sensor: a self-test held against what its axes must show, and where to put it, as a checklist."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractItemView, QFrame, QListWidget, QListWidgetItem

from app.panels.device.try_section import TrySection
from app.panels.rows import Column, Row, RowsTable
from app.study.device.self_testing import Checked, rows
from app.theme import Theme
from detect.device.self_test import ADVICE, QUANTITIES

PARTS = (("By how much each axis changes when the test is on", QUANTITIES),)
RESULT, ADVISED = "Result", "Where to put it"
COLUMNS = (Column("axis", 40), Column("changed by", 90, number=True), Column("allowed", 120),
           Column("", 90, strong=True))
NOT_RUN = "Holds the self-test in the recording shown against these limits: Check."


class FittingSection(TrySection):
    """Ticks are for whoever goes through the list; nothing depends on them and they are not saved."""

    def __init__(self) -> None:
        self.result = RowsTable("What the self-test did, an axis a row", COLUMNS)
        self.advice = QListWidget()
        self.advice.setAccessibleName("Where to put the sensor, a checklist: common practice, no source")
        self.advice.setWordWrap(True)
        self.advice.setFrameShape(QFrame.Shape.NoFrame)
        self.advice.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.advice.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        for one in ADVICE:
            item = QListWidgetItem(f"{one.title}. {one.sentence} ({one.origin})", self.advice)
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Unchecked)
        super().__init__("Self-test", PARTS, ((RESULT, self.result), (ADVISED, self.advice)), NOT_RUN, "Check")

    def show_checked(self, one: Checked | None) -> None:
        """What came of it; None while there is nothing."""
        self.result.show_rows([] if one is None else [Row(texts, texts[0]) for texts in rows(one)])
        self.show_headline("" if one is None else f"{one.recording}: {one.sentence}")
        if one is not None:
            self.show_place(RESULT)

    def set_theme(self, theme: Theme) -> None:
        box = f"width: 11px; height: 11px; border: 1px solid {theme.frame}; border-radius: 3px;"
        self.advice.setStyleSheet(
            f"QListWidget::indicator {{ {box} background: {theme.ground}; }} "
            f"QListWidget::indicator:checked {{ background: {theme.touch}; border-color: {theme.touch}; }}")

    def as_text(self) -> str:
        advice = "".join(f"[{'x' if self._ticked(i) else ' '}] {self.advice.item(i).text()}\n"
                         for i in range(self.advice.count()))
        return f"{super().as_text()}\n{advice}"

    def _ticked(self, at: int) -> bool:
        return self.advice.item(at).checkState() is Qt.CheckState.Checked

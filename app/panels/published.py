"""Published rules beside the settings in hand, and why the two can't be compared one to one."""

from __future__ import annotations

import html
from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QVBoxLayout, QWidget

from app.panels.rows import ROW_HEIGHT, Column, Row, RowsTable
from app.study.published import SOURCE, WHY_NOT
from app.study.published import Row as Figure

COLUMNS = (Column("", 142), Column("13 published rules", 122, number=True), Column("best, or range", 104, number=True),
           Column("this study", 90, number=True, strong=True), Column("95 %", 96, number=True))


class PublishedPage(QWidget):
    """A page of the window's help."""

    def __init__(self, figures: Sequence[Figure]) -> None:
        super().__init__()
        lead = QLabel(f"Thirteen published threshold rules were run on 29 falls that really happened ({SOURCE}). This "
                      "is how far apart they came, beside the settings in hand on this study's recordings.",
                      wordWrap=True)
        self.table = RowsTable("Published rules beside this study", COLUMNS)
        rows = [Row((one.figure, one.average, one.best, one.here, one.interval), one.figure) for one in figures]
        self.table.show_rows(rows)
        self.table.stretch_column(4)
        self.table.setFixedHeight(ROW_HEIGHT * (len(rows) + 1) + 14)
        why = "".join(f"<p style='margin:0 0 7px 0'>{html.escape(one)}</p>" for one in WHY_NOT)
        self.why = QLabel(f"<p style='margin:4px 0 7px 0'><b>Why they can't be compared one to one</b></p>{why}",
                          wordWrap=True)
        self.why.setTextFormat(Qt.TextFormat.RichText)
        self.why.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.why.setAlignment(Qt.AlignmentFlag.AlignTop)
        scroll = QScrollArea()
        scroll.setWidget(self.why)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        column = QVBoxLayout(self)
        column.setContentsMargins(2, 10, 2, 0)
        column.addWidget(lead)
        column.addWidget(self.table)
        column.addWidget(scroll, 1)

    def as_text(self) -> str:
        return self.table.rows_model.as_text() + "\n".join(WHY_NOT) + "\n"

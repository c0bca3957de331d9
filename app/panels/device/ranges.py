"""Range switching: a part whose range is switched while running, against each of its ranges kept."""

from __future__ import annotations

from app.panels.device.try_section import TrySection
from app.panels.rows import Column, Row, RowsTable
from app.study.device.ranges import TITLES, RangesView, headline, row_texts
from detect.device.ranges import QUANTITIES

SCORES = "Scores"
WIDTHS = (130, 78, 76, 46, 82, 86, 104, 56, 400)
NOT_RUN = "Reads every recording as a part that switches would: Run."


class RangesSection(TrySection):
    def __init__(self) -> None:
        self.scores = RowsTable("Range switched and kept", [
            Column(title, width, number=0 < at < 8, strong=at in (1, 2))
            for at, (title, width) in enumerate(zip(TITLES, WIDTHS, strict=True))])
        self.view: RangesView | None = None
        super().__init__("Ranges", (("Range switching", QUANTITIES),), ((SCORES, self.scores),), NOT_RUN)

    def show_view(self, view: RangesView | None) -> None:
        """What came of a run; None while there is nothing."""
        self.view = view
        self.scores.show_rows([] if view is None else [
            Row(row_texts(one), one.name, one.doubt or f"{one.name}. {headline(view)}") for one in view.scores])
        self.show_headline("" if view is None else headline(view))

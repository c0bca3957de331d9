"""How good each recording is: a row a recording, sorted by any column, and below what was found in the chosen one."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from app.panels.recordings_model import natural
from app.panels.rows import Column, Row, RowsTable
from app.panels.sorted_rows import Keyed, SortedTable
from app.study.quality_report import FIGURES, summary
from app.words import GAP, decimal
from data.quality import Quality

WIDTHS = (140, 128, 66, 70, 76, 62, 60, 72, 76, 70, 70, 84, 62)
assert len(WIDTHS) == len(FIGURES)


class QualityPanel(QWidget):
    place_chosen = Signal(str, object)
    """A recording, and seconds of its clock; None where no place in it is meant."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Quality of the recordings")
        self._found: dict[str, Quality] = {}
        self.summary = QLabel(wordWrap=True)
        self.table = SortedTable("Quality, a row a recording",
                                 [Column(figure.title, width, figure.number, tip=figure.means)
                                  for figure, width in zip(FIGURES, WIDTHS, strict=True)])
        self.table.row_chosen.connect(self._chosen)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._show_findings())
        self.heading = QLabel()
        self.heading.setProperty("role", "title")
        self.findings = RowsTable("Findings of the chosen recording", (Column("at", 76, number=True),
                                                                       Column("what was found", 400)))
        self.findings.row_chosen.connect(lambda at_s: self.place_chosen.emit(self._name(), at_s[1]))
        self.findings.setMinimumHeight(60)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for part, stretch in ((self.summary, 0), (self.table, 4), (self.heading, 0), (self.findings, 1)):
            column.addWidget(part, stretch)

    def show_quality(self, found: Sequence[Quality]) -> None:
        """In the order given until another is asked for."""
        self._found = {one.name: one for one in found}
        self.summary.setText(f"{summary(found)} A click opens the recording where its first finding is worst."
                             if found else summary(found))
        self.table.show_sorted([Keyed(_row(one), (natural(one.name), *(figure.key(one) for figure in FIGURES[1:])))
                                for one in found])
        for at, figure in enumerate(FIGURES):
            # Most loggers write neither temperature nor battery.
            unknown = figure.title in ("temperature", "battery") and all(figure.key(one) is None for one in found)
            self.table.setColumnHidden(at, unknown)
        self._show_findings()

    def as_text(self) -> str:
        return self.table.rows_model.as_text()

    def copy_text(self) -> None:
        self.table.copy_text()

    def _name(self) -> str:
        chosen = self.table.chosen()
        return chosen if isinstance(chosen, str) else ""

    def _show_findings(self) -> None:
        one = self._found.get(self._name())
        findings = () if one is None else one.findings
        if one is None:
            self.heading.setText("No recording is chosen.")
        else:
            self.heading.setText(f"{one.name}: {'all is well' if one.sound else 'what was found'}")
        self.findings.show_rows([
            Row(("" if finding.at_s is None else f"{decimal(round(finding.at_s, 2), 2)}{GAP}s", finding.sentence),
                (finding.kind, finding.at_s)) for finding in findings])

    def _chosen(self, name: str) -> None:
        place = next((finding.at_s for finding in self._found[name].findings if finding.at_s is not None), None)
        self.place_chosen.emit(name, place)


def _row(one: Quality) -> Row:
    said = "\n".join(finding.sentence for finding in one.findings)
    return Row(tuple(figure.text(one) for figure in FIGURES), one.name, said)

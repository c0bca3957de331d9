"""How good each recording is, beside the window: a row a recording, and below it the findings in the chosen one.

Measured on another thread, again when recordings change.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from pathlib import Path
from typing import ClassVar

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QPushButton

from app.formatting import GAP, decimal, plural
from app.study.recordings import checks
from app.study.recordings.checks import FIGURES, summary
from app.ui.controller import SideDialog, go_to
from app.ui.widgets.controls import button
from app.ui.widgets.layout import column, words
from app.ui.widgets.sorted_table import Keyed, SortedTable
from app.ui.widgets.table import Column, Row, RowsTable, TextPage, natural
from app.ui.workbench import Workbench
from data.files import write_atomically
from data.recordings.quality import Quality

WIDTHS = (130, 110, 66, 72, 100, 60, 60, 76, 76, 72, 76, 84, 56)
assert len(WIDTHS) == len(FIGURES)


class QualityPanel(TextPage):
    table: SortedTable
    place_chosen = Signal(str, object)
    """A recording, and seconds of its clock; None where no place in it is meant."""

    def __init__(self) -> None:
        super().__init__("Quality of the recordings")
        self._found: dict[str, Quality] = {}
        self.summary, self.heading = words("Checking the recordings…", wrap=True), words(role="title")
        self.table = SortedTable("Quality, a row a recording",
                                 [Column(figure.title, width, figure.number, tip=figure.means, name=at == 0)
                                  for at, (figure, width) in enumerate(zip(FIGURES, WIDTHS, strict=True))])
        self.table.row_chosen.connect(self._chosen)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._show_findings())
        self.findings = RowsTable("Findings of the chosen recording", (Column("at", 76, number=True),
                                                                       Column("findings", 400, whole=True)))
        self.findings.row_chosen.connect(lambda at_s: self.place_chosen.emit(self._name(), at_s[1]))
        self.findings.setMinimumHeight(60)
        column(self.summary, (self.table, 4), self.heading, (self.findings, 1), spacing=6, of=self)

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

    def _name(self) -> str:
        chosen = self.table.chosen()
        return chosen if isinstance(chosen, str) else ""

    def _show_findings(self) -> None:
        one = self._found.get(self._name())
        findings = () if one is None else one.findings
        if one is None:
            self.heading.setText("No recording is selected.")
        else:
            self.heading.setText(f"{one.name}: {'no findings' if one.sound else 'findings'}")
        self.findings.show_rows([
            Row(("" if finding.at_s is None else f"{decimal(round(finding.at_s, 2), 2)}{GAP}s", finding.sentence),
                (finding.kind, finding.at_s)) for finding in findings])

    def _chosen(self, name: str) -> None:
        place = next((finding.at_s for finding in self._found[name].findings if finding.at_s is not None), None)
        self.place_chosen.emit(name, place)


def _row(one: Quality) -> Row:
    said = "\n".join(finding.sentence for finding in one.findings)
    return Row(tuple(figure.text(one) for figure in FIGURES), one.name, said)


REPORTS = "Table (*.csv);;Text (*.txt)"


class QualityController(SideDialog):
    title = "Check quality"
    size = (1090, 560)
    wait_ms = 400
    background: ClassVar = {"quality": "checking recordings"}

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.found: list[Quality] = []
        self._of: object = None

    @cached_property
    def panel(self) -> QualityPanel:
        panel = QualityPanel()
        panel.place_chosen.connect(lambda name, at_s: go_to(self.bench, name, at_s))
        return panel

    def buttons(self) -> Sequence[QPushButton]:
        return button("Save the report…", self.ask_where), button("Copy as text", self.panel.copy_text)

    def show(self) -> None:
        self.bring()
        self.panel.table.setFocus()
        self.look()

    def look(self) -> None:
        """For the recordings as they are now."""
        study, library = self.bench.session.study, dict(self.bench.session.library)
        self._of = self._depends_on()
        self.start("quality", lambda progress, cancelled: checks.quality(study, library), self._take,
                   lambda problem: self.panel.summary.setText(problem.sentence()))

    def ask_where(self) -> None:
        usual = f"{self.bench.session.study.title} quality.csv"
        name, kind = QFileDialog.getSaveFileName(self.dialog, "Save the quality report", usual, REPORTS)
        if name:
            path = Path(name)
            self.write(path if path.suffix else path.with_suffix(".txt" if "txt" in kind else ".csv"))

    def write(self, path: Path) -> None:
        """As a table where the name ends in .csv, else as text."""
        text = checks.as_csv(self.found) if path.suffix.lower() == ".csv" else checks.as_text(
            self.found, self.bench.session.study.title)
        self.try_saving(
            lambda: write_atomically(path, text), "The report was not written. Choose another place.",
            f"The quality of {plural(len(self.found), 'recording')} was written to {path}")

    def _depends_on(self) -> tuple[object, object, object]:
        study = self.bench.session.study
        return self.bench.session, study.items, study.front_end

    def follow(self) -> None:
        if self._of != self._depends_on():
            super().follow()

    def _take(self, found: list[Quality]) -> None:
        self.found = found
        self.panel.show_quality(found)

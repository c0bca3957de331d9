"""What a person saves from a page: where, and as a picture or a table by the name's ending."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QWidget

from app.formatting import csv_text
from app.ui.charts.chart import Chart
from data.atomic_file import write_atomically

FILTERS = {"json": "Settings files (*.json)", "svg": "SVG pictures (*.svg)", "png": "PNG pictures (*.png)",
           "csv": "CSV tables (*.csv)", "h": "C headers (*.h)"}


def ask_place(over: QWidget, title: str, usual: str, filters: str) -> Path | None:
    """Where to save, None where the person decides against it. A name without an ending gets that of the usual one."""
    name, _ = QFileDialog.getSaveFileName(over, title, usual, filters)
    if not name:
        return None
    path = Path(name)
    return path if path.suffix else path.with_suffix(Path(usual).suffix)


def save_table(path: Path, rows: Iterable[Sequence[object]]) -> None:
    """As CSV. Raises Problem where the place can't be written."""
    write_atomically(path, csv_text(rows))


def save_drawn(path: Path, chart: Chart) -> None:
    """A chart as SVG or PNG, or its numbers as CSV, by the name's ending. Raises Problem."""
    if path.suffix.casefold() == ".csv":
        save_table(path, chart.lines())
    else:
        chart.save(path)

"""Where a person opens and saves: files and folders in one dialog; a picture or a table by the name's ending."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QFileDialog, QLineEdit, QWidget

from app.formatting import csv_text
from app.ui.charts.chart import Chart
from data.files import write_atomically

FILTERS = {"json": "Settings files (*.json)", "svg": "SVG pictures (*.svg)", "png": "PNG pictures (*.png)",
           "csv": "CSV tables (*.csv)", "h": "C headers (*.h)"}


class PlacesDialog(QFileDialog):
    """Files and folders alike, which a desktop's own dialogs don't offer. A double click on a folder goes into it,
    *Open* takes what is marked, a folder too. With `made` it is a folder to write into, which need not exist yet."""

    def __init__(self, over: QWidget, title: str, folder: str, filters: str = "", made: str = "") -> None:
        super().__init__(over, title, folder, filters)
        self.setOption(QFileDialog.Option.DontUseNativeDialog)
        self.setFileMode(QFileDialog.FileMode.Directory if made else QFileDialog.FileMode.ExistingFiles)
        self.paths: list[Path] = []
        buttons = self.findChild(QDialogButtonBox)
        assert buttons is not None  # since it isn't the desktop's own
        self.buttons = buttons
        if made:
            self.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
            self.setLabelText(QFileDialog.DialogLabel.Accept, "Export")
            self.setLabelText(QFileDialog.DialogLabel.FileName, "Folder:")
            line, save = self.findChild(QLineEdit, "fileNameEdit"), buttons.button(QDialogButtonBox.StandardButton.Save)
            assert line is not None
            line.textChanged.connect(lambda text: save.setEnabled(bool(text.strip())))  # a new one too
            self.selectFile(made)
        else:
            shown = self.buttons.addButton("Open folder shown", QDialogButtonBox.ButtonRole.ActionRole)
            shown.clicked.connect(lambda _: self._take([self.directory().absolutePath()]))

    def accept(self) -> None:
        self._take(self.selectedFiles())

    def ask(self) -> list[Path]:
        """What was chosen; nothing where the person decides against it."""
        self.exec()
        self.deleteLater()
        return self.paths

    def _take(self, names: Sequence[str]) -> None:
        self.paths = [Path(name) for name in names]
        QDialog.accept(self)


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

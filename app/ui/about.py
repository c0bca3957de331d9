"""What Plumbfall is, what it is not, and whose work it stands on; published rules beside the current settings."""

from __future__ import annotations

import html
from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QPlainTextEdit, QTabWidget, QWidget

from app.study.presets import SOURCE, WHY_NOT, PublishedRow
from app.study.report.cautions import CAUTIONS, OF_DEMO
from app.study.report.versions import program_version
from app.ui.theme.stylesheet import ICONS
from app.ui.widgets.controls import choice
from app.ui.widgets.layout import column, holding, row, scrolled, words
from app.ui.widgets.table import ROW_HEIGHT, Column, Row, RowsTable

COLUMNS = (Column("", 142), Column("13 published rules", 122, number=True), Column("best, or range", 104, number=True),
           Column("this study", 90, number=True, strong=True), Column("95 %", 96, number=True))


class PublishedPage(QWidget):
    """A page of the window's help."""

    def __init__(self, figures: Sequence[PublishedRow]) -> None:
        super().__init__()
        lead = words(f"Thirteen published threshold rules were run on 29 falls that really happened ({SOURCE}). "
                     "Their spread is shown beside the current settings on this study's recordings.", wrap=True)
        self.table = RowsTable("Published rules beside this study", COLUMNS)
        rows = [Row((one.figure, one.average, one.best, one.here, one.interval), one.figure) for one in figures]
        self.table.show_rows(rows)
        self.table.stretch_column(4)
        self.table.setFixedHeight(ROW_HEIGHT * (len(rows) + 1) + 14)
        why = _paragraphs(WHY_NOT, 7)
        self.why = _rich(f"<p style='margin:4px 0 7px 0'><b>Why they can't be compared one to one</b></p>{why}")
        scroll = scrolled(self.why)
        scroll.setFocusPolicy(Qt.FocusPolicy.StrongFocus)  # the keys scroll it
        column(lead, self.table, (scroll, 1), margins=(2, 10, 2, 0), spacing=6, of=self)

    def as_text(self) -> str:
        return self.table.as_text() + "\n".join(WHY_NOT) + "\n"


APP = Path(__file__).resolve().parent.parent


def licence_texts() -> dict[str, str]:
    """Name and text of every licence shipped with the program."""
    paths = [path for path in sorted((APP / "licences").rglob("*")) if path.suffix in (".txt", ".md")]
    paths.sort(key=lambda path: (path.stem != "Plumbfall", path.stem != "third-party", path.parent.name == "texts"))
    named = [(path.stem, path) for path in paths]
    named.insert(2, ("Plumbfall Sans, the font", APP / "ui" / "theme" / "fonts" / "OFL.txt"))
    return {name: path.read_text("utf-8", errors="replace") for name, path in named}


class AboutDialog(QDialog):
    """Three pages: cautions, published rules beside the current score, licences."""

    def __init__(self, log: Path, parent: QWidget | None = None, figures: Sequence[PublishedRow] = ()) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("About Plumbfall")
        sign = QLabel()
        sign.setPixmap(QIcon(str(ICONS / "plumbfall.svg")).pixmap(48, 48))
        name = words(f"Plumbfall {program_version()}", "lead")
        job = words("A plumb line tells upright from fallen. Plumbfall is the workbench between the volunteers' "
                    "recordings and the firmware's thresholds.", wrap=True)
        sign.setAlignment(Qt.AlignmentFlag.AlignTop)
        head = row(sign, (column(name, job, spacing=6), 1), spacing=14)
        self.pages = QTabWidget()
        self.pages.addTab(self._cautions(log), "Cautions")
        self.published = PublishedPage(figures)
        self.pages.addTab(self.published, "Published rules")
        self.pages.addTab(self._licences(), "Licences")
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.close)
        column(head, (self.pages, 1), buttons, margins=(18, 16, 18, 14), spacing=12, of=self)
        self.resize(620, 520)

    def _cautions(self, log: Path) -> QWidget:
        place = f"<p style='margin:0'>Unexpected errors are written to {html.escape(str(log))}</p>"
        self.cautions = _rich(_paragraphs((*CAUTIONS, OF_DEMO), 9) + place)
        self.cautions.setContentsMargins(2, 10, 2, 0)
        return self.cautions

    def _licences(self) -> QWidget:
        self.texts = licence_texts()
        self.which = choice("Licence of", ((name, name) for name in self.texts))
        self.text = QPlainTextEdit(readOnly=True)
        self.text.setAccessibleName("Licence text")
        self.which.currentTextChanged.connect(lambda name: self.text.setPlainText(self.texts.get(name, "")))
        self.text.setPlainText(self.texts.get(self.which.currentText(), ""))
        credit = words("Plumbfall is free software under the MIT licence. It stands on Qt (LGPL version 3) "
                       "and the packages below, each under its own licence. The colours of the stages are the "
                       "Okabe–Ito palette, published in 2002 for every kind of colour vision.", wrap=True)
        return holding(column(credit, self.which, (self.text, 1), margins=(2, 10, 2, 0), spacing=6))


def _paragraphs(sentences: Sequence[str], apart: int) -> str:
    return "".join(f"<p style='margin:0 0 {apart}px 0'>{html.escape(one)}</p>" for one in sentences)


def _rich(text: str) -> QLabel:
    label = words(text, wrap=True)
    label.setTextFormat(Qt.TextFormat.RichText)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    label.setAlignment(Qt.AlignmentFlag.AlignTop)
    return label

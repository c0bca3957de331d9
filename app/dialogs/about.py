"""What Plumbfall is, what it is not, and whose work it stands on."""

from __future__ import annotations

import html
import tomllib
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLabel,
    QPlainTextEdit,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from app.panels.published import PublishedPage
from app.study.published import Row
from app.stylesheet import ICONS

CAUTIONS = (
    "Plumbfall is an engineering aid. It is not a medical device, it certifies nothing, and nobody's safety may "
    "rest on its figures alone.",
    "Local codes and licensed practice decide what a fall detector must do and who may say that it does it.",
    "Simulated falls by young volunteers flatter a detector: real falls of old people are slower, are broken by "
    "furniture and hands, and end in ways that nobody staged. Expect less in the field than on the bench.",
    "Figures hold for the recordings they come from: their people, placement, sensor and rate. Settings tuned on "
    "these people do worse on people not seen.",
    "The demo is synthetic, made from body mechanics by this program. It is good for learning the workbench, not "
    "for judging a detector.",
)
APP = Path(__file__).resolve().parent.parent


def program_version() -> str:
    """The installed one's, or the checkout's."""
    try:
        return version("plumbfall")
    except PackageNotFoundError:
        project = tomllib.loads((APP.parent / "pyproject.toml").read_text("utf-8"))["project"]
        return f"{project['version']}, from a checkout"


def licence_texts() -> dict[str, str]:
    """Name and text of every licence shipped with the program."""
    paths = [path for path in sorted((APP / "licences").rglob("*")) if path.suffix in (".txt", ".md")]
    paths.sort(key=lambda path: (path.stem != "Plumbfall", path.stem != "third-party", path.parent.name == "texts"))
    named = [(path.stem, path) for path in paths]
    named.insert(2, ("Plumbfall Sans, the font", APP / "fonts" / "OFL.txt"))
    return {name: path.read_text("utf-8", errors="replace") for name, path in named}


class AboutDialog(QDialog):
    """Three pages: cautions, published rules beside the score in hand, licences."""

    def __init__(self, log: Path, parent: QWidget | None = None, figures: Sequence[Row] = ()) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("About Plumbfall")
        self.setModal(False)
        sign = QLabel()
        sign.setPixmap(QIcon(str(ICONS / "plumbfall.svg")).pixmap(48, 48))
        name = QLabel(f"Plumbfall {program_version()}")
        name.setProperty("role", "lead")
        job = QLabel("A plumb line tells upright from fallen. Plumbfall is the workbench between the volunteers' "
                     "recordings and the firmware's thresholds.", wordWrap=True)
        words = QVBoxLayout()
        words.addWidget(name)
        words.addWidget(job)
        head = QHBoxLayout()
        head.setSpacing(14)
        head.addWidget(sign, 0, Qt.AlignmentFlag.AlignTop)
        head.addLayout(words, 1)
        self.pages = QTabWidget()
        self.pages.addTab(self._cautions(log), "Cautions")
        self.published = PublishedPage(figures)
        self.pages.addTab(self.published, "Published rules")
        self.pages.addTab(self._licences(), "Licences")
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.close)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 16, 18, 14)
        column.setSpacing(12)
        column.addLayout(head)
        column.addWidget(self.pages, 1)
        column.addWidget(buttons)
        self.resize(620, 520)

    def _cautions(self, log: Path) -> QWidget:
        items = "".join(f"<p style='margin:0 0 9px 0'>{html.escape(one)}</p>" for one in CAUTIONS)
        place = f"<p style='margin:0'>Unexpected errors are written to {html.escape(str(log))}</p>"
        self.cautions = QLabel(items + place, wordWrap=True)
        self.cautions.setTextFormat(Qt.TextFormat.RichText)
        self.cautions.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.cautions.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.cautions.setContentsMargins(2, 10, 2, 0)
        return self.cautions

    def _licences(self) -> QWidget:
        page = QWidget()
        self.texts = licence_texts()
        self.which = QComboBox()
        self.which.setAccessibleName("Licence of")
        self.which.addItems(list(self.texts))
        self.text = QPlainTextEdit(readOnly=True)
        self.text.setAccessibleName("Licence text")
        self.which.currentTextChanged.connect(lambda name: self.text.setPlainText(self.texts.get(name, "")))
        self.text.setPlainText(self.texts.get(self.which.currentText(), ""))
        column = QVBoxLayout(page)
        column.setContentsMargins(2, 10, 2, 0)
        column.addWidget(QLabel("Plumbfall is free software under the MIT licence. It stands on Qt (LGPL version 3) "
                                "and the packages below, each under its own licence.", wordWrap=True))
        column.addWidget(self.which)
        column.addWidget(self.text, 1)
        return page

"""The window: puts the panels in their places; without a recording three sentences and two buttons."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QIcon
from PySide6.QtWidgets import QLabel, QMainWindow, QPushButton, QWidget

from app.study.presets import PRESETS
from app.ui.analysis.comparison import ComparisonPanel
from app.ui.analysis.map_and_curve import MapAndCurvePanel
from app.ui.analysis.side_by_side import SideBySidePanel
from app.ui.recordings.panel import RecordingsPanel
from app.ui.score.attempts import AttemptsPanel
from app.ui.score.breakdown import BreakdownPanel
from app.ui.score.history import HistoryPanel
from app.ui.score.panel import ScorePanel
from app.ui.score.what_would_it_take import AttemptsPlace, WhatWouldItTakePanel
from app.ui.settings.panel import WIDTH as SETTINGS_WIDTH
from app.ui.settings.panel import SettingsPanel
from app.ui.status_line import StatusLine
from app.ui.theme.stylesheet import ICONS
from app.ui.top_bar import Toolbar
from app.ui.trace.panel import TracePanel
from app.ui.widgets.layout import column, holding, row, split, stack, words
from app.ui.widgets.tabs import TabPlaces

SENTENCES = (
    "Plumbfall plays a fall-detection rule over recordings of real movement and shows, while you drag a threshold, "
    "which falls it catches and what else sets it off.",
    "Open recordings or drop them anywhere on this window: files, a folder, a table of labels, a recipe, a study, "
    "or an exported header.",
    "The demo is a synthetic study of falls and chores in home and garden, made by this program, with some falls "
    "missed and some false alarms raised for you to find.",
)


class EmptyPanel(QWidget):
    """Stands in the trace's place while the study has no recording."""

    open_asked = Signal()
    demo_asked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Nothing open yet")
        sign = QLabel()
        sign.setPixmap(QIcon(str(ICONS / "plumbfall.svg")).pixmap(56, 56))
        self.sentences = [words(sentence, "" if at else "lead", True) for at, sentence in enumerate(SENTENCES)]
        self.open = QPushButton("Open…")
        self.open.setProperty("role", "main")
        self.open.clicked.connect(self.open_asked)
        self.demo = QPushButton("Try the demo")
        self.demo.clicked.connect(self.demo_asked)
        block = holding(column(sign, *self.sentences, 4, row(self.open, self.demo, None), spacing=12))
        block.setMaximumWidth(560)
        line = row((block, 1))
        line.addStretch(0)
        column(None, None, line, None, None, None, margins=(32, 24, 32, 24), of=self)

    def show_busy(self, busy: bool) -> None:
        """While the demo is being made or files are read there is nothing to press."""
        self.open.setEnabled(not busy)
        self.demo.setEnabled(not busy)


SMALLEST = QSize(900, 560)
USUAL = QSize(1280, 800)


class MainWindow(QMainWindow):
    """Recordings, Trace and Settings; below the first two Score and two places with tabs."""

    dropped = Signal(list)
    """Paths of the files and folders let go over the window."""
    close_asked = Signal(QCloseEvent)
    """Whoever listens may ignore the event: then the window stays."""

    def __init__(self) -> None:
        super().__init__()
        self.setWindowIcon(QIcon(str(ICONS / "plumbfall.svg")))
        self.setAcceptDrops(True)
        self.toolbar, self.status = Toolbar(), StatusLine()
        self.recordings, self.score, self.attempts = RecordingsPanel(), ScorePanel(), AttemptsPanel()
        self.trace, self.empty = TracePanel(), EmptyPanel()
        self.settings = SettingsPanel([(preset.title, preset.origin) for preset in PRESETS])
        self.middle = stack(self.empty, self.trace)
        self.takes, self.splits = WhatWouldItTakePanel(), BreakdownPanel()
        self.beside, self.comparing, self.history = SideBySidePanel(), ComparisonPanel(), HistoryPanel()
        self.map_and_curve = MapAndCurvePanel()
        self.attempts_place = AttemptsPlace(self.attempts, self.takes)
        self.tabs = TabPlaces()
        self.tabs.add_first(self.attempts_place, "Attempts")
        self.tabs.add_first(self.splits, "Breakdown")
        self.tabs.add_second(self.beside, "Side by side")
        self.tabs.add_second(self.map_and_curve, "Map and curve")
        self.tabs.add_second(self.comparing, "A and B")
        self.tabs.add_second(self.history, "History")
        for panel in (self.recordings, self.score, self.settings, self.trace, self.tabs):
            # Each covers its own ground: what lies below need not be painted with every change.
            panel.setAutoFillBackground(True)
        self.above = split(Qt.Orientation.Horizontal, self.recordings, self.middle)
        self.below = split(Qt.Orientation.Horizontal, self.score, self.tabs)
        self.left = split(Qt.Orientation.Vertical, self.above, self.below)
        self.whole = split(Qt.Orientation.Horizontal, self.left, self.settings)
        central = QWidget()
        central.setObjectName("panel")
        column(self.toolbar, (self.whole, 1), self.status, of=central)
        self.setCentralWidget(central)
        self.setMinimumSize(SMALLEST)
        self.usual_layout()
        self.show_empty(True)

    def show_empty(self, empty: bool) -> None:
        """The three sentences, or the trace."""
        self.middle.setCurrentWidget(self.empty if empty else self.trace)

    def usual_layout(self) -> None:
        self.resize(USUAL)
        for parts, stretches, sizes in (
            (self.whole, (1, 0), (USUAL.width() - SETTINGS_WIDTH, SETTINGS_WIDTH)),
            (self.above, (1, 4), (288, 616)),
            (self.below, (0, 1), (340, 564)),
            (self.left, (2, 1), (366, 362)),
        ):
            for at, stretch in enumerate(stretches):
                parts.setStretchFactor(at, stretch)
            parts.setSizes(sizes)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        paths = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
        if paths:
            event.acceptProposedAction()
            self.dropped.emit(paths)

    def closeEvent(self, event: QCloseEvent) -> None:
        self.close_asked.emit(event)

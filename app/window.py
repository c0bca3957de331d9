"""The window: puts the panels in their places, nothing else."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QIcon
from PySide6.QtWidgets import QMainWindow, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from app.panels.attempts import AttemptsPanel
from app.panels.beside import BesidePanel
from app.panels.comparing import ComparingPanel
from app.panels.device.panel import DevicePanel
from app.panels.empty import EmptyPanel
from app.panels.history import HistoryPanel
from app.panels.map_and_curve import MapAndCurvePanel
from app.panels.recordings import RecordingsPanel
from app.panels.score import ScorePanel
from app.panels.settings import WIDTH as SETTINGS_WIDTH
from app.panels.settings import SettingsPanel
from app.panels.splits import SplitsPanel
from app.panels.status import StatusLine
from app.panels.tab_places import TabPlaces
from app.panels.takes import AttemptsPlace, TakesPanel
from app.panels.toolbar import Toolbar
from app.panels.trace import TracePanel
from app.study.presets import PRESETS
from app.stylesheet import ICONS
from app.theme import Theme

SMALLEST = QSize(900, 560)
USUAL = QSize(1280, 800)


class Window(QMainWindow):
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
        self.middle = QStackedWidget()
        self.middle.addWidget(self.empty)
        self.middle.addWidget(self.trace)
        self.takes, self.splits = TakesPanel(), SplitsPanel()
        self.beside, self.comparing, self.history = BesidePanel(), ComparingPanel(), HistoryPanel()
        self.map_and_curve, self.device = MapAndCurvePanel(), DevicePanel()
        self.attempts_place = AttemptsPlace(self.attempts, self.takes)
        self.tabs = TabPlaces()
        self.tabs.add_first(self.attempts_place, "Attempts")
        self.tabs.add_first(self.splits, "Splits")
        self.tabs.add_second(self.beside, "Side by side")
        self.tabs.add_second(self.map_and_curve, "Map and curve")
        self.tabs.add_second(self.comparing, "A and B")
        self.tabs.add_second(self.history, "History")
        self.tabs.add_second(self.device, "Device")
        for panel in (self.recordings, self.score, self.settings, self.trace, self.tabs):
            # Each covers its own ground: what lies below need not be painted with every change.
            panel.setAutoFillBackground(True)
        self.above = _split(Qt.Orientation.Horizontal, self.recordings, self.middle)
        self.below = _split(Qt.Orientation.Horizontal, self.score, self.tabs)
        self.left = _split(Qt.Orientation.Vertical, self.above, self.below)
        self.whole = _split(Qt.Orientation.Horizontal, self.left, self.settings)
        central = QWidget()
        central.setObjectName("panel")
        column = QVBoxLayout(central)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.toolbar)
        column.addWidget(self.whole, 1)
        column.addWidget(self.status)
        self.setCentralWidget(central)
        self.setMinimumSize(SMALLEST)
        self.resize(USUAL)
        self._set_proportions()
        self.show_empty(True)

    def show_empty(self, empty: bool) -> None:
        """The three sentences, or the trace."""
        self.middle.setCurrentWidget(self.empty if empty else self.trace)

    def set_theme(self, theme: Theme) -> None:
        for panel in (self.recordings, self.score, self.trace, self.settings, self.splits, self.beside, self.comparing,
                      self.map_and_curve, self.device):
            panel.set_theme(theme)

    def _set_proportions(self) -> None:
        for split, stretches, sizes in (
            (self.whole, (1, 0), (988, SETTINGS_WIDTH)),
            (self.above, (1, 4), (290, 698)),
            (self.below, (0, 1), (604, 384)),
            (self.left, (2, 1), (466, 262)),
        ):
            for at, stretch in enumerate(stretches):
                split.setStretchFactor(at, stretch)
            split.setSizes(sizes)

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


def _split(orientation: Qt.Orientation, *widgets: QWidget) -> QSplitter:
    split = QSplitter(orientation)
    split.setHandleWidth(1)
    split.setChildrenCollapsible(False)
    for widget in widgets:
        split.addWidget(widget)
    return split

"""The status line: what the last scoring took, the front end, long work with its cancel, the caution."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QProgressBar, QPushButton, QSizePolicy, QWidget

from app.study.shown import Results
from app.words import GAP, decimal, hours
from detect.frontend import FrontEnd

CAUTION = "Engineering aid, not a medical device"
MESSAGE_MS = 8_000


class StatusLine(QFrame):
    """One line at the foot of the window."""

    cancel_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("status")
        self.setAccessibleName("Status")
        self.scored, self.front_end, self.message = QLabel(), QLabel(), QLabel()
        self.message.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.doing = QLabel()
        self.bar = QProgressBar()
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedSize(120, 10)
        self.bar.setAccessibleName("Share done")
        self.cancel = QPushButton("Cancel")
        self.cancel.setProperty("role", "small")
        self.cancel.clicked.connect(self.cancel_asked)
        caution = QLabel(CAUTION)
        line = QHBoxLayout(self)
        line.setContentsMargins(12, 2, 12, 2)
        line.setSpacing(18)
        line.addWidget(self.scored)
        line.addWidget(self.front_end)
        line.addWidget(self.message, 1)
        for widget in (self.doing, self.bar, self.cancel, caution):
            line.addWidget(widget)
        self.setFixedHeight(28)
        self._fade = QTimer(self, singleShot=True, interval=MESSAGE_MS)
        self._fade.timeout.connect(lambda: self.show_message(""))
        self.show_idle()

    def show_results(self, results: Results | None) -> None:
        text = "" if results is None else f"scored {hours(results.hours)} in {_brief(results.took_ms)}"
        self.scored.setText(text)
        self.scored.setVisible(bool(text))

    def show_front_end(self, front_end: FrontEnd) -> None:
        self.front_end.setText(f"front end ±{decimal(front_end.range_g)}{GAP}g · {front_end.bits}{GAP}bit · "
                               f"{decimal(front_end.rate_hz)}{GAP}Hz")

    def show_message(self, text: str) -> None:
        """A sentence that goes away by itself."""
        self.message.setToolTip(text)
        self._fit_message()
        if text:
            self._fade.start()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit_message()

    def _fit_message(self) -> None:
        """As much of it as there is room for; all of it under the mouse."""
        room, whole = self.message.width(), self.message.toolTip()
        self.message.setText(self.message.fontMetrics().elidedText(whole, Qt.TextElideMode.ElideRight, room))

    def show_work(self, words: str) -> None:
        self.doing.setText(words)
        self.bar.setRange(0, 0)
        for widget in (self.doing, self.bar, self.cancel):
            widget.show()

    def show_share(self, share: float) -> None:
        self.bar.setRange(0, 1000)
        self.bar.setValue(round(1000 * share))

    def show_idle(self) -> None:
        self.bar.setRange(0, 1000)
        for widget in (self.doing, self.bar, self.cancel):
            widget.hide()


def _brief(ms: float) -> str:
    if ms >= 1000:
        return f"{ms / 1000:.1f}{GAP}s"
    return f"{ms:.1f}{GAP}ms" if ms < 10 else f"{ms:.0f}{GAP}ms"

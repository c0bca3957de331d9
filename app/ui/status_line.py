"""The status line: what the last scoring took, the sensor, long work with its cancel, the caution."""

from __future__ import annotations

from time import monotonic

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QFrame, QLabel, QProgressBar, QSizePolicy, QWidget

from app.formatting import GAP, hours, sensor, time_left
from app.study.results.content import Results
from app.ui.widgets.controls import button
from app.ui.widgets.layout import row, say
from app.ui.widgets.quantity_form import CutLabel
from detect.rule.front_end import FrontEnd

CAUTION = "Engineering aid, not a medical device"
MESSAGE_MS = 8_000


class StatusLine(QFrame):
    """One line at the foot of the window."""

    cancel_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("status")
        self.setAccessibleName("Status")
        self.scored, self.front_end = QLabel(), QLabel()
        self.message = CutLabel(cut=Qt.TextElideMode.ElideRight)
        self.message.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.doing = QLabel()
        self.bar = QProgressBar()
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedSize(120, 10)
        self.bar.setAccessibleName("Share done")
        self.cancel = button("Cancel", self.cancel_asked, "small")
        row(self.scored, self.front_end, (self.message, 1), self.doing, self.bar, self.cancel, QLabel(CAUTION),
            margins=(12, 2, 12, 2), spacing=18, of=self)
        self.setFixedHeight(28)
        self._fade = QTimer(self, singleShot=True, interval=MESSAGE_MS)
        self._fade.timeout.connect(lambda: self.show_message(""))
        self._words, self._said, self._began = "", "", monotonic()
        self.show_idle()

    def show_results(self, results: Results | None) -> None:
        say(self.scored, "" if results is None else f"scored {hours(results.hours)} in {_brief(results.took_ms)}")

    def show_front_end(self, front_end: FrontEnd) -> None:
        self.front_end.setText(f"sensor {sensor(front_end)}")

    def show_message(self, text: str) -> None:
        """A sentence that goes away by itself."""
        self.message.setText(text)
        if text:
            self._fade.start()

    def show_work(self, words: str) -> None:
        self._words, self._said, self._began = words, "", monotonic()
        self.doing.setText(words)
        self.bar.setRange(0, 0)
        for widget in (self.doing, self.bar, self.cancel):
            widget.show()

    def show_said(self, said: str) -> None:
        """How far the work is, in words; shown with the next share."""
        self._said = said

    def show_share(self, share: float) -> None:
        self.bar.setRange(0, 1000)
        self.bar.setValue(round(1000 * share))
        left = time_left(share, monotonic() - self._began)
        self.doing.setText(", ".join(part for part in (self._words, self._said, left) if part))

    def show_idle(self) -> None:
        self.bar.setRange(0, 1000)
        for widget in (self.doing, self.bar, self.cancel):
            widget.hide()


def _brief(ms: float) -> str:
    if ms >= 1000:
        return f"{ms / 1000:.1f}{GAP}s"
    return f"{ms:.1f}{GAP}ms" if ms < 10 else f"{ms:.0f}{GAP}ms"

"""The status line: what the last scoring took, the sensor, messages and their list, long work with its cancel."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from time import monotonic

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QFrame, QLabel, QProgressBar, QSizePolicy, QWidget

from app.formatting import GAP, hours, sensor, time_left
from app.study.results.content import Results
from app.ui.widgets.controls import button
from app.ui.widgets.layout import row, say, words
from app.ui.widgets.problem_dialog import ProblemsDialog
from app.ui.widgets.quantity_form import CutLabel
from detect.rule.front_end import FrontEnd

CAUTION = "Engineering aid, not a medical device"
MESSAGE_MS = 8_000
MOST_KEPT = 200
OF_A_DRAG = timedelta(seconds=1)
"""Messages alike but for their numbers that follow each other this quickly are one, as a drag says them."""


class StatusLine(QFrame):
    """One line at the foot of the window."""

    cancel_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("status")
        self.setAccessibleName("Status")
        self.scored, self.front_end = words(), words()
        self.message = CutLabel(cut=Qt.TextElideMode.ElideRight)
        self.message.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.doing = words()
        self.bar = QProgressBar()
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedSize(120, 10)
        self.bar.setAccessibleName("Share done")
        self.cancel = button("Cancel", self.cancel_asked, "small")
        self.kept: list[tuple[datetime, str]] = []
        self._unread = 0
        self._list: ProblemsDialog | None = None
        self.all = button("", self.show_messages, "small", "Show every message of this session, the latest first")
        self.all.hide()
        row(self.scored, self.front_end, (self.message, 1), self.all, self.doing, self.bar, self.cancel,
            QLabel(CAUTION), margins=(12, 2, 12, 2), spacing=18, of=self)
        self.setFixedHeight(28)
        self._fade = QTimer(self, singleShot=True, interval=MESSAGE_MS)
        self._fade.timeout.connect(self._let_go)
        self._words, self._said, self._began = "", "", monotonic()
        self.show_idle()

    def show_results(self, results: Results | None) -> None:
        say(self.scored, "" if results is None else f"scored {hours(results.hours)} in {_brief(results.took_ms)}")

    def show_front_end(self, front_end: FrontEnd) -> None:
        self.front_end.setText(f"sensor {sensor(front_end)}")

    def show_message(self, text: str) -> None:
        """A sentence that leaves the line by itself once it was there in full; it stays in the list."""
        self.message.setText(text)
        if text:
            self._fade.start()
            self._keep(text, datetime.now())

    def show_messages(self) -> None:
        """All that were kept, in a list beside the window."""
        self._unread = 0
        self._show_count()
        self._let_go(read=True)
        if self._list is not None:
            self._list.close()
        self._list = ProblemsDialog("Messages, the latest first", [f"{when:%H:%M:%S}  {text}" for when, text in
                                                                   reversed(self.kept)], self.window())
        self._list.destroyed.connect(self._forget_list)
        self._list.show()

    def _forget_list(self) -> None:
        self._list = None

    def _keep(self, text: str, now: datetime) -> None:
        if self.kept and now - self.kept[-1][0] < OF_A_DRAG \
                and _without_numbers(self.kept[-1][1]) == _without_numbers(text):
            self.kept.pop()
        else:
            self._unread += 1
        self.kept = [*self.kept, (now, text)][-MOST_KEPT:]
        self._show_count()

    def _show_count(self) -> None:
        self.all.setText(f"Messages · {self._unread} new" if self._unread else "Messages")
        self.all.setVisible(bool(self.kept))

    def _let_go(self, read: bool = False) -> None:
        """What is cut off stays until it is read."""
        room = self.message.contentsRect().width()
        if read or self.message.fontMetrics().horizontalAdvance(self.message.text()) <= room:
            self.message.setText("")

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


def _without_numbers(text: str) -> str:
    return re.sub(r"[\d.,]+", "", text)


def _brief(ms: float) -> str:
    if ms >= 1000:
        return f"{ms / 1000:.1f}{GAP}s"
    return f"{ms:.1f}{GAP}ms" if ms < 10 else f"{ms:.0f}{GAP}ms"

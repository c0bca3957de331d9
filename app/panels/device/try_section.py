"""A what-if of the front end: its numbers, what came of a run as tables, and a button that runs it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QToolButton, QVBoxLayout, QWidget

from app.controls.place_buttons import place_buttons
from app.controls.quantity_form import QuantityForm, values_as_text
from app.panels.rows import RowsTable
from app.theme import Theme
from detect.device.values import Quantity

NUMBERS = "Numbers"
STALE = "Of other numbers, settings or recordings: run again."


class TrySection(QWidget):
    """One of several places in front: the numbers first, then what came of a run. `said`: what stands above them."""

    run_asked = Signal()
    stop_asked = Signal()
    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self, name: str, parts: Sequence[tuple[str, Sequence[Quantity]]],
                 places: Sequence[tuple[str, QWidget]], not_run: str, run: str = "Run") -> None:
        """`places`: title and widget of what came of a run; `run`: the word on the button."""
        super().__init__()
        self.setAccessibleName(name)
        self.form: QuantityForm = QuantityForm(f"Numbers of {name.lower()}", parts)
        self._name, self._not_run, self._run = name, not_run, run
        self.working, self.stale, self.headline = False, False, ""
        self.places = QStackedWidget()
        self.said, self.remark = QLabel(), QLabel()
        self.said.setProperty("role", "strong")
        self.remark.setProperty("role", "aside")
        for label in (self.said, self.remark):
            label.setMinimumWidth(10)
            label.setContentsMargins(12, 1, 12, 1)
        self.go = QToolButton()
        self.go.clicked.connect(lambda _: self.stop_asked.emit() if self.working else self.run_asked.emit())
        self._remarks: tuple[str, ...] = ()
        self._now = ""
        self._lay_out([(NUMBERS, self.form), *places])
        self.show_place(NUMBERS)
        self._say("")

    @property
    def in_front(self) -> str:
        """The title of the place in front."""
        return list(self.buttons)[self.places.currentIndex()]

    def show_place(self, title: str) -> None:
        self.buttons[title].setChecked(True)
        self.places.setCurrentIndex(list(self.buttons).index(title))

    def show_headline(self, headline: str) -> None:
        """What came of a run, empty where there is none; no run is under way any more."""
        self.headline, self.working, self.stale = headline, False, False
        self._say("")

    def show_stale(self, stale: bool) -> None:
        """Whether what is shown is of another study than the one in hand."""
        self.stale = stale and bool(self.headline)
        if not self.working:
            self._say("")

    def show_working(self, share: float) -> None:
        """A run is under way, this share of it done."""
        self.working = True
        self._say(f"{100 * share:.0f} % done")

    def show_refusal(self, sentence: str) -> None:
        """Why there was no run, or nothing came of it."""
        self.working = False
        self._say(sentence)

    def show_remarks(self, remarks: Sequence[str]) -> None:
        """Sentences below: what contradicts itself, what could not be done."""
        self._remarks = tuple(remarks)
        self.remark.setVisible(bool(remarks))
        self.remark.setToolTip("\n".join(remarks))
        self.remark.setAccessibleDescription(" ".join(remarks))
        self._fit()

    def as_text(self) -> str:
        """Headline, remarks and every table; before a run the numbers."""
        if not self.headline:
            return values_as_text(self.form)
        tables = [place.rows_model.as_text() for place in (self.places.widget(i) for i in range(self.places.count()))
                  if isinstance(place, RowsTable)]
        return "\n".join(["\n".join([self.headline, *self._remarks]) + "\n", *tables])

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def set_theme(self, theme: Theme) -> None:
        """Nothing here is painted by hand."""

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    # Inside

    def _say(self, now: str) -> None:
        headline = f"{STALE} {self.headline}" if self.stale else self.headline
        self._now = now or headline or self._not_run
        self.said.setToolTip(self._now)
        self.said.setAccessibleName(self._now)
        word = "Stop" if self.working else self._run
        self.go.setText(word)
        self.go.setAccessibleName(f"{word}: {self._name.lower()}")
        self._fit()

    def _fit(self) -> None:
        """As much of the sentences as there is room for."""
        room, cut = max(self.width() - 26, 10), Qt.TextElideMode.ElideRight
        self.said.setText(self.said.fontMetrics().elidedText(self._now, cut, room))
        first = f"1 of {len(self._remarks)}: {self._remarks[0]}" if len(self._remarks) > 1 else "".join(self._remarks)
        self.remark.setText(self.remark.fontMetrics().elidedText(first, cut, room))

    def _lay_out(self, places: Sequence[tuple[str, QWidget]]) -> None:
        line = QHBoxLayout()
        line.setContentsMargins(12, 0, 12, 2)
        line.setSpacing(4)
        self.buttons = place_buttons(line, self, self._name, (title for title, _ in places), self.show_place)
        for _, place in places:
            self.places.addWidget(place)
        line.addStretch(1)
        line.addWidget(self.go)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        whole.addWidget(self.said)
        whole.addWidget(self.places, 1)
        whole.addWidget(self.remark)

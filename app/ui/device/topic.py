"""A topic of the device: numbers, what came of a run as tables and pictures, a button that runs it, remarks below."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import partial
from types import MappingProxyType
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFontMetrics, QResizeEvent
from PySide6.QtWidgets import QPushButton, QWidget

from app.ui.charts.chart import Chart
from app.ui.widgets.controls import button, place_buttons
from app.ui.widgets.layout import column, holding, row, say, stack, words
from app.ui.widgets.quantity_form import QuantityForm, values_as_text
from app.ui.widgets.table import CELL_MARGIN, ROW_HEIGHT, Column, Row, RowsTable, TextPage
from detect.device.quantities import Quantity, Values

NUMBERS = "Inputs"
STALE = "Of other numbers, settings or recordings: run again."

MARGINS = (16, 2, 16, 2)

Parts = Sequence[tuple[str, Sequence[Quantity]]]
"""Headings of a form and their rows."""

LONG_TITLE = 10
"""Letters."""

FORM_WIDTH, WRAPPED_WIDTH, LINES_APART = 576, 150, 8
"""Pixels: of numbers that stand beside what they come to; of a last column of words where space is short; between
rows."""


def columns(titles: Sequence[str], numbers: Collection[int] = (), strong: Collection[int] = (),
            tips: Mapping[int, str] = MappingProxyType({})) -> list[Column]:
    """`numbers` and `strong`: which of the columns are aligned right and in bold."""
    return [Column(_in_two_lines(title) if at in numbers else title, 56, number=at in numbers, strong=at in strong,
                   tip=tips.get(at, ""))
            for at, title in enumerate(titles)]


def _in_two_lines(title: str) -> str:
    """A long title over narrow numbers is broken at the space nearest to its middle."""
    spaces = [at for at, letter in enumerate(title) if letter == " "]
    if len(title) <= LONG_TITLE or not spaces:
        return title
    at = min(spaces, key=lambda at: abs(at - len(title) / 2))
    return f"{title[:at]}\n{title[at + 1:]}"


class Results(RowsTable):
    """Every column is as wide as what is in it, so that no number is ever cut; words in the last one, and where the
    table would be too wide in the widest ones, go on in further lines."""

    def __init__(self, name: str, columns: Sequence[Column]) -> None:
        super().__init__(name, columns)
        self.setWordWrap(True)
        self.setTextElideMode(Qt.TextElideMode.ElideMiddle)
        self.horizontalHeader().setStretchLastSection(False)
        self.verticalHeader().setMinimumSectionSize(ROW_HEIGHT)

    def show_rows(self, rows: Sequence[Row]) -> None:
        super().show_rows(rows)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def show_figures_anew(self) -> None:
        super().show_figures_anew()
        self._fit()

    def _fit(self) -> None:
        header, made = self.horizontalHeader(), self.rows_model.columns
        wanted = [0 if self.isColumnHidden(at) else
                  max(column.width, self.sizeHintForColumn(at) + 10, header.sectionSizeHint(at) + 6)
                  for at, column in enumerate(made)]
        in_words = [at for at, one in enumerate(made) if not (one.number or one.name or self.isColumnHidden(at))]
        last, room = len(made) - 1, self.viewport().width()
        wrapped = [at for at in in_words if at == last]
        if wrapped:
            wanted[last] = min(wanted[last], WRAPPED_WIDTH)
        for at in sorted(in_words, key=lambda at: -wanted[at]):
            over = sum(wanted) - room
            if over > 0 and wanted[at] > WRAPPED_WIDTH:
                wanted[at] = max(WRAPPED_WIDTH, wanted[at] - over)
                wrapped.append(at)
        if last in wrapped:
            wanted[last] = max(wanted[last], room - sum(wanted[:-1]))
        for at, width in enumerate(wanted):
            self.setColumnWidth(at, width)
        self._heighten([(at, wanted[at]) for at in wrapped])

    def _heighten(self, wrapped: Sequence[tuple[int, int]]) -> None:
        """Rows as high as their words in these columns of these widths need."""
        words = QFontMetrics(self.font())
        for at, one in enumerate(self.rows_model.rows):
            # Qt's own hint forgets the cell's margins, and would cut the last line.
            needed = [words.boundingRect(0, 0, width - CELL_MARGIN, 10_000, Qt.TextFlag.TextWordWrap,
                                         self.rows_model.seen(one, column)).height() + LINES_APART
                      for column, width in wrapped]
            self.setRowHeight(at, max([ROW_HEIGHT, *needed]))


class Topic(TextPage):
    """What is in the places is filled by whoever derives from this. Without a word on the button nothing is run, and
    the numbers stand beside what they come to."""

    asked = Signal(str, object)
    """A number of the device is to become this."""
    run_asked = Signal()
    stop_asked = Signal()
    save_asked = Signal(str)
    """The ending of the file."""
    event_chosen = Signal(str, int)
    """Recording and sample."""
    place_shown = Signal()

    def __init__(self, title: str, form: QuantityForm | None, places: Sequence[tuple[str, QWidget]], not_run: str = "",
                 run: str = "Run") -> None:
        """`places`: title and widget of what came of a run. `not_run`: what is said before one."""
        super().__init__(title)
        self.title, self.form, self.view = title, form, None
        self._not_run, self._run = not_run, run
        self.working, self.stale = False, False
        self._remarks: tuple[str, ...] = ()
        self.said, self.remark = (words(role=role, wrap=True, margins=MARGINS) for role in ("strong", "aside"))
        self.readout = words(role="aside_deep", margins=MARGINS)
        for label in (self.said, self.readout, self.remark):
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.remark.hide()
        self.go = self._button(run, lambda: self.stop_asked.emit() if self.working else self.run_asked.emit())
        self.go.setProperty("role", "main")
        self.go.setVisible(bool(run))
        self.places = stack()
        if form is not None:
            form.asked.connect(self.asked)
        self._lay_out([(NUMBERS, form), *places] if form is not None and run else places)
        self._say()

    view: Any
    """What came of a run; None while there is nothing."""

    # What those that derive from this say

    def fill(self, view: Any) -> None:
        """Show what came of a run in the places; None where there is nothing."""

    def headline(self) -> str:
        """What came of it, in a sentence."""
        return "" if self.view is None else str(self.view.headline)

    # Shown

    def show_view(self, view: Any) -> None:
        """What came of a run; none is under way any more."""
        self.view, self.working, self.stale = view, False, False
        self.fill(view)
        self._say()

    def show_values(self, values: Values) -> None:
        if self.form is not None:
            self.form.show_values(values)

    def show_stale(self, stale: bool) -> None:
        """Whether what is shown is of another study than the current one."""
        self.stale = stale and self.view is not None
        for chart in self.findChildren(Chart):
            chart.show_stale(self.stale)
        if not self.working:
            self._say()

    def show_working(self, share: float) -> None:
        """A run is under way, this share of it done."""
        self.working = True
        self._say(f"Running: {100 * share:.0f} % done.")

    def show_refusal(self, sentence: str) -> None:
        """Why there was no run, or nothing came of it."""
        self.working = False
        self._say(sentence)

    def show_remarks(self, remarks: Sequence[str]) -> None:
        """Sentences below: what contradicts itself, what could not be done."""
        self._remarks = tuple(remarks)
        say(self.remark, "\n".join(remarks))

    @property
    def in_front(self) -> str:
        """The title of the place in front."""
        return list(self.buttons)[self.places.currentIndex()]

    def show_place(self, title: str) -> None:
        self.buttons[title].setChecked(True)
        self.places.setCurrentIndex(list(self.buttons).index(title))
        self.readout.setVisible(bool(_charts(self.places.currentWidget())))
        self.readout.clear()
        self.place_shown.emit()

    def as_text(self) -> str:
        """Headline, remarks and every table; before a run the numbers."""
        if self.view is None and self.form is not None:
            return values_as_text(self.form)
        tables = [place.as_text() for place in (self.places.widget(i) for i in range(self.places.count()))
                  if isinstance(place, RowsTable)]
        return "\n".join(["\n".join([self.headline(), *self._remarks]) + "\n", *tables])

    # Inside

    def _say(self, now: str = "") -> None:
        headline = f"{STALE} {self.headline()}" if self.stale else self.headline()
        say(self.said, now or headline or self._not_run)
        word = "Stop" if self.working else self._run
        self.go.setText(word)
        self.go.setAccessibleName(f"{word}: {self.title}")

    def _button(self, text: str, done: Any, name: str = "") -> QPushButton:
        made = button(text, done, tip=name)
        made.setAccessibleName(name or f"{text}: {self.title}")
        return made

    def add_button(self, text: str, done: Any, name: str = "") -> QPushButton:
        """Left of the one that runs it. `name`: the whole of what it does."""
        made = self._button(text, done, name)
        self._head.insertWidget(self._head.indexOf(self.go), made)
        return made

    def _lay_out(self, places: Sequence[tuple[str, QWidget]]) -> None:
        self._head = row(words(self.title, "lead"), None, self.go, margins=(16, 12, 16, 4))
        line = row(margins=(12, 2, 12, 4), spacing=4)
        self.buttons = place_buttons(line, self, self.title, (title for title, _ in places), self.show_place)
        line.addStretch(1)
        choosing = holding(line)
        choosing.setVisible(len(places) > 1)
        for _, place in places:
            self.places.addWidget(place)
            for chart in _charts(place):
                chart.hovered.connect(partial(self._read_out, chart))
        below = row((column(choosing, self.readout, (self.places, 1)), 1), spacing=0)
        if self.form is not None and not self._run:
            self.form.setFixedWidth(FORM_WIDTH)
            below.insertWidget(0, self.form)
        column(self._head, self.said, (below, 1), self.remark, margins=(0, 0, 0, 6), of=self)
        self.show_place(places[0][0])

    def _read_out(self, chart: Chart, thing: object) -> None:
        """What is under the mouse or the keys in a picture."""
        self.readout.setText("" if thing is None else chart.words(thing))


def _charts(place: QWidget | None) -> list[Chart]:
    return [place] if isinstance(place, Chart) else [] if place is None else place.findChildren(Chart)

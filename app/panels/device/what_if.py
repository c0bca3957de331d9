"""What if the part were another: lists of ranges, rates, widths and filters, and a table of what each would score."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication, QResizeEvent
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QStackedWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.controls.place_buttons import place_buttons
from app.controls.switch import Switch
from app.panels.rows import Column, Row, RowsTable
from app.study.device.what_if import WhatIf
from app.study.device.what_if_tables import ANEW, TITLES, as_text, row_texts, tip
from app.theme import Theme
from detect.frontend import FrontEnd

LISTS, TABLE = PLACES = ("Parts", "Table")
FIELDS = {
    "ranges": ("ranges ±", "g", "Full scales, as many as there are to try."),
    "rates": ("rates", "Hz", "Samples a second; none faster than the recordings are."),
    "bits": ("bits", "", "Widths of a sample, 8 to 16."),
    "filters": ("filters", "Hz", 'Corners of a one-pole low-pass; "half" for half the rate; "none" for recordings as '
                "they are, brought to the rate through an anti-alias filter."),
}
WIDTHS = (190, 62, 76, 76, 104, 48, 84, 82, 72, 400)
NOT_RUN = "Every combination is put to the recordings: Run."
STALE = "Of other settings or recordings: run again."


class WhatIfSection(QWidget):
    """Lists in front before a run, the table after it. A click on a row asks for its part."""

    run_asked = Signal()
    stop_asked = Signal()
    save_asked = Signal()
    cell_chosen = Signal(object)
    """A `detect.device.what_if.Cell`."""

    form = None

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("What if")
        self.working, self.stale = False, False
        self.fields = {key: _field(key) for key in FIELDS}
        self.retune = Switch("search settings anew for each part")
        self.retune.setToolTip("Takes about as long as Find settings, for every part; people are left out in turn")
        self.noise = Switch("add the part's noise")
        self.noise.setToolTip("White noise of the density under Part, drawn from a seed, beside what recordings hold")
        self.table = RowsTable("What other parts would score", [
            Column(title, width, number=1 < at < 9, strong=at in (2, 3))
            for at, (title, width) in enumerate(zip(TITLES, WIDTHS, strict=True))])
        self.table.row_chosen.connect(self.cell_chosen)
        self.said = QLabel()
        self.said.setProperty("role", "strong")
        self.said.setMinimumWidth(10)
        self.said.setContentsMargins(12, 1, 12, 1)
        self.go, self.save = QToolButton(), QToolButton()
        self.go.clicked.connect(lambda _: self.stop_asked.emit() if self.working else self.run_asked.emit())
        self.save.setText("CSV…")
        self.save.setAccessibleName("Save the table with intervals as CSV")
        self.save.setToolTip("Save the table with intervals as CSV")
        self.save.clicked.connect(lambda _: self.save_asked.emit())
        self.places = QStackedWidget()
        self.view: WhatIf | None = None
        self._now, self._typed = "", False
        self._lay_out()
        self.show_place(LISTS)
        self.show_view(None, FrontEnd())

    def texts(self) -> dict[str, str]:
        """What is typed, by the keys of FIELDS."""
        return {key: field.text() for key, field in self.fields.items()}

    def suggest(self, texts: Mapping[str, str]) -> None:
        """What stands in the lists until somebody types."""
        if not self._typed:
            for key, text in texts.items():
                self.fields[key].setText(text)

    @property
    def in_front(self) -> str:
        return PLACES[self.places.currentIndex()]

    def show_place(self, title: str) -> None:
        """One of PLACES."""
        self.buttons[title].setChecked(True)
        self.places.setCurrentIndex(PLACES.index(title))

    def show_view(self, view: WhatIf | None, in_hand: FrontEnd) -> None:
        """What came of a run, refused parts last; None while there is nothing. `in_hand`: the study's front end."""
        self.view, self.working = view, False
        self.save.setEnabled(view is not None)
        cells = () if view is None else view.cells
        order = sorted(range(len(cells)), key=lambda at: bool(cells[at].refused))
        self.table.show_rows([] if view is None else [
            Row(row_texts(view, at, in_hand), cells[at].cell, tip(cells[at])) for at in order])
        self.table.setColumnHidden(ANEW, not any(one.retuned for one in cells))
        self._say("")

    def show_stale(self, stale: bool) -> None:
        """Whether what is shown is of another study than the one in hand."""
        self.stale = stale and self.view is not None
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

    def set_theme(self, theme: Theme) -> None:
        """Nothing here is painted by hand."""

    def copy_text(self) -> None:
        """The table; before a run, the lists."""
        text = "".join(f"{FIELDS[key][0]}\t{text}\n" for key, text in self.texts().items()) if self.view is None \
            else as_text(self.view)
        QGuiApplication.clipboard().setText(text)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    # Inside

    def _say(self, now: str) -> None:
        self._now = now or self._headline()
        self.said.setToolTip(self._now)
        self.said.setAccessibleName(self._now)
        self.go.setText("Stop" if self.working else "Run")
        self.go.setAccessibleName("Stop the run" if self.working else "Run: put the parts to the recordings")
        self._fit()

    def _headline(self) -> str:
        if self.view is None:
            return NOT_RUN
        refused = sum(bool(one.refused) for one in self.view.cells)
        said = f"{len(self.view.cells) - refused} tried, {refused} refused; a click takes a part."
        return " ".join([*([STALE] if self.stale else []), said, *self.view.remarks])

    def _fit(self) -> None:
        self.said.setText(self.said.fontMetrics().elidedText(self._now, Qt.TextElideMode.ElideRight,
                                                             max(self.width() - 26, 10)))

    def _edited(self) -> None:
        self._typed = True

    def _lists(self) -> QWidget:
        inside = QWidget()
        inside.setObjectName("panel")
        grid = QGridLayout(inside)
        grid.setContentsMargins(12, 4, 12, 4)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(3)
        grid.setColumnStretch(1, 1)
        for line, (key, (title, unit, sentence)) in enumerate(FIELDS.items()):
            name, of = QLabel(title), QLabel(unit)
            name.setProperty("role", "muted")
            of.setProperty("role", "muted")
            field = self.fields[key]
            name.setBuddy(field)
            for widget in (name, field, of):
                widget.setToolTip(sentence)
            field.textEdited.connect(lambda _: self._edited())
            field.returnPressed.connect(self.run_asked)
            grid.addWidget(name, line, 0)
            grid.addWidget(field, line, 1)
            grid.addWidget(of, line, 2)
        below = QHBoxLayout()
        below.setSpacing(6)
        for switch, words in ((self.retune, "search settings anew"), (self.noise, "add the part's noise")):
            said = QLabel(words)
            said.setProperty("role", "muted")
            said.setToolTip(switch.toolTip())
            below.addWidget(switch)
            below.addWidget(said, 1)
        grid.addLayout(below, len(FIELDS), 0, 1, 3)
        grid.setRowStretch(len(FIELDS) + 1, 1)
        return inside

    def _lay_out(self) -> None:
        line = QHBoxLayout()
        line.setContentsMargins(12, 0, 12, 2)
        line.setSpacing(4)
        self.buttons = place_buttons(line, self, "What if", PLACES, self.show_place)
        for place in (self._lists(), self.table):
            self.places.addWidget(place)
        line.addStretch(1)
        line.addWidget(self.save)
        line.addWidget(self.go)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        whole.addWidget(self.said)
        whole.addWidget(self.places, 1)


def _field(key: str) -> QLineEdit:
    title, unit, sentence = FIELDS[key]
    field = QLineEdit()
    field.setAccessibleName(f"What if: {title} {unit}".strip())
    field.setAccessibleDescription(sentence)
    field.setFixedHeight(22)
    field.setAcceptDrops(False)
    return field

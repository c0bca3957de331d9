"""The score by group, the weakest on top, or by alarm: in unlabelled time, one by one or by hour, and latency."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent

from app.formatting import decimal
from app.study.results.breakdown import WAYS, BreakdownGroup, BreakdownRow
from app.study.results.unlabelled_alarms import NO_CLOCK, UnlabelledAlarms, UnlabelledRow
from app.ui.score.latency import LatencyPanel
from app.ui.widgets.controls import choice, show_choice, tool
from app.ui.widgets.layout import column, row, say, stack, words
from app.ui.widgets.table import ROW_HEIGHT, Column, Row, RowsTable, TextPage

ALARM_COLUMNS = (Column("recording", 150, name=True), Column("at", 66, number=True),
                 Column("setting", 84), Column("person", 70))
HOURS = (Column("hour", 62, number=True), Column("alarms", 56, number=True), Column("unlabelled", 90, number=True),
         Column("per day", 66, number=True, strong=True), Column("95 %", 90, number=True))


class UnlabelledAlarmsPanel(TextPage):
    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self) -> None:
        super().__init__("Alarms in unlabelled time")
        self.rates = words(role="aside", wrap=True)
        self.by_hour = tool("By hour", "Show by hour", "How many there are in each hour of the day, if all free-living "
                            "recordings have the time of day; else in their first hour, their second, …", True)
        self.table = RowsTable("Alarms in unlabelled time, a row each", ALARM_COLUMNS)
        self.table.row_chosen.connect(lambda of: self.event_chosen.emit(*of))
        self.hours = RowsTable("Alarms in unlabelled free-living time, by hour", HOURS)
        self.hours.horizontalHeader().setStretchLastSection(False)
        self.clock = words(NO_CLOCK, "aside", True, (12, 0, 12, 4))
        self.clock.hide()
        self.places = stack(self.table, self.hours)
        self.by_hour.toggled.connect(self._show_place)
        column(row((self.rates, 1), self.by_hour, margins=(12, 4, 12, 4)), self.clock, (self.places, 1), of=self)

    def show_unlabelled(self, unlabelled: UnlabelledAlarms | None) -> None:
        """None while there is nothing to show."""
        rates = () if unlabelled is None else unlabelled.rates or ("No unlabelled time.",)
        self.rates.setText("\n".join(rates))
        self.table.show_rows([] if unlabelled is None else [_alarm_row(one) for one in unlabelled.rows])
        self.clock.setText(NO_CLOCK if unlabelled is None else unlabelled.clock)
        self.hours.show_rows([] if unlabelled is None else [
            Row((one.hour, decimal(one.unlabelled), one.hours, one.per_24h, one.interval), one.hour)
            for one in unlabelled.by_hour])

    def as_text(self) -> str:
        """Rates, list and hours, tab-separated."""
        return f"{self.rates.said()}\n{self.table.as_text()}{self.clock.said()}\n{self.hours.as_text()}"

    def _show_place(self, by_hour: bool) -> None:
        self.places.setCurrentWidget(self.hours if by_hour else self.table)
        self.clock.setVisible(by_hour)


def _alarm_row(row: UnlabelledRow) -> Row:
    return Row((row.recording, row.at, row.setting, row.person), (row.recording, row.place),
               f"{row.recording}, {row.at} after its start. Click to show it.")


COLUMNS = (Column("", 58, name=True), Column("caught", 66, number=True),
           Column("sensitivity", 74, number=True, strong=True), Column("95 %", 96, number=True),
           Column("false alarms", 84, number=True),
           Column("specificity", 74, number=True, strong=True), Column("95 %", 96, number=True))
NARROW = (Column("", 58, name=True), Column("caught,\nsensitivity", 112, number=True),
          Column("false alarms,\nspecificity", 116, number=True))
"""Each with its interval below, where room is lacking for more columns."""
ALARMS = {"unlabelled": "alarms in unlabelled time", "latency": "latency"}
NAME_WIDTHS = (58, 130)
"""The first column is as wide as its longest name, within these."""


class BreakdownPanel(TextPage):
    """The box chooses how to group, or alarms, or latency; a click on a group asks for its recordings."""

    recordings_asked = Signal(str, tuple)
    """What they have in common, in words, and their names."""
    view_asked = Signal()

    def __init__(self) -> None:
        super().__init__("Breakdown")
        self.unlabelled, self.latency = UnlabelledAlarmsPanel(), LatencyPanel()
        self.by = choice("What the score is grouped by", [*((f"by {way}", way) for way in WAYS),
                                                          *((said, key) for key, said in ALARMS.items())], least=16)
        self.by.currentIndexChanged.connect(lambda _: self._by_changed())
        self.said = words("weakest on top", "aside")
        self.tuned_on = words(role="aside", wrap=True, margins=(12, 0, 12, 4))
        self.table, self.narrow = (RowsTable("The score by group, a row each", made) for made in (COLUMNS, NARROW))
        self.narrow.verticalHeader().setDefaultSectionSize(2 * ROW_HEIGHT - 4)
        for table in (self.table, self.narrow):
            table.horizontalHeader().setStretchLastSection(False)
            table.row_chosen.connect(self._asked)
        self._split: BreakdownGroup | None = None
        self.places = stack(self.table, self.narrow, self.unlabelled, self.latency)
        column(row(self.by, None, self.said, margins=(12, 4, 12, 4)), self.tuned_on, (self.places, 1), of=self)
        self.tuned_on.hide()

    def wanted(self) -> str:
        """One of WAYS or ALARMS."""
        return str(self.by.currentData())

    def choose(self, wanted: str) -> None:
        show_choice(self.by, wanted)

    def show_split(self, split: BreakdownGroup | None) -> None:
        """None while there is nothing to show."""
        self._split = split
        rows = [] if split is None else [_row(one) for one in split.rows]
        self.table.show_rows(rows)
        self.narrow.show_rows([] if split is None else [_narrow_row(one) for one in split.rows])
        self._fit_names()
        self._show_place()
        say(self.tuned_on, "" if split is None else split.tuned_on)
        self.said.setText("weakest on top" if rows or split is None else "no labelled event is scored")

    def as_text(self) -> str:
        """Of what is shown."""
        if self.wanted() in WAYS:
            said = self.tuned_on.said()
            return (f"{said}\n" if said else "") + self.table.as_text()
        return {"unlabelled": self.unlabelled, "latency": self.latency}[self.wanted()].as_text()

    def _fit_names(self) -> None:
        least, most = NAME_WIDTHS
        for table in (self.table, self.narrow):
            table.setColumnWidth(0, min(max(table.sizeHintForColumn(0) + 8, least), most))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._show_place()

    def _show_place(self) -> None:
        """What was chosen; the groups with their intervals side by side where there is room for that."""
        alarms = {"unlabelled": self.unlabelled, "latency": self.latency}
        bar = self.table.verticalScrollBar().sizeHint().width()
        fits = self.table.horizontalHeader().length() + bar <= self.width()
        self.places.setCurrentWidget(alarms.get(self.wanted(), self.table if fits else self.narrow))

    def _by_changed(self) -> None:
        self._show_place()
        self.said.setVisible(self.wanted() in WAYS)
        self.tuned_on.setVisible(self.wanted() in WAYS and bool(self.tuned_on.said()))
        self.view_asked.emit()

    def _asked(self, name: str) -> None:
        assert self._split is not None
        group = next(one for one in self._split.rows if one.name == name)
        self.recordings_asked.emit(f"{self._split.by}: {name}", group.recordings)


def _row(row: BreakdownRow) -> Row:
    return Row((row.name, row.caught, row.sensitivity, row.sensitivity_range, row.false_alarms, row.specificity,
                row.specificity_range), row.name, _tip(row))


def _narrow_row(row: BreakdownRow) -> Row:
    return Row((row.name, f"{row.caught}, {row.sensitivity}\n{row.sensitivity_range}",
                f"{row.false_alarms}, {row.specificity}\n{row.specificity_range}"), row.name, _tip(row))


def _tip(row: BreakdownRow) -> str:
    return f"{row.name}: {row.caught} caught, {row.false_alarms} false alarms. Click to see the recordings."

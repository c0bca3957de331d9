"""Map and curve: what two settings, one setting, or everything that was tried would make of the score."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QComboBox, QLabel

from app.formatting import plural, spoken
from app.study.results.counts import FIGURES
from app.study.results.setting_map import MAPPABLE, CurveView, MapView
from app.study.results.trade_off import AGAINST, ChartTable, Trade, TradeOff, chart_table, trade_table
from app.ui.analysis.curve_chart import CurveChart
from app.ui.analysis.map_chart import MapChart
from app.ui.analysis.trade_off_chart import TradeChart
from app.ui.charts.chart import Chart
from app.ui.widgets.controls import button, choice, kinds_menu, refill, show_choice, tool
from app.ui.widgets.layout import column, row, stack, words
from app.ui.widgets.quantity_form import CutLabel
from app.ui.widgets.table import Column, Row, RowsTable, TextPage
from app.ui.widgets.tips import show_tip
from detect.rule.settings import Settings

KINDS = {"map": "Map", "trade": "Trade-off", "curve": "One setting"}
AGAINST_WORDS = {"unlabelled": "per day", "others": "other activities"}
SAVES = {"svg": "Picture as SVG…", "png": "Picture as PNG…", "csv": "Table as CSV…"}
COLUMN = 92


@dataclass(frozen=True)
class ChartRequest:
    """What is asked for: one of KINDS, settings across and up, one of FIGURES, one of AGAINST."""

    kind: str
    x: str
    y: str
    figure: str
    against: str


class MapAndCurvePanel(TextPage):
    """Shows what it is given. Boxes ask for another view; a click or Enter on a place asks for its settings."""

    view_asked = Signal()
    again_asked = Signal()
    values_asked = Signal(tuple)
    """Pairs of key and value."""
    settings_asked = Signal(object)
    save_asked = Signal(str)
    """One of SAVES."""
    sweep_asked = Signal()

    def __init__(self) -> None:
        super().__init__("Map and curve")
        self.kind = _box("What to draw", KINDS)
        self.across = _box("Setting across", {key: spoken(key) for key in MAPPABLE})
        self.up = _box("Setting up", {key: spoken(key) for key in MAPPABLE})
        self.figure = _box("Figure", FIGURES)
        self.against = _box("False alarms as", AGAINST_WORDS)
        self.across.setCurrentIndex(MAPPABLE.index("impact_g"))
        self.up.setCurrentIndex(MAPPABLE.index("still_g"))
        self._pair = self.across.currentData(), self.up.currentData()
        self.up_name, self.across_name = QLabel("↑"), QLabel("→")
        self.as_table = tool("Table", "Show as a table", "Show as a table", True)
        self.again = tool("Draw", "Draw for the current settings", "Draw for the current settings")
        self.again.hide()
        self.sweep = button("Sweep", self.sweep_asked, "small", "Score every setting moved alone over its range")
        menu = kinds_menu(self, SAVES, self.save_asked)
        menu.addAction("Copy the table as text").triggered.connect(lambda _=False: self.copy_text())
        self.save = tool("Save", "Save or copy the chart", "Save or copy the chart", menu=menu)
        self.map, self.trade, self.curve = MapChart(), TradeChart(), CurveChart()
        self.table = RowsTable("Map and curve as a table", ())
        self.table.horizontalHeader().setResizeContentsPrecision(40)  # rows looked at for a column's width
        self.readout = CutLabel(cut=Qt.TextElideMode.ElideRight)
        self.readout.setProperty("role", "aside")
        self.nothing = words(role="aside", wrap=True, margins=(12, 8, 12, 8))
        self._said = ""
        self._settings: Settings | None = None
        self.places = stack(self.nothing, self.map, self.trade, self.curve, self.table)
        self._lay_out()
        self._connect()
        self._kind_changed()

    def wanted(self) -> ChartRequest:
        return ChartRequest(self.kind.currentData(), self.across.currentData(), self.up.currentData(),
                      self.figure.currentData(), self.against.currentData())

    def choose(self, kind: str, x: str = "", y: str = "") -> None:
        """Ask for another view, as the boxes do."""
        for box, wanted in ((self.kind, kind), (self.across, x), (self.up, y)):
            if wanted:
                show_choice(box, wanted)

    @property
    def chart(self) -> Chart:
        charts: dict[str, Chart] = {"map": self.map, "trade": self.trade, "curve": self.curve}
        return charts[self.wanted().kind]

    def show_in_hand(self, settings: Settings | None) -> None:
        """The current settings, for their place in the pictures."""
        self._settings = settings
        self._show_places()

    def show_map(self, view: MapView | None) -> None:
        self.map.show_map(view, self.wanted().figure)
        self._shown("" if view is None else _map_words(view))

    def show_curve(self, view: CurveView | None) -> None:
        self.curve.show_curve(view, self.wanted().figure)
        self._shown("" if view is None else f"{plural(len(view.x), 'setting')} · a click sets")

    def show_trade(self, trade: TradeOff | None) -> None:
        self.trade.show_trade(trade)
        if trade is not None and not trade.points:
            self.show_nothing(trade.why_not)
            return
        self._shown("" if trade is None else
                    f"{plural(trade.tried, 'setting')} tried · {len(trade.undominated)} not beaten in both · a click "
                    "sets")

    def show_against(self, possible: Sequence[str]) -> None:
        """Which ways to count false alarms there is data for; the first is taken unless one was chosen."""
        if [self.against.itemData(i) for i in range(self.against.count())] == list(possible):
            return
        before = self.against.currentData()
        refill(self.against, ((AGAINST_WORDS[one], one) for one in possible or AGAINST[1:]),
               before if before in possible[1:] else "")
        self.against.setEnabled(len(possible) > 1)

    def show_nothing(self, why: str) -> None:
        """Words in place of a picture."""
        self.nothing.setText(why)
        self._say("")
        self.places.setCurrentWidget(self.nothing)

    def show_stale(self, stale: bool, words: str = "", again: bool = False) -> None:
        """Whether what is drawn is of other settings; `again`: nobody is at it, so a button offers to."""
        self.chart.show_stale(stale)
        self.again.setVisible(again)
        if words:
            self._say(words)

    def content(self) -> ChartTable | None:
        """What is drawn, as a table."""
        kind = self.wanted().kind
        if kind == "map" and self.map.view is not None:
            return chart_table(self.map.view)
        if kind == "curve" and self.curve.view is not None:
            return chart_table(self.curve.view)
        if kind == "trade" and self.trade.trade is not None:
            return trade_table(self.trade.trade)
        return None

    def as_text(self) -> str:
        self._fill_table()
        return self.table.as_text()

    # Inside

    def _shown(self, words: str) -> None:
        self._said = words
        self._show_places()
        self._say(words)
        self._show_page()

    def _show_places(self) -> None:
        self.map.show_in_hand(self._settings)
        self.curve.show_in_hand(self._settings)

    def _show_page(self) -> None:
        if self.as_table.isChecked():
            self._fill_table()
            self.places.setCurrentWidget(self.table)
        else:
            self.places.setCurrentWidget(self.chart)

    def _fill_table(self) -> None:
        content = self.content()
        model = self.table.rows_model
        columns = () if content is None else tuple(
            Column(heading, COLUMN, number=True) for heading in content.headings)
        if columns != model.columns:
            model.beginResetModel()
            model.columns, model.rows = columns, ()
            model.endResetModel()
            for at, column in enumerate(columns):
                self.table.setColumnWidth(at, column.width)
        self.table.show_rows([] if content is None else [Row(words, thing) for words, thing in content.rows])
        self.table.fit_numbers()

    def _kind_changed(self) -> None:
        kind = self.wanted().kind
        self.across.setVisible(kind != "trade")
        self.up.setVisible(kind == "map")
        self.up_name.setVisible(kind == "map")
        self.across_name.setVisible(kind != "trade")
        self.figure.setVisible(kind != "trade")
        self.against.setVisible(kind == "trade")
        self.sweep.setVisible(kind == "trade")
        self._show_page()

    def _axis_changed(self) -> None:
        """Both can't be the same: the other takes what this one was."""
        x, y = self.across.currentData(), self.up.currentData()
        if x == y:
            was_x, was_y = self._pair
            box, value = (self.up, was_x) if x != was_x else (self.across, was_y)
            with QSignalBlocker(box):
                show_choice(box, value)
        self._pair = self.across.currentData(), self.up.currentData()
        self.view_asked.emit()

    def _figure_changed(self) -> None:
        """The same counts in another figure: nothing has to be worked out."""
        self.map.show_map(self.map.view, self.wanted().figure)
        self.curve.show_curve(self.curve.view, self.wanted().figure)
        self.view_asked.emit()

    def _chosen(self, thing: object) -> None:
        """Of what a cell, a place along a curve or a dot stands for."""
        if isinstance(thing, tuple) and self.map.view is not None:
            view = self.map.view
            self.values_asked.emit(((view.x.key, view.x.values[thing[0]]), (view.y.key, view.y.values[thing[1]])))
        elif isinstance(thing, int) and self.curve.view is not None:
            self.values_asked.emit(((self.curve.view.x.key, self.curve.view.x.values[thing]),))
        elif isinstance(thing, Trade):
            self.settings_asked.emit(thing.settings)

    def _hovered(self, thing: object) -> None:
        words = "" if thing is None else self.chart.words(thing)
        self._say(words or self._said)
        self.chart.setAccessibleDescription(words)
        show_tip(self.chart, words)

    def _say(self, said: str) -> None:
        self.readout.setText(said)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.view_asked.emit()

    def _lay_out(self) -> None:
        line = row(self.kind, self.figure, self.against, self.sweep, None, self.again, self.as_table, self.save,
                   margins=(12, 4, 12, 2))
        axes = row(self.up_name, (self.up, 1), self.across_name, (self.across, 1), margins=(12, 0, 12, 2))
        column(line, (self.places, 1), axes, row((self.readout, 1), margins=(12, 0, 12, 4)), of=self)

    def _connect(self) -> None:
        self.kind.currentIndexChanged.connect(lambda _: self._kind_changed())
        self.kind.currentIndexChanged.connect(lambda _: self.view_asked.emit())
        self.across.currentIndexChanged.connect(lambda _: self._axis_changed())
        self.up.currentIndexChanged.connect(lambda _: self._axis_changed())
        self.figure.currentIndexChanged.connect(lambda _: self._figure_changed())
        self.against.currentIndexChanged.connect(lambda _: self.view_asked.emit())
        self.as_table.toggled.connect(lambda _: self._show_page())
        self.again.clicked.connect(lambda _: self.again_asked.emit())
        self.table.row_chosen.connect(self._chosen)
        for chart in (self.map, self.trade, self.curve):
            chart.asked.connect(self._chosen)
            chart.hovered.connect(self._hovered)


def _map_words(view: MapView) -> str:
    size = f"{len(view.x)} × {len(view.y)} settings"
    if not view.finished:
        return f"{size}, {100 * view.known.mean():.0f} % computed so far"
    return f"{size} · a click sets both"


def _box(name: str, entries: dict[str, str]) -> QComboBox:
    """Its data are the entries' keys."""
    box = choice(name, ((said, key) for key, said in entries.items()))
    box.setToolTip(name)
    box.setMinimumWidth(76)
    box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
    return box

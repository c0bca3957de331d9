"""Map and curve: what two settings, one setting, or everything that was tried would make of the score."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QMenu, QStackedWidget, QToolButton, QVBoxLayout, QWidget

from app.panels.rows import Column, Row, RowsTable
from app.plot.chart import Chart
from app.plot.curve_chart import CurveChart
from app.plot.map_chart import MapChart
from app.plot.trade_chart import TradeChart
from app.study.chart_tables import ChartTable, curve_table, map_table, trade_table
from app.study.counting import FIGURES
from app.study.mapping import MAPPABLE, CurveView, MapView
from app.study.spoken import spoken, value_spoken
from app.study.tradeoff import AGAINST, TradeOff, differences
from app.theme import Theme
from app.words import MINUS
from detect.settings import Settings

KINDS = {"map": "Map", "trade": "Trade-off", "curve": "One setting"}
AGAINST_WORDS = {"strays": "strays per 24 h", "others": "other activities"}
SAVES = {"svg": "Picture as SVG…", "png": "Picture as PNG…", "csv": "Table as CSV…"}
COLUMN = 92


@dataclass(frozen=True)
class Wanted:
    """What is asked for: one of KINDS, settings across and up, one of FIGURES, one of AGAINST."""

    kind: str
    x: str
    y: str
    figure: str
    against: str


class MapAndCurvePanel(QWidget):
    """Shows what it is given. Boxes ask for another view; a click or Enter on a place asks for its settings."""

    view_asked = Signal()
    again_asked = Signal()
    values_asked = Signal(tuple)
    """Pairs of key and value."""
    settings_asked = Signal(object)
    save_asked = Signal(str)
    """One of SAVES."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Map and curve")
        self.kind = _box("What to draw", KINDS)
        self.across = _box("Setting across", {key: spoken(key) for key in MAPPABLE})
        self.up = _box("Setting up", {key: spoken(key) for key in MAPPABLE})
        self.figure = _box("Figure", FIGURES)
        self.against = _box("False alarms as", AGAINST_WORDS)
        self.across.setCurrentIndex(MAPPABLE.index("impact_g"))
        self.up.setCurrentIndex(MAPPABLE.index("still_g"))
        self._pair = self.across.currentData(), self.up.currentData()
        self.up_name, self.across_name = QLabel("↑"), QLabel("→")
        self.as_table = _button("Table", "Show as a table")
        self.as_table.setCheckable(True)
        self.again = _button("Draw", "Draw it for the settings in hand")
        self.again.hide()
        self.save = _button("Save", "Save or copy what is drawn")
        self.map, self.trade, self.curve = MapChart(), TradeChart(), CurveChart()
        self.table = RowsTable("Map and curve as a table", ())
        self.table.horizontalHeader().setResizeContentsPrecision(40)  # rows looked at for a column's width
        self.readout = QLabel()
        self.readout.setProperty("role", "aside")
        self.readout.setMinimumWidth(10)
        self.nothing = QLabel(wordWrap=True)
        self.nothing.setProperty("role", "aside")
        self.nothing.setContentsMargins(12, 8, 12, 8)
        self._said = ""
        self._settings: Settings | None = None
        self.places = QStackedWidget()
        for place in (self.nothing, self.map, self.trade, self.curve, self.table):
            self.places.addWidget(place)
        self._lay_out()
        self._connect()
        self._kind_changed()

    def wanted(self) -> Wanted:
        return Wanted(self.kind.currentData(), self.across.currentData(), self.up.currentData(),
                      self.figure.currentData(), self.against.currentData())

    def choose(self, kind: str, x: str = "", y: str = "") -> None:
        """Ask for another view, as the boxes do."""
        for box, wanted in ((self.kind, kind), (self.across, x), (self.up, y)):
            if wanted:
                box.setCurrentIndex(box.findData(wanted))

    @property
    def chart(self) -> Chart:
        charts: dict[str, Chart] = {"map": self.map, "trade": self.trade, "curve": self.curve}
        return charts[self.wanted().kind]

    def show_in_hand(self, settings: Settings | None) -> None:
        """The settings in hand, for their place in the pictures."""
        self._settings = settings
        self._show_places()

    def show_map(self, view: MapView | None) -> None:
        self.map.show_map(view, self.wanted().figure)
        self._shown("" if view is None else _map_words(view))

    def show_curve(self, view: CurveView | None) -> None:
        self.curve.show_curve(view, self.wanted().figure)
        self._shown("" if view is None else f"{len(view.x)} settings · a click sets")

    def show_trade(self, trade: TradeOff | None) -> None:
        self.trade.show_trade(trade)
        if trade is not None and not trade.points:
            self.show_nothing(trade.why_not)
            return
        self._shown("" if trade is None else
                    f"{trade.tried} settings tried · {len(trade.undominated)} not beaten in both · a click sets")

    def show_against(self, possible: Sequence[str]) -> None:
        """Which ways to count false alarms there is data for; the first is taken unless one was chosen."""
        if [self.against.itemData(i) for i in range(self.against.count())] == list(possible):
            return
        before = self.against.currentData()
        self.against.blockSignals(True)
        self.against.clear()
        for one in possible or AGAINST[1:]:
            self.against.addItem(AGAINST_WORDS[one], one)
        self.against.setCurrentIndex(max(self.against.findData(before), 0) if before in possible[1:] else 0)
        self.against.blockSignals(False)
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
            return map_table(self.map.view)
        if kind == "curve" and self.curve.view is not None:
            return curve_table(self.curve.view)
        if kind == "trade" and self.trade.trade is not None:
            return trade_table(self.trade.trade)
        return None

    def as_text(self) -> str:
        self._fill_table()
        return self.table.rows_model.as_text()

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def set_theme(self, theme: Theme) -> None:
        for chart in (self.map, self.trade, self.curve):
            chart.set_theme(theme)

    # Inside

    def _shown(self, words: str) -> None:
        self._said = words
        self._show_places()
        self._say(words)
        self._show_page()

    def _show_places(self) -> None:
        settings = self._settings
        for view, chart in ((self.map.view, self.map), (self.curve.view, self.curve)):
            if view is None or settings is None:
                chart.show_place(None)
            elif isinstance(view, MapView) and isinstance(chart, MapChart):
                chart.show_place((view.x.place(settings.number(view.x.key)), view.y.place(settings.number(view.y.key))))
            elif isinstance(chart, CurveChart):
                chart.show_place(view.x.place(settings.number(view.x.key)))

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
        self.up_name.setVisible(kind != "curve")
        self.up_name.setText("↑ missed falls" if kind == "trade" else "↑")
        self.across_name.setText("→ false alarms" if kind == "trade" else "→")
        self.figure.setVisible(kind != "trade")
        self.against.setVisible(kind == "trade")
        self._show_page()

    def _axis_changed(self) -> None:
        """Both can't be the same: the other takes what this one was."""
        x, y = self.across.currentData(), self.up.currentData()
        if x == y:
            was_x, was_y = self._pair
            box, value = (self.up, was_x) if x != was_x else (self.across, was_y)
            box.blockSignals(True)
            box.setCurrentIndex(box.findData(value))
            box.blockSignals(False)
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
        elif thing is not None and not isinstance(thing, tuple | int):
            self.settings_asked.emit(thing.settings)  # type: ignore[attr-defined]

    def _hovered(self, thing: object) -> None:
        words = "" if thing is None else self._words_of(thing)
        self._say(words or self._said)
        self.chart.setAccessibleDescription(words)
        self.chart.setToolTip(words)

    def _words_of(self, thing: object) -> str:
        figure = self.wanted().figure
        if isinstance(thing, tuple) and self.map.view is not None:
            view, (ix, iy) = self.map.view, thing
            where = f"{value_spoken(view.x.key, view.x.values[ix])}, {value_spoken(view.y.key, view.y.values[iy])}"
            return _readout(where, view, (iy, ix), figure, float(self.map.value_at((ix, iy))))
        if isinstance(thing, int) and self.curve.view is not None:
            line = self.curve.view
            return _readout(value_spoken(line.x.key, line.x.values[thing]), line, (thing,), figure,
                            float(line.values(figure)[thing]))
        trade = self.trade.trade
        if trade is None or isinstance(thing, tuple | int):
            return ""
        point = next(one for one in trade.points if one == thing)
        caught, false, _ = point.counts
        alarms = f"{point.alarms.value:.1f} per 24 h" if trade.against == "strays" else \
            f"{false} of {trade.trials.others} false"
        cost = "" if point.cost is None else f", {point.cost.words}"
        return (f"missed {trade.trials.falls - caught} of {trade.trials.falls}, {alarms}{cost}: "
                f"{differences(point.settings, trade.in_hand)}")

    def _say(self, words: str) -> None:
        if self.readout.toolTip() != words:
            self.readout.setToolTip(words)
        self._elide()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.view_asked.emit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._elide()

    def _elide(self) -> None:
        room = max(self.width() - 24, 10)
        self.readout.setText(self.readout.fontMetrics().elidedText(self.readout.toolTip(), Qt.TextElideMode.ElideRight,
                                                                   room))

    def _lay_out(self) -> None:
        line = QHBoxLayout()
        line.setContentsMargins(12, 4, 12, 2)
        line.setSpacing(6)
        for box in (self.kind, self.figure, self.against):
            line.addWidget(box)
        line.addStretch(1)
        for button in (self.again, self.as_table, self.save):
            line.addWidget(button)
        axes = QHBoxLayout()
        axes.setContentsMargins(12, 0, 12, 2)
        axes.setSpacing(6)
        for name, box in ((self.up_name, self.up), (self.across_name, self.across)):
            axes.addWidget(name)
            axes.addWidget(box, 1)
        below = QHBoxLayout()
        below.setContentsMargins(12, 0, 12, 4)
        below.addWidget(self.readout, 1)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        whole.addWidget(self.places, 1)
        whole.addLayout(axes)
        whole.addLayout(below)
        menu = QMenu(self.save)
        for kind, words in SAVES.items():
            menu.addAction(words).triggered.connect(lambda _=False, kind=kind: self.save_asked.emit(kind))
        menu.addAction("Copy the table as text").triggered.connect(lambda _=False: self.copy_text())
        self.save.setMenu(menu)
        self.save.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)

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
        return f"{size}, {100 * view.known.mean():.0f} % worked out yet"
    return f"{size} · a click sets both"


def _readout(where: str, view: MapView | CurveView, at: tuple[int, ...], figure: str, value: float) -> str:
    if not view.runs[at]:
        return f"{where}: the rule can't run with these"
    caught, false, strays = view.counts[at].tolist()
    trials = view.trials
    said = f"{where}: {FIGURES[figure]} " + ("no data" if value != value else f"{value:.2f}".replace("-", MINUS))
    said += f" · caught {caught} of {trials.falls} · false alarms {false} of {trials.others}"
    return said + (f" · strays {strays}" if trials.free_living_h else "")


def _box(name: str, entries: dict[str, str]) -> QComboBox:
    """Its data are the entries' keys."""
    box = QComboBox()
    for key, words in entries.items():
        box.addItem(words, key)
    box.setAccessibleName(name)
    box.setToolTip(name)
    box.setMinimumWidth(76)
    return box


def _button(words: str, spoken_name: str) -> QToolButton:
    made = QToolButton()
    made.setText(words)
    made.setAccessibleName(spoken_name)
    made.setToolTip(spoken_name)
    return made

"""Mounting: the recordings turned, off centre or mirrored, and how much rotation the rule bears."""

from __future__ import annotations

from app.panels.device.try_section import TrySection
from app.panels.rows import Column, Row, RowsTable
from app.plot.angle_chart import AngleChart, Point
from app.study.device.mounting import Flip, MountingView, curve, first_flips
from app.theme import Theme
from app.words import MINUS
from detect.device.mounting import QUANTITIES

BY_KEY = {row.key.removeprefix("mounting."): row for row in QUANTITIES}
_PARTS = (
    ("How much rotation does it bear", ("kind", "sweep_about", "sweep_to_deg", "sweep_step_deg")),
    ("As mounted: turned", ("turn_x_deg", "turn_y_deg", "turn_z_deg")),
    ("As mounted: off the centre", ("off_x_m", "off_y_m", "off_z_m", "turns_by", "turns_about", "rate_dps",
                                    "topple_deg", "topple_ms")),
    ("As mounted: elsewhere", ("placement",)))
PARTS = tuple((title, tuple(BY_KEY[name] for name in names)) for title, names in _PARTS)

CURVE, ANGLES, EVENTS, MOUNTED = "Curve", "Angles", "Events", "As mounted"
OF_ANGLES = (Column("axis", 40), Column("angle", 52, number=True), Column("caught", 54, number=True),
             Column("false alarms", 84, number=True), Column("strays", 52, number=True),
             Column("flips", 50, number=True, strong=True))
OF_EVENTS = (Column("recording", 112), Column("event", 46), Column("recorded", 86), Column("then", 86),
             Column("where", 80))
OF_MOUNTED = (Column("", 100), Column("as recorded", 90, number=True),
              Column("as mounted", 90, number=True, strong=True))
NOT_RUN = "Turns every recording by each angle and scores it; then as mounted: Run."


class MountingSection(TrySection):
    """A click on an angle, in the curve or the table, lists the events that flip there."""

    def __init__(self) -> None:
        self.chart = AngleChart()
        self.angles = RowsTable("What comes of each angle", OF_ANGLES)
        self.events = RowsTable("Events that flip", OF_EVENTS)
        self.mounted = RowsTable("As recorded and as mounted", OF_MOUNTED)
        super().__init__("Mounting", PARTS, ((CURVE, self.chart), (ANGLES, self.angles), (EVENTS, self.events),
                                             (MOUNTED, self.mounted)), NOT_RUN)
        self.chart.asked.connect(lambda point: self.show_flips(point[0], point[1]))
        self.chart.hovered.connect(self._point)
        self.angles.row_chosen.connect(lambda of: self.show_flips(*of))
        self.events.row_chosen.connect(lambda flip: self.event_chosen.emit(flip.recording, flip.sample))
        self.view: MountingView | None = None

    def show_view(self, view: MountingView | None) -> None:
        """What came of a run; None while there is nothing."""
        self.view = view
        rows = () if view is None else curve(view)
        self.chart.show_points(tuple((axis, degrees, flips) for axis, degrees, *_, flips in rows))
        self.angles.show_rows([
            Row((axis, f"{degrees:+g}°".replace("-", MINUS), *map(str, rest)), (axis, degrees),
                "Click to see which events flip.") for axis, degrees, *rest in rows])
        self.mounted.show_rows([] if view is None else [Row(texts, texts[0]) for texts in view.rows])
        self._show_events(() if view is None else (*view.changed, *first_flips(view)))
        self.show_headline("" if view is None else view.headline)

    def show_flips(self, axis: str, degrees: float) -> None:
        """The events that flip at one angle."""
        if self.view is not None:
            self._show_events(self.view.flips.get((axis, degrees), ()))
            self.show_place(EVENTS)

    def show_stale(self, stale: bool) -> None:
        super().show_stale(stale)
        self.chart.show_stale(self.stale)

    def set_theme(self, theme: Theme) -> None:
        self.chart.set_theme(theme)

    def _show_events(self, flips: tuple[Flip, ...]) -> None:
        self.events.show_rows([
            Row((one.recording, one.event, one.was, one.now, one.where.replace("-", MINUS)), one,
                f"{one.recording}, {one.event} at {one.at_s:.2f} s: {one.was}, {one.where} {one.now}. Click to see it.")
            for one in flips])

    def _point(self, point: Point | None) -> None:
        if not self.working:
            self._say("" if point is None else self.chart.words(point))

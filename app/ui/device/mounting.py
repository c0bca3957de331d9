"""Mounting: the recordings turned, off centre or mirrored, and the rule's rotation tolerance."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from app.formatting import MINUS, plural
from app.study.device.mounting import Flip, MountingView, curve, first_flips, key_of, mounting_view
from app.study.device.placement import BOTH_WAYS, SWING_TITLES, row_texts, swing_texts
from app.study.device.placement import TITLES as PLACE_TITLES
from app.study.state import Study
from app.study.workers import processes
from app.ui.charts.chart import Chart, numbers
from app.ui.device.topic import Parts, Results, Topic, columns
from app.ui.device.topic_controller import TopicController
from app.ui.jobs import Cancelled, Progress, Work
from app.ui.theme.colours import Theme
from app.ui.widgets.quantity_form import QuantityForm
from app.ui.widgets.table import Row
from detect.device.part import placement
from detect.device.part.mounting import QUANTITIES

if TYPE_CHECKING:
    from app.ui.charts.plot import Plot

Point = tuple[str, float, int]
"""Axis, degrees, events that flip."""


class AngleChart(Chart):
    """How many events flip by how far the sensor is turned, a line an axis. Things are points; a click asks for the
    events that flip there."""

    left, names, near = 36, 24, 16.0
    units = "°", ""

    def __init__(self) -> None:
        super().__init__("Events that flip by the angle the sensor is turned")
        self.points: tuple[Point, ...] = ()

    def show_points(self, points: tuple[Point, ...]) -> None:
        """By axis, then ascending by degrees."""
        self.points, self.on = points, None
        self.setAccessibleDescription("; ".join(self.words(one) for one in points))
        self.redraw()

    def words(self, point: Point) -> str:
        axis, degrees, flips = point
        return f"{axis} {degrees:+g}°: {plural(flips, 'event flips', 'events flip')}".replace("-", MINUS)

    def titles(self) -> tuple[str, str]:
        return "degrees turned", "events that flip"

    def up_ticks(self, low: float, high: float, pixels: float) -> Sequence[tuple[float, str]]:
        return numbers(low, high, pixels, max(24, pixels / max(high - low, 1e-9)))

    def places(self) -> Sequence[tuple[Point, float, float]]:
        return [(point, point[1], point[2]) for point in self.points]

    def step(self, across: int, up: int) -> Point | None:
        """Left and right along an axis, up and down to another at the same angle."""
        if self.on is None or not self.points:
            return self.points[0] if self.points else None
        if up:
            same = [one for one in self.points if one[1] == self.on[1]]
            return same[(same.index(self.on) + up) % len(same)]
        found: Point = self.along([one for one in self.points if one[0] == self.on[0]], across)
        return found

    def draw(self, plot: Plot, theme: Theme) -> None:
        if not self.points:
            return
        most = max(abs(degrees) for _, degrees, _ in self.points) or 1.0
        plot.show_range((-1.02 * most, 1.02 * most), (0.0, max(*(flips for *_, flips in self.points), 4) * 1.05))
        for axis in dict.fromkeys(one[0] for one in self.points):
            mine = [one for one in self.points if one[0] == axis]
            plot.line([one[1] for one in mine], [one[2] for one in mine], getattr(theme, axis), 1.6, name=axis)

    def draw_marks(self, plot: Plot, theme: Theme, on: Point | None) -> None:
        if on is not None:
            plot.dots([on[1]], [on[2]], 8, None, theme.touch, 1.5)


BY_KEY = {row.key.removeprefix("mounting."): row for row in QUANTITIES}
_PARTS = (
    ("Rotation tolerance", ("kind", "sweep_about", "sweep_to_deg", "sweep_step_deg")),
    ("As mounted: turned", ("turn_x_deg", "turn_y_deg", "turn_z_deg")),
    ("As mounted: off the centre", ("off_x_m", "off_y_m", "off_z_m", "turns_by", "turns_about", "rate_dps",
                                    "topple_deg", "topple_m")),
    ("As mounted: placement", ("placement",)))
PARTS: Parts = (*((title, tuple(BY_KEY[name] for name in names)) for title, names in _PARTS),
                ("What a place adds", placement.QUANTITIES))

CURVE, ANGLES, EVENTS, MOUNTED = "Curve", "Angles", "Events", "As mounted"
PLACES, SWINGS = "Placements", "What a place adds"
NOT_RUN = "Run turns every recording by each angle and scores it, then as mounted."
WORTH_WORKERS = 3_000_000
"""Samples, from which on a sweep of angles is done sooner by processes that take a second to start."""


class MountingTopic(Topic):
    """A click on an angle, in the curve or the table, lists the events that change there."""

    def __init__(self) -> None:
        self.chart = AngleChart()
        self.angles = Results("What comes of each angle", columns(
            ("axis", "angle", "caught", "false alarms", "unlabelled alarms", "changed"), range(1, 6), {5}))
        self.events = Results("Events that change", columns(("recording", "event", "recorded", "then", "where")))
        self.mounted = Results("As recorded and as mounted",
                               columns(("figure", "as recorded", "as mounted"), {1, 2}, {2}))
        self.places_worn = Results("Placements beside each other", columns(PLACE_TITLES, range(1, 6), {1, 2}))
        self.swings = Results("What a place adds, a row each", columns(SWING_TITLES, {1, 2}))
        super().__init__("Mounting", QuantityForm("Numbers of mounting", PARTS),
                         ((CURVE, self.chart), (ANGLES, self.angles), (EVENTS, self.events),
                          (MOUNTED, self.mounted), (PLACES, self.places_worn), (SWINGS, self.swings)), NOT_RUN)
        self.chart.asked.connect(lambda point: self.show_flips(point[0], point[1]))
        self.angles.row_chosen.connect(lambda of: self.show_flips(*of))
        self.events.row_chosen.connect(lambda flip: self.event_chosen.emit(flip.recording, flip.sample))

    def fill(self, view: MountingView | None) -> None:
        rows = () if view is None else curve(view)
        self.chart.show_points(tuple((axis, degrees, flips) for axis, degrees, *_, flips in rows))
        self.angles.show_rows([
            Row((axis, f"{degrees:+g}°".replace("-", MINUS), *map(str, rest)), (axis, degrees),
                "Click to list the events that change.") for axis, degrees, *rest in rows])
        self.mounted.show_rows([] if view is None else [Row(texts, texts[0]) for texts in view.rows])
        self._show_events(() if view is None else (*view.changed, *first_flips(view)))
        found = None if view is None else view.placements
        self.places_worn.show_rows([] if found is None else [
            Row(row_texts(one), one.name, found.said) for one in found.rows])
        self.swings.show_rows([] if found is None else [
            Row(swing_texts(one), one.place, BOTH_WAYS) for one in found.swings])
        self.show_remarks(() if view is None or found is None else (*view.said, found.said))

    def show_flips(self, axis: str, degrees: float) -> None:
        """The events that change at one angle."""
        if self.view is not None:
            self._show_events(self.view.flips.get((axis, degrees), ()))
            self.show_place(EVENTS)

    def _show_events(self, flips: tuple[Flip, ...]) -> None:
        self.events.show_rows([
            Row((one.recording, one.event, one.was, one.now, one.where.replace("-", MINUS)), one,
                f"{one.recording}, {one.event} at {one.at_s:.2f} s: {one.was}, {one.where} {one.now}. "
                "Click to show it.") for one in flips])


class MountingController(TopicController):
    background: ClassVar = {"mounting": "turning the recordings"}
    done = CURVE

    def make(self) -> MountingTopic:
        return MountingTopic()

    def stands_for(self, view: MountingView, study: Study) -> bool:
        return key_of(view.study) == key_of(study)

    def work(self) -> Work:
        study, made = self.evaluated()
        workers = self.workers if made[2].engine.corpus.samples >= WORTH_WORKERS else 1

        def work(progress: Progress, cancelled: Cancelled) -> MountingView:
            with processes(workers) as executor:
                return mounting_view(study, made, None, True, executor, progress, cancelled)

        return work

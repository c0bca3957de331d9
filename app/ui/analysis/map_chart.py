"""The map: a cell for each pair of levels in the colour of its figure, contours, and the current settings.

One ramp of colours for a figure from low to high, the same in light and dark.

A straight line from a deep blue to a pale yellow in OKLab (Ottosson 2020), so that equal steps look equally far
apart. Lightness only rises, and what hue there is lies between blue and yellow, which people with the common kinds
of colour blindness tell apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from app.formatting import decimal, value_spoken
from app.study.results.counts import FIGURES
from app.study.results.setting_map import Axis, CurveView, MapView
from app.study.results.trade_off import chart_csv
from app.ui.charts.chart import Chart, finite_range
from app.ui.charts.scale import decimals_of, figure, nice_step, ticks
from app.ui.theme.colours import DARK_EDGE, LIGHT_EDGE, Theme
from detect.rule.settings import BY_KEY, Settings, Unit

if TYPE_CHECKING:
    from app.ui.charts.plot import Plot


def levels_between(low: float, high: float, step: float) -> list[float]:
    """Multiples of `step` strictly between."""
    first = int(np.floor(low / step + 1e-9)) + 1
    return [i * step for i in range(first, int(np.ceil(high / step - 1e-9)))]


LOW, HIGH = (0.28, -0.012, -0.095), (0.93, -0.028, 0.125)
"""L, a, b in OKLab."""

_TO_LMS = np.array([[1.0, 0.3963377774, 0.2158037573], [1.0, -0.1055613458, -0.0638541728],
                    [1.0, -0.0894841775, -1.2914855480]])
_TO_RGB = np.array([[4.0767416621, -3.3077115913, 0.2309699292], [-1.2684380046, 2.6097574011, -0.3413193965],
                    [-0.0041960863, -0.7034186147, 1.7076147010]])


def ramp(shares: np.ndarray) -> np.ndarray:
    """(…) shares from 0 to 1 as (…, 3) uint8 sRGB."""
    share = np.clip(shares, 0, 1)[..., None]
    lab = np.array(LOW) * (1 - share) + np.array(HIGH) * share
    linear = np.clip((lab @ _TO_LMS.T) ** 3 @ _TO_RGB.T, 0, 1)
    coded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.floor(255 * coded + 0.5).astype(np.uint8)


SHADES = 256
MOST_CONTOURS = 8
Cell = tuple[int, int]
"""Place across and up."""


class MapChart(Chart):
    """Things are cells. `show_map` with what is known yet; `show_in_hand` where the current settings are."""

    grid = False
    titled_from = None

    def __init__(self) -> None:
        super().__init__("Map of two settings")
        self.view: MapView | None = None
        self.figure = "youden_j"
        self.place: tuple[float, float] | None = None
        self._values = np.zeros((0, 0))

    def show_map(self, view: MapView | None, figure_name: str) -> None:
        if view is self.view and figure_name == self.figure:
            return
        self.view, self.figure = view, figure_name
        self._values = np.zeros((0, 0)) if view is None else view.values(figure_name)
        if self.on is not None and (view is None or self.on[0] >= len(view.x) or self.on[1] >= len(view.y)):
            self.on = None
        self.redraw()

    def show_in_hand(self, settings: Settings | None) -> None:
        """Where the current settings are among the levels."""
        self.place = None if self.view is None or settings is None else (
            self.view.x.place(settings.number(self.view.x.key)), self.view.y.place(settings.number(self.view.y.key)))
        self.remark()

    def words(self, cell: Cell) -> str:
        view, (x, y) = self.view, cell
        assert view is not None
        where = f"{value_spoken(view.x.key, view.x.values[x])}, {value_spoken(view.y.key, view.y.values[y])}"
        return readout(where, view, (y, x), self.figure)

    def lines(self) -> list[list[str]]:
        return [] if self.view is None else chart_csv(self.view)

    def titles(self) -> tuple[str, str]:
        return ("", "") if self.view is None else (self.view.x.title, self.view.y.title)

    def heading(self) -> str:
        return FIGURES[self.figure]

    def across_ticks(self, low: float, high: float, pixels: float) -> Sequence[tuple[float, str]]:
        return () if self.view is None else level_ticks(self.view.x, (low, high), pixels, 46)

    def up_ticks(self, low: float, high: float, pixels: float) -> Sequence[tuple[float, str]]:
        return () if self.view is None else level_ticks(self.view.y, (low, high), pixels, 22)

    def places(self) -> Sequence[tuple[Cell, float, float]]:
        height, width = self._values.shape
        return [((x, y), x, y) for y in range(height) for x in range(width)]

    def thing_near(self, x: float, y: float) -> Cell | None:
        height, width = self._values.shape
        return None if self.view is None else (min(max(round(x), 0), width - 1), min(max(round(y), 0), height - 1))

    def step(self, across: int, up: int) -> Cell | None:
        if self.view is None:
            return None
        if self.on is not None:
            return self.thing_near(self.on[0] + across, self.on[1] + up)
        return self.thing_near(*(self.place or (len(self.view.x) // 2, len(self.view.y) // 2)))

    def draw(self, plot: Plot, theme: Theme) -> None:
        if self.view is None:
            return
        height, width = self._values.shape
        plot.show_range((-0.5, width - 0.5), (-0.5, height - 0.5))
        low, high = finite_range(self._values) or (0.0, 1.0)
        step = nice_step((high - low) / MOST_CONTOURS) if high - low > 1e-6 else 0.0
        levels = levels_between(low, high, step) if step else []
        room = 0.08 * (high - low)
        marks = [(value, figure(value, 2)) for value in dict.fromkeys((low, high))]
        marks += [(level, figure(level, decimals_of(step))) for level in levels if low + room < level < high - room]
        plot.cells(self._values, (low, max(high, low + 1e-9)), ramp(np.linspace(0, 1, SHADES)), marks)
        for level in levels:
            plot.contour(self._values, level - 1e-9, LIGHT_EDGE if 2 * level < low + high else DARK_EDGE)

    def draw_marks(self, plot: Plot, theme: Theme, on: Cell | None) -> None:
        if self.place is not None:
            plot.ring(*self.place)
        if on is not None:
            for colour, width in ((DARK_EDGE, 3), (LIGHT_EDGE, 1)):
                plot.dots([on[0]], [on[1]], 7, None, colour, width, symbol="s")


def readout(where: str, view: MapView | CurveView, at: tuple[int, ...], figure_name: str) -> str:
    """What the score would be at a place."""
    if not view.runs[at]:
        return f"{where}: the rule can't run with these"
    caught, false, unlabelled = view.counts[at].tolist()
    value = float(view.values(figure_name)[at])
    said = f"{where}: {FIGURES[figure_name]} " + ("no data" if value != value else figure(value, 2))
    said += f" · caught {caught} of {view.trials.falls} · false alarms {false} of {view.trials.others}"
    return said + (f" · unlabelled alarms {unlabelled}" if view.trials.free_living_h else "")


def level_ticks(axis: Axis, ends: tuple[float, float], pixels: float, room: float) -> list[tuple[float, str]]:
    """Places among an axis' levels between two places, and words, so far apart that they can be read."""
    unit = BY_KEY[axis.key].unit
    low, high = (float(np.interp(end, np.arange(len(axis)), axis.values)) for end in ends)
    if unit in (Unit.G, Unit.MS):
        candidates = [power * times for power in (0.01, 0.1, 1, 10, 100, 1000, 10_000) for times in (1, 2, 5)]
    else:
        candidates = ticks(low, high, nice_step(max(high - low, 1e-9) / 8))
    found: list[tuple[float, str]] = []
    for value in candidates:
        if low <= value <= high:
            place = axis.place(value)
            if not found or (place - found[-1][0]) * pixels / (ends[1] - ends[0]) >= room:
                found.append((place, tick_words(value, unit)))
    return found


def tick_words(value: float, unit: Unit) -> str:
    if unit is Unit.MS:
        return f"{decimal(value / 1000)}\u00a0s" if value >= 1000 else f"{decimal(value)}\u00a0ms"
    return decimal(value) + ("°" if unit is Unit.DEGREE else f"\u00a0{unit.value}")

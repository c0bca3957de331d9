"""A map of any two settings and a curve along one: what the score would be if only these were moved. No Qt.

A map is worked out from coarse to fine: first every eighth level, then, stride by stride, what lies between levels
that differ, last the rest. So it can be looked at early, and nothing in the finished one is guessed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from app.formatting import spoken
from app.study.pipeline import Cancelled, Progress
from app.study.results.counts import Counter, StudyTrials, figure_of
from detect.rule.front_end import FrontEnd
from detect.rule.integers import FIELD, integer_of, rule_of, slider_range, value_of
from detect.rule.settings import BY_KEY, PARAMETERS, BadSetting, Settings, Unit

MAP_LEVELS = 60
CURVE_LEVELS = 160
STRIDES = (8, 4, 2, 1)

MAPPABLE = tuple(row.key for row in PARAMETERS if row.key in FIELD)
"""Every setting that is a number."""


@dataclass(frozen=True)
class Axis:
    """The levels of a setting over its range, ascending, no two of the same integer.

    Thresholds and durations go by ratios, angles and shares evenly; a picture gives each level the same room.
    """

    key: str
    values: tuple[float, ...]

    def __len__(self) -> int:
        return len(self.values)

    @property
    def title(self) -> str:
        return spoken(self.key)

    def place(self, value: float) -> float:
        """Where a value lies among the levels, 0 to len − 1, in between by its share of the way."""
        return float(np.interp(value, self.values, np.arange(len(self.values))))


def axis(key: str, settings: Settings, front_end: FrontEnd, most: int) -> Axis:
    """At most `most` levels of a setting, others as they are."""
    unit = BY_KEY[key].unit
    low, high = slider_range(key, settings, front_end)
    if key == "impact_g":  # no three axes read more
        high = max(min(high, front_end.counts(math.sqrt(3) * max(-front_end.ends_g[0], front_end.ends_g[1]))), low + 1)
    if unit in (Unit.G, Unit.MS):
        steps = np.geomspace(max(low, 1), max(high, 1), most)
        asked = [low, *np.floor(steps + 0.5).astype(int).tolist()]
    else:
        asked = np.linspace(low, high, most).round().astype(int).tolist()
    alone = settings.with_value("free_fall_on", False)  # its bound with the impact bounds neither alone
    rule = rule_of(alone, front_end)
    levels = {}
    for integer in sorted({min(max(one, low), high) for one in asked}):
        value = _shortest(key, integer, value_of(key, integer, front_end, rule), alone, front_end)
        if value is not None:
            levels[value] = integer
    return Axis(key, tuple(sorted(levels)))


def _shortest(key: str, integer: int, value: float, settings: Settings, front_end: FrontEnd) -> float | None:
    """The value with the fewest decimals that stands on an integer."""
    for decimals in (*range(6), 12):
        rounded = round(value, decimals)
        try:
            if integer_of(key, rule_of(settings.with_value(key, rounded), front_end)) == integer:
                return rounded
        except BadSetting:
            continue
    return None


def switched_off(key: str, settings: Settings) -> str:
    """The stage without which a setting means nothing, in words, where it is off; else empty."""
    switch = BY_KEY[key].needs
    return "" if not switch or settings[switch] else BY_KEY[switch].title


def setting_apart(settings: Settings, keys: Sequence[str]) -> Settings:
    """The settings without what a map moves: equal ones have the same map."""
    for key in keys:
        settings = settings.with_value(key, BY_KEY[key].default)
    return settings


@dataclass(frozen=True, eq=False)
class CurveView:
    """(n,) points along one setting, `counts` (n, 3); `runs`: the rule can."""

    axes: tuple[Axis, ...]
    base: Settings
    trials: StudyTrials
    counts: np.ndarray
    runs: np.ndarray

    @property
    def x(self) -> Axis:
        return self.axes[0]

    def values(self, figure: str) -> np.ndarray:
        """One of FIGURES at each point; NaN where the rule can't run or there are no data."""
        return np.where(self.runs, figure_of(figure, self.counts, self.trials), np.nan)

    def settings(self, *at: int) -> Settings:
        """At a point: its place on each axis."""
        settings = self.base
        for axis, i in zip(self.axes, at, strict=True):
            settings = settings.with_value(axis.key, axis.values[i])
        return settings


@dataclass(frozen=True, eq=False)
class MapView(CurveView):
    """(ny, nx) points of two settings. `counts` (ny, nx, 3) where not `known` are those of a neighbour."""

    known: np.ndarray

    @property
    def y(self) -> Axis:
        return self.axes[1]

    @property
    def finished(self) -> bool:
        return bool(self.known.all())


def curve(base: Settings, counter: Counter, key: str, progress: Progress, cancelled: Cancelled,
          most: int = CURVE_LEVELS) -> CurveView:
    """Raises Stopped."""
    x = axis(key, base, counter.front_end, most)
    asked = [base.with_value(key, value) for value in x.values]
    counts, runs = counter.count(asked, cancelled, lambda n: progress(n / len(asked)))
    return CurveView((x,), base, counter.trials, counts, runs)


def map_of(base: Settings, counter: Counter, keys: tuple[str, str], progress: Progress, cancelled: Cancelled,
           told: Callable[[MapView], None], most: int = MAP_LEVELS) -> MapView:
    """The finished map of two settings, `keys` across and up; after each pass what there is yet is `told`.

    Raises Stopped.
    """
    x, y = (axis(key, base, counter.front_end, most) for key in keys)
    shape = len(y), len(x)
    view = MapView((x, y), base, counter.trials, np.zeros((*shape, 3), dtype=np.int64), np.ones(shape, dtype=bool),
                   np.zeros(shape, dtype=bool))
    for stride, wanted in _passes(view):
        asked = [view.settings(ix, iy) for iy, ix in np.argwhere(wanted).tolist()]
        counts, runs = counter.count(asked, cancelled, lambda n: progress((view.known.sum() + n) / view.known.size))
        view.counts[wanted], view.runs[wanted], view.known[wanted] = counts, runs, True
        _fill(view, stride)
        if not view.finished:
            told(replace(view, counts=view.counts.copy(), runs=view.runs.copy(), known=view.known.copy()))
    return view


def _passes(view: MapView) -> Iterator[tuple[int, np.ndarray]]:
    """Stride and mask of what to work out next, given what is known by then."""
    for before, stride in zip((0, *STRIDES), STRIDES, strict=False):
        rows, columns = _lattice(len(view.y), stride), _lattice(len(view.x), stride)
        wanted = np.zeros(view.known.shape, dtype=bool)
        wanted[np.ix_(rows, columns)] = True
        if before:
            wanted &= _between_unlike(view, before)
        wanted &= ~view.known
        if wanted.any():
            yield stride, wanted
    if not view.known.all():
        yield 1, ~view.known


def _lattice(number: int, stride: int) -> np.ndarray:
    """Every so many-th place, and the last."""
    return np.unique(np.append(np.arange(0, number, stride), number - 1))


def _between_unlike(view: MapView, stride: int) -> np.ndarray:
    """(ny, nx): whether the corners of the cell of a coarser lattice around a point differ in anything."""
    rows, columns = (_corners(number, stride) for number in view.known.shape)
    unlike = np.zeros(view.known.shape, dtype=bool)
    state = np.dstack((view.counts, view.runs))
    first = state[np.ix_(rows[0], columns[0])]
    for row in rows:
        for column in columns:
            unlike |= (state[np.ix_(row, column)] != first).any(axis=2)
    return unlike


def _corners(number: int, stride: int) -> tuple[np.ndarray, np.ndarray]:
    """Of each place the lattice's place at or before it and at or after it."""
    lattice, places = _lattice(number, stride), np.arange(number)
    return lattice[lattice.searchsorted(places, side="right") - 1], lattice[lattice.searchsorted(places)]


def _fill(view: MapView, stride: int) -> None:
    """Give what isn't known what the lattice's place before it has, which its cell's other corners have too where
    it was passed over."""
    rows, columns = (_corners(number, stride)[0] for number in view.known.shape)
    before = np.ix_(rows, columns)
    unknown = ~view.known
    view.counts[unknown] = view.counts[before][unknown]
    view.runs[unknown] = view.runs[before][unknown]



"""Plots of a report as plain values in their own units; a template draws them as SVG."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

WIDTH, HEIGHT = 640, 260
LEFT, RIGHT, TOP, BOTTOM = 56, 16, 12, 40
"""Of a plot, in units of its view box."""

Point = tuple[float, float]


@dataclass(frozen=True)
class Scale:
    """One axis: its title with the unit, and its ends. `names`: of the places 0, 1, 2, …, in place of numbers."""

    title: str
    low: float
    high: float
    names: tuple[str, ...] = ()

    def ticks(self) -> list[tuple[float, str]]:
        """Round values, or the names."""
        if self.names:
            return [(float(at), name) for at, name in enumerate(self.names)]
        step = _round_step((self.high - self.low) / 5)
        first = math.ceil(self.low / step - 1e-9)
        values = [round(at * step, 10) for at in range(first, math.floor(self.high / step + 1e-9) + 1)]
        return [(value, f"{value:g}".replace("-", "−")) for value in values]


@dataclass(frozen=True)
class Curve:
    """`role` names its colour: ink, touch, impact, low, muted. `steps`: drawn as points too."""

    label: str
    role: str
    points: tuple[Point, ...]
    marked: bool = False


@dataclass(frozen=True)
class Level:
    """A line across at a height."""

    label: str
    role: str
    at: float


@dataclass(frozen=True)
class Bar:
    """An interval at a place: from `low` to `high`, its value marked."""

    at: float
    low: float
    value: float
    high: float
    role: str = "touch"


@dataclass(frozen=True)
class Cell:
    """A rectangle, with a shade from 0 to 6."""

    x0: float
    x1: float
    y0: float
    y1: float
    shade: int


@dataclass(frozen=True)
class Plot:
    """`said`: what it shows, for whoever can't see it. `lying`: intervals lie, their places go down the page."""

    key: str
    title: str
    said: str
    x: Scale
    y: Scale
    curves: tuple[Curve, ...] = ()
    levels: tuple[Level, ...] = ()
    bars: tuple[Bar, ...] = ()
    cells: tuple[Cell, ...] = ()
    height: int = HEIGHT
    left: int = LEFT

    def px(self, x: float) -> float:
        span = (self.x.high - self.x.low) or 1.0
        return round(self.left + (x - self.x.low) / span * (WIDTH - self.left - RIGHT), 1)

    def py(self, y: float) -> float:
        span = (self.y.high - self.y.low) or 1.0
        return round(self.height - BOTTOM - (y - self.y.low) / span * (self.height - TOP - BOTTOM), 1)

    def path(self, points: Sequence[Point]) -> str:
        """The `d` of an SVG path."""
        return " ".join(f"{'L' if at else 'M'}{self.px(x):g} {self.py(min(max(y, self.y.low), self.y.high)):g}"
                        for at, (x, y) in enumerate(points))


def plot_from(plain: dict[str, Any]) -> Plot:
    """The plot that `asdict` made plain values of."""
    x, y = (Scale(one["title"], one["low"], one["high"], tuple(one["names"])) for one in (plain["x"], plain["y"]))
    curves = tuple(Curve(one["label"], one["role"], tuple((float(a), float(b)) for a, b in one["points"]),
                         one["marked"]) for one in plain["curves"])
    return Plot(plain["key"], plain["title"], plain["said"], x, y, curves,
                tuple(Level(**one) for one in plain["levels"]), tuple(Bar(**one) for one in plain["bars"]),
                tuple(Cell(**one) for one in plain["cells"]), plain["height"], plain["left"])


def trace(key: str, title: str, said: str, seconds: np.ndarray, g: np.ndarray, breaks: np.ndarray, top_g: float,
          levels: Sequence[Level]) -> Plot:
    """|a| around an event; `breaks`: where a piece begins anew. Three decimals are finer than a pixel."""
    pieces = zip(np.split(np.round(seconds, 3), breaks), np.split(np.round(g, 3), breaks), strict=True)
    curves = tuple(Curve("|a|", "ink", tuple(zip(x.tolist(), y.tolist(), strict=True))) for x, y in pieces)
    low, high = (float(seconds[0]), float(seconds[-1])) if len(seconds) else (0.0, 1.0)
    return Plot(key, title, said, Scale("s from the impact", round(low, 2), round(high, 2)),
                Scale("|a|, g", 0.0, round(top_g, 2)), curves, tuple(levels), height=170)


def intervals(key: str, title: str, said: str, unit: str, names: Sequence[str], bars: Sequence[Bar],
              ends: tuple[float, float]) -> Plot:
    """A line for each name, its value and interval across."""
    longest = max(map(len, names), default=0)
    return Plot(key, title, said, Scale(unit, *ends), Scale("", -0.5, len(names) - 0.5, tuple(names)), bars=tuple(bars),
                height=TOP + BOTTOM + 20 * len(names), left=min(max(7 * longest + 12, LEFT), 280))


def _round_step(rough: float) -> float:
    """1, 2 or 5 times a power of ten, at least as large."""
    if rough <= 0 or not math.isfinite(rough):
        return 1.0
    power = 10.0 ** math.floor(math.log10(rough))
    return next((factor * power for factor in (1, 2, 5) if factor * power >= rough * (1 - 1e-9)), 10 * power)

"""How often a figure has which value: bars, and lines where a nominal value and a limit are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from app.formatting import plural
from app.ui.charts.chart import Chart
from app.ui.charts.scale import decimals_of, figure
from app.ui.theme.colours import Theme

if TYPE_CHECKING:
    from app.ui.charts.plot import Plot

HEADROOM = 1.4
"""Height of the plot in heights of the highest bar: above it are the words of the lines."""


@dataclass(frozen=True)
class Bars:
    """`counts` from `edges[i]` up to `edges[i + 1]`; `met` whether the middle of a bar meets the limit.
    `lines`: words and value of each line. `of`: what is counted, one of them."""

    title: str
    edges: tuple[float, ...]
    counts: tuple[int, ...]
    met: tuple[bool, ...]
    lines: tuple[tuple[str, float], ...]
    of: str = "device"


class Histogram(Chart):
    """Things are bars, by their number."""

    left, apart = 12, (40, 26)

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.bars: Bars | None = None

    def show_bars(self, bars: Bars | None) -> None:
        self.bars, self.on = bars, None
        self.setAccessibleDescription("" if bars is None else "; ".join(
            self.words(i) for i, count in enumerate(bars.counts) if count))
        self.redraw()

    def words(self, bar: int) -> str:
        """"0.36 – 0.37: 12 devices"."""
        assert self.bars is not None
        low, high = self.bars.edges[bar:bar + 2]
        decimals = decimals_of((high - low) / 5)
        count = self.bars.counts[bar]
        return f"{figure(low, decimals)} – {figure(high, decimals)}: {plural(count, self.bars.of)}"

    def titles(self) -> tuple[str, str]:
        return ("", "") if self.bars is None else (f"{self.bars.title}, {self.bars.of}s", "")

    def up_ticks(self, low: float, high: float, pixels: float) -> Sequence[tuple[float, str]]:
        return ()

    def places(self) -> Sequence[tuple[int, float, float]]:
        """The middle of each bar."""
        if self.bars is None:
            return ()
        return [(i, (self.bars.edges[i] + self.bars.edges[i + 1]) / 2, count / 2)
                for i, count in enumerate(self.bars.counts)]

    def thing_near(self, x: float, y: float) -> int | None:
        if self.bars is None:
            return None
        bar = int(np.searchsorted(self.bars.edges, x)) - 1
        return bar if 0 <= bar < len(self.bars.counts) and self.bars.counts[bar] else None

    def step(self, across: int, up: int) -> int | None:
        filled = [] if self.bars is None else [i for i, count in enumerate(self.bars.counts) if count]
        found: int | None = self.along(filled, across + up)
        return found

    def draw(self, plot: Plot, theme: Theme) -> None:
        if self.bars is None:
            return
        places = [*self.bars.edges, *(value for _, value in self.bars.lines)]
        low, high, top = min(places), max(places), float(max(*self.bars.counts, 1))
        plot.show_range((low, high), (0.0, HEADROOM * top))
        plot.bars(self.bars.edges, self.bars.counts,
                  [theme.touch if met else theme.wrong for met in self.bars.met])
        for i, (words, value) in enumerate(sorted(self.bars.lines, key=lambda line: line[1])):
            at_left = value > low + (0.25 if i == 0 and len(self.bars.lines) > 1 else 0.75) * (high - low)
            plot.upright(value, theme.ink, dashed=True)
            plot.write(words, value, top * (HEADROOM - 0.1 - 0.15 * i), theme.ink, (float(at_left), 0.5))

    def draw_marks(self, plot: Plot, theme: Theme, on: int | None) -> None:
        if self.bars is not None and on is not None:
            (low, high), top = self.bars.edges[on:on + 2], self.bars.counts[on]
            plot.line([low, low, high, high, low], [0, top, top, 0, 0], theme.ink, 2)

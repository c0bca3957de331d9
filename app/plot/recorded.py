"""One recording ready to draw: its pyramid, its extent in time and value, its curves for a window."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from app.plot.pyramid import Pyramid
from app.plot.scale import Window
from app.study.labelling import nearest
from app.study.shown import Trace
from app.study.state import Item

SAMPLES_A_PIXEL = 2
"""With fewer samples than this a pixel, each is drawn; with more, the extremes of each pixel."""

FEWEST_SAMPLES = 8
"""No window is narrower than this many samples."""


@dataclass(frozen=True, eq=False)
class Curves:
    """Points to join in order: `seconds` (n,), `g` one (n,) array each for x, y, z and magnitude.

    `breaks`: where a new piece begins, indices into the points, never 0. `samples`: each point is one.
    """

    seconds: np.ndarray
    g: tuple[np.ndarray, ...]
    breaks: np.ndarray
    samples: bool


class Recorded:
    """`limits`: the recording's extent in time. `peak_g`: its largest magnitude. `axes_g`: the smallest and
    largest value of any axis."""

    def __init__(self, trace: Trace) -> None:
        self.trace = trace
        self.pyramid = Pyramid(trace.counts)
        whole = self.pyramid.columns(np.array([0, len(trace.counts)]))
        k = trace.counts_per_g
        self.peak_g = math.sqrt(whole.high[3][0]) / k
        self.axes_g = (min(int(a[0]) for a in whole.low[:3]) / k, max(int(a[0]) for a in whole.high[:3]) / k)
        self.limits = Window(trace.seconds.seconds(0), self.ended_s(len(trace.counts) - 1))

    def show_item(self, item: Item) -> None:
        """The same samples with other labels."""
        self.trace = replace(self.trace, item=item)

    def __len__(self) -> int:
        return len(self.trace.counts)

    @property
    def least_s(self) -> float:
        return FEWEST_SAMPLES * float(self.trace.seconds.step_s[0])

    def ended_s(self, sample: int) -> float:
        """When a sample's own step is over."""
        line = self.trace.seconds
        stretch = int(np.searchsorted(line.first, sample, side="right")) - 1
        return line.seconds(sample) + float(line.step_s[stretch])

    def g(self, sample: int) -> tuple[float, float, float]:
        x, y, z = (int(c) / self.trace.counts_per_g for c in self.trace.counts[sample])
        return x, y, z

    def magnitude(self, sample: int) -> float:
        return math.hypot(*self.g(sample))

    def nearest(self, seconds: float) -> int:
        """The sample taken nearest to a time."""
        return nearest(self.trace.seconds, seconds)

    def samples_in(self, window: Window) -> tuple[int, int]:
        """First sample in the window and the first after it."""
        line = self.trace.seconds
        return line.at_or_after(window.start), line.at_or_before(window.end) + 1

    def gaps(self, window: Window) -> list[tuple[float, float]]:
        """Times without samples that lie in the window: from a stretch's end to the next one's start."""
        line = self.trace.seconds
        starts = line.start_s[1:]
        ends = line.seconds(line.first[1:] - 1) + line.step_s[:-1]
        seen = np.flatnonzero((starts > window.start) & (ends < window.end) & (starts > ends))
        return list(zip(ends[seen].tolist(), starts[seen].tolist(), strict=True))

    def curves(self, window: Window, pixels: int) -> Curves:
        first, after = self.samples_in(window)
        if after - first <= SAMPLES_A_PIXEL * pixels:
            return self._samples(max(first - 1, 0), min(after + 1, len(self)))
        return self._extremes(window, pixels)

    def _samples(self, first: int, after: int) -> Curves:
        """Every sample, one beyond either edge so that the curve leaves the picture."""
        counts = self.trace.counts[first:after].T / self.trace.counts_per_g
        line = self.trace.seconds
        breaks = line.first[np.searchsorted(line.first, first, side="right"):] - first
        magnitude = np.sqrt((counts * counts).sum(axis=0))
        breaks = breaks[breaks < after - first]
        return Curves(line.seconds(np.arange(first, after)), (*counts, magnitude), breaks, True)

    def _extremes(self, window: Window, pixels: int) -> Curves:
        """Two points a pixel, up in one and down in the next: neighbours join high to high, low to low."""
        times = np.linspace(window.start, window.end, pixels + 1)
        columns = self.pyramid.columns(self.trace.seconds.at_or_after(times))
        full = np.flatnonzero(~columns.empty)
        k = self.trace.counts_per_g
        lows = [a[full] / k for a in columns.low[:3]] + [np.sqrt(columns.low[3][full]) / k]
        highs = [a[full] / k for a in columns.high[:3]] + [np.sqrt(columns.high[3][full]) / k]
        seconds = np.repeat((times[:-1] + times[1:])[full] / 2, 2)
        breaks = 2 * (np.flatnonzero(np.diff(full) > 1) + 1)
        zigzags = tuple(_zigzag(low, high) for low, high in zip(lows, highs, strict=True))
        return Curves(seconds, zigzags, breaks, False)


def _zigzag(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    points = np.column_stack([low, high])
    points[1::2] = points[1::2, ::-1]
    return points.ravel()

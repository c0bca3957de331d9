"""One recording ready to draw: its curves for a window, its extent in time and value, and the pyramid below them.

The pyramid holds the smallest and largest of every stretch: 60 million samples are drawn within a frame.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from app.study.labels.edits import nearest
from app.study.results.content import Trace
from app.study.state import Item
from app.ui.charts.scale import TimeWindow

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


class DrawnSignal:
    """`limits`: the recording's extent in time. `peak_g`: its largest magnitude. `axes_g`: the smallest and
    largest value of any axis."""

    def __init__(self, trace: Trace) -> None:
        self.trace = trace
        self.pyramid = Pyramid(trace.counts)
        whole = self.pyramid.columns(np.array([0, len(trace.counts)]))
        k = trace.counts_per_g
        self.peak_g = math.sqrt(whole.high[3][0]) / k
        self.axes_g = (min(int(a[0]) for a in whole.low[:3]) / k, max(int(a[0]) for a in whole.high[:3]) / k)
        self.limits = TimeWindow(trace.seconds.seconds(0), self.ended_s(len(trace.counts) - 1))

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

    def samples_in(self, window: TimeWindow) -> tuple[int, int]:
        """First sample in the window and the first after it."""
        line = self.trace.seconds
        return line.at_or_after(window.start), line.at_or_before(window.end) + 1

    def gaps(self, window: TimeWindow) -> list[tuple[float, float]]:
        """Times without samples that lie in the window: from a stretch's end to the next one's start."""
        line = self.trace.seconds
        starts = line.start_s[1:]
        ends = line.seconds(line.first[1:] - 1) + line.step_s[:-1]
        seen = np.flatnonzero((starts > window.start) & (ends < window.end) & (starts > ends))
        return list(zip(ends[seen].tolist(), starts[seen].tolist(), strict=True))

    def curves(self, window: TimeWindow, pixels: int) -> Curves:
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

    def _extremes(self, window: TimeWindow, pixels: int) -> Curves:
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


# The pyramid.

BLOCK = 16
"""Samples in a block of the lowest level: with the levels above 1.7 bytes a sample."""
GROWTH = 4
CHUNK = 1 << 16
"""Samples looked at together while building: they stay in the cache."""

KINDS = (np.int16, np.int16, np.int16, np.uint32)
"""The channels' types: x, y and z in counts, then |v|² in counts²."""


@dataclass(frozen=True, eq=False)
class Extremes:
    """Extremes over consecutive runs of samples.

    `edges`: (columns + 1,) the run of column i is samples edges[i] … edges[i + 1] − 1, it may be empty.
    `low`, `high`: one (columns,) array a channel; int16 counts for the axes, uint32 counts² for |v|².
    An empty column holds zeros.
    """

    edges: np.ndarray
    low: tuple[np.ndarray, ...]
    high: tuple[np.ndarray, ...]

    @property
    def empty(self) -> np.ndarray:
        return self.edges[1:] <= self.edges[:-1]


@dataclass(frozen=True, eq=False)
class _Level:
    block: int
    low: tuple[np.ndarray, ...]
    high: tuple[np.ndarray, ...]


class Pyramid:
    """Extremes of (n, 3) int16 counts and their |v|² in blocks; a level's hold `GROWTH` of the one below."""

    def __init__(self, counts: np.ndarray) -> None:
        if counts.dtype != np.int16 or counts.ndim != 2 or counts.shape[1] != 3:
            raise ValueError(f"A pyramid takes (n, 3) int16 counts, not {counts.shape} {counts.dtype}.")
        self.counts = counts
        self._levels: list[_Level] = []
        if len(counts) >= BLOCK:
            level = _lowest(counts)
            while True:
                self._levels.append(level)
                if len(level.low[0]) < 2 * GROWTH:
                    break
                level = _above(level)

    @property
    def nbytes(self) -> int:
        return sum(a.nbytes for level in self._levels for a in level.low + level.high)

    def columns(self, edges: np.ndarray) -> Extremes:
        """Extremes between ascending sample numbers.

        Where columns hold many samples their edges move to the nearest block's, by at most an eighth of the
        mean column: no sample is lost or counted twice. The first moves back and the last on by less than a
        block: all that was asked for is there. The answer holds the moved edges.
        """
        edges = np.clip(np.asarray(edges, dtype=np.int64), 0, len(self.counts))
        wide = (edges[-1] - edges[0]) / max(len(edges) - 1, 1)
        fitting = [level for level in self._levels if 4 * level.block <= wide]
        if not fitting:
            return _raw(self.counts, edges)
        return _blocks(fitting[-1], edges, len(self.counts))


def squares(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
    """|v|² of int16 counts as uint32. A sum past 2³¹ wraps in int32 and is right as uint32: 3·2³⁰ < 2³²."""
    total = np.multiply(x, x, dtype=np.int32)
    total += np.multiply(y, y, dtype=np.int32)
    total += np.multiply(z, z, dtype=np.int32)
    return total.view(np.uint32)


def _lowest(counts: np.ndarray) -> _Level:
    """The last block is the rest, however short, made whole by repeating its last sample."""
    whole = len(counts) // BLOCK * BLOCK
    blocks = -(-len(counts) // BLOCK)
    level = _Level(BLOCK, *(tuple(np.empty(blocks, kind) for kind in KINDS) for _ in range(2)))
    for start in range(0, whole, CHUNK):
        _fold_into(level, start, counts[start:min(start + CHUNK, whole)])
    if whole < len(counts):
        missing = BLOCK - (len(counts) - whole)
        _fold_into(level, whole, np.concatenate([counts[whole:], np.repeat(counts[-1:], missing, axis=0)]))
    return level


def _fold_into(level: _Level, start: int, part: np.ndarray) -> None:
    here = slice(start // BLOCK, (start + len(part)) // BLOCK)
    # Blocks side by side and their samples one under the other: folding then runs along the memory.
    x, y, z = np.ascontiguousarray(part.reshape(-1, BLOCK, 3).transpose(2, 1, 0))
    for channel, values in enumerate((x, y, z, squares(x, y, z))):
        np.minimum.reduce(values, axis=0, out=level.low[channel][here])
        np.maximum.reduce(values, axis=0, out=level.high[channel][here])


def _above(level: _Level) -> _Level:
    starts = np.arange(0, len(level.low[0]), GROWTH)
    return _Level(level.block * GROWTH,
                  tuple(np.minimum.reduceat(a, starts) for a in level.low),
                  tuple(np.maximum.reduceat(a, starts) for a in level.high))


def _raw(counts: np.ndarray, edges: np.ndarray) -> Extremes:
    x, y, z = np.ascontiguousarray(counts[edges[0]:edges[-1]].T)
    channels = (x, y, z, squares(x, y, z))
    return Extremes(edges, *_reduced(channels, channels, edges - edges[0]))


def _blocks(level: _Level, edges: np.ndarray, count: int) -> Extremes:
    block = level.block
    at = (edges + block // 2) // block
    at[0], at[-1] = edges[0] // block, -(-edges[-1] // block)
    at = np.maximum.accumulate(at)
    here = slice(at[0], at[-1])
    low, high = _reduced(tuple(a[here] for a in level.low), tuple(a[here] for a in level.high), at - at[0])
    return Extremes(np.minimum(at * block, count), low, high)


def _reduced(lows: tuple[np.ndarray, ...], highs: tuple[np.ndarray, ...],
             starts: np.ndarray) -> tuple[tuple[np.ndarray, ...], tuple[np.ndarray, ...]]:
    """Extremes of starts[i] … starts[i + 1] − 1. Empty columns are left out: reduceat would misread them."""
    full = np.flatnonzero(starts[1:] > starts[:-1])
    begin = starts[full]

    def spread(fold: np.ufunc, channel: np.ndarray) -> np.ndarray:
        found = np.zeros(len(starts) - 1, channel.dtype)
        if len(full):
            found[full] = fold.reduceat(channel, begin)
        return found

    return (tuple(spread(np.minimum, a) for a in lows), tuple(spread(np.maximum, a) for a in highs))

"""What a part does to an acceleration before it is a count: its ends, one-pole low-pass, its own rate, noise.

Between a recording's samples the motion is taken as band-limited to half its rate: a windowed sinc through the samples.
That motion meets the part's ends first, then the low-pass, then the moments at which the part is read. A low-pass that
runs straight from sample to sample instead would take 17 % more off a tone at half of half the rate.

The low-pass is linear and the motion a sum of kernels, so one filter gives its output at the part's own moments without
a finer grid: the kernel through the low-pass is worked out once, far finer than any rate (`PER_SAMPLE`). What the ends
cut off is not linear. It is rare, so it is looked for on a grid of `FINE` points a sample where it can be at all, and
its own way through the low-pass is taken off again.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from detect.rule.front_end import rate_ratio

REACH = 12
"""Samples either side of a moment that make the motion there."""

WINDOW = 5.0
"""Of Kaiser's window over the sinc: flat within 0.1 % up to 0.8 of half the rate."""

FINE = 64
"""Points a sample at which it is looked whether the part's ends cut something off."""

PER_SAMPLE = 240
"""Points between two samples on which the kernel goes through the low-pass."""

def read_through(g: np.ndarray, rate_hz: float, target_hz: float, corner_hz: float) -> np.ndarray:
    """One stretch, (n, 3) in g at `rate_hz`, through a one-pole low-pass and read at `target_hz` with nothing else
    against folding. At rest on its first sample before it begins, on its last after it ends; as long as
    `front_end.resample` makes it."""
    if len(g) == 0:
        return g
    from scipy.signal import lfilter, upfirdn  # slow to load

    ratio = rate_ratio(rate_hz, target_hz)
    up, down = ratio.numerator, ratio.denominator
    taps, decay = _taps(up, down, corner_hz / rate_hz)
    count = -(-len(g) * up // down)
    # As many samples ahead as make the first output fall on the first sample, whatever the ratio.
    ahead = _ahead(up, down)
    first = (ahead + REACH) * up // down
    moved = np.zeros((3, ahead + len(g) + REACH + down // up + 2))
    moved[:, ahead:ahead + len(g)] = g.T - g[0][:, None]
    moved[:, ahead + len(g):] = moved[:, ahead + len(g) - 1, None]
    found = lfilter([1.0], [1.0, -decay], upfirdn(taps, moved, up, down, axis=1)[:, :first + count], axis=1)
    return np.ascontiguousarray((found[:, first:] + g[0][:, None]).T)


def _ahead(up: int, down: int) -> int:
    """Zeros before the samples: an output must fall on the kernel's middle over the first of them."""
    ahead = 0
    while (ahead + REACH) * up % down:
        ahead += 1
    return ahead


@lru_cache(maxsize=32)
def _taps(up: int, down: int, corner: float) -> tuple[np.ndarray, float]:
    """The kernel through the low-pass, less what is left of it an output before: it has an end, and the rest of the
    low-pass is a share of the output before. `corner` in cycles a sample."""
    per = PER_SAMPLE // up * up if up <= PER_SAMPLE else up
    places = np.arange(-REACH * per, (REACH + 1) * per + down * per // up + 1) / per
    fine = _through(kernel(places), 2 * math.pi * corner / per)
    lag = down * per // up
    decay = math.exp(-2 * math.pi * corner * down / up)
    before = np.concatenate([np.zeros(lag), fine[:-lag]])
    taps = (fine - decay * before)[::per // up]
    taps = taps[:2 * REACH * up + down + 1]
    for phase in range(up):  # at rest the output is the input, whatever the phase
        taps[phase::up] *= (1 - decay) / taps[phase::up].sum()
    return taps, decay


def kernel(samples: np.ndarray) -> np.ndarray:
    """The windowed sinc at so many samples from its middle."""
    inside = np.clip(1 - np.square(samples / REACH), 0, None)
    return np.asarray(np.sinc(samples) * np.i0(WINDOW * np.sqrt(inside)) / np.i0(WINDOW) * (np.abs(samples) < REACH))


def _through(fine: np.ndarray, turn: float) -> np.ndarray:
    """A finely drawn signal through one pole: exact for one that runs straight from point to point."""
    from scipy.signal import lfilter

    decay = math.exp(-turn)
    mean = -math.expm1(-turn) / turn
    return np.asarray(lfilter([1 - mean, mean - decay], [1.0, -decay], fine, axis=0))


def reach_of(g: np.ndarray) -> np.ndarray:
    """(blocks, 3): how far from nought the motion can come in a block of BLOCK samples, from those and the blocks
    around it; the last block may be shorter."""
    whole = len(g) // BLOCK * BLOCK
    blocks = g[:whole].reshape(-1, BLOCK, 3)
    high, low = blocks.max(axis=1), blocks.min(axis=1)
    if whole < len(g):
        high, low = np.vstack([high, g[whole:].max(axis=0)]), np.vstack([low, g[whole:].min(axis=0)])
    for end, choose in ((high, np.maximum), (low, np.minimum)):
        alone = end.copy()
        choose(end[1:], alone[:-1], out=end[1:])
        choose(end[:-1], alone[1:], out=end[:-1])
    # Weights of a moment between samples sum to 1, their sizes to at most SWING: around the middle of the readings
    # the motion swings by at most so much of half their spread.
    return np.asarray(np.abs(high + low) / 2 + SWING * (high - low) / 2)


BLOCK = 16
"""Samples, at least REACH, of which it is said together how far the motion can come."""

SWING = float(max(np.abs(kernel(np.arange(-REACH, REACH + 1) - phase)).sum() for phase in np.linspace(0, 0.5, 9)))


def cut_off(g: np.ndarray, reach: np.ndarray, rate_hz: float, target_hz: float, corner_hz: float,
            ends_g: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    """What a part's ends take off the output of `read_through`: of which samples, ascending, and how much, (k, 3).

    `reach`: of `reach_of`. Looked for at FINE points a sample or more, where the motion can be beyond an end at all.
    """
    low, high = ends_g
    ratio = rate_ratio(rate_hz, target_hz)
    count = -(-len(g) * ratio.numerator // ratio.denominator)
    fine = FINE if ratio.numerator > MOST_PHASES else -(-FINE // ratio.numerator) * ratio.numerator
    turn, step = 2 * math.pi * corner_hz / rate_hz / fine, float(fine / ratio)
    axes = []
    for axis in range(3):
        blocks = np.flatnonzero(reach[:, axis] > min(-low, high))
        near = (blocks[:, None] * BLOCK + np.arange(BLOCK)).ravel()
        inside = near < len(g)
        place, beyond = _beyond(g[:, axis], near[inside], np.repeat(reach[blocks, axis], BLOCK)[inside], low, high,
                                fine)
        start = g[0, axis] - min(max(g[0, axis], low), high)
        axes.append(_answered(place, beyond, turn, step, count, start))
    at = np.unique(np.concatenate([some for some, _ in axes]))
    by = np.zeros((len(at), 3))
    for axis, (some, value) in enumerate(axes):
        by[at.searchsorted(some), axis] = value
    return at, by


MOST_PHASES = 64
"""Where a ratio of rates has a larger numerator the part's moments are rounded to the fine grid."""

AT_ONCE = 65_536
"""Samples whose surroundings are drawn finely at a time."""


LOOKS = 8
"""Points a sample at which it is looked first; only between two of them that come near an end it is drawn finely."""


@dataclass(frozen=True, eq=False)
class _FineGrid:
    """Weights of the readings around a sample: `edges` (LOOKS + 1,) in points of the fine grid after it, `looks` of the
    motion there, `between[j]` of every point from one edge up to the next. `departs`: how far the motion between two
    edges can be from the straight line, as a share of half the readings' spread."""

    edges: np.ndarray
    looks: np.ndarray
    between: tuple[np.ndarray, ...]
    departs: float


@lru_cache(maxsize=8)
def _fine_grid(fine: int) -> _FineGrid:
    weights = kernel(np.arange(fine + 1)[:, None] / fine - np.arange(-REACH, REACH + 1)[None, :])
    weights /= weights.sum(axis=1, keepdims=True)
    edges = np.round(np.linspace(0, fine, LOOKS + 1)).astype(np.int64)
    between, departs = [], 0.0
    for first, end in itertools.pairwise(edges.tolist()):
        share = np.linspace(0, 1, end - first, endpoint=False)[:, None]
        straight = weights[first] * (1 - share) + weights[end] * share
        between.append(weights[first:end])
        departs = max(departs, float(np.abs(weights[first:end] - straight).sum(axis=1).max()))
    return _FineGrid(edges, weights[edges], tuple(between), departs)


def _beyond(line: np.ndarray, near: np.ndarray, far: np.ndarray, low: float, high: float,
            fine: int) -> tuple[np.ndarray, np.ndarray]:
    """Points of the fine grid at which the motion is beyond an end, ascending, and by how much. `near`: samples after
    which that can be, and how far from nought the motion can come there."""
    if not len(near):
        return near, np.empty(0)
    grid = _fine_grid(fine)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(line, REACH, "edge"), 2 * REACH + 1)
    places, sizes = [near[:0]], [np.empty(0)]
    for at in range(0, len(near), AT_ONCE):
        some = near[at:at + AT_ONCE]
        readings = around[some]
        looks = readings @ grid.looks.T
        # Half the spread is at most so much of how far the motion can come, see `reach_of`.
        room = (grid.departs / SWING * far[at:at + AT_ONCE])[:, None]
        hot = (np.maximum(looks[:, :-1], looks[:, 1:]) + room > high) \
            | (np.minimum(looks[:, :-1], looks[:, 1:]) - room < low)
        for j, weights in enumerate(grid.between):
            rows = np.flatnonzero(hot[:, j])
            motion = readings[rows] @ weights.T
            cut = motion - np.clip(motion, low, high)
            row, column = np.nonzero(cut)
            places.append(some[rows[row]] * fine + grid.edges[j] + column)
            sizes.append(cut[row, column])
    place = np.concatenate(places)
    order = np.argsort(place)
    return place[order], np.concatenate(sizes)[order]


NOTHING_G = 1e-6
"""What is left of an answer when it is taken for over."""


def _answered(place: np.ndarray, beyond: np.ndarray, turn: float, step: float, count: int,
              start: float) -> tuple[np.ndarray, np.ndarray]:
    """Points of the fine grid, straight lines between them, through the low-pass: at which of `count` outputs, `step`
    points apart and rounded to the grid, there is an answer, ascending, and which. `turn`: radians of the corner a
    point, as for `_through`; `start`: what was beyond for ever before."""
    from scipy.signal import lfilter

    if not len(place):
        return place, beyond
    decay = math.exp(-turn)
    mean = -math.expm1(-turn) / turn
    lasting = mean - decay + (1 - mean) * decay  # of a point, at the one after it
    before = np.floor((place + 0.5) / step).astype(np.int64)
    before -= np.floor(before * step + 0.5) > place
    left = lasting * beyond * decay ** (np.floor((before + 1) * step + 0.5) - place - 1)
    lasts = 1 + math.ceil(math.log(max(abs(beyond).max(), 1) / NOTHING_G) / (turn * step))
    first = np.unique(np.append(before + 1, 0)) if start else np.unique(before + 1)
    at = np.unique((first[:, None] + np.arange(-1, lasts)).ravel()) if lasts * len(first) < count else np.arange(count)
    at = at[(at >= 0) & (at < count)]
    inside = before + 1 < count
    new = np.bincount(at.searchsorted(before[inside] + 1), left[inside], minlength=len(at))[:len(at)]
    if start:
        new[0] += mean * start
    # Where outputs are left out nothing is left of the answers before them.
    found = lfilter([1.0], [1.0, -decay ** step], new)
    exact = (before < count) & (np.floor(before * step + 0.5) == place)
    np.add.at(found, at.searchsorted(before[exact]), (1 - mean) * beyond[exact])
    return at, np.asarray(found)


def noise_g(samples: int, rate_hz: float, density_ug: float, corner_hz: float,
            random: np.random.Generator) -> np.ndarray:
    """(samples, 3) of a part's white noise through its one-pole low-pass, in g.

    A corner above half the rate lets it fold: its size is that of the whole band, each sample nearly new.
    """
    from scipy.signal import lfilter

    size = density_ug * 1e-6 * math.sqrt(math.pi / 2 * corner_hz)
    decay = math.exp(-2 * math.pi * corner_hz / rate_hz)
    white = random.standard_normal((samples, 3)) * math.sqrt(1 - decay * decay)
    if samples:
        white[0] /= math.sqrt(1 - decay * decay)  # in full swing from the first sample on
    return np.asarray(lfilter([1.0], [1.0, -decay], white, axis=0) * size)

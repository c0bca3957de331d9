"""A part's own interrupt lines, on counts: what the hardware can tell while the processor sleeps.

Each line is looked at once a sample of the part; gravity is in its readings, as it is in the recording's. Every
function takes counts (n, 3) of one stretch without gaps and returns where the line is high, (n,) bool.
"""

from __future__ import annotations

import numpy as np


def runs(held: np.ndarray) -> np.ndarray:
    """At each sample the length of the unbroken row of True that ends there, (n,) int64; 0 where it is False."""
    at = np.arange(len(held))
    return at - np.maximum.accumulate(np.where(held, -1, at))


def largest_axis(counts: np.ndarray) -> np.ndarray:
    """max(|x|, |y|, |z|) of every sample, (n,) int32: what the lines compare, since hardware squares nothing."""
    return np.asarray(np.abs(counts.astype(np.int32)).max(axis=1))


def free_fall_line(counts: np.ndarray, below: int, samples: int) -> np.ndarray:
    """High while every axis has been below a level for so many samples running."""
    return runs(largest_axis(counts) < below) >= samples


def threshold_line(counts: np.ndarray, at_least: int, samples: int) -> np.ndarray:
    """High while any axis has been at a level or above for so many samples running."""
    return runs(largest_axis(counts) >= at_least) >= samples


def pulse_line(counts: np.ndarray, at_least: int, longest: int, quiet: int) -> np.ndarray:
    """High for one sample: when `quiet` samples below the level follow a row above it of at most `longest`."""
    above = largest_axis(counts) >= at_least
    pulse, since = runs(above), runs(~above)
    high = np.zeros(len(above), dtype=bool)
    at = np.flatnonzero(since == quiet)
    at = at[at >= quiet]  # what was quiet from the start follows no pulse
    high[at] = pulse[at - quiet] <= longest
    return high


def looked_at(samples: int, line_hz: float, rate_hz: float) -> np.ndarray:
    """Which of so many samples at `rate_hz` a part sees that takes only `line_hz` a second while it waits: numbers,
    the first always. All of them where it would take more: a recording has no others."""
    if line_hz >= rate_hz:
        return np.arange(samples)
    turn = np.floor(np.arange(samples) * (line_hz / rate_hz) + 1e-9)
    return np.flatnonzero(np.diff(turn, prepend=-1.0) > 0)


def reading_in_free_fall(offset_g: tuple[float, float, float]) -> float:
    """What the magnitude reads in free fall, in g, of a sensor with these offsets: 0.0866 for 50 mg on each axis."""
    return float(np.sqrt(np.sum(np.square(offset_g))))

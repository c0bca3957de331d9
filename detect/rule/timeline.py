"""Sample numbers and seconds of one recording at the front end's rate, across its gaps."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import overload

import numpy as np

TOLERANCE_S = 1e-9
"""Two times this close are the same: a label written as the time of a sample means that sample."""


def _tolerance(seconds: np.ndarray) -> np.ndarray:
    """A clock that counts from 1970 has no nanoseconds in a double: there, a few of its own last places."""
    return np.maximum(TOLERANCE_S, 4 * np.spacing(np.abs(seconds)))


_ONE_OF_EACH = [("i", 8, (1,)), ("f", 8, (1,)), ("f", 8, (1,))]


@dataclass(frozen=True, eq=False)
class Timeline:
    """Stretches without a gap: sample `first[i] + j` was taken at `start_s[i] + j * step_s[i]` seconds.

    `first`, `start_s`, `step_s`: one entry a stretch, at least one; `first` starts at 0 and rises, stretches
    don't overlap in time. `count`: samples of the recording, counted after resampling. ValueError where that
    doesn't hold.
    """

    first: np.ndarray
    start_s: np.ndarray
    step_s: np.ndarray
    count: int

    def __post_init__(self) -> None:
        if len(self.first) == 1 and self._is_one_sound_stretch():  # as nearly all of thousands are
            return
        first = np.asarray(self.first, dtype=np.int64)
        start, step = np.asarray(self.start_s, dtype=float), np.asarray(self.step_s, dtype=float)
        if not (first.ndim == 1 and len(first) and first.shape == start.shape == step.shape):
            raise ValueError("A timeline needs first, start_s and step_s, one of each for a stretch.")
        ends = np.append(first[1:], self.count)
        if first[0] != 0 or not np.all(ends > first):
            raise ValueError("A timeline's stretches begin at sample 0 and hold at least one sample each.")
        if not (np.all(np.isfinite(start)) and np.all(np.isfinite(step)) and np.all(step > 0)):
            raise ValueError("A timeline's times are finite and its steps above zero.")
        if not np.all(start[1:] > start[:-1] + (ends - first - 1)[:-1] * step[:-1]):
            raise ValueError("A timeline's stretches follow each other in time.")
        for name, value in (("first", first), ("start_s", start), ("step_s", step)):
            object.__setattr__(self, name, value)

    def _is_one_sound_stretch(self) -> bool:
        """The checks below for arrays of one entry, without the arrays that they make."""
        kinds = [(array.dtype.kind, array.dtype.itemsize, array.shape) for array in
                 map(np.asarray, (self.first, self.start_s, self.step_s))]
        return kinds == _ONE_OF_EACH and self.first[0] == 0 < self.count and math.isfinite(self.start_s[0]) \
            and 0 < self.step_s[0] < math.inf

    @property
    def duration_s(self) -> float:
        """Monitored time: every sample stands for one step, gaps left out."""
        if len(self.first) == 1:
            return float(self.count * self.step_s[0])
        return float(np.sum(self._lengths() * self.step_s))

    def _lengths(self) -> np.ndarray:
        return np.diff(np.append(self.first, self.count))

    @overload
    def seconds(self, sample: int | float) -> float: ...
    @overload
    def seconds(self, sample: np.ndarray) -> np.ndarray: ...

    def seconds(self, sample: int | float | np.ndarray) -> float | np.ndarray:
        """When a sample was taken. Before the first and after the last the nearest stretch's line goes on."""
        if isinstance(sample, int) and len(self.first) == 1:
            return float(self.start_s[0] + sample * self.step_s[0])
        at = np.asarray(sample)
        i = np.maximum(np.searchsorted(self.first, at, side="right") - 1, 0)
        found = self.start_s[i] + (at - self.first[i]) * self.step_s[i]
        return found if at.ndim else float(found)

    @overload
    def at_or_after(self, seconds: float) -> int: ...
    @overload
    def at_or_after(self, seconds: np.ndarray) -> np.ndarray: ...

    def at_or_after(self, seconds: float | np.ndarray) -> int | np.ndarray:
        """The first sample taken at this time or later; `count` where there is none."""
        t = np.asarray(seconds, dtype=float)
        i = self._stretch(t)
        j = np.ceil((t - _tolerance(t) - self.start_s[i]) / self.step_s[i])
        # Within a gap the next sample is the first of the following stretch.
        found = (self.first[i] + np.clip(j, 0, self._lengths()[i])).astype(np.int64)
        return found if t.ndim else int(found)

    @overload
    def at_or_before(self, seconds: float) -> int: ...
    @overload
    def at_or_before(self, seconds: np.ndarray) -> np.ndarray: ...

    def at_or_before(self, seconds: float | np.ndarray) -> int | np.ndarray:
        """The last sample taken at this time or earlier; −1 where there is none."""
        t = np.asarray(seconds, dtype=float)
        i = self._stretch(t)
        j = np.floor((t + _tolerance(t) - self.start_s[i]) / self.step_s[i])
        found = (self.first[i] + np.clip(j, -1, self._lengths()[i] - 1)).astype(np.int64)
        return found if t.ndim else int(found)

    def resampled(self, ratio: Fraction) -> Timeline:
        """The same clock after `detect.rule.front_end.resample` brought every stretch to `ratio` times its rate."""
        lengths = -(-self._lengths() * ratio.numerator // ratio.denominator)
        ends = np.cumsum(lengths)
        return Timeline(ends - lengths, self.start_s, self.step_s / float(ratio), int(ends[-1]))

    def _stretch(self, t: np.ndarray) -> np.ndarray:
        """The stretch whose start is the last one not after t; the first for times before it."""
        return np.maximum(np.searchsorted(self.start_s, t + _tolerance(t), side="right") - 1, 0)


def even(count: int, rate_hz: float, start_s: float = 0.0) -> Timeline:
    """The timeline of a recording without gaps at exactly one rate."""
    return Timeline(np.array([0]), np.array([start_s]), np.array([1 / rate_hz]), count)

"""Recordings as a device samples them whose clock is off: the same motion at the times when it really looks.

What was between the samples is a cubic spline through them. A straight line between them would do for slow motion but
takes up to 7.6 % off a 5 Hz peak at 40 Hz: every device with a clock of its own would look dull. A polyphase filter
needs a ratio of small integers and a filter of its own for every device. The spline's coefficients are found once for
all devices, and four of them make a sample at any time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

LEFT, RIGHT = 1, 2
"""Coefficients that a sample needs before and after those that the motion has."""

HAIR = 1e-9
"""Samples: two times this close are the same."""


@dataclass(frozen=True, eq=False)
class Motion:
    """Gap-free stretches of motion, one after the other. `g` (3, n) float64; `first` (S,): of each stretch, ascending
    from 0, every stretch with at least one sample."""

    g: np.ndarray
    first: np.ndarray

    def __getstate__(self) -> tuple[np.ndarray, np.ndarray]:
        return self.g, self.first

    def __setstate__(self, state: tuple[np.ndarray, np.ndarray]) -> None:
        self.__dict__.update(zip(("g", "first"), state, strict=True))

    @property
    def lengths(self) -> np.ndarray:
        return np.diff(np.append(self.first, self.g.shape[1]))

    @cached_property
    def coefficients(self) -> np.ndarray:
        """(3, n + 3 S) of the spline, each stretch's own with mirrored ones at both ends."""
        from scipy.ndimage import spline_filter1d  # slow to load; a device whose clock is right needs none

        found = np.empty((3, self.g.shape[1] + (LEFT + RIGHT) * len(self.first)))
        at = 0
        for first, length in zip(self.first.tolist(), self.lengths.tolist(), strict=True):
            piece = self.g[:, first:first + length]
            if length > 1:
                piece = spline_filter1d(piece, order=3, axis=1, mode="mirror")
            padded = np.pad(piece, ((0, 0), (LEFT, RIGHT)), "reflect" if length > 1 else "edge")
            found[:, at:at + padded.shape[1]] = padded
            at += padded.shape[1]
        return found

    def looked_at(self, clock: float, later: float = 0.0) -> Looks:
        """When a device looks whose rate is 1 + `clock` times the nominal one: first `later` than each stretch's first
        sample, by from 0 up to 1 nominal samples; once at least."""
        lengths = np.floor((self.lengths - 1 - later) * (1 + clock) + HAIR).astype(np.int64) + 1
        lengths = np.maximum(lengths, 1)
        return Looks(self, 1 / (1 + clock), later, np.cumsum(lengths) - lengths, int(lengths.sum()))


@dataclass(frozen=True, eq=False)
class Looks:
    """When a device looks: every `step` nominal samples from `later` than each stretch's first on. `first` (S,): the
    number of each stretch's first look, of `count`."""

    motion: Motion
    step: float
    later: float
    first: np.ndarray
    count: int

    def places(self, looks: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Of looks, ascending: their stretches, and how many nominal samples after its first, (k,) float64."""
        stretch = self.first.searchsorted(looks, side="right") - 1
        return stretch, (looks - self.first.take(stretch)) * self.step + self.later

    def part(self, start: int, stop: int) -> np.ndarray:
        """What it sees from one look up to another, (3, k) float64 in g."""
        if self.step == 1 and self.later == 0:
            return self.motion.g[:, start:stop]
        first_one = int(self.first.searchsorted(start, side="right")) - 1
        last_one = int(self.first.searchsorted(stop - 1, side="right")) - 1
        begins = np.append(self.first[first_one:last_one + 1], stop)
        begins[0] = start
        stretches = np.arange(first_one, last_one + 1)
        # Coefficients of a stretch begin after those of all before and their mirrored ones.
        home = self.motion.first[stretches] + (LEFT + RIGHT) * stretches
        counts = np.diff(begins)
        place = np.arange(start, stop) - np.repeat(self.first[stretches], counts)
        place = place * self.step + self.later
        whole = place.astype(np.int64)
        t = place - whole
        whole += np.repeat(home, counts)
        return _spline(self.motion.coefficients, whole, t)


def _spline(coefficients: np.ndarray, whole: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Cubic B-splines, weighed: at `t` after the second of four coefficients from `whole` on."""
    back = 1 - t
    last = t * t * t / 6
    first = back * back * back / 6
    second = 2 / 3 - t * t * (1 - t / 2)
    third = 1 - first - second - last
    out = np.empty((3, len(t)))
    places = [whole, whole + 1, whole + 2, whole + 3]
    for axis in range(3):
        line = coefficients[axis]
        value = line.take(places[0])
        value *= first
        for place, weight in zip(places[1:], (second, third, last), strict=True):
            more = line.take(place)
            more *= weight
            value += more
        out[axis] = value
    return out

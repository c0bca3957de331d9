"""Recordings as a device samples them whose clock is off: the same motion at the times when it really looks.

What was between the samples is a cubic spline through them. A straight line between them would do for slow motion but
takes up to 7.6 % off a 5 Hz peak at 40 Hz: every device with a clock of its own would look dull. A polyphase filter
needs a ratio of small integers and a filter of its own for every device. The spline's coefficients are found once for
all devices, and four of them make a sample at any time.

All recordings through one device: what its sensor, its clock and its noise make of them, in counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from detect.device.spread.spread import ONE_POLE, PARAMETERS, Devices
from detect.engine.sums import PART
from detect.rule.front_end import FrontEnd
from detect.scoring.corpus import Corpus

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


_AT = {name: i for i, (name, _) in enumerate(PARAMETERS)}


def turned(rotation_deg: np.ndarray) -> np.ndarray:
    """The matrix (3, 3) of a turn about an axis (3,) by as many degrees as the axis is long (Rodrigues)."""
    angle = math.radians(float(np.linalg.norm(rotation_deg)))
    if angle == 0:
        return np.eye(3)
    x, y, z = np.radians(rotation_deg) / angle
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.asarray(np.eye(3) + math.sin(angle) * cross + (1 - math.cos(angle)) * (cross @ cross))


def sensor(row: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Of one device's values (P,): the matrix (3, 3) from true g to what is read, and the offset (3,) in g."""
    values = dict(zip(_AT, row.tolist(), strict=True))
    of_axes = {name: np.array([values[f"{name}_{axis}"] for axis in "xyz"])
               for name in ("offset", "sensitivity", "drift", "gain_drift", "stress", "rotation")}
    reads = np.diag(1 + of_axes["sensitivity"] / 100 + of_axes["gain_drift"] / 100 * values["temperature"])
    for i, one in enumerate("xyz"):
        for j, other in enumerate("xyz"):
            if i != j:
                reads[i, j] = values[f"cross_{one}{other}"] / 100
    offset = of_axes["offset"] + of_axes["stress"] + of_axes["drift"] * values["temperature"]
    return reads @ turned(of_axes["rotation"]), offset / 1000


def bow(u: np.ndarray) -> np.ndarray:
    """How far a reading is off at a share of its range, −1 to 1: nought in the middle and at both ends, 1 at most."""
    inside = np.clip(u, -1.0, 1.0)
    return np.asarray(BOW * inside * (1 - inside * inside))


BOW = 1.5 * math.sqrt(3)
"""u − u³ is 2/(3√3) at most."""


def converted(value: np.ndarray, row: np.ndarray, front_end: FrontEnd) -> None:
    """Counts as a converter makes them whose gain, reference and linearity are off, in place. They act on its codes, so
    the one at 0 g moves too."""
    inl, gain, reference = (float(row[_AT[name]]) for name in ("inl", "converter_gain", "reference"))
    zero, half = -front_end.lowest, (front_end.highest - front_end.lowest + 1) / 2
    if inl:
        value += inl * bow((value + zero) / half - 1)
    if gain or reference:
        value += (value + zero) * ((1 + gain / 100) / (1 + reference / 100) - 1)


def noise_rms(density_ug: float, corner_hz: float, noise_filter: str) -> float:
    """RMS in g of white noise of a density in µg/√Hz behind a filter with this corner. What of it lies above half the
    rate folds in: it is all there, whatever the rate.

    A one-pole filter lets pass as much as a steep one at π/2 of its corner: ∫df/(1 + (f/f₀)²) = π f₀/2.
    """
    bandwidth = corner_hz * (math.pi / 2 if noise_filter == ONE_POLE else 1)
    return density_ug * 1e-6 * math.sqrt(bandwidth)


def clock_of(row: np.ndarray) -> float:
    """By what share a device's rate is too high."""
    return float(row[_AT["clock"]]) / 100


def seen_by(devices: Devices, device: int, motion: Motion, recording_of: np.ndarray, recordings: int,
            front_end: FrontEnd, noise_filter: str, corner_hz: float | None = None) -> tuple[Corpus, Looks]:
    """The counts of one device. `recording_of` (S,): the recording of each stretch, ascending. `corner_hz`: what its
    noise goes through; None for half the rate, of its own clock.

    Doubles throughout: with every tolerance off the counts are exactly those of a nominal device
    (`detect.rule.front_end.to_counts`), which single precision would miss wherever a sample lies between two counts.
    Only the noise is drawn in single precision.
    """
    row = devices.values[device]
    matrix, offset = sensor(row)
    clock = clock_of(row)
    looks = motion.looked_at(clock, float(row[_AT["moment"]]))
    corner = front_end.rate_hz * (1 + clock) / 2 if corner_hz is None else corner_hz
    sigma = noise_rms(float(row[_AT["noise"]]), corner, noise_filter)
    rng = devices.generator(device) if sigma else None
    counts = np.empty((looks.count, 3), dtype=np.int16)
    bent = [float(row[_AT[f"nonlinearity_{axis}"]]) / 100 * front_end.range_g for axis in "xyz"]
    for start in range(0, looks.count, PART):
        stop = min(start + PART, looks.count)
        part = looks.part(start, stop)
        noise = rng.standard_normal((3, stop - start), dtype=np.float32) if rng is not None else None
        for axis in range(3):
            value = matrix[axis, 0] * part[0]
            value += matrix[axis, 1] * part[1]
            value += matrix[axis, 2] * part[2]
            value += offset[axis]
            if bent[axis]:
                value += bent[axis] * bow(value / front_end.range_g)
            if noise is not None:
                value += sigma * noise[axis]
            value *= front_end.k
            converted(value, row, front_end)
            value += 0.5
            np.floor(value, out=value)
            np.clip(value, front_end.lowest, front_end.highest, out=value)
            counts[start:stop, axis] = value
    sizes = np.bincount(recording_of, np.diff(np.append(looks.first, looks.count)), minlength=recordings)
    recording_first = np.concatenate(([0], np.cumsum(sizes.astype(np.int64))))
    return Corpus(counts, looks.first, recording_first), looks

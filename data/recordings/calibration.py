"""What a sensor reads against what is true: offset and gain of each axis, from rest alone, where |a| is 1 g.

Two ways. *Six positions*: each axis up and down in turn, after the static test of IEEE Std 1293; offset and gain of an
axis are half the sum and half the difference of its two readings. *Still stretches* of ordinary recordings: each lies
on an ellipsoid around the offset, which a least-squares fit finds (a common method, no one source), if the directions
are spread enough to tell.

A sensor's self-test as recorded: it deflects its own mass while the test is on, by so much or it is broken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from data.problem import Problem
from data.recordings.model import Calibration, Recording
from data.recordings.rest_and_impacts import Still

FACES = ("+x", "-x", "+y", "-y", "+z", "-z")

FACE_SHARE = 0.75
"""An axis points up or down where it reads at least this share of the whole: within 41° of it, offsets included."""

MOST_OFFSET_G, MOST_GAIN_OFF = 0.5, 0.3
"""A sensor that is off by more is broken, or its unit is another."""

_FAR_APART = np.cos(np.radians(25))
_FEWEST_DIRECTIONS = 6
_WEAKEST = 0.15


def calibrated(recording: Recording, calibration: Calibration | None) -> Recording:
    """The recording with its g made true. Raises Problem where that was done before, or where there are only counts."""
    if calibration is None:
        return recording
    if recording.calibrated:
        raise Problem("calibrated", f"{recording.name} is calibrated already.", "Calibrate what its file holds.")
    if recording.unit == "counts":
        raise Problem(
            "calibrate_counts",
            "Counts of the study's own sensor pass through unchanged; its offset must be corrected per device.",
            "Read the recording in g (mg_per_count under [raw]) to calibrate it.",
        )
    samples = (recording.samples - np.array(calibration.offset_g)) / np.array(calibration.gain)
    return replace(recording, samples=samples, calibrated=True)


def face_of(mean_g: Sequence[float]) -> str:
    """The face that lies up in a still stretch; empty where none clearly does."""
    mean = np.asarray(mean_g)
    axis = int(np.argmax(np.abs(mean)))
    if abs(mean[axis]) < FACE_SHARE * np.linalg.norm(mean):
        return ""
    return ("+" if mean[axis] > 0 else "-") + "xyz"[axis]


def six_positions(stills: Sequence[Still]) -> Calibration:
    """From a sensor laid on its faces. An axis of which one face lacks keeps offset 0 and gain 1.

    Raises Problem where no axis was seen from both sides, or where what was found can't be true.
    """
    readings: dict[str, list[tuple[float, int]]] = {}
    used = []
    for still in stills:
        face = face_of(still.mean_g)
        if face:
            used.append(still)
            readings.setdefault(face, []).append((still.mean_g["xyz".index(face[1])], still.count))
    offset, gain = [0.0] * 3, [1.0] * 3
    for axis in range(3):
        up, down = (readings.get(sign + "xyz"[axis]) for sign in "+-")
        if up and down:
            high, low = _mean(up), _mean(down)
            offset[axis], gain[axis] = (high + low) / 2, (high - low) / 2
    lacking = tuple(face for face in FACES if face not in readings)
    if len({face[1] for face in lacking}) == 3:
        seen = ", ".join(face for face in FACES if face in readings) or "none"
        raise Problem("faces", f"No axis was seen from both sides; faces seen: {seen}.",
                      "Lay the sensor on each of its six faces for some seconds.")
    return _checked(offset, gain, "six positions", used, lacking)


def _mean(readings: list[tuple[float, int]]) -> float:
    values, counts = zip(*readings, strict=True)
    return float(np.average(values, weights=counts))


def from_still_stretches(stills: Sequence[Still]) -> Calibration:
    """An ellipsoid through the means of still stretches, in whatever directions the sensor happened to lie.

    Raises Problem where the directions don't tell offset and gain apart, or what was found can't be true.
    """
    means = np.array([still.mean_g for still in stills], dtype=np.float64).reshape(-1, 3)
    weights = _evened(means)
    directions = round(float(np.sum(weights**2)))
    if directions < _FEWEST_DIRECTIONS:
        raise Problem(
            "directions",
            f"The sensor lay still in {directions} directions; at least {_FEWEST_DIRECTIONS} are needed to separate "
            "offset from gain.",
            "Add recordings in which it lies otherwise, or lay it on its six faces.",
        )

    def off(p: np.ndarray) -> np.ndarray:
        return np.asarray(weights * (np.linalg.norm((means - p[:3]) / p[3:], axis=1) - 1))

    from scipy.optimize import least_squares  # slow to load, and wanted by few starts

    fit = least_squares(off, np.array([0.0, 0, 0, 1, 1, 1]), loss="soft_l1", f_scale=0.02)
    slope = off_slope(means, weights, fit.x)
    weakest = float(np.linalg.svd(slope, compute_uv=False)[-1]) / np.sqrt(directions)
    if not fit.success or weakest < _WEAKEST:
        raise Problem(
            "directions",
            "The directions in which the sensor lay still are too much alike to tell offset from gain.",
            "Add recordings in which it lies otherwise, or lay it on its six faces.",
        )
    return _checked(fit.x[:3].tolist(), fit.x[3:].tolist(), "still stretches", list(stills), ())


def _evened(means: np.ndarray) -> np.ndarray:
    """Weights by which each direction counts once, however often the sensor lay in it; their squares sum to the number
    of directions."""
    if not len(means):
        return np.zeros(0)
    unit = means / np.maximum(np.linalg.norm(means, axis=1, keepdims=True), 1e-9)
    centres: list[np.ndarray] = []
    which = np.zeros(len(means), dtype=int)
    for i, one in enumerate(unit):
        near = [float(one @ centre) for centre in centres]
        if near and max(near) >= _FAR_APART:
            which[i] = int(np.argmax(near))
        else:
            which[i] = len(centres)
            centres.append(one)
    return np.asarray(1 / np.sqrt(np.bincount(which)[which]))


def off_slope(means: np.ndarray, weights: np.ndarray, p: np.ndarray) -> np.ndarray:
    """(stretches, 6): how each residual moves with each offset and gain."""
    scaled = (means - p[:3]) / p[3:]
    size = np.linalg.norm(scaled, axis=1, keepdims=True)
    by_offset = -scaled / size / p[3:]
    return np.asarray(weights[:, None] * np.hstack([by_offset, by_offset * scaled]))


def _checked(
    offset: Sequence[float], gain: Sequence[float], origin: str, stills: Sequence[Still], lacking: tuple[str, ...]
) -> Calibration:
    if max(map(abs, offset)) > MOST_OFFSET_G or max(abs(g - 1) for g in gain) > MOST_GAIN_OFF:
        said = ", ".join(f"{axis} {o:+.2f} g × {g:.2f}" for axis, o, g in zip("xyz", offset, gain, strict=True))
        raise Problem("calibration", f"The fit says {said}, which is not plausible for a working sensor.",
                      "Check the unit and the axes.")
    means = np.array([still.mean_g for still in stills])
    before = np.linalg.norm(means, axis=1) - 1
    after = np.linalg.norm((means - np.array(offset)) / np.array(gain), axis=1) - 1
    ox, oy, oz = map(float, offset)
    gx, gy, gz = map(float, gain)
    return Calibration((ox, oy, oz), (gx, gy, gz), origin, _rms(before), _rms(after), len(stills), lacking)


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


_BLOCKS = 200
_CLEAR = 4.0


@dataclass(frozen=True)
class SelfTest:
    """`first`, `last`: samples during which the test was on. `deflection_g`: reading with it less reading without.

    `within`: whether each axis' deflection is what the data sheet allows. `clipped`: whether it stood at an end of its
    range, which is not a result: the deflection is larger by nobody knows how much.
    """

    first: int
    last: int
    deflection_g: tuple[float, float, float]
    within: tuple[bool, bool, bool]
    clipped: tuple[bool, bool, bool] = (False, False, False)

    @property
    def passed(self) -> bool:
        return all(self.within) and not any(self.clipped)


def check_self_test(samples: np.ndarray, expected_g: Sequence[tuple[float, float]],
                    on: tuple[int, int] | None = None, ends_g: tuple[float, float] = (-np.inf, np.inf)) -> SelfTest:
    """Hold a recorded self-test against the deflections a data sheet allows: (lowest, highest) in g for each axis.

    `samples`: (n, 3) in g, at rest but for the test. `on`: first and last sample with it on; looked for where not
    given. `ends_g`: the last readings either way. Raises Problem where no pulse stands out.
    """
    first, last = on or _pulse(samples)
    inside = np.zeros(len(samples), dtype=bool)
    inside[first : last + 1] = True
    if inside.all() or not inside.any():
        raise Problem("self_test", "The test is on in all of the recording or in none.",
                      "Record some seconds without the test before and after.")
    x, y, z = (float(v) for v in np.median(samples[inside], axis=0) - np.median(samples[~inside], axis=0))
    a, b, c = (bool(low <= v <= high) for v, (low, high) in zip((x, y, z), expected_g, strict=True))
    at_end = (samples <= ends_g[0]) | (samples >= ends_g[1])
    p, q, r = (bool(at_end[some, axis].mean() > CLIPPED_SHARE or at_end[~some, axis].mean() > CLIPPED_SHARE)
               for axis in range(3) for some in [inside])
    return SelfTest(first, last, (x, y, z), (a, b, c), (p, q, r))


CLIPPED_SHARE = 0.05
"""Of the readings with the test on, or without it: more of them at an end and their middle means nothing."""


def _pulse(samples: np.ndarray) -> tuple[int, int]:
    """The one stretch whose level differs most from the rest, by least squares over all pairs of edges."""
    size = max(1, len(samples) // _BLOCKS)
    count = len(samples) // size
    if count < 8:
        raise Problem("self_test", f"{len(samples)} samples are too few to find a pulse in.", "Record for longer.")
    blocks = samples[: count * size].reshape(count, size, 3).mean(axis=1)
    blocks = blocks - blocks.mean(axis=0)
    total = np.vstack([np.zeros(3), np.cumsum(blocks, axis=0)])
    best, at = 0.0, (0, 0)
    for i in range(1, count - 1):
        width = np.arange(1, count - i)
        inside = total[i + width] - total[i]
        gain = np.sum(inside**2, axis=1) * (1 / width + 1 / (count - width))
        k = int(np.argmax(gain))
        if gain[k] > best:
            best, at = float(gain[k]), (i, i + int(width[k]))
    rest = float(np.sum(blocks**2)) - best
    first, last = at[0] * size, at[1] * size - 1
    if best < _CLEAR * max(rest, 1e-12):
        raise Problem("self_test", "No pulse stands out: the readings are not those of a sensor at rest that tests "
                      "itself once.", "Say from when to when the test was on.")
    return _edge(samples, first, size), _edge(samples, last + 1, size) - 1


def _edge(samples: np.ndarray, near: int, size: int) -> int:
    """The sample within a block or two of `near` at which the level changes most."""
    low, high = max(1, near - 2 * size), min(len(samples) - 1, near + 2 * size)
    steps = np.sum(np.square(np.diff(samples[low - 1 : high + 1], axis=0)), axis=1)
    return low + int(np.argmax(steps))

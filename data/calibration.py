"""What a sensor reads against what is true: offset and gain of each axis, from rest alone, where |a| is 1 g.

Two ways. *Six positions*: each axis up and down in turn, after the static test of IEEE Std 1293; offset and gain of an
axis are half the sum and half the difference of its two readings. *Still stretches* of ordinary recordings: each lies
on an ellipsoid around the offset, which a least-squares fit finds (a common method, no one source), if the directions
are spread enough to tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from data.corrections import Calibration
from data.problem import Problem
from data.recording import Recording
from data.still import Still

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
            "Counts of the study's own front end pass through unchanged; what its device reads is its own affair.",
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
            f"The sensor lay still in {directions} directions; {_FEWEST_DIRECTIONS} are the fewest that tell offset "
            "from gain.",
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
        raise Problem("calibration", f"The fit says {said}, which no sound sensor has.", "Check the unit and the axes.")
    means = np.array([still.mean_g for still in stills])
    before = np.linalg.norm(means, axis=1) - 1
    after = np.linalg.norm((means - np.array(offset)) / np.array(gain), axis=1) - 1
    ox, oy, oz = map(float, offset)
    gx, gy, gz = map(float, gain)
    return Calibration((ox, oy, oz), (gx, gy, gz), origin, _rms(before), _rms(after), len(stills), lacking)


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.square(values))))

"""All recordings through one device: what its sensor, its clock and its noise make of them, in counts."""

from __future__ import annotations

import math

import numpy as np

from detect.corpus import Corpus
from detect.device.drawn import Devices
from detect.device.sampled import Looks, Motion
from detect.device.spread import ONE_POLE, PARAMETERS
from detect.engine_places import PART
from detect.frontend import FrontEnd

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
               for name in ("offset", "sensitivity", "drift", "stress", "rotation")}
    reads = np.diag(1 + of_axes["sensitivity"] / 100)
    for i, one in enumerate("xyz"):
        for j, other in enumerate("xyz"):
            if i != j:
                reads[i, j] = values[f"cross_{one}{other}"] / 100
    offset = of_axes["offset"] + of_axes["stress"] + of_axes["drift"] * values["temperature"]
    return reads @ turned(of_axes["rotation"]), offset / 1000


def noise_rms(density_ug: float, rate_hz: float, noise_filter: str) -> float:
    """RMS in g of white noise of a density in µg/√Hz behind a filter at half the rate.

    A one-pole filter lets pass as much as a steep one at π/2 of its corner: ∫df/(1 + (f/f₀)²) = π f₀/2.
    """
    bandwidth = rate_hz / 2 * (math.pi / 2 if noise_filter == ONE_POLE else 1)
    return density_ug * 1e-6 * math.sqrt(bandwidth)


def clock_of(row: np.ndarray) -> float:
    """By what share a device's rate is too high."""
    return float(row[_AT["clock"]]) / 100


def seen_by(devices: Devices, device: int, motion: Motion, recording_of: np.ndarray, recordings: int,
            front_end: FrontEnd, noise_filter: str) -> tuple[Corpus, Looks]:
    """The counts of one device. `recording_of` (S,): the recording of each stretch, ascending.

    Doubles throughout: with every tolerance off the counts are exactly those of a nominal device
    (`detect.frontend.to_counts`), which single precision would miss wherever a sample lies between two counts. Only
    the noise is drawn in single precision.
    """
    row = devices.values[device]
    matrix, offset = sensor(row)
    clock = clock_of(row)
    looks = motion.looked_at(clock, float(row[_AT["moment"]]))
    sigma = noise_rms(float(row[_AT["noise"]]), front_end.rate_hz * (1 + clock), noise_filter)
    rng = devices.generator(device) if sigma else None
    counts = np.empty((looks.count, 3), dtype=np.int16)
    top = 2 ** (front_end.bits - 1)
    for start in range(0, looks.count, PART):
        stop = min(start + PART, looks.count)
        part = looks.part(start, stop)
        noise = rng.standard_normal((3, stop - start), dtype=np.float32) if rng is not None else None
        for axis in range(3):
            value = matrix[axis, 0] * part[0]
            value += matrix[axis, 1] * part[1]
            value += matrix[axis, 2] * part[2]
            value += offset[axis]
            if noise is not None:
                value += sigma * noise[axis]
            value *= front_end.k
            value += 0.5
            np.floor(value, out=value)
            np.clip(value, -top, top - 1, out=value)
            counts[start:stop, axis] = value
    sizes = np.bincount(recording_of, np.diff(np.append(looks.first, looks.count)), minlength=recordings)
    recording_first = np.concatenate(([0], np.cumsum(sizes.astype(np.int64))))
    return Corpus(counts, looks.first, recording_first), looks

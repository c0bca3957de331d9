"""From a sensor's readings to the detector's counts: the twin of plumbfall_sensor.c."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

GAIN_ONE, GAIN_LEAST, GAIN_MOST, OFFSET_MOST = 16384, 8192, 32767, 16384
READING_MOST = 65535
Axes = tuple[tuple[int, int, int], tuple[int, int, int], tuple[int, int, int]]
STRAIGHT: Axes = ((1, 0, 0), (0, 1, 0), (0, 0, 1))


@dataclass(frozen=True)
class Sensor:
    """The code at 0 g, the counts' resolution, and of each axis of the counts what of the sensor's goes into it."""

    zero_code: int = 0
    resolution_bits: int = 12
    axes: Axes = STRAIGHT


@dataclass(frozen=True)
class Calibration:
    """Of one device, for each axis of its sensor: counts at 0 g, and the gain times 2^14."""

    offset_counts: tuple[int, int, int] = (0, 0, 0)
    gain_q14: tuple[int, int, int] = (GAIN_ONE, GAIN_ONE, GAIN_ONE)

    @property
    def possible(self) -> bool:
        return all(GAIN_LEAST <= gain <= GAIN_MOST for gain in self.gain_q14) \
            and all(abs(offset) <= OFFSET_MOST for offset in self.offset_counts)


def counts(sensor: Sensor, calibration: Calibration, raw: Sequence[int]) -> tuple[int, int, int]:
    """Zero code and offset off, the gain on, halves upwards; then turned into the case, and clamped."""
    reading = []
    for value, offset, gain in zip(raw, calibration.offset_counts, calibration.gain_q14, strict=True):
        left = min(max(value - sensor.zero_code - offset, -READING_MOST - 1), READING_MOST)
        reading.append((left * gain + GAIN_ONE // 2) // GAIN_ONE)
    end = 1 << (sensor.resolution_bits - 1)
    x, y, z = (min(max(sum(part * of for part, of in zip(row, reading, strict=True)), -end), end - 1)
               for row in sensor.axes)
    return x, y, z

"""Readings on their way to counts: zero codes, calibrations at their bounds and beyond, every turn of a case."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations, product

from detect.firmware.twins.sensor import GAIN_LEAST, GAIN_MOST, GAIN_ONE, OFFSET_MOST, Axes, Calibration, Sensor, counts

Three = tuple[int, int, int]


@dataclass(frozen=True)
class SensorCase:
    name: str
    sensor: Sensor
    calibration: Calibration
    raw: Three

    @property
    def row(self) -> str:
        s, c = self.sensor, self.calibration
        axes = ", ".join(f"{{ {', '.join(map(str, row))} }}" for row in s.axes)
        there = counts(s, c, self.raw) if c.possible else (0, 0, 0)
        return (f"    {{ {{ {s.zero_code}, {s.resolution_bits}, {{ {axes} }} }}, {{ {_braced(c.offset_counts)}, "
                f"{_braced(c.gain_q14)} }}, {_braced(self.raw)}, {_braced(there)}, {int(not c.possible)} }}, "
                f"/* {self.name} */")


def _braced(three: Three) -> str:
    return f"{{ {', '.join(map(str, three))} }}"


def sensor_cases() -> Iterator[SensorCase]:
    straight = Sensor()
    for raw in ((0, 512, -512), (2047, 2048, -2048), (-2049, 1, -1)):
        yield SensorCase(f"as it comes {raw}", straight, Calibration(), raw)
    for bits in (8, 12, 16):
        ends = Sensor(resolution_bits=bits)
        yield SensorCase(f"ends of {bits} bits", ends, Calibration(), (65535, -65535, 1 << (bits - 1)))
    for zero, raw in ((2048, (2048, 4095, 0)), (1, (0, 1, 2)), (65535, (65535, 0, 65534)), (32768, (65535, 0, 32768))):
        yield SensorCase(f"zero code {zero} of {raw}", Sensor(zero, 16), Calibration(), raw)
    for gain in (GAIN_LEAST, GAIN_LEAST + 1, GAIN_ONE - 1, GAIN_ONE + 1, 20_000, GAIN_MOST):
        for raw in ((1, -1, 3), (512, -511, 77), (32767, -32768, 16384), (65535, -65535, -65534)):
            yield SensorCase(f"gain {gain} of {raw}", Sensor(0, 16), Calibration((0, 0, 0), (gain,) * 3), raw)
    yield SensorCase("another gain and offset on each axis", straight,
                     Calibration((3, -17, 40), (GAIN_ONE + 200, GAIN_ONE - 300, GAIN_ONE + 1)), (500, -500, 77))
    yield SensorCase("all at their ends", Sensor(65535, 16),
                     Calibration((OFFSET_MOST, -OFFSET_MOST, OFFSET_MOST), (GAIN_MOST, GAIN_MOST, GAIN_LEAST)),
                     (-65535, 65535, -65535))
    yield SensorCase("clamped before the gain", Sensor(0, 16),
                     Calibration((-OFFSET_MOST, OFFSET_MOST, 1), (GAIN_LEAST,) * 3), (65535, -65535, -65535))
    for axis in range(3):
        for offset in (-OFFSET_MOST - 1, -OFFSET_MOST, OFFSET_MOST, OFFSET_MOST + 1):
            yield SensorCase(f"offset {offset} on {'xyz'[axis]}", straight,
                             Calibration(_only(axis, offset, 0)), (10, 20, 30))
        for gain in (0, GAIN_LEAST - 1, GAIN_LEAST, GAIN_MOST, GAIN_MOST + 1):
            yield SensorCase(f"gain {gain} on {'xyz'[axis]}", straight,
                             Calibration((0, 0, 0), _only(axis, gain, GAIN_ONE)), (10, 20, 30))
    for axes in turns():
        yield SensorCase(f"turned to {axes}", Sensor(axes=axes), Calibration((1, 2, 3)), (100, 200, -2000))


def _only(axis: int, value: int, otherwise: int) -> Three:
    x, y, z = (value if at == axis else otherwise for at in range(3))
    return x, y, z


def turns() -> Iterator[Axes]:
    """The 24 turns of a case by right angles: permutations with signs that are no mirror image."""
    for order in permutations(range(3)):
        even = order in ((0, 1, 2), (1, 2, 0), (2, 0, 1))
        for signs in product((1, -1), repeat=3):
            if (signs[0] * signs[1] * signs[2] == 1) == even:
                x, y, z = (_only(of, sign, 0) for of, sign in zip(order, signs, strict=True))
                yield x, y, z

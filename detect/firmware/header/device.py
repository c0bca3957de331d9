"""Write plumbfall_device.h: the device around the detector as macros, from the numbers that the study keeps of it.

Each has its physical value in its comment. The detector's decisions need none of them but the sensor's; a CRC-32 over
them tells a header that was edited, and the vectors state each.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass

from detect.device.energy.life import alarm_settings
from detect.device.energy.memory import shape_of
from detect.device.part.analogue import AnalogPart
from detect.device.part.part import case_axes, front_end_of, part_of
from detect.device.quantities import Values
from detect.device.sleep.wake_settings import LINES
from detect.firmware.header.writer import SPDX
from detect.rule.front_end import FrontEnd

NAME = "plumbfall_device.h"
DEVICE_CRC = "PLF_DEVICE_CRC32"


@dataclass(frozen=True)
class Macro:
    """A define: its integer, and what it stands for."""

    name: str
    value: int
    comment: str


def sections(values: Values, front_end: FrontEnd) -> Iterator[tuple[str, list[Macro]]]:
    """Heading and macros of each part of the device."""
    yield "Sensor: from its readings to counts", list(_sensor(values, front_end))
    yield "What a record keeps, and the memory for it", list(_log(values, front_end))
    yield "The life of an alarm", list(_life(values))
    yield "Waking: the lines' registers, physical and in counts of this sensor", list(_wake(values, front_end))


def _sensor(values: Values, front_end: FrontEnd) -> Iterator[Macro]:
    part, seen = part_of(values, front_end), front_end_of(values, front_end)
    analogue = isinstance(part, AnalogPart)
    yield Macro("PLF_ANALOGUE", int(analogue), "1: a converter reads its output, 0: it hands over numbers")
    zero = part.zero_code if isinstance(part, AnalogPart) else 0
    yield Macro("PLF_ZERO_CODE", zero, "what it reads at 0 g")
    yield Macro("PLF_SENSOR_COUNTS_PER_1000_G", round(1000 * seen.k), f"{seen.k:.6g} counts per g")
    yield Macro("PLF_SENSOR_BITS", seen.bits, "resolution of the counts")
    for axis, row in zip("XYZ", case_axes(values), strict=True):
        for of, value in zip("XYZ", row, strict=True):
            yield Macro(f"PLF_AXIS_{axis}_OF_{of}", value, f"of the sensor's {of.lower()} in the case's {axis.lower()}")


def _log(values: Values, front_end: FrontEnd) -> Iterator[Macro]:
    shape = shape_of(values, front_end)
    block = int(values.number("memory.block_bytes"))
    yield Macro("PLF_BEFORE_SAMPLES", shape.before, f"{values.number('memory.before_s'):g} s up to the alarm")
    yield Macro("PLF_AFTER_SAMPLES", shape.after, f"{values.number('memory.after_s'):g} s after it")
    yield Macro("PLF_KEPT_BITS", shape.bits, "of a component")
    yield Macro("PLF_KEPT_SHIFT", shape.shift, "lowest bits that are rounded away")
    yield Macro("PLF_MEASURED", int(values.on("memory.measured")), "1: measured values are kept")
    yield Macro("PLF_LOG_BLOCK_BYTES", block, "erased at once")
    kib = values.number("memory.kib")
    yield Macro("PLF_LOG_BLOCKS", int(kib * 1024) // block, f"{kib:g} KiB")
    yield Macro("PLF_LOG_UNIT_BYTES", int(values.number("memory.unit_bytes")), "programmed at once")


def _life(values: Values) -> Iterator[Macro]:
    life = alarm_settings(values)
    yield Macro("PLF_CANCEL_MS", life.cancel_ms, "the wearer may cancel for so long")
    yield Macro("PLF_RESEND_MS", life.resend_ms, "then it is sent, and again after so long")
    yield Macro("PLF_SENDS", life.sends, "so often, until the wearer is told that no station knows")
    yield Macro("PLF_SLOW_MS", life.slow_ms, "and then on and on, every so long")
    yield Macro("PLF_REST_MS", life.rest_ms, "from cancelled or acknowledged until armed")


def _wake(values: Values, front_end: FrontEnd) -> Iterator[Macro]:
    number = values.number
    line_hz = min(number("wake.line_rate_hz"), front_end.rate_hz)
    line = values.text("wake.line")
    known = ", ".join(f"{at} {one.partition(',')[0]}" for at, one in enumerate(LINES))
    yield Macro("PLF_WAKE_LINE", LINES.index(line), f"of {known}")
    yield Macro("PLF_WAKE_RATE_MILLIHZ", round(1000 * line_hz), "samples in 1 000 s that the part takes while it waits")
    for name, key in (("FREE_FALL", "free_fall"), ("THRESHOLD", "threshold"), ("PULSE", "pulse")):
        level = number(f"wake.{key}_g")
        yield Macro(f"PLF_WAKE_{name}_MG", round(1000 * level), f"{level:g} g")
        yield Macro(f"PLF_WAKE_{name}_COUNTS", max(front_end.counts(level), 1), "the same in counts")
        yield from _length(f"PLF_WAKE_{name}", number(f"wake.{key}_ms"), line_hz)
    yield from _length("PLF_WAKE_QUIET", number("wake.pulse_quiet_ms"), line_hz)
    yield Macro("PLF_WAKE_STAY_MS", round(number("wake.stay_ms")), "it sleeps so long after the line was last high")
    yield Macro("PLF_WAKE_WATERMARK", int(number("wake.watermark_samples")), "samples handed over at once")


def _length(name: str, ms: float, line_hz: float) -> Iterator[Macro]:
    yield Macro(f"{name}_MS", round(ms), f"{ms:g} ms")
    yield Macro(f"{name}_SAMPLES", max(int(ms * line_hz / 1000 + 0.5), 1), "the same in samples of the waiting part")


def device_crc(macros: dict[str, int]) -> int:
    """CRC-32 over a line NAME=value of each but the CRC itself, in the header's order, in ASCII."""
    text = "".join(f"{name}={value}\n" for name, value in macros.items() if name != DEVICE_CRC)
    return zlib.crc32(text.encode("ascii"))


def write_device_header(values: Values, front_end: FrontEnd) -> str:
    """The text, in ASCII; the same numbers give the same bytes."""
    parts = list(sections(values, front_end))
    crc = device_crc({one.name: one.value for _, macros in parts for one in macros})
    lines = [f"/* {SPDX} */", f"/* {NAME}: the device around the detector, as the study has it.", " *",
             " * A calibration is not among them: it is each device's own, stored at its production test as a",
             " * plf_calibration, never taken from the logger's. Here is only its form: offset 0 and gain 1.", " */",
             "#ifndef PLUMBFALL_DEVICE_H", "#define PLUMBFALL_DEVICE_H", "",
             "/* CRC-32 of the numbers below, each as a line NAME=value. */", f"#define {DEVICE_CRC:<32} 0x{crc:08X}U"]
    for heading, macros in parts:
        lines += ["", f"/* ---- {heading} ---- */", ""]
        lines += [f"#define {one.name:<32} {_literal(one):>9}  /* {one.comment} */" for one in macros]
    lines += ["", "#define PLF_SENSOR { PLF_ZERO_CODE, PLF_SENSOR_BITS, { \\"]
    lines += [f"    {{ {', '.join(f'PLF_AXIS_{axis}_OF_{of}' for of in 'XYZ')} }}{',' if axis != 'Z' else ' } }'}"
              + (" \\" if axis != "Z" else "") for axis in "XYZ"]
    lines += ["#define PLF_ALARM_SETTINGS { PLF_CANCEL_MS, PLF_RESEND_MS, PLF_SENDS, PLF_SLOW_MS, PLF_REST_MS }",
              "", "#endif"]
    return "\n".join(lines) + "\n"


def _literal(one: Macro) -> str:
    if one.name.startswith("PLF_AXIS_"):
        return f"({one.value})" if one.value < 0 else str(one.value)
    return f"{one.value}U"

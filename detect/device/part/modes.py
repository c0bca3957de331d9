"""What still works in each mode of a part, its outputs and its interrupt lines; how long until it is right again.

A sleeping analogue part has its outputs off and hears nothing. A sleeping digital part may keep lines on watch.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from detect.device.part.analogue import AnalogPart
from detect.device.part.part import ANALOGUE, part_of
from detect.device.quantities import Values, rows_of
from detect.rule.front_end import FrontEnd

FREE_FALL, THRESHOLD, PULSE = LINES = ("free fall", "threshold", "pulse, quiet")
"""Lines that a part can have."""

NO_LINE, ALL_LINES = "none", "all"
BYPASSED, SETTLES = "bypassed", "settles"

QUANTITIES = rows_of("modes", {"modes.asleep_lines": (NO_LINE, FREE_FALL, THRESHOLD, ALL_LINES),
                               "modes.asleep_filter": (BYPASSED, SETTLES)})


@dataclass(frozen=True)
class Mode:
    """A mode of the part: whether its outputs work, which of LINES do, and what it draws, in µA."""

    name: str
    outputs: bool
    lines: tuple[str, ...]
    ua: float

    @property
    def works(self) -> str:
        return f"Outputs {'on' if self.outputs else 'off'}; interrupts: {self.interrupts}."

    @property
    def interrupts(self) -> str:
        """"free fall, threshold, pulse"."""
        return ", ".join(one.partition(",")[0] for one in self.lines) or "none"


def modes_of(values: Values) -> tuple[Mode, Mode]:
    """Running and asleep."""
    running: tuple[str, ...] = LINES
    kept = values.text("modes.asleep_lines")
    asleep: tuple[str, ...] = {NO_LINE: (), ALL_LINES: LINES}.get(kept, (kept,))
    if values.text("part.kind") == ANALOGUE:
        running, asleep = (FREE_FALL,) if values.on("modes.zero_g_line") else (), ()
    return (Mode("running", True, running, values.number("current.running_ua")),
            Mode("asleep", False, asleep, values.number("current.asleep_ua")))


def must_run(values: Values, line: str) -> bool:
    """Whether the part has to run for its line to be heard."""
    running, asleep = modes_of(values)
    return line in running.lines and line not in asleep.lines


def time_constant_ms(values: Values, front_end: FrontEnd) -> float:
    """τ of the low-pass that must settle after sleep; 0 where there is none."""
    part = part_of(values, front_end)
    if isinstance(part, AnalogPart):
        return 1000 / (2 * math.pi * part.cutoff_hz)
    if values.text("modes.asleep_filter") == BYPASSED or part.bandwidth_hz is None:
        return 0.0
    return 1000 / (2 * math.pi * part.bandwidth_hz)


def settling_ms(values: Values, front_end: FrontEnd) -> float:
    """From off to within half a step of the whole range: turn-on, and ln(2 · codes) time constants of one pole.

    32 kΩ and 220 nF are τ = 7.04 ms; half a step of 12 bits is 9.01 τ, 63.4 ms.
    """
    bits = round(values.number("analog.converter_bits")) if values.text("part.kind") == ANALOGUE else front_end.bits
    return values.number("modes.turn_on_ms") + math.log(2.0 ** (bits + 1)) * time_constant_ms(values, front_end)

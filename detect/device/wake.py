"""A device that sleeps until its part's own interrupt: the numbers of it, and their integers on one front end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from detect.device.interrupts import free_fall_line, looked_at, pulse_line, threshold_line
from detect.device.part import ANALOGUE
from detect.device.values import FROM_MEMORY, PRACTICE, Quantity, Values, choice, switch
from detect.frontend import FrontEnd
from detect.settings import BadSetting

NEVER, FREE_FALL, THRESHOLD, PULSE, TIMER = LINES = (
    "never sleeps", "free fall", "threshold", "pulse, quiet", "timer")
NO_BUFFER, RUNNING, FROZEN = BUFFERS = ("none", "keeps running", "stops at line")

QUANTITIES: tuple[Quantity, ...] = (
    choice("wake.line", LINES, FREE_FALL, "woken by", "What wakes the processor: an interrupt line of the part, its "
           "own timer, or nothing, because it never sleeps.", PRACTICE),
    Quantity("wake.free_fall_g", "g", 0.35, 0.01, 1.0, "free-fall line below",
             "The line wants every axis below this: hardware has no magnitude.", FROM_MEMORY),
    Quantity("wake.free_fall_ms", "ms", 100, 1, 2000, "for at least", "All axes low without a break for so long.",
             FROM_MEMORY),
    Quantity("wake.threshold_g", "g", 2.0, 0.05, 64, "threshold",
             "The line wants any one axis at this or above; an axis at rest reads up to 1 g.", FROM_MEMORY),
    Quantity("wake.threshold_ms", "ms", 20, 1, 2000, "held for", "The axis stays above without a break for so long.",
             FROM_MEMORY),
    Quantity("wake.pulse_g", "g", 2.5, 0.05, 64, "pulse", "A pulse has an axis at this or above.", FROM_MEMORY),
    Quantity("wake.pulse_ms", "ms", 200, 1, 2000, "at most", "What stays above for longer is no pulse.", FROM_MEMORY),
    Quantity("wake.pulse_quiet_ms", "ms", 300, 1, 5000, "then quiet for",
             "The line speaks once no axis was above for so long after the pulse.", FROM_MEMORY),
    Quantity("wake.timer_asleep_ms", "ms", 200, 1, 3_600_000, "timer: asleep",
             "Without a line the processor sleeps for so long and looks by itself.", PRACTICE),
    Quantity("wake.timer_awake_ms", "ms", 300, 1, 3_600_000, "timer: awake", "And then looks for so long.", PRACTICE),
    Quantity("wake.line_rate_hz", "Hz", 50, 1, 6400, "rate asleep",
             "So many samples a second the part takes for its line while it waits; never more than were recorded.",
             FROM_MEMORY),
    Quantity("wake.offset_mg", "mg", 50, 0, 500, "offset, each axis",
             "The line knows no calibration: what each axis reads too much at 0 g. 50 mg on each axis read 86.6 mg in "
             "free fall.", FROM_MEMORY),
    Quantity("wake.waking_ms", "ms", 1, 0, 5000, "to wake", "From the line to the first sample the processor gets.",
             PRACTICE),
    choice("wake.buffer", BUFFERS, NO_BUFFER, "buffer asleep", "What the part's own buffer keeps of the time before: "
           "nothing, the last samples until the processor reads them, or the last samples at the moment of the line.",
           PRACTICE),
    Quantity("wake.watermark_samples", "samples", 1, 1, 4096, "watermark",
             "Awake, the processor is handed so many samples at a time; an alarm waits for its batch.", PRACTICE),
    Quantity("wake.stay_ms", "ms", 2000, 1, 3_600_000, "sleeps after",
             "The processor sleeps again when the line was quiet for so long.", PRACTICE),
    switch("wake.finishes", True, "finishes first", "It stays awake while the rule has an attempt open.", PRACTICE),
    Quantity("wake.fall_m", "m", 0.5, 0.05, 3, "least fall",
             "The lowest fall that must not be slept through: warnings are about its time, √(2h/g).", PRACTICE),
)


@dataclass(frozen=True)
class Waking:
    """The integers: levels in counts, durations in samples of the front end, those of the line in samples that the
    part takes while it waits (`line_hz` a second).

    `lost`: samples from the line to the first the processor gets, the line's own among them.
    """

    line: str
    level: int
    length: int
    quiet: int
    offset: int
    line_hz: float
    rate_hz: float
    lost: int
    buffer: str
    depth: int
    watermark: int
    stay: int
    finishes: bool
    asleep: int
    awake: int

    @property
    def history(self) -> int:
        """Samples of the time before that the processor finds in the buffer. A part that waits at another rate than
        the rule's holds none that it could use."""
        return 0 if self.buffer == NO_BUFFER or self.line_hz < self.rate_hz else self.depth

    def high(self, counts: np.ndarray) -> np.ndarray:
        """At which samples of a stretch, (n, 3) counts, the line is high, (n,) bool."""
        seen = looked_at(len(counts), self.line_hz, self.rate_hz)
        some = counts[seen].astype(np.int32) + self.offset
        if self.line == FREE_FALL:
            line = free_fall_line(some, self.level, self.length)
        elif self.line == THRESHOLD:
            line = threshold_line(some, self.level, self.length)
        else:
            line = pulse_line(some, self.level, self.length, self.quiet)
        high = np.zeros(len(counts), dtype=bool)
        high[seen] = line
        return high


def depth_of(values: Values) -> int:
    """Samples that the part's own buffer keeps; an analogue part has none."""
    return 0 if values.text("part.kind") == ANALOGUE else int(values.number("digital.buffer"))


def waking_of(values: Values, front_end: FrontEnd) -> Waking:
    """The integers of these numbers on one front end; BadSetting where they contradict each other."""
    line, number = values.text("wake.line"), values.number
    line_hz = min(number("wake.line_rate_hz"), front_end.rate_hz)

    def looks(key: str) -> int:
        return max(int(number(key) * line_hz / 1000 + 0.5), 1)

    def samples(key: str) -> int:
        return max(front_end.samples(number(key)), 1)

    keys = {FREE_FALL: ("wake.free_fall_g", "wake.free_fall_ms"), PULSE: ("wake.pulse_g", "wake.pulse_ms")}
    level_key, length_key = keys.get(line, ("wake.threshold_g", "wake.threshold_ms"))
    waking = Waking(
        line, max(front_end.counts(number(level_key)), 1), looks(length_key), looks("wake.pulse_quiet_ms"),
        front_end.counts(number("wake.offset_mg") / 1000), line_hz, front_end.rate_hz,
        int(np.ceil(number("wake.waking_ms") * front_end.rate_hz / 1000 - 1e-9)), values.text("wake.buffer"),
        depth_of(values), int(number("wake.watermark_samples")), samples("wake.stay_ms"),
        values.on("wake.finishes"), samples("wake.timer_asleep_ms"), samples("wake.timer_awake_ms"))
    _check(values, waking)
    return waking


def _check(values: Values, waking: Waking) -> None:
    number = values.number
    if waking.line not in (NEVER, TIMER) and waking.lost > waking.stay:
        raise BadSetting("wake.waking_ms", number("wake.waking_ms"),
                         f"is longer than it stays awake, {number('wake.stay_ms'):g} ms: it would never see a sample.",
                         "Let it stay awake for longer.")
    if waking.watermark > 1 and waking.watermark > waking.depth:
        raise BadSetting("wake.watermark_samples", waking.watermark,
                         f"is never reached in a buffer of {waking.depth} samples.", "Write no more than its depth.")

"""A device that sleeps until its part's own interrupt: the numbers of it, and their integers on one front end.

A part's own interrupt lines, on counts: what the hardware can tell while the processor sleeps.

Each line is looked at once a sample of the part; gravity is in its readings, as it is in the recording's. Every
function takes counts (n, 3) of one stretch without gaps and returns where the line is high, (n,) bool.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from detect.device.part.modes import FREE_FALL, PULSE, THRESHOLD, modes_of
from detect.device.part.modes import LINES as PART_LINES
from detect.device.part.part import ANALOGUE
from detect.device.quantities import Values, rows_of
from detect.rule.front_end import FrontEnd
from detect.rule.settings import BadSetting


def runs(held: np.ndarray) -> np.ndarray:
    """At each sample the length of the unbroken row of True that ends there, (n,) int64; 0 where it is False."""
    at = np.arange(len(held))
    return at - np.maximum.accumulate(np.where(held, -1, at))


def largest_axis(counts: np.ndarray) -> np.ndarray:
    """max(|x|, |y|, |z|) of every sample, (n,) int32: what the lines compare, since hardware squares nothing."""
    return np.asarray(np.abs(counts.astype(np.int32)).max(axis=1))


def free_fall_line(counts: np.ndarray, below: int, samples: int) -> np.ndarray:
    """High while every axis has been below a level for so many samples running."""
    return runs(largest_axis(counts) < below) >= samples


def threshold_line(counts: np.ndarray, at_least: int, samples: int) -> np.ndarray:
    """High while any axis has been at a level or above for so many samples running."""
    return runs(largest_axis(counts) >= at_least) >= samples


def pulse_line(counts: np.ndarray, at_least: int, longest: int, quiet: int) -> np.ndarray:
    """High for one sample: when `quiet` samples below the level follow a row above it of at most `longest`."""
    above = largest_axis(counts) >= at_least
    pulse, since = runs(above), runs(~above)
    high = np.zeros(len(above), dtype=bool)
    at = np.flatnonzero(since == quiet)
    at = at[at >= quiet]  # what was quiet from the start follows no pulse
    high[at] = pulse[at - quiet] <= longest
    return high


def looked_at(samples: int, line_hz: float, rate_hz: float) -> np.ndarray:
    """Which of so many samples at `rate_hz` a part sees that takes only `line_hz` a second while it waits: numbers,
    the first always. All of them where it would take more: a recording has no others."""
    if line_hz >= rate_hz:
        return np.arange(samples)
    turn = np.floor(np.arange(samples) * (line_hz / rate_hz) + 1e-9)
    return np.flatnonzero(np.diff(turn, prepend=-1.0) > 0)


def reading_in_free_fall(offset_g: tuple[float, float, float]) -> float:
    """What the magnitude reads in free fall, in g, of a sensor with these offsets: 0.0866 for 50 mg on each axis."""
    return float(np.sqrt(np.sum(np.square(offset_g))))


NEVER, TIMER = "never sleeps", "timer"
LINES = (NEVER, *PART_LINES, TIMER)
NO_BUFFER, RUNNING, FROZEN = BUFFERS = ("none", "keeps running", "stops at line")

QUANTITIES = rows_of("wake", {"wake.line": LINES, "wake.buffer": BUFFERS})


@dataclass(frozen=True)
class Waking:
    """The integers: levels in counts, durations in samples of the front end, those of the line in samples that the
    part takes while it waits (`line_hz` a second).

    `lost`: samples from the line to the first the processor gets, the line's own among them. `offsets`: what each axis
    of this part reads too much, in counts; `ends`: its last readings either way, which no offset moves.
    """

    line: str
    level: int
    length: int
    quiet: int
    offsets: tuple[int, int, int]
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
    ends: tuple[int, int] = (-32768, 32767)

    def read(self, counts: np.ndarray) -> np.ndarray:
        """What the line reads of counts, (n, 3) int32: with its offsets, cut off at the part's ends. What is at an end
        already lies beyond it, nobody knows how far: it stays there."""
        low, high = self.ends
        wide = counts.astype(np.int32)
        moved = np.clip(wide + np.array(self.offsets, dtype=np.int32), low, high)
        return np.where((wide <= low) | (wide >= high), wide, moved)

    @property
    def history(self) -> int:
        """Samples of the time before that the processor finds in the buffer. A part that waits at another rate than
        the rule's holds none that it could use."""
        return 0 if self.buffer == NO_BUFFER or self.line_hz < self.rate_hz else self.depth

    def high(self, counts: np.ndarray) -> np.ndarray:
        """At which samples of a stretch, (n, 3) counts, the line is high, (n,) bool."""
        seen = looked_at(len(counts), self.line_hz, self.rate_hz)
        some = self.read(counts[seen])
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


@dataclass(frozen=True)
class LinePart:
    """One of the parts that a data sheet allows: the sign of each axis' offset, and whether its line's level is as set
    (0), or off by the whole tolerance upwards or downwards (1, −1)."""

    signs: tuple[int, int, int] = (1, 1, 1)
    level: int = 0

    @property
    def words(self) -> str:
        signs = ", ".join(f"{axis} {'+' if sign > 0 else '−'}" for axis, sign in zip("xyz", self.signs, strict=True))
        return f"offset {signs}; level {('lowest', 'as set', 'highest')[self.level + 1]}"


def line_parts(values: Values) -> tuple[LinePart, ...]:
    """All eight ways in which three offsets can point, at either end of the level's tolerance; fewer where there is
    nothing to try."""
    if values.text("wake.line") in (NEVER, TIMER):
        return (LinePart(),)
    signs = product((1, -1), repeat=3) if values.number("wake.offset_mg") else [(1, 1, 1)]
    levels = (-1, 1) if values.number("wake.threshold_tolerance_pct") else (0,)
    return tuple(LinePart(way, level) for way in signs for level in levels)  # type: ignore[arg-type]


def level_g(values: Values, key: str, level: int) -> float:
    """A line's level as its register holds it, and as far off as its tolerance allows."""
    wanted, step = values.number(key), values.number("wake.register_mg") / 1000
    held = max(round(wanted / step), 1) * step if step else wanted
    return held * (1 + level * values.number("wake.threshold_tolerance_pct") / 100)


def waking_of(values: Values, front_end: FrontEnd, part: LinePart | None = None) -> Waking:
    """The integers of these numbers on one front end, of one part of many, by default one whose level is as set and
    whose offsets all point up; BadSetting where they contradict each other."""
    part = LinePart() if part is None else part
    line, number = values.text("wake.line"), values.number
    line_hz = min(number("wake.line_rate_hz"), front_end.rate_hz)

    def looks(key: str) -> int:
        return max(int(number(key) * line_hz / 1000 + 0.5), 1)

    def samples(key: str) -> int:
        return max(front_end.samples(number(key)), 1)

    keys = {FREE_FALL: ("wake.free_fall_g", "wake.free_fall_ms"), PULSE: ("wake.pulse_g", "wake.pulse_ms")}
    level_key, length_key = keys.get(line, ("wake.threshold_g", "wake.threshold_ms"))
    (x, y, z), offset = part.signs, front_end.counts(number("wake.offset_mg") / 1000)
    waking = Waking(
        line, max(front_end.counts(level_g(values, level_key, part.level)), 1), looks(length_key),
        looks("wake.pulse_quiet_ms"), (x * offset, y * offset, z * offset), line_hz, front_end.rate_hz,
        int(np.ceil(number("wake.waking_ms") * front_end.rate_hz / 1000 - 1e-9)), values.text("wake.buffer"),
        depth_of(values), int(number("wake.watermark_samples")), samples("wake.stay_ms"),
        values.on("wake.finishes"), samples("wake.timer_asleep_ms"), samples("wake.timer_awake_ms"),
        (front_end.lowest, front_end.highest))
    _check(values, waking)
    return waking


def _check(values: Values, waking: Waking) -> None:
    number = values.number
    if waking.line in PART_LINES and waking.line not in modes_of(values)[0].lines:
        raise BadSetting("wake.line", waking.line, "is not a line of this part: " + (
            "an analogue part has outputs and no interrupts." if waking.line == FREE_FALL
            else "an analogue part has at most one for free fall."),
            "Wake by a timer, never sleep, or say under Part that it has a zero-g line.")
    if waking.line not in (NEVER, TIMER) and waking.lost > waking.stay:
        raise BadSetting("wake.waking_ms", number("wake.waking_ms"),
                         f"is longer than it stays awake, {number('wake.stay_ms'):g} ms: it would never see a sample.",
                         "Let it stay awake for longer.")
    if waking.watermark > 1 and waking.watermark > waking.depth:
        raise BadSetting("wake.watermark_samples", waking.watermark,
                         f"is never reached in a buffer of {waking.depth} samples.", "Write no more than its depth.")

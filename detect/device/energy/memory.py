"""The event log: what a record costs, how many a memory holds, and how long it lasts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from detect.device.quantities import Values, rows_of
from detect.firmware.twins.log import fits, slot_sizes
from detect.firmware.twins.record import record_bytes
from detect.firmware.twins.ring import destroyed
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule
from detect.rule.settings import BadSetting

DAYS_A_YEAR = 365.25


QUANTITIES = rows_of("memory")


@dataclass(frozen=True)
class Shape:
    """What a record keeps: samples up to the alarm and after it, `bits` of a component, `shift` lowest rounded away."""

    before: int
    after: int
    bits: int
    shift: int


@dataclass(frozen=True)
class LogMemory(Shape):
    """What the log comes to. Bytes; `slots` records at most, of which `kept` are whole at every moment, even while
    the next is being written; `sample_bytes` is the samples' part of a record. `years` until it wears out at
    `records_per_day`, `turn_years` until the oldest of those kept is written over; infinite where nothing is logged."""

    sample_bytes: int
    record_bytes: int
    slot_bytes: int
    slots: int
    kept: int
    records_in_life: float
    records_per_day: float
    years: float
    turn_years: float

    @property
    def overhead_bytes(self) -> int:
        """All of a slot that is not samples."""
        return self.slot_bytes - self.sample_bytes


def shape_of(values: Values, front_end: FrontEnd) -> Shape:
    """The record's integers at the front end's rate and width; the alarm's own sample is always kept."""
    bits = int(values.number("memory.bits"))
    return Shape(max(front_end.samples(1000 * values.number("memory.before_s")), 1),
                 front_end.samples(1000 * values.number("memory.after_s")), bits, max(front_end.bits - bits, 0))


def memory_of(values: Values, front_end: FrontEnd, alarms_per_day: float) -> LogMemory:
    """BadSetting where such records don't fit such a memory. `alarms_per_day`: all the detector raises."""
    shape = shape_of(values, front_end)
    samples = shape.before + shape.after
    unit, block = int(values.number("memory.unit_bytes")), int(values.number("memory.block_bytes"))
    total = int(values.number("memory.kib") * 1024)
    if unit & (unit - 1):
        raise BadSetting("memory.unit_bytes", unit, "is not a power of two.", "Write 1, 2, 4, 8, 16, 32 or 64.")
    if block % unit or total % block:
        raise BadSetting("memory.block_bytes", block, f"does not divide {total} bytes of memory and is not made of "
                         f"units of {unit}.", "Write sizes that divide each other.")
    size = record_bytes(samples, shape.bits, values.on("memory.measured"))
    if not fits(size, block, total // block, unit):
        raise BadSetting("memory.kib", total / 1024, f"holds no ring of records of {size} bytes in blocks of {block}: "
                         "the newest must never lie in a block that the next one erases.",
                         "Take more blocks, or keep fewer samples.")
    _, slot = slot_sizes(size, unit)
    slots = events_in(total, slot)
    kept = min(slots - len(destroyed(one, slot, slots, block)) for one in range(slots))
    life = values.number("memory.cycles") * slots
    a_year = (alarms_per_day + values.number("memory.records_per_day")) * DAYS_A_YEAR
    return LogMemory(shape.before, shape.after, shape.bits, shape.shift, sample_bytes(samples, shape.bits), size, slot,
                     slots, kept, life, a_year / DAYS_A_YEAR, life / a_year if a_year else math.inf,
                     kept / a_year if a_year else math.inf)


def sample_bytes(samples: int, bits: int) -> int:
    """Three components in `bits` each, packed."""
    return (3 * samples * bits + 7) // 8


def events_in(total_bytes: int, slot_bytes: int) -> int:
    """Whole slots in a memory, one behind the other."""
    return total_bytes // slot_bytes


def memory_warnings(values: Values, front_end: FrontEnd, rule: Rule) -> Iterator[str]:
    """What a record will not be able to do, in sentences."""
    needed = look_back(rule)
    before = front_end.samples(1000 * values.number("memory.before_s"))
    if before < needed:
        yield (f"{before} samples are kept before an alarm, and the rule looks back on up to {needed}: a fall may not "
               f"be found again on the bench. Keep {needed / front_end.rate_hz:.1f} s.")
    lost = front_end.bits - int(values.number("memory.bits"))
    if lost > 0:
        yield f"The lowest {lost} of {front_end.bits} bits are not kept: the bench sees steps of {2**lost} counts."
    beyond = max(-front_end.lowest, front_end.highest + 1)
    if beyond > 2 ** (int(values.number("memory.bits")) - 1 + max(lost, 0)):
        yield (f"The part reads up to {beyond} counts, more than {int(values.number('memory.bits'))} bits hold: the "
               "log cuts such readings off.")
    if values.number("memory.after_s") * 1000 > front_end.ms(rule.hold_off):
        yield "A second alarm may come before the record of the first is closed; it gets no record of its own."


def look_back(rule: Rule) -> int:
    """Samples before an alarm that the rule can have used, one restart of the wait not counted."""
    history = max(rule.baseline if rule.tilt_on else 0, rule.active_window if rule.active_on else 0)
    observed = rule.observe if rule.tilt_on or rule.reclined_on or rule.still_on else 0
    falling = rule.free_fall_run + rule.impact_within if rule.free_fall_on else 0
    return rule.prefilter - 1 + (rule.guard + history if history else 0) + falling + rule.settle + observed + 1

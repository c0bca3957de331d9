"""Numbers of the device, of its front end and of the rule that contradict each other: refused or warned, and why.

Numbers of a sleeping device that can be meant but hardly are: each as a sentence with its reason.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from detect.device.energy import battery, memory
from detect.device.energy.budget import Budget, supply_v
from detect.device.energy.bus import EVERY_SAMPLE, frame_ms, samples_a_read
from detect.device.energy.current import BETWEEN, WOKEN, busy_share
from detect.device.part import part
from detect.device.part.modes import (
    FREE_FALL,
    PULSE,
    THRESHOLD,
    modes_of,
    must_run,
    settling_ms,
    time_constant_ms,
)
from detect.device.part.modes import LINES as PART_LINES
from detect.device.part.part import ANALOGUE
from detect.device.quantities import Values
from detect.device.sleep.wake_settings import NEVER, NO_BUFFER, TIMER, depth_of, waking_of
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import BadSetting, Settings

STANDARD_GRAVITY = 9.80665
"""m/s² (ISO 80000-3; 3rd CGPM, 1901)."""


def fall_ms(height_m: float) -> float:
    """How long a body falls freely from a height: 319.3 ms from 0.5 m, 451.6 ms from 1 m."""
    return 1000 * math.sqrt(2 * height_m / STANDARD_GRAVITY)


def wake_warnings(values: Values, front_end: FrontEnd, rule: Rule) -> tuple[str, ...]:
    """A sentence for each contradiction between line, sleep, buffer and what the rule wants."""
    line = values.text("wake.line")
    if line == NEVER:
        return ()
    found = _of_time(line, values, front_end, rule) + _of_level(line, values, front_end)
    return tuple(found + _of_history(line, values, front_end, rule))


def _of_time(line: str, values: Values, front_end: FrontEnd, rule: Rule) -> list[str]:
    number, found = values.number, []
    height, waking = number("wake.fall_m"), number("wake.waking_ms")
    lasts = fall_ms(height)
    said = f"a fall from {height:g} m lasts {lasts:.0f} ms"
    asleep, wanted = number("wake.timer_asleep_ms"), number("wake.free_fall_ms")
    if line == TIMER and asleep >= lasts:
        found.append(f"Asleep for {asleep:g} ms: {said} and would be over.")
    if line == FREE_FALL and wanted >= lasts:
        found.append(f"The line wants {wanted:g} ms of free fall: {said} and never wakes the device.")
    elif line == FREE_FALL and rule.free_fall_on and values.text("wake.buffer") == NO_BUFFER:
        left, needed = lasts - wanted - waking, front_end.ms(rule.free_fall_run)
        if left < needed:
            found.append(f"{said.capitalize()}; after {wanted:g} ms for the line and {waking:g} ms to wake, "
                         f"{max(left, 0):.0f} ms are left, and the rule wants {needed:.0f} ms.")
    look = 1000 / number("wake.line_rate_hz")
    if line != TIMER and look >= lasts:
        found.append(f"Asleep, the part looks every {look:g} ms: {said} and would be over.")
    needs = front_end.ms(rule.impact_within + rule.settle + (rule.observe if rule.observes else 0))
    if line != TIMER and not values.on("wake.finishes") and number("wake.stay_ms") < needs:
        found.append(f"It sleeps {number('wake.stay_ms'):g} ms after the line, but the rule may take {needs:g} ms to "
                     "judge: attempts are judged early, on what there is.")
    return found


def _of_level(line: str, values: Values, front_end: FrontEnd) -> list[str]:
    number, found = values.number, []
    key = {THRESHOLD: "wake.threshold_g", PULSE: "wake.pulse_g"}.get(line, "")
    if key:
        tolerance = 1 + number("wake.threshold_tolerance_pct") / 100
        level, top = number(key), front_end.g(max(-front_end.lowest, front_end.highest))
        offset = number("wake.offset_mg") / 1000
        if level > top:
            found.append(f"{level:g} g is above the range of ±{top:.3g} g: the line never speaks.")
        elif level * tolerance > top:
            found.append(f"{level:g} g within {number('wake.threshold_tolerance_pct'):g} % may be above the range of "
                         f"±{top:.3g} g: of some devices the line never speaks.")
        if level <= 1 + offset:
            found.append(f"An axis at rest reads up to 1 g and {offset * 1000:g} mg of offset: at {level:g} g the line "
                         "may speak all the time.")
    if line == FREE_FALL and number("wake.offset_mg") / 1000 >= number("wake.free_fall_g"):
        found.append(f"An offset of {number('wake.offset_mg'):g} mg alone keeps an axis above "
                     f"{number('wake.free_fall_g'):g} g: the line never speaks.")
    return found


def _of_history(line: str, values: Values, front_end: FrontEnd, rule: Rule) -> list[str]:
    before = max(rule.baseline if rule.tilt_on else 0, rule.active_window if rule.active_on else 0)
    if not before:
        return []
    wanted = front_end.ms(rule.guard + before)
    if values.text("wake.buffer") == NO_BUFFER:
        checks = " and ".join(name for name, on in (("tilt", rule.tilt_on), ("active before", rule.active_on)) if on)
        return [f"After waking nothing is known of before: {checks} passes unchecked until the device was awake for "
                f"{wanted:g} ms."]
    if depth_of(values) == 0:
        return ["An analogue part keeps no samples: it has no buffer that could tell of before."
                if values.text("part.kind") == ANALOGUE else
                "The part's buffer holds no samples: nothing tells of before."]
    if values.number("wake.line_rate_hz") < front_end.rate_hz:
        return [f"Asleep the part takes {values.number('wake.line_rate_hz'):g} samples a second: what its buffer holds "
                f"is of no use to a rule at {front_end.rate_hz:g} Hz."]
    line_ms = values.number("wake.free_fall_ms") if line == FREE_FALL else 0
    held = front_end.ms(depth_of(values))
    if held < wanted + line_ms:
        return [f"The buffer holds {held:g} ms; a before wants {wanted:g} ms ahead of the low row, whose first "
                f"{line_ms:g} ms pass before the line speaks." if line_ms else
                f"The buffer holds {held:g} ms; a before wants {wanted:g} ms."]
    return []


@dataclass(frozen=True)
class Contradiction:
    """`refused`: such a device can't be; else it can, and is likely not what was meant. `keys`: the numbers at odds,
    of the device or of the front end, where they are the budget's."""

    keys: tuple[str, ...]
    sentence: str
    remedy: str
    refused: bool

    def __str__(self) -> str:
        return f"{self.sentence} {self.remedy}".rstrip()


def contradictions(values: Values, front_end: FrontEnd, settings: Settings, found: Budget,
                   alarms_per_day: float = 0.0) -> tuple[Contradiction, ...]:
    """Every one of them, those that refuse first. `found`: the budget of these values at the front end's rate;
    `alarms_per_day`: all the detector raises, cancelled ones among them."""
    every = (*against_budget(values, front_end, found), *_waking(values, front_end, settings),
             *_log(values, front_end, settings, alarms_per_day),
             *(Contradiction((), sentence, "", False) for sentence in part.part_warnings(values, front_end, settings)))
    return tuple(sorted(every, key=lambda one: not one.refused))


def against_budget(values: Values, front_end: FrontEnd, found: Budget) -> tuple[Contradiction, ...]:
    """Those of the budget alone: sleep, its line or settling, bus, processor, radio, battery."""
    unheard = _line(values, front_end)
    return (*_sleep(values, found), *(unheard or _settling(values, front_end)), *_bus(values, front_end.rate_hz, found),
            *_processor(values, found), *_radio(values, found), *_battery(values, found))


def _line(values: Values, front_end: FrontEnd) -> tuple[Contradiction, ...]:
    """Of a device that sleeps until woken: a line that its part lacks, or that contradicts itself."""
    if values.text("current.sleeps") != WOKEN:
        return ()
    try:
        waking_of(values, front_end)
    except BadSetting as bad:
        return (_refused(values, bad),)
    return ()


def _settling(values: Values, front_end: FrontEnd) -> Iterator[Contradiction]:
    """A part that sleeps must be right again before it is read."""
    sleeps, line = values.text("current.sleeps"), values.text("wake.line")
    if sleeps == BETWEEN:
        on_ms, key = values.number("current.waking_ms") + values.number("current.awake_ms"), "current.waking_ms"
    elif sleeps == WOKEN and line != NEVER and not must_run(values, line):
        on_ms, key = values.number("wake.waking_ms"), "wake.waking_ms"
    else:
        return
    needed, tau = settling_ms(values, front_end), time_constant_ms(values, front_end)
    if needed <= on_ms * (1 + 1e-9):
        return
    bits = round(values.number("analog.converter_bits")) if values.text("part.kind") == ANALOGUE else front_end.bits
    of_filter = f"; its filter's τ is {tau:.3g} ms" if tau else ""
    period = f", longer than the {1000 / front_end.rate_hz:g} ms between samples" \
        if sleeps == BETWEEN and needed > 1000 / front_end.rate_hz else ""
    yield Contradiction((key, "modes.turn_on_ms"),
                        f"After sleep the part needs {needed:.3g} ms to come within half a step of {bits} bits{period}"
                        f"{of_filter}; it is read after {on_ms:.3g} ms.",
                        "Let it run, give it that time, or take a faster filter.", True)


def _waking(values: Values, front_end: FrontEnd, settings: Settings) -> Iterator[Contradiction]:
    """Of a device that sleeps until woken: what its line or timer can't do."""
    if values.text("current.sleeps") != WOKEN or _line(values, front_end):
        return
    if values.text("wake.line") in PART_LINES and must_run(values, values.text("wake.line")):
        running, asleep = modes_of(values)
        yield Contradiction(("current.sleeps", "part.kind"),
                            "Asleep the part hears nothing: its line is off then. It runs, and only the processor "
                            "sleeps.", f"Counted with {running.ua:g} µA, not {asleep.ua:g} µA.", False)
    for sentence in wake_warnings(values, front_end, rule_of(settings, front_end)):
        yield Contradiction((), sentence, "", False)


def _log(values: Values, front_end: FrontEnd, settings: Settings, alarms_per_day: float) -> Iterator[Contradiction]:
    """Of the event log."""
    try:
        log = memory.memory_of(values, front_end, alarms_per_day)
    except BadSetting as bad:
        yield _refused(values, bad)
    else:
        years = values.number("memory.retention_years")
        if math.isfinite(log.turn_years) and log.turn_years > years:
            yield Contradiction(("memory.retention_years", "memory.kib"),
                                f"At {log.records_per_day:.3g} records a day the oldest of the log is written over "
                                f"after {log.turn_years:.3g} years, and can be read for {years:g}.",
                                "Read the log out before, or take a smaller memory.", False)
    for sentence in memory.memory_warnings(values, front_end, rule_of(settings, front_end)):
        yield Contradiction((), sentence, "", False)


def _refused(values: Values, bad: BadSetting) -> Contradiction:
    row = values.row(bad.key)
    value = f"{bad.value:g} {row.unit}" if isinstance(bad.value, int | float) else f'"{bad.value}"'
    said = f"{row.title.capitalize()} {value} {bad.message}"
    return Contradiction((bad.key,), said, bad.remedy, True)


def _sleep(values: Values, found: Budget) -> Iterator[Contradiction]:
    sleeping, between = found.sleeping, values.text("current.sleeps") == BETWEEN
    duty = sleeping.awake + sleeping.waking
    if duty > 1 + 1e-12:
        keys = ("current.awake_ms", "current.waking_ms", "rate_hz") if between \
            else ("current.awake_pct", "current.wakes_per_hour", "wake.waking_ms")
        less = "lower the rate" if between else "wake less often"
        yield Contradiction(keys, f"Awake and waking take {100 * duty:.4g} % of the time: a duty cycle over 1.",
                            f"Shorten them, or {less}.", True)


def _bus(values: Values, rate_hz: float, found: Budget) -> Iterator[Contradiction]:
    bus = found.bus
    if bus.highest_hz < rate_hz:
        what = "converter" if found.bus.bits == 0 else "bus"
        yield Contradiction(("bus.convert_us" if what == "converter" else "bus.kind", "rate_hz"),
                            f"The {what} is too slow: a sample takes {bus.sample_us:.4g} µs, so it bears "
                            f"{bus.highest_hz:.4g} samples a second at most, not {rate_hz:g}.",
                            f"Take a faster {what}, longer reads or a lower rate.", True)
    watermark, depth = samples_a_read(values), values.number("digital.buffer")
    if watermark > max(depth, 1):
        yield Contradiction(("wake.watermark_samples", "digital.buffer"),
                            f"The buffer is shorter than the sleep: {watermark:g} samples pass between two reads, and "
                            f"it keeps {depth:g}.", "Read more often, or take a part with a deeper buffer.", True)


def _processor(values: Values, found: Budget) -> Iterator[Contradiction]:
    busy = busy_share(values, found.sleeping.samples_per_s, found.bus.share)
    if busy > 1:
        yield Contradiction(("processor.instructions", "processor.clock_mhz"),
                            f"The processor would run {100 * busy:.4g} % of the time: the samples come faster.",
                            "Take a faster clock, fewer cycles or a lower rate.", True)


def _radio(values: Values, found: Budget) -> Iterator[Contradiction]:
    if values.text("radio.sends") == EVERY_SAMPLE:
        yield from _every_sample(values, found)
    every, frames_ms = values.number("radio.duty_pct") / 100, frame_ms(values, values.number("radio.message_bytes"))
    burst = values.number("life.sends") * frames_ms / 3.6e6
    if burst > every:
        yield Contradiction(("radio.duty_pct", "life.sends"),
                            f"The sends of one alarm are {values.number('life.sends') * frames_ms:.4g} ms in the air, "
                            f"more than {100 * every:g} % of an hour.", "Send less often, or a shorter message.", True)


def _every_sample(values: Values, found: Budget) -> Iterator[Contradiction]:
    radio = found.radio
    if radio.packet_samples < 1:
        yield Contradiction(("radio.payload_bytes", "bus.sample_bytes"),
                            f"A payload of {values.number('radio.payload_bytes'):g} bytes holds no sample of "
                            f"{values.number('bus.sample_bytes'):g}.", "Take a larger payload.", True)
        return
    if radio.exchange_ms > values.number("radio.slot_ms"):
        yield Contradiction(("radio.slot_ms", "radio.payload_bytes", "radio.bit_rate_kbps"),
                            f"A packet is {radio.air_ms:.4g} ms in the air, {radio.exchange_ms:.4g} ms with turnaround "
                            f"and the link's answer, longer than its slot of {values.number('radio.slot_ms'):g} ms.",
                            "Take a longer slot or a smaller payload.", True)
    many = f"The slots of {values.number('radio.nodes'):g} nodes take {100 * radio.slots:.4g} % of the receiver's time"
    if radio.slots > 1 + 1e-12:
        yield Contradiction(("radio.nodes", "radio.slot_ms"), f"{many}; it bears {radio.nodes}.",
                            "Take fewer nodes, shorter slots or larger payloads.", True)
    elif radio.slots > SLOTS_FOR_DATA + 1e-12:
        yield Contradiction(("radio.nodes", "radio.slot_ms"),
                            f"{many}: the rest must hold every retry, and everything that was lost together when the "
                            "receiver was away.", "Leave half of the slots free.", False)


SLOTS_FOR_DATA = 0.5
"""Share of the slots for what is sent once. Common practice, no source. Slots that nobody hands out carry no more than
1/e, 37 % (slotted ALOHA; Roberts 1972, from memory)."""


def _battery(values: Values, found: Budget) -> Iterator[Contradiction]:
    ends = found.cut_off
    if ends.left >= 1:
        yield Contradiction(("battery.voltage_v", "battery.resistance_ohm"),
                            f"A full battery's {values.number('battery.voltage_v'):g} V less {ends.sag_v:.3g} V under "
                            f"the largest draw are below the {ends.needs_v:g} V that the {ends.whom} needs.",
                            "Take a larger capacitor or another battery, or what works from less.", True)
        return
    if battery.usable_mah(values, ends.left) <= 0:
        yield Contradiction(("battery.charge_pct", "battery.cut_off_pct"),
                            f"The battery is empty: charged to {values.number('battery.charge_pct'):g} %, and "
                            f"the device stops at {100 * ends.left:.3g} %.", "Charge it further, or let it run lower.",
                            True)
        return
    if not ends.typed:
        yield Contradiction(("battery.cut_off_pct", "battery.resistance_ohm"),
                            f"With {100 * ends.left:.3g} % of the charge left the voltage, less {ends.sag_v:.3g} V "
                            f"under the largest draw, is below the {ends.needs_v:g} V that the {ends.whom} needs; "
                            f"{values.number('battery.cut_off_pct'):g} % are given as left at cut-off.",
                            "The earlier end is counted.", False)
    wanted = values.number("battery.wanted_days")
    if found.days < wanted:
        yield Contradiction(("battery.wanted_days", "battery.capacity_mah"),
                            f"The battery is empty after {found.days:.3g} days, {wanted:g} are wanted.",
                            f"{found.dominant.name.capitalize()} takes most: begin there.", False)
    peak = battery.peak_ma(values)
    if peak > values.number("battery.peak_ma"):
        yield Contradiction(("battery.peak_ma", "radio.on_ma"),
                            f"Radio, processor and sensor together draw {peak:.3g} mA, the battery gives "
                            f"{values.number('battery.peak_ma'):g} mA at once.",
                            "Put a capacitor beside it, or take a weaker radio.", False)
    fed, described = supply_v(values), values.number("analog.supply_v")
    if values.text("part.kind") == ANALOGUE and values.text("battery.regulator") != battery.NO_REGULATOR \
            and abs(fed - described) > 0.05:
        yield Contradiction(("analog.supply_v", "battery.regulator_v"),
                            f"The part is described at {described:g} V, and the regulator feeds it {fed:g} V.",
                            "Write the same supply in both.", False)

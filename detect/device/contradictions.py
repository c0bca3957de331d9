"""Numbers of the device, of its front end and of the rule that contradict each other: refused or warned, and why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from detect.device import battery, memory, part, wake_doubts
from detect.device.budget import Budget
from detect.device.bus import EVERY_SAMPLE, samples_a_read
from detect.device.current import BETWEEN, WOKEN, busy_share
from detect.device.values import Values
from detect.device.wake import waking_of
from detect.frontend import FrontEnd
from detect.rule import rule_of
from detect.settings import BadSetting, Settings


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


def contradictions(values: Values, front_end: FrontEnd, settings: Settings, found: Budget) -> tuple[Contradiction, ...]:
    """Every one of them, those that refuse first. `found`: the budget of these values at the front end's rate."""
    every = (*against_budget(values, front_end.rate_hz, found), *_waking(values, front_end, settings),
             *_log(values, front_end, settings),
             *(Contradiction((), sentence, "", False) for sentence in part.doubts(values, front_end, settings)))
    return tuple(sorted(every, key=lambda one: not one.refused))


def against_budget(values: Values, rate_hz: float, found: Budget) -> tuple[Contradiction, ...]:
    """Those of the budget alone: sleep, bus, processor, radio, battery."""
    return (*_sleep(values, found), *_bus(values, rate_hz, found), *_processor(values, found), *_radio(values, found),
            *_battery(values, found))


def _waking(values: Values, front_end: FrontEnd, settings: Settings) -> Iterator[Contradiction]:
    """Of a device that sleeps until woken: what its line or timer can't do."""
    if values.text("current.sleeps") != WOKEN:
        return
    try:
        waking_of(values, front_end)
    except BadSetting as bad:
        yield _refused(values, bad)
    for sentence in wake_doubts.doubts(values, front_end, rule_of(settings, front_end)):
        yield Contradiction((), sentence, "", False)


def _log(values: Values, front_end: FrontEnd, settings: Settings) -> Iterator[Contradiction]:
    """Of the event log."""
    try:
        memory.memory_of(values, front_end)
    except BadSetting as bad:
        yield _refused(values, bad)
    for sentence in memory.doubts(values, front_end, rule_of(settings, front_end)):
        yield Contradiction((), sentence, "", False)


def _refused(values: Values, bad: BadSetting) -> Contradiction:
    row = values.row(bad.key)
    said = f"{row.title.capitalize()} {bad.value:g} {row.unit} {bad.message}"
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
    if values.text("radio.sends") != EVERY_SAMPLE:
        return
    radio = found.radio
    if radio.packet_samples < 1:
        yield Contradiction(("radio.payload_bytes", "bus.sample_bytes"),
                            f"A payload of {values.number('radio.payload_bytes'):g} bytes holds no sample of "
                            f"{values.number('bus.sample_bytes'):g}.", "Take a larger payload.", True)
        return
    if radio.air_ms > values.number("radio.slot_ms"):
        yield Contradiction(("radio.slot_ms", "radio.payload_bytes", "radio.bit_rate_kbps"),
                            f"A packet is {radio.air_ms:.4g} ms in the air, longer than its slot of "
                            f"{values.number('radio.slot_ms'):g} ms.", "Take a longer slot or a smaller payload.", True)
    if radio.slots > 1 + 1e-12:
        yield Contradiction(("radio.nodes", "radio.slot_ms"),
                            f"The slots of {values.number('radio.nodes'):g} nodes take {100 * radio.slots:.4g} % of "
                            f"the receiver's time; it bears {radio.nodes}.",
                            "Take fewer nodes, shorter slots or larger payloads.", True)


def _battery(values: Values, found: Budget) -> Iterator[Contradiction]:
    usable = battery.usable_mah(values)
    if usable <= 0:
        yield Contradiction(("battery.charge_pct", "battery.cut_off_pct"),
                            f"The battery is empty: charged to {values.number('battery.charge_pct'):g} %, and the "
                            f"device stops at {values.number('battery.cut_off_pct'):g} %.",
                            "Charge it further, or let it run lower.", True)
        return
    wanted = values.number("battery.wanted_days")
    if found.days < wanted:
        yield Contradiction(("battery.wanted_days", "battery.capacity_mah"),
                            f"The battery is empty after {found.days:.3g} days, {wanted:g} are wanted.",
                            f"{found.dominant.name.capitalize()} takes most: begin there.", False)
    running_ma = values.number("processor.clock_mhz") * values.number("processor.ua_per_mhz") / 1000
    peak = values.number("radio.on_ma") + running_ma + values.number("current.running_ua") / 1000
    if peak > values.number("battery.peak_ma"):
        yield Contradiction(("battery.peak_ma", "radio.on_ma"),
                            f"Radio, processor and sensor together draw {peak:.3g} mA, the battery gives "
                            f"{values.number('battery.peak_ma'):g} mA at once.",
                            "Put a capacitor beside it, or take a weaker radio.", False)

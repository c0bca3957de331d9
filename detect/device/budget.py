"""The budget: every consumer's mean current, how long the battery lasts, and what takes most of it."""

from __future__ import annotations

from dataclasses import dataclass

from detect.device import battery, wake
from detect.device.bus import EVERY_SAMPLE, BusLoad, RadioLoad, bus_load, lines_ua, radio_load
from detect.device.current import BETWEEN, NEVER, WOKEN, Sleep, busy_share, sensor_ua, sleep
from detect.device.values import Values

HOUR_S = 3600.0

CONSUMERS = ("sensor running", "sensor waking", "sensor asleep", "processor running", "processor asleep",
             "bus or converter", "radio, alarms", "radio, signs of life", "radio, samples", "everything else")


@dataclass(frozen=True)
class Consumer:
    """A mean current and its share of the whole."""

    name: str
    ua: float
    share: float


@dataclass(frozen=True)
class Budget:
    """What a device draws in the mean. `processor_share`: of the time that the processor runs. `alarm_uah`: charge that
    the radio takes for one alarm; `alive_uah` for a day's signs of life."""

    consumers: tuple[Consumer, ...]
    mean_ua: float
    days: float
    sleeping: Sleep
    processor_share: float
    bus: BusLoad
    radio: RadioLoad
    alarms_per_day: float
    alarm_uah: float
    alive_uah: float

    @property
    def dominant(self) -> Consumer:
        return max(self.consumers, key=lambda one: one.ua)

    def share(self, *starts: str) -> float:
        """Of all consumers whose name begins so."""
        return sum(one.share for one in self.consumers if one.name.startswith(starts))


def budget(values: Values, rate_hz: float, alarms_per_day: float) -> Budget:
    """The budget at a rate and so many alarms a day. Whether its numbers contradict each other is not asked here."""
    sleeping = sleep(values, rate_hz)
    samples = sleeping.samples_per_s
    bus, radio = bus_load(values, samples, rate_hz), radio_load(values, rate_hz)
    busy = min(busy_share(values, samples, bus.share), 1.0)
    running, waking, asleep = sensor_ua(values, sleeping)
    on_ua = 1000 * values.number("radio.on_ma")
    alarm_uah = on_ua * values.number("radio.alarm_ms") / 1000 / HOUR_S
    alive_uah = on_ua * values.number("radio.alive_ms") / 1000 / HOUR_S * values.number("radio.alive_per_day")
    sends = values.text("radio.sends") == EVERY_SAMPLE
    sent = samples / max(radio.packet_samples, 1) * radio.air_ms / 1000 if sends else 0.0
    drawn = (running, waking, asleep,
             busy * values.number("processor.clock_mhz") * values.number("processor.ua_per_mhz"),
             (1 - busy) * values.number("processor.asleep_ua"),
             bus.share * lines_ua(values, values.number("battery.voltage_v")),
             alarms_per_day * alarm_uah / 24, alive_uah / 24, sent * on_ua, values.number("current.rest_ua"))
    mean = sum(drawn)
    consumers = tuple(Consumer(name, ua, ua / mean) for name, ua in zip(CONSUMERS, drawn, strict=True))
    return Budget(consumers, mean, battery.days(values, mean), sleeping, busy, bus, radio, alarms_per_day,
                  alarm_uah, alive_uah)


def sent_share(values: Values) -> float:
    """Of false alarms the share that is sent: not cancelled by the wearer, or too late. Presses are spread evenly from
    half the time to press to one and a half."""
    in_time = values.number("life.cancel_s") / values.number("life.press_s") - 0.5
    return 1 - values.number("life.others_cancelled_pct") / 100 * min(max(in_time, 0.0), 1.0)


def with_duty(values: Values, rate_hz: float, duty: float) -> Values:
    """The same device, awake for a share of the time from 0 to 1: between samples where it sleeps so, else until
    woken by a line."""
    if duty == 1:
        return values.with_value("current.sleeps", NEVER)
    if values.text("current.sleeps") == BETWEEN:
        return values.with_value("current.awake_ms", 1000 * duty / rate_hz)
    if values.text("wake.line") in (wake.NEVER, wake.TIMER):
        values = values.with_value("wake.line", wake.FREE_FALL)
    return values.with_value("current.sleeps", WOKEN).with_value("current.awake_pct", 100 * duty)

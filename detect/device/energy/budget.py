"""The budget: every consumer's mean current, how long the battery lasts, and what takes most of it.

And how long it takes from the impact, not from the alarm, until a station knows: what a person on the floor
waits for.
"""

from __future__ import annotations

from dataclasses import dataclass

from detect.device.energy import battery
from detect.device.energy.battery import CutOff
from detect.device.energy.bus import (
    EVERY_SAMPLE,
    BusLoad,
    RadioLoad,
    bus_load,
    lines_ua,
    radio_load,
    samples_a_read,
    send_mams,
)
from detect.device.energy.current import BETWEEN, NEVER, WOKEN, Sleep, busy_share, sensor_ua, sleep
from detect.device.energy.life import expected_sends
from detect.device.part.modes import FREE_FALL
from detect.device.quantities import Values
from detect.device.sleep import wake_settings
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import BadSetting, Settings

HOUR_S = 3600.0

CONSUMERS = ("sensor running", "sensor waking", "sensor asleep", "processor running", "processor asleep",
             "bus or converter", "radio, alarms", "radio, heartbeats", "radio, samples", "regulator", "everything else")


@dataclass(frozen=True)
class Consumer:
    """A mean current and its share of the whole."""

    name: str
    ua: float
    share: float


@dataclass(frozen=True)
class Budget:
    """What a device draws from its battery in the mean. `processor_share`: of the time that the processor runs.
    `alarm_uah`: charge that the radio takes for one alarm, `alarm_sends` times sent in the mean; `alive_uah` for a
    day's heartbeats. `cut_off`: where the battery ends."""

    consumers: tuple[Consumer, ...]
    mean_ua: float
    days: float
    sleeping: Sleep
    processor_share: float
    bus: BusLoad
    radio: RadioLoad
    alarms_per_day: float
    alarm_uah: float
    alarm_sends: float
    alive_uah: float
    cut_off: CutOff

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
    sends = expected_sends(values)
    alarm_uah = alarm_mams(values, sends) / HOUR_S
    alive_uah = send_mams(values) / HOUR_S * values.number("radio.alive_per_day")
    every = values.text("radio.sends") == EVERY_SAMPLE
    packets_per_s = samples / max(radio.packet_samples, 1) if every else 0.0
    drawn = (running, waking, asleep,
             busy * values.number("processor.clock_mhz") * values.number("processor.ua_per_mhz"),
             (1 - busy) * values.number("processor.asleep_ua"),
             bus.share * lines_ua(values, supply_v(values)), alarms_per_day * alarm_uah / 24, alive_uah / 24,
             packets_per_s * send_mams(values, values.number("radio.payload_bytes")), 0.0,
             values.number("current.rest_ua"))
    share = battery.current_share(values)
    own = 0.0 if values.text("battery.regulator") == battery.NO_REGULATOR else values.number("battery.regulator_ua")
    taken = [own if name == "regulator" else ua * share for name, ua in zip(CONSUMERS, drawn, strict=True)]
    mean = sum(taken)
    consumers = tuple(Consumer(name, ua, ua / mean) for name, ua in zip(CONSUMERS, taken, strict=True))
    ends = battery.cut_off(values, radio.exchange_ms)
    return Budget(consumers, mean, battery.days(values, mean, ends.left), sleeping, busy, bus, radio, alarms_per_day,
                  alarm_uah * share, sends, alive_uah * share, ends)


def supply_v(values: Values) -> float:
    """What the bus is fed."""
    regulated = values.text("battery.regulator") != battery.NO_REGULATOR
    return values.number("battery.regulator_v" if regulated else "battery.voltage_v")


def alarm_mams(values: Values, sends: float) -> float:
    """Charge of one alarm in mA·ms: every send with its answer from the link, and listening in windows for the
    station's own acknowledgement, until it comes or the alarm is sent again."""
    number = values.number
    waits_ms = 1000 * ((sends - 1) * number("life.resend_s") + min(number("life.answer_s"), number("life.resend_s")))
    listens = number("radio.window_ms") / max(number("radio.window_every_ms"), number("radio.window_ms"))
    return sends * send_mams(values) + waits_ms * listens * number("radio.receive_ma")


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
    if values.text("wake.line") in (wake_settings.NEVER, wake_settings.TIMER):
        values = values.with_value("wake.line", FREE_FALL)
    return values.with_value("current.sleeps", WOKEN).with_value("current.awake_pct", 100 * duty)


@dataclass(frozen=True)
class Response:
    """Seconds that follow each other: settling and observing, the wait until the processor has the samples, the time to
    cancel, the answer of a station in reach."""

    judged_s: float
    waits_s: float
    cancel_s: float
    answer_s: float

    @property
    def whole_s(self) -> float:
        return self.judged_s + self.waits_s + self.cancel_s + self.answer_s


def response(values: Values, front_end: FrontEnd, settings: Settings,
             later_ms: float | None = None) -> Response | None:
    """None where the rule can't run on the sensor. `later_ms`: of a device that sleeps how much later than the sample
    that decides it knows, its buffer waited for; of one that never sleeps the wait is that of its buffer's watermark.
    """
    try:
        rule = rule_of(settings, front_end)
    except BadSetting:
        return None
    judged = rule.settle + (rule.observe if rule.observes else 0)
    waits_s = (samples_a_read(values) - 1) / front_end.rate_hz if later_ms is None else later_ms / 1000
    return Response(front_end.ms(judged) / 1000, waits_s, values.number("life.cancel_s"),
                    values.number("life.answer_s"))


def response_s(values: Values, front_end: FrontEnd, settings: Settings, later_ms: float | None = None) -> float | None:
    """The whole of it."""
    found = response(values, front_end, settings, later_ms)
    return None if found is None else found.whole_s

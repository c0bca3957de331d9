"""The sensor's and the processor's current: running, asleep, waking; and when the device sleeps."""

from __future__ import annotations

from dataclasses import dataclass

from detect.device.energy.bus import samples_a_read
from detect.device.part.modes import must_run
from detect.device.quantities import Values, rows_of
from detect.device.sleep import wake_settings

NEVER, BETWEEN, WOKEN = "never", "between samples", "until woken"


QUANTITIES = (*rows_of("current", {"current.sleeps": (NEVER, BETWEEN, WOKEN)}), *rows_of("processor"))


@dataclass(frozen=True)
class Sleep:
    """Shares of the time that the sensor is awake and waking, how many samples a second come of it, how often a second
    it wakes, and how long it sleeps at a stretch where that is known. `runs_on`: the sensor has to run all the same,
    because its line is off while it sleeps."""

    awake: float
    waking: float
    samples_per_s: float
    wakes_per_s: float
    stretch_ms: float | None
    runs_on: bool = False


def sleep(values: Values, rate_hz: float) -> Sleep:
    """How the sensor sleeps. `awake` + `waking` over 1 contradicts itself, see `contradictions`."""
    kind, line, number = values.text("current.sleeps"), values.text("wake.line"), values.number
    if kind == NEVER or (kind == WOKEN and line == wake_settings.NEVER):
        return Sleep(1.0, 0.0, rate_hz, 0.0, 0.0)
    if kind == BETWEEN:
        awake, waking = (number(key) * rate_hz / 1000 for key in ("current.awake_ms", "current.waking_ms"))
        return Sleep(awake, waking, rate_hz, rate_hz, max(1 - awake - waking, 0.0) * 1000 / rate_hz)
    waking_ms = number("wake.waking_ms")
    if line == wake_settings.TIMER:
        asleep_ms, awake_ms = number("wake.timer_asleep_ms"), number("wake.timer_awake_ms")
        turn_ms = asleep_ms + waking_ms + awake_ms
        awake = awake_ms / turn_ms
        return Sleep(awake, waking_ms / turn_ms, rate_hz * awake, 1000 / turn_ms, asleep_ms)
    awake, wakes = number("current.awake_pct") / 100, number("current.wakes_per_hour") / 3600
    return Sleep(awake, wakes * waking_ms / 1000, rate_hz * awake, wakes, None, must_run(values, line))


def sensor_ua(values: Values, sleeping: Sleep) -> tuple[float, float, float]:
    """The sensor's mean current in its three states: running, waking, asleep."""
    if sleeping.runs_on:
        return values.number("current.running_ua"), 0.0, 0.0
    asleep = max(1 - sleeping.awake - sleeping.waking, 0.0)
    return (sleeping.awake * values.number("current.running_ua"), sleeping.waking * values.number("current.waking_ua"),
            asleep * values.number("current.asleep_ua"))


def busy_share(values: Values, samples_per_s: float, bus_share: float) -> float:
    """Share of the time that the processor runs: the rule, waking for each read, and waiting for the bus."""
    rule_s = values.number("processor.instructions") * values.number("processor.cycles") \
        / (1e6 * values.number("processor.clock_mhz"))
    waking_s = values.number("processor.waking_us") / 1e6 / samples_a_read(values)
    return samples_per_s * (rule_s + waking_s) + (bus_share if values.on("processor.waits_on") else 0.0)

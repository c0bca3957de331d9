"""The sensor's and the processor's current: running, asleep, waking; and when the device sleeps."""

from __future__ import annotations

from dataclasses import dataclass

from detect.device.energy.bus import samples_a_read
from detect.device.part.modes import must_run
from detect.device.quantities import FROM_MEMORY, PRACTICE, Quantity, Values, choice, switch
from detect.device.sleep import wake_settings

NEVER, BETWEEN, WOKEN = "never", "between samples", "until woken"

MEASURED = "measured, emulated 32-bit core"
"""Instructions a sample are counted, on the exported C at its default settings; `tests/bench/bench_firmware.py`."""

QUANTITIES: tuple[Quantity, ...] = (
    choice("current.sleeps", (NEVER, BETWEEN, WOKEN), NEVER, "device sleeps",
           "Never; the sensor by itself between any two samples; or sensor and processor until woken, by a line of the "
           "part or by a timer as the topic Sleep says.", PRACTICE),
    Quantity("current.running_ua", "µA", 180, 0, 100_000, "sensor running",
             "The sensor while it measures.", FROM_MEMORY),
    Quantity("current.asleep_ua", "µA", 3, 0, 100_000, "sensor asleep",
             "The sensor while it does not measure for the rule; what still works then is said under Part.",
             FROM_MEMORY),
    Quantity("current.waking_ua", "µA", 180, 0, 100_000, "sensor waking up",
             "The sensor from sleep to its first good sample.",
             FROM_MEMORY),
    Quantity("current.waking_ms", "ms", 0.5, 0, 10_000, "sensor wake-up time",
             "How long the sensor takes to its first good sample between samples; until woken it is the wake-up time "
             "of the topic Sleep.",
             FROM_MEMORY),
    Quantity("current.awake_ms", "ms", 0.5, 0.001, 600_000, "measuring time a sample",
             "Between samples: measuring for so long, waking not counted.", FROM_MEMORY),
    Quantity("current.awake_pct", "%", 10, 0, 100, "share of time awake",
             "Until woken by a line: awake for this share of a day; can be taken from the recordings.", PRACTICE),
    Quantity("current.wakes_per_hour", "an hour", 20, 0, 1_000_000, "wake-ups an hour",
             "Until woken by a line: so often; can be taken from the recordings.", PRACTICE),
    Quantity("current.lowest_v", "V", 1.8, 0.5, 60, "sensor's lowest supply", "The lowest supply the sensor works at.",
             FROM_MEMORY),
    Quantity("current.rest_ua", "µA", 2, 0.001, 1_000_000, "rest of the circuit",
             "Always drawn: regulator, clock, leakage.", FROM_MEMORY),
    Quantity("processor.instructions", "", 129, 0, 10_000_000, "instructions a sample",
             "In the mean, at the default settings; 176 with every check on, 234 with a pre-filter of 8 as well.",
             MEASURED),
    Quantity("processor.cycles", "", 1.5, 0.1, 100, "cycles an instruction",
             "Assumed: an emulator counts instructions, not cycles.", FROM_MEMORY),
    Quantity("processor.clock_mhz", "MHz", 16, 0.001, 5000, "processor clock",
             "Cycles a second while it runs.", PRACTICE),
    Quantity("processor.ua_per_mhz", "µA/MHz", 150, 0, 100_000, "current per MHz, running",
             "The processor while it runs.",
             FROM_MEMORY),
    Quantity("processor.asleep_ua", "µA", 1.5, 0, 100_000, "processor asleep", "Its memory kept, its clock stopped.",
             FROM_MEMORY),
    Quantity("processor.lowest_v", "V", 1.8, 0.5, 60, "processor's lowest supply",
             "The lowest supply the processor works at.", FROM_MEMORY),
    Quantity("processor.waking_us", "µs", 20, 0, 1_000_000, "wake-up time a read",
             "Running before and after the work: interrupt, clock, driver. Once for every read of the bus.",
             FROM_MEMORY),
    switch("processor.waits_on", True, "runs during a bus read", "Running while samples are read; off: they come by "
           "themselves (DMA) while it sleeps.", PRACTICE),
)


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

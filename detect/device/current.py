"""The sensor's and the processor's current: running, asleep, waking; and when the device sleeps."""

from __future__ import annotations

from dataclasses import dataclass

from detect.device.values import FROM_MEMORY, PRACTICE, Quantity, Values, choice, switch

NEVER, BY_CLOCK, UNTIL_WOKEN = "never", "by the clock", "until woken"

MEASURED = "measured, emulated Cortex-M3"
"""Instructions a sample are counted, on the exported C at its default settings; `tests/bench/bench_firmware.py`."""

QUANTITIES: tuple[Quantity, ...] = (
    choice("current.sleeps", (NEVER, BY_CLOCK, UNTIL_WOKEN), NEVER, "sensor sleeps",
           "Never; awake for a moment in every period; or until its own interrupt wakes it.", PRACTICE),
    Quantity("current.running_ua", "µA", 180, 0, 100_000, "running", "The sensor while it measures.", FROM_MEMORY),
    Quantity("current.asleep_ua", "µA", 3, 0, 100_000, "asleep",
             "The sensor while it does not measure, its own interrupt on watch where that wakes it.", FROM_MEMORY),
    Quantity("current.waking_ua", "µA", 180, 0, 100_000, "waking", "The sensor from sleep to its first good sample.",
             FROM_MEMORY),
    Quantity("current.waking_ms", "ms", 1, 0, 10_000, "waking for", "How long that takes, each time.", FROM_MEMORY),
    Quantity("current.awake_ms", "ms", 1, 0.001, 600_000, "awake for",
             "Asleep by the clock: it measures for so long in every period, waking not counted.", PRACTICE),
    Quantity("current.period_ms", "ms", 20, 0.001, 3_600_000, "in every", "The period of sleeping by the clock.",
             PRACTICE),
    Quantity("current.awake_pct", "%", 10, 0, 100, "awake", "Asleep until woken: awake for this share of a day.",
             PRACTICE),
    Quantity("current.wakings_per_day", "a day", 500, 0, 10_000_000, "wakings",
             "Asleep until woken: how often a day it is woken.", PRACTICE),
    Quantity("current.fall_m", "m", 0.5, 0.01, 10, "shortest fall",
             "A device that sleeps longer than a fall from here lasts can miss all of it.", PRACTICE),
    Quantity("current.rest_ua", "µA", 2, 0.001, 1_000_000, "everything else",
             "Always drawn: regulator, clock, leakage.", FROM_MEMORY),
    Quantity("processor.instructions", "", 131, 0, 10_000_000, "instructions a sample",
             "In the mean, at the default settings; 178 with every check on, 236 with a pre-filter of 8 as well.",
             MEASURED),
    Quantity("processor.cycles", "", 1.5, 0.1, 100, "cycles an instruction",
             "Assumed: an emulator counts instructions, not cycles.", FROM_MEMORY),
    Quantity("processor.clock_mhz", "MHz", 16, 0.001, 5000, "clock", "Cycles a second while it runs.", PRACTICE),
    Quantity("processor.ua_per_mhz", "µA/MHz", 150, 0, 100_000, "running, a MHz", "The processor while it runs.",
             FROM_MEMORY),
    Quantity("processor.asleep_ua", "µA", 1.5, 0, 100_000, "processor asleep", "Its memory kept, its clock stopped.",
             FROM_MEMORY),
    Quantity("processor.waking_us", "µs", 20, 0, 1_000_000, "to wake, a read",
             "Running before and after the work: interrupt, clock, driver. Once for every read of the bus.",
             FROM_MEMORY),
    switch("processor.waits_on", True, "waits for the bus", "Running while samples are read; off: they come by "
           "themselves (DMA) while it sleeps.", PRACTICE),
)


@dataclass(frozen=True)
class Sleep:
    """Shares of the time that the sensor is awake and waking, how many samples a second come of it, how often a second
    it wakes, and how long it sleeps at a stretch (0: never, or nobody knows)."""

    awake: float
    waking: float
    samples_per_s: float
    wakings_per_s: float
    stretch_ms: float


def sleep(values: Values, rate_hz: float) -> Sleep:
    """How the sensor sleeps. `awake` + `waking` over 1 contradicts itself, see `contradictions`."""
    kind, waking_ms = values.text("current.sleeps"), values.number("current.waking_ms")
    if kind == NEVER:
        return Sleep(1.0, 0.0, rate_hz, 0.0, 0.0)
    if kind == BY_CLOCK:
        awake_ms, period_ms = values.number("current.awake_ms"), values.number("current.period_ms")
        a_period = max(1.0, awake_ms * rate_hz / 1000)
        samples = min(rate_hz, a_period * 1000 / period_ms)
        return Sleep(awake_ms / period_ms, waking_ms / period_ms, samples, 1000 / period_ms,
                     max(period_ms - awake_ms - waking_ms, 0.0))
    awake, wakings = values.number("current.awake_pct") / 100, values.number("current.wakings_per_day") / 86_400
    return Sleep(awake, wakings * waking_ms / 1000, rate_hz * awake, wakings, 0.0)


def sensor_ua(values: Values, sleeping: Sleep) -> tuple[float, float, float]:
    """The sensor's mean current in its three states: running, waking, asleep."""
    asleep = max(1 - sleeping.awake - sleeping.waking, 0.0)
    return (sleeping.awake * values.number("current.running_ua"), sleeping.waking * values.number("current.waking_ua"),
            asleep * values.number("current.asleep_ua"))


def busy_share(values: Values, samples_per_s: float, bus_share: float) -> float:
    """Share of the time that the processor runs: the rule, waking for each read, and waiting for the bus."""
    rule_s = values.number("processor.instructions") * values.number("processor.cycles") \
        / (1e6 * values.number("processor.clock_mhz"))
    waking_s = values.number("processor.waking_us") / 1e6 / values.number("bus.burst_samples")
    return samples_per_s * (rule_s + waking_s) + (bus_share if values.on("processor.waits_on") else 0.0)

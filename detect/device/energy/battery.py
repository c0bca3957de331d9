"""The battery: what of its charge a device can use, at which temperature, down to which voltage; how long that lasts.

A model for comparing devices, not a cell's data sheet: its open voltage stays where it is until most of the charge is
gone and then falls in a straight line; a draw lets it sag by its internal resistance; cold takes charge and adds
resistance. The device ends where the sagging voltage is below what its neediest consumer works at. Charge and end start
as IEC 60086-2 states lithium coin cells (from memory): at a discharge of some 0.2 mA to 2.0 V at 20 °C.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from detect.device.quantities import Values, rows_of

NO_REGULATOR, LINEAR, SWITCHING = "none", "linear", "switching"


QUANTITIES = rows_of("battery", {"battery.regulator": (NO_REGULATOR, LINEAR, SWITCHING)})

HOURS_A_YEAR = 365.25 * 24

WORKS_FROM = (("sensor", "current.lowest_v"), ("processor", "processor.lowest_v"), ("radio", "radio.lowest_v"),
              ("event log", "memory.lowest_v"))
"""Consumers and the lowest supply that each works at."""


@dataclass(frozen=True)
class CutOff:
    """Where the device ends: `left` of the charge, 0 to 1, and `needs` volts at the battery under the largest draw, for
    `whom`. `sag_v`: what that draw takes off the voltage. `typed`: the number in the table was more."""

    left: float
    needs_v: float
    whom: str
    sag_v: float
    typed: bool


def peak_ma(values: Values) -> float:
    """Radio, processor and sensor at once."""
    radio = max(values.number("radio.on_ma"), values.number("radio.receive_ma"))
    running = values.number("processor.clock_mhz") * values.number("processor.ua_per_mhz") / 1000
    return radio + running + values.number("current.running_ua") / 1000


def sag_v(values: Values, ma: float, ms: float) -> float:
    """By how much a draw of so long lowers the voltage: I·R(1 − exp(−t/RC)), R twice as large 20 °C below 20 °C."""
    ohm = values.number("battery.resistance_ohm") * 2 ** ((20 - values.number("battery.temperature_c")) / 20)
    slow_ms = ohm * values.number("battery.capacitor_uf") / 1000
    return ma / 1000 * ohm * (-math.expm1(-ms / slow_ms) if slow_ms else 1.0)


def cut_off(values: Values, longest_ms: float) -> CutOff:
    """`longest_ms`: of the largest draw."""
    regulator = values.text("battery.regulator")
    if regulator == NO_REGULATOR:
        whom, needs = max(((name, values.number(key)) for name, key in WORKS_FROM), key=lambda one: one[1])
    else:
        whom, needs = "regulator", values.number("battery.regulator_v") + values.number("battery.dropout_v")
    sag = sag_v(values, peak_ma(values) * current_share(values), longest_ms)
    full, empty, flat = (values.number(f"battery.{key}") for key in ("voltage_v", "end_v", "flat_pct"))
    above = full - sag - needs
    if above < 0:
        left = 1.0
    elif full - empty <= above:
        left = 0.0
    else:
        left = (1 - flat / 100) * (1 - above / (full - empty))
    typed = values.number("battery.cut_off_pct") / 100
    return CutOff(max(left, typed), needs, whom, sag, typed >= left)


def current_share(values: Values) -> float:
    """Drawn from the battery for what the device draws: less behind a switching regulator that steps down."""
    if values.text("battery.regulator") != SWITCHING:
        return 1.0
    return values.number("battery.regulator_v") / values.number("battery.voltage_v") \
        / (values.number("battery.efficiency_pct") / 100)


def capacity_mah(values: Values) -> float:
    """Of a full battery at its temperature."""
    cold = max(20 - values.number("battery.temperature_c"), 0) * values.number("battery.cold_pct_per_c") / 100
    return values.number("battery.capacity_mah") * max(1 - cold, 0.0)


def usable_mah(values: Values, left: float) -> float:
    """Charge between the start and what is `left` at the cut-off; below zero where it starts under it."""
    return capacity_mah(values) * (values.number("battery.charge_pct") / 100 - left)


def days(values: Values, mean_ua: float, left: float) -> float:
    """Until so much is left, with a steady current and a battery that loses a share of its charge by itself.

    Q' = −I − k·Q has Q(t) = (Q₀ + I/k)·exp(−k·t) − I/k, solved for the charge at cut-off; k from the loss in a year.
    """
    usable, mean_ma = max(usable_mah(values, left), 0.0), mean_ua / 1000
    warmer = 2 ** ((values.number("battery.temperature_c") - 20) / 10)
    k = -math.log1p(-values.number("battery.self_discharge_pct") / 100) / HOURS_A_YEAR * warmer
    if usable == 0:
        return 0.0
    drained = mean_ma + k * capacity_mah(values) * left
    if drained == 0:
        return math.inf
    # log1p(k·usable/drained)/k without the loss of digits where the battery hardly discharges itself.
    small = k * usable / drained
    hours = math.log1p(small) / k if small > 1e-9 else usable / drained * (1 - small / 2)
    return hours / 24

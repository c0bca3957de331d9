"""The battery: how long a mean current lasts."""

from __future__ import annotations

import math

from detect.device.values import FROM_MEMORY, PRACTICE, Quantity, Values

QUANTITIES: tuple[Quantity, ...] = (
    Quantity("battery.capacity_mah", "mAh", 220, 0.1, 1_000_000, "capacity", "Charge of a full battery.", PRACTICE),
    Quantity("battery.charge_pct", "%", 100, 0, 100, "charged to", "Charge at the start, of a full battery's.",
             PRACTICE),
    Quantity("battery.cut_off_pct", "%", 15, 0, 100, "left at cut-off",
             "Charge that is still there when the voltage is too low for the device.", FROM_MEMORY),
    Quantity("battery.self_discharge_pct", "% a year", 1, 0, 99, "self-discharge",
             "Of its charge the battery loses so much in a year by itself.", FROM_MEMORY),
    Quantity("battery.voltage_v", "V", 3, 0.5, 60, "voltage", "What the bus lines draw goes by it.", PRACTICE),
    Quantity("battery.peak_ma", "mA", 15, 0.01, 100_000, "most at once",
             "Draws beyond this make the voltage dip; a capacitor beside the battery helps.", FROM_MEMORY),
    Quantity("battery.wanted_days", "days", 30, 0, 36_525, "wanted", "How long the battery is to last.", PRACTICE),
)

HOURS_A_YEAR = 365.25 * 24


def usable_mah(values: Values) -> float:
    """Charge between the start and the cut-off; below zero where it starts under it."""
    share = values.number("battery.charge_pct") - values.number("battery.cut_off_pct")
    return values.number("battery.capacity_mah") * share / 100


def days(values: Values, mean_ua: float) -> float:
    """Until the cut-off, with a steady current and a battery that loses a share of its charge by itself.

    Q' = −I − k·Q has Q(t) = (Q₀ + I/k)·exp(−k·t) − I/k, solved for the charge at cut-off; k from the loss in a year.
    """
    usable, mean_ma = max(usable_mah(values), 0.0), mean_ua / 1000
    k = -math.log1p(-values.number("battery.self_discharge_pct") / 100) / HOURS_A_YEAR
    left = values.number("battery.capacity_mah") * values.number("battery.cut_off_pct") / 100
    if usable == 0:
        return 0.0
    drained = mean_ma + k * left
    if drained == 0:
        return math.inf
    # log1p(k·usable/drained)/k without the loss of digits where the battery hardly discharges itself.
    small = k * usable / drained
    hours = math.log1p(small) / k if small > 1e-9 else usable / drained * (1 - small / 2)
    return hours / 24

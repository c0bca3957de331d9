"""The one table of the device's numbers, gathered from the parts that use them."""

from __future__ import annotations

from collections.abc import Mapping

from detect.device import (
    analog,
    battery,
    bus,
    current,
    digital,
    life,
    memory,
    mounting,
    part,
    ranges,
    self_test,
    spread,
    wake,
)
from detect.device.values import Plain, Quantity, Values

QUANTITIES: tuple[Quantity, ...] = tuple(
    row for module in (part, analog, digital, mounting, self_test, ranges, wake, spread, current, battery, bus, memory,
                              life)
    for row in module.QUANTITIES)


def device_values(given: Mapping[str, Plain] | None = None) -> Values:
    """The device's numbers: their starting values but for those given. BadSetting where one can't be."""
    return Values(QUANTITIES, given)


UNCHANGED = device_values()

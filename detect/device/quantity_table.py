"""The one table of the device's numbers, gathered from the parts that use them."""

from __future__ import annotations

from collections.abc import Mapping

from detect.device import requirements
from detect.device.energy import battery, bus, current, life, memory
from detect.device.part import analogue, digital, modes, mounting, part, placement, ranges, self_test
from detect.device.quantities import Plain, Quantity, Values
from detect.device.sleep import wake_settings
from detect.device.spread import spread

QUANTITIES: tuple[Quantity, ...] = tuple(
    row for module in (part, analogue, digital, modes, mounting, placement, self_test, ranges, wake_settings, spread,
                       current, battery, bus, memory, life, requirements)
    for row in module.QUANTITIES)

RETIRED = frozenset({"radio.alarm_ms", "radio.alive_ms", "mounting.topple_ms"})
"""Keys of files written before their numbers followed from others: read and left out."""


def device_values(given: Mapping[str, Plain] | None = None) -> Values:
    """The device's numbers: their starting values but for those given. BadSetting where one can't be."""
    return Values(QUANTITIES, given)


UNCHANGED = device_values()

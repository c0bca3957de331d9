"""Where and how the sensor sits: rotation, distance from the centre, placement."""

from __future__ import annotations

from detect.device.values import Quantity

QUANTITIES: tuple[Quantity, ...] = ()

"""An analogue part: supply, zero-g level, sensitivity, converter, one-pole filter."""

from __future__ import annotations

from detect.device.values import Quantity

QUANTITIES: tuple[Quantity, ...] = ()

"""A part whose range is switched while running."""

from __future__ import annotations

from detect.device.values import Quantity

QUANTITIES: tuple[Quantity, ...] = ()

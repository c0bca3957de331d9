"""A digital part: range, width, rate, low-pass, noise density, buffer."""

from __future__ import annotations

from detect.device.values import Quantity

QUANTITIES: tuple[Quantity, ...] = ()

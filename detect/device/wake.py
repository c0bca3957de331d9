"""Waking on the part's own interrupts."""

from __future__ import annotations

from detect.device.values import Quantity

QUANTITIES: tuple[Quantity, ...] = ()

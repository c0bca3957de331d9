"""The event log: what a record costs and how long a memory lasts."""

from __future__ import annotations

from detect.device.values import Quantity

QUANTITIES: tuple[Quantity, ...] = ()

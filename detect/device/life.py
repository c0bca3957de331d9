"""The life of an alarm: how it is cancelled, sent and acknowledged."""

from __future__ import annotations

from detect.device.values import Quantity

QUANTITIES: tuple[Quantity, ...] = ()

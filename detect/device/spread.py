"""How devices differ from each other and from their data sheet."""

from __future__ import annotations

from detect.device.values import Quantity

QUANTITIES: tuple[Quantity, ...] = ()

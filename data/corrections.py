"""What is known of a recording's clock and sensor beside its file: kept in the study, and undone without a trace."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np

Seconds = TypeVar("Seconds", float, np.ndarray)


@dataclass(frozen=True)
class Shift:
    """Another clock against a recording's own: its t is `offset_s` + (1 + `drift_ppm` / 10⁶) · t here."""

    offset_s: float = 0.0
    drift_ppm: float = 0.0

    def here(self, there_s: Seconds) -> Seconds:
        return self.offset_s + (1 + self.drift_ppm / 1e6) * there_s

    def there(self, here_s: Seconds) -> Seconds:
        return (here_s - self.offset_s) / (1 + self.drift_ppm / 1e6)

    def after(self, first: Shift) -> Shift:
        """The clock that `first` brings to a second one, brought on by this from the second one."""
        more = 1 + self.drift_ppm / 1e6
        return Shift(self.offset_s + more * first.offset_s, (more * (1 + first.drift_ppm / 1e6) - 1) * 1e6)

    def inverse(self) -> Shift:
        """The way back."""
        less = 1 / (1 + self.drift_ppm / 1e6)
        return Shift(-self.offset_s * less, (less - 1) * 1e6)


@dataclass(frozen=True)
class Calibration:
    """`true = (read − offset_g) / gain`, axis by axis.

    `origin`: how it was found. `before_g`, `after_g`: how far |a| was off 1 g at rest, root mean square over the
    `stretches` it was found on. `lacking`: faces that were not seen, whose axes stay as they are.
    """

    offset_g: tuple[float, float, float]
    gain: tuple[float, float, float]
    origin: str
    before_g: float
    after_g: float
    stretches: int
    lacking: tuple[str, ...] = field(default=())

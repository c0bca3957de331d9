"""The front end: from g to counts, from ms to samples, from a recording's rate to the device's.

Everything is IEEE double, evaluated in the order written: firmware, workbench and header must round alike.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from detect.settings import BadSetting


@dataclass(frozen=True)
class FrontEnd:
    """A sensor as the rule sees it: full scale ±`range_g`, `bits` wide in two's complement, `rate_hz` a second.

    `counts_per_g` given directly wins over range and width (a part whose scale is not a power of two).
    """

    range_g: float = 4.0
    bits: int = 12
    rate_hz: float = 50.0
    counts_per_g: float | None = None

    def __post_init__(self) -> None:
        if not (isinstance(self.bits, int) and 8 <= self.bits <= 16):
            raise BadSetting("bits", self.bits, "is no width the rule has integers for.", "Choose 8 to 16.")
        for name in ("range_g", "rate_hz", "counts_per_g"):
            value = getattr(self, name)
            if value is None and name == "counts_per_g":
                continue
            if isinstance(value, bool) or not isinstance(value, int | float) \
                    or not 0 < value <= sys.float_info.max:
                raise BadSetting(name, value, "is not a number above zero.", "Write what the data sheet says.")

    @property
    def k(self) -> float:
        """Counts per g."""
        return self.counts_per_g if self.counts_per_g is not None else 2.0 ** (self.bits - 1) / self.range_g

    def counts(self, g: float) -> int:
        """A threshold in counts, not clamped."""
        return math.floor(g * self.k + 0.5)

    def clamped_counts(self, g: float) -> int:
        """A sample in counts, clamped to the width."""
        top = 2 ** (self.bits - 1)
        return min(max(self.counts(g), -top), top - 1)

    def samples(self, ms: float) -> int:
        """A duration in samples."""
        return math.floor(ms * self.rate_hz / 1000 + 0.5)

    def g(self, counts: float) -> float:
        return counts / self.k

    def ms(self, samples: float) -> float:
        return samples * 1000 / self.rate_hz

    def plain(self) -> dict[str, float | int]:
        plain: dict[str, float | int] = {"range_g": self.range_g, "bits": self.bits, "rate_hz": self.rate_hz}
        if self.counts_per_g is not None:
            plain["counts_per_g"] = self.counts_per_g
        return plain


def to_counts(g: np.ndarray, front_end: FrontEnd) -> tuple[np.ndarray, int]:
    """Samples in g, (n, 3) float64, as the int16 counts of a nominal device, and how many values clamped."""
    scaled = g * front_end.k
    scaled += 0.5
    np.floor(scaled, out=scaled)
    top = 2 ** (front_end.bits - 1)
    outside = int(np.count_nonzero((scaled < -top) | (scaled > top - 1)))
    np.clip(scaled, -top, top - 1, out=scaled)
    return scaled.astype(np.int16), outside


def rate_ratio(rate_hz: float, target_hz: float) -> Fraction:
    """target/rate as the reduced fraction that a polyphase resampler takes; rates are read to 1 mHz."""
    return Fraction(target_hz).limit_denominator(1000) / Fraction(rate_hz).limit_denominator(1000)


def resample(g: np.ndarray, rate_hz: float, target_hz: float) -> np.ndarray:
    """One stretch without gaps, (n, 3) in g, brought from one rate to another through an anti-alias filter.

    Equal rates leave the samples untouched. The ends are padded along the line between them: zeros would bend them.
    """
    ratio = rate_ratio(rate_hz, target_hz)
    if ratio == 1 or len(g) == 0:
        return g
    from scipy.signal import resample_poly  # slow to load; a study of one rate never needs it

    return np.asarray(resample_poly(g, ratio.numerator, ratio.denominator, axis=0, padtype="line"))

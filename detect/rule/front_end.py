"""The front end: from g to counts, from ms to samples, from a recording's rate to the device's.

Everything is IEEE double, evaluated in the order written: firmware, workbench and header must round alike.

The pre-filter: every sample the mean of the last L, which is a power of two.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

import numpy as np

from detect.rule.settings import BadSetting

RANGES_G, RATES_HZ, COUNTS_PER_G = (0.01, 100_000.0), (0.01, 1_000_000.0), (1e-6, 1e9)
"""No accelerometer has another full scale, output data rate or scale: wider by far than any is."""


@dataclass(frozen=True)
class FrontEnd:
    """A sensor as the rule sees it: full scale ±`range_g`, `bits` wide in two's complement, `rate_hz` a second.

    `counts_per_g` given directly wins over range and width (a part whose scale is not a power of two). So do
    `lowest_counts` and `highest_counts`, the last readings either way, over the width: an analogue part behind a
    converter that is not centred ends earlier on one side.
    """

    range_g: float = 4.0
    bits: int = 12
    rate_hz: float = 50.0
    counts_per_g: float | None = None
    lowest_counts: int | None = None
    highest_counts: int | None = None

    def __post_init__(self) -> None:
        if not (isinstance(self.bits, int) and 8 <= self.bits <= 16):
            raise BadSetting("bits", self.bits, "is not a resolution that the rule has integers for.",
                             "Choose 8 to 16.")
        for name, (low, high) in (("range_g", RANGES_G), ("rate_hz", RATES_HZ), ("counts_per_g", COUNTS_PER_G)):
            value = getattr(self, name)
            if value is None and name == "counts_per_g":
                continue
            if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
                raise BadSetting(name, value, f"is not a number from {low:g} to {high:g}.",
                                 "Write what the data sheet says.")
        codes = 2 ** self.bits - 1
        for name, least, most in (("lowest_counts", -codes, 0), ("highest_counts", 0, codes)):
            count = getattr(self, name)
            if count is not None and (isinstance(count, bool) or not isinstance(count, int)
                                      or not max(least, -32768) <= count <= min(most, 32767)):
                raise BadSetting(name, count, "is not a reading of such a part.",
                                 "Write the converter's last code less the one at 0 g, or leave it out.")

    @property
    def k(self) -> float:
        """Counts per g."""
        return self.counts_per_g if self.counts_per_g is not None else 2.0 ** (self.bits - 1) / self.range_g

    @property
    def lowest(self) -> int:
        """The last reading downwards, in counts."""
        return -(2 ** (self.bits - 1)) if self.lowest_counts is None else self.lowest_counts

    @property
    def highest(self) -> int:
        """The last reading upwards, in counts."""
        return 2 ** (self.bits - 1) - 1 if self.highest_counts is None else self.highest_counts

    @property
    def ends_g(self) -> tuple[float, float]:
        """Where the part's readings end, in g: ±full scale, or what an analogue part and its converter come to."""
        return self.lowest / self.k, (self.highest + 1) / self.k

    def counts(self, g: float) -> int:
        """A threshold in counts, not clamped."""
        return math.floor(g * self.k + 0.5)

    def clamped_counts(self, g: float) -> int:
        """A sample in counts, clamped to the part's ends."""
        return min(max(self.counts(g), self.lowest), self.highest)

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
        for name in ("lowest_counts", "highest_counts"):
            if getattr(self, name) is not None:
                plain[name] = getattr(self, name)
        return plain


MOST_SAMPLES = 1 << 26
"""Of one stretch without gaps: four days at 200 Hz. More would ask for more memory than a desk's machine has."""

def to_counts(g: np.ndarray, front_end: FrontEnd) -> tuple[np.ndarray, int]:
    """Samples in g, (n, 3) float64, as the int16 counts of a nominal device, and how many values clamped."""
    scaled = g * front_end.k
    scaled += 0.5
    np.floor(scaled, out=scaled)
    low, high = front_end.lowest, front_end.highest
    outside = int(np.count_nonzero((scaled < low) | (scaled > high)))
    np.clip(scaled, low, high, out=scaled)
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
    if len(g) * ratio > MOST_SAMPLES:
        raise BadSetting("rate_hz", target_hz, f"would make {float(len(g) * ratio):.2g} samples of one recording.",
                         "Choose a lower rate, or cut the recording up.")
    from scipy.signal import resample_poly  # slow to load; a study of one rate never needs it

    window = _low_pass(max(ratio.numerator, ratio.denominator))
    return np.asarray(resample_poly(g, ratio.numerator, ratio.denominator, axis=0, padtype="line", window=window))


@cache
def _low_pass(factor: int) -> np.ndarray:
    """The filter that `resample_poly` designs by default, which takes it longer than to apply it to a short
    recording."""
    from scipy.signal import firwin

    return np.asarray(firwin(20 * factor + 1, 1 / factor, window=("kaiser", 5.0)))


def boxcar(counts: np.ndarray, length: int) -> np.ndarray:
    """Means of `length` samples of one stretch, (n − length + 1, 3) int32 from (n, 3), rounded as rdiv does.

    |sum| ≤ 2⁴ · 2¹⁵; a mean of int16 is one.
    """
    sums = counts.astype(np.int32)
    by = 1
    while by < length:  # sums of 2, 4, 8 … samples
        sums = sums[:-by] + sums[by:]
        by *= 2
    return (2 * sums + length) // (2 * length)

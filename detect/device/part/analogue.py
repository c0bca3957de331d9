"""An analogue part: supply, zero-g level, sensitivity, converter, one-pole filter; what the rule sees of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from detect.device.quantities import Values, rows_of
from detect.rule.front_end import FrontEnd

SUPPLY, FIXED = "supply", "fixed"

QUANTITIES = rows_of("analog", {"analog.reference": (SUPPLY, FIXED)})


@dataclass(frozen=True)
class AnalogPart:
    """One axis from g to codes, all three alike. Volts at the supply in use, hertz, g."""

    supply_v: float
    zero_v: float
    v_per_g: float
    range_g: float
    bits: int
    reference_v: float
    cutoff_hz: float
    noise_ug: float

    @property
    def noise_band_hz(self) -> float:
        """The corner that its noise goes through before it is read."""
        return self.cutoff_hz

    @property
    def codes(self) -> int:
        return 1 << self.bits

    @property
    def zero_code(self) -> int:
        """The code at 0 g, which the firmware takes off."""
        return min(math.floor(self.zero_v / self.reference_v * self.codes + 0.5), self.codes - 1)

    @property
    def codes_per_g(self) -> float:
        return self.v_per_g / self.reference_v * self.codes

    @property
    def ends_g(self) -> tuple[float, float]:
        """Lowest and highest acceleration that output and converter can tell."""
        highest_v = min(self.supply_v, self.reference_v * (1 - 1 / self.codes))
        return -self.zero_v / self.v_per_g, (highest_v - self.zero_v) / self.v_per_g

    def volts(self, g: np.ndarray | float) -> np.ndarray:
        """What a meter at the output shows, between ground and supply."""
        return np.clip(self.zero_v + self.v_per_g * np.asarray(g, dtype=float), 0.0, self.supply_v)

    def code(self, g: np.ndarray | float) -> np.ndarray:
        """The converter's codes, int64, cut at its ends."""
        found = np.floor(self.volts(g) / self.reference_v * self.codes + 0.5).astype(np.int64)
        return np.clip(found, 0, self.codes - 1)

    def front_end(self, rate_hz: float) -> FrontEnd:
        """As the rule sees it: codes less the one at 0 g, between the two real ends of output and converter."""
        low, high = (int(code) - self.zero_code for code in self.code(np.array([-math.inf, math.inf])))
        return FrontEnd(self.range_g, self.bits, rate_hz, self.codes_per_g, max(low, -32768), min(high, 32767))

    def doubts(self, rate_hz: float) -> tuple[str, ...]:
        """What contradicts itself, a sentence each."""
        found = []
        low, high = self.ends_g
        if not 0 < self.zero_v < min(self.supply_v, self.reference_v):
            found.append(f"The zero-g level, {self.zero_v:.3g} V, is not between 0 V and what the converter or the "
                         f"supply reach, {min(self.supply_v, self.reference_v):.3g} V: one side can't be read.")
        elif min(-low, high) < self.range_g * (1 - 1 / self.codes):
            found.append(f"Full scale is ±{self.range_g:g} g, but output and converter end at {low:.2f} g and "
                         f"{high:.2f} g: readings beyond are cut.")
        if self.cutoff_hz > rate_hz / 2:
            found.append(f"The filter's {self.cutoff_hz:.3g} Hz is above half the rate, {rate_hz / 2:g} Hz: what lies "
                         f"between folds back into the signal. Take a larger R or C, or a higher rate.")
        return tuple(found)


def analog_part(values: Values) -> AnalogPart:
    """The analogue part that the device's numbers describe."""
    number = values.number
    supply = number("analog.supply_v")
    share = supply / number("analog.nominal_v") if values.on("analog.ratiometric") else 1.0
    reference = supply if values.text("analog.reference") == SUPPLY else number("analog.reference_v")
    farads, ohms = number("analog.filter_nf") * 1e-9, number("analog.filter_kohm") * 1e3
    return AnalogPart(
        supply_v=supply, zero_v=number("analog.zero_g_v") * share,
        v_per_g=number("analog.sensitivity_mv") / 1000 * share, range_g=number("analog.range_g"),
        bits=round(number("analog.converter_bits")), reference_v=reference,
        cutoff_hz=1 / (2 * math.pi * ohms * farads), noise_ug=number("analog.noise_ug"))

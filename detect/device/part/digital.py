"""A digital part: low-pass, noise, quantisation and buffer beside the front end's range, width and rate."""

from __future__ import annotations

import math
from dataclasses import dataclass

from detect.device.quantities import Values, rows_of
from detect.rule.front_end import FrontEnd

HALF, OWN, OFF = "half the rate", "own", "off"

QUANTITIES = rows_of("digital", {"digital.low_pass": (HALF, OWN, OFF)})


@dataclass(frozen=True)
class DigitalPart:
    """`bandwidth_hz` None: no low-pass that counts, only the part's own `full_hz`."""

    front_end: FrontEnd
    bandwidth_hz: float | None
    full_hz: float
    noise_ug: float
    buffer: int

    @property
    def noise_band_hz(self) -> float:
        """The corner that its noise goes through before it is read."""
        return self.full_hz if self.bandwidth_hz is None else self.bandwidth_hz

    @property
    def buffer_s(self) -> float:
        """How long the processor may sleep before samples are lost."""
        return self.buffer / self.front_end.rate_hz

    def doubts(self) -> tuple[str, ...]:
        """What contradicts itself, a sentence each."""
        rate = self.front_end.rate_hz
        if self.bandwidth_hz is not None and self.bandwidth_hz > rate / 2:
            return (f"The low-pass' {self.bandwidth_hz:g} Hz is above half the rate, {rate / 2:g} Hz: what lies "
                    "between folds back into the signal. Take a lower bandwidth or a higher rate.",)
        if self.bandwidth_hz is None and self.full_hz > rate / 2:
            noise = noise_rms_mg(self.noise_ug, self.full_hz)
            return (f"Without a low-pass the part's full {self.full_hz:g} Hz fold into {rate:g} samples a second: "
                    f"{noise:.3g} mg RMS of noise, {noise / 1000 * self.front_end.k:.2g} counts.",)
        return ()


def digital_part(values: Values, front_end: FrontEnd) -> DigitalPart:
    """The digital part behind a front end."""
    low_pass = values.text("digital.low_pass")
    bandwidth = {HALF: front_end.rate_hz / 2, OWN: values.number("digital.bandwidth_hz"), OFF: None}[low_pass]
    return DigitalPart(front_end, bandwidth, values.number("digital.full_hz"), values.number("digital.noise_ug"),
                       round(values.number("digital.buffer")))


def noise_rms_mg(density_ug: float, bandwidth_hz: float) -> float:
    """White noise through one pole, root mean square of an axis: its noise bandwidth is π/2 of its corner."""
    return density_ug / 1000 * math.sqrt(math.pi / 2 * bandwidth_hz)


def quantisation_rms_mg(counts_per_g: float) -> float:
    """A count's share of the noise, Δ/√12."""
    return 1000 / counts_per_g / math.sqrt(12)

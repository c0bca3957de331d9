"""What recordings can bear: a part that could tell more than they hold can't be tried on them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

LOOKED_AT = 50_000
"""Of longer recordings so many samples, evenly apart, tell the step."""

SAME = 0.02
"""Rates, ranges and steps that differ by less than this share are the same: nominal figures are rounded."""

DENSE = 16
"""The step is the mean over so many."""

UNEVEN = 0.4
"""Of a step: rounding when it was written leaves more than half of it between neighbours."""

GRAIN_G = 2e-6
"""Readings nearer than this are equal: rounding of a conversion, not a step."""


@dataclass(frozen=True)
class Recorded:
    """What one recording holds: its rate, the reading at which it clipped (infinite where it didn't), its step."""

    name: str
    rate_hz: float
    clips_g: float
    step_g: float


def step_of(samples: np.ndarray) -> float:
    """The distance of neighbouring readings, in the samples' own unit; 0 where there are no steps, or too few to tell.

    (n, 3). Looked for where readings lie densest, as a mean over several: what was rounded when it was written lies
    unevenly. Readings that differ by much less than that somewhere there are in no steps.
    """
    each = samples[:: max(1, len(samples) // LOOKED_AT)]
    found = []
    for axis in range(3):
        levels = np.unique(np.asarray(each[:, axis], dtype=float))
        levels = levels[np.diff(levels, prepend=-np.inf) > GRAIN_G]
        if len(levels) > DENSE:
            widths = levels[DENSE:] - levels[:-DENSE]
            at = int(np.argmin(widths))
            step, least = float(widths[at]) / DENSE, float(np.diff(levels[at:at + DENSE + 1]).min())
            found.append(step if least > UNEVEN * step else 0.0)
    return min(found, default=0.0)


def refusal(recorded: Sequence[Recorded], range_g: float, bits: int, rate_hz: float) -> str:
    """Why these recordings say nothing about a part; empty where they can bear it."""
    slow = [one for one in recorded if one.rate_hz < rate_hz * (1 - SAME)]
    if slow:
        lowest = min(one.rate_hz for one in slow)
        return (f"{_some(slow, recorded)} of {lowest:g} Hz: they say nothing about {rate_hz:g} Hz. "
                f"Take at most {lowest:g} Hz{_or_leave(slow, recorded)}.")
    cut = [one for one in recorded if one.clips_g < range_g * (1 - SAME)]
    if cut:
        lowest = min(one.clips_g for one in cut)
        verb = "clips" if len(cut) == 1 else "clip"
        return (f"{_some(cut, recorded, '')} {verb} at ±{lowest:.3g} g: what lies beyond is not in them, so they say "
                f"nothing about ±{range_g:g} g. Take at most ±{lowest:.3g} g{_or_leave(cut, recorded)}.")
    step = range_g / 2 ** (bits - 1)
    coarse = [one for one in recorded if one.step_g > step * (1 + SAME)]
    if coarse:
        largest = max(one.step_g for one in coarse)
        most = math.floor(math.log2(range_g / largest * (1 + SAME))) + 1
        remedy = f"Take at most {most} bits" if most >= 8 else f"Take a range of at least ±{largest * 128:.3g} g"
        least = min(one.step_g for one in coarse)
        more = " or more" if largest > least * (1 + SAME) else ""
        return (f"{_some(coarse, recorded)} in steps of {1000 * least:.3g} mg{more}: they say nothing about "
                f"{bits} bits of ±{range_g:g} g, {1000 * step:.3g} mg. {remedy}{_or_leave(coarse, recorded)}.")
    return ""


def filter_refusal(rate_hz: float, corner_hz: float | None, recorded: Sequence[Recorded]) -> str:
    """Why a low-pass can't be; empty where it can."""
    if corner_hz is not None and corner_hz > rate_hz / 2 * (1 + 1e-9):
        return (f"A filter of {corner_hz:g} Hz is above half the rate, {rate_hz / 2:g} Hz: what lies between would "
                f"fold back. Take at most {rate_hz / 2:g} Hz.")
    lowest = min((one.rate_hz for one in recorded), default=math.inf)
    if corner_hz is not None and corner_hz > lowest / 2 * (1 + SAME):
        return f"Nothing above {lowest / 2:g} Hz is in recordings of {lowest:g} Hz: take a lower filter."
    return ""


def _some(found: Sequence[Recorded], of: Sequence[Recorded], verb: str = "is") -> str:
    if len(of) == 1:
        return f"The recording {verb}".rstrip()
    if len(found) == 1:
        return f"{found[0].name} {verb}".rstrip()
    verb = "are" if verb else ""
    some = f"All {len(of)}" if len(found) == len(of) else f"{len(found)} of {len(of)}"
    return f"{some} recordings {verb}".rstrip()


def _or_leave(found: Sequence[Recorded], of: Sequence[Recorded]) -> str:
    return ", or leave them out of the score" if len(found) < len(of) else ""

"""A part whose range is switched while running by select lines: what it reads, what it loses, how it scores.

The rule sees one stream in counts of the watch range, as wide as the largest range needs: a reading of a larger range
is a coarser one, multiplied up. So thresholds keep their counts whatever range a sample was read in.

Two ways. *After a low sample*: the watch range until a sample is low, then the high one until nothing was low for a
while; at each switch some samples are lost while the part settles. They are repeated from the last good one, or leave
a gap, which makes the rule forget. *Both at once*: each sample is read in both ranges; low samples, posture and
stillness take the watch range, whatever is beyond it the high one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from detect.device.values import FROM_MEMORY, PRACTICE, Quantity, Values, choice
from detect.frontend import FrontEnd
from detect.rule import Rule
from detect.settings import BadSetting

AFTER_LOW, BOTH = "after a low sample", "both at once"
HELD, GAP = "last one held", "gap"

WIDEST = 16
"""Bits of the stream: what the rule has integers for."""

QUANTITIES: tuple[Quantity, ...] = (
    choice("ranges.way", (AFTER_LOW, BOTH), AFTER_LOW, "switches",
           "To the high range after the first low sample; or each sample is read in both ranges, one for each use.",
           PRACTICE),
    Quantity("ranges.watch_g", "g", 2.0, 0.5, 400.0, "watch range ±",
             "The small range with the fine steps, for free fall, posture and stillness.", PRACTICE),
    Quantity("ranges.high_g", "g", 8.0, 0.5, 400.0, "high range ±", "The large range, for the impact.", PRACTICE),
    Quantity("ranges.back_ms", "ms", 2000.0, 0.0, 60_000.0, "back after",
             "The watch range again when no sample was low for so long.", PRACTICE),
    Quantity("ranges.settling", "", 1, 0, 100, "samples lost",
             "At each switch so many can't be used while the part settles in its new range.", FROM_MEMORY),
    choice("ranges.lost", (HELD, GAP), HELD, "what is lost",
           "The firmware repeats its last good sample, which makes a free fall that it repeats longer; or it tells the "
           "rule of a gap, which forgets what it saw.",
           PRACTICE),
)


@dataclass(frozen=True)
class Switching:
    """Ranges in g, `back` and `settling` in samples; `bits` of one reading, at `rate_hz`."""

    way: str
    watch_g: float
    high_g: float
    bits: int
    rate_hz: float
    back: int
    settling: int
    lost: str

    @property
    def stream(self) -> FrontEnd:
        """What the rule sees: steps of the watch range, as wide as the high one needs."""
        wider = math.ceil(math.log2(self.high_g / self.watch_g) - 1e-9)
        return FrontEnd(self.high_g, self.bits + wider, self.rate_hz, 2.0 ** (self.bits - 1) / self.watch_g)

    @property
    def top(self) -> int:
        """The largest reading, in counts of the stream."""
        return math.floor((2 ** (self.bits - 1) - 1) / self.fixed[1].k * self.stream.k + 0.5)

    @property
    def fixed(self) -> tuple[FrontEnd, FrontEnd]:
        """The watch range alone and the high range alone."""
        return (FrontEnd(self.watch_g, self.bits, self.rate_hz), FrontEnd(self.high_g, self.bits, self.rate_hz))


def switching(values: Values, front_end: FrontEnd) -> Switching:
    """The part that the device's numbers describe, of a front end's width and rate.

    BadSetting where the ranges are the wrong way round, or too far apart for the rule's integers.
    """
    number = values.number
    watch, high = number("ranges.watch_g"), number("ranges.high_g")
    if not high > watch:
        raise BadSetting("ranges.high_g", high, f"is not above the watch range, ±{watch:g} g.", "Write a larger one.")
    made = Switching(values.text("ranges.way"), watch, high, front_end.bits, front_end.rate_hz,
                     front_end.samples(number("ranges.back_ms")), round(number("ranges.settling")),
                     values.text("ranges.lost"))
    widest = WIDEST - front_end.bits
    if math.ceil(math.log2(high / watch) - 1e-9) > widest:
        raise BadSetting("ranges.high_g", high, f"is more than {2 ** widest} times the watch range, ±{watch:g} g: with "
                         f"{front_end.bits} bits of each the rule would need more than {WIDEST}.",
                         "Choose ranges nearer to each other, or fewer bits.")
    return made


@dataclass(frozen=True, eq=False)
class Read:
    """One stretch as read: `counts` (n, 3) int16 of the stream, `high` (n,) whether in the high range, `lost` (n,)
    whether while the part settled, `switches` how often it switched."""

    counts: np.ndarray
    high: np.ndarray
    lost: np.ndarray
    switches: int


def read(g: np.ndarray, part: Switching, rule: Rule) -> Read:
    """One stretch in g at the part's rate; `rule`, of the stream, says what is low."""
    watch, high = _readings(g, part)
    if part.way == BOTH:
        beyond = _beyond(g, part)
        return Read(np.where(beyond[:, None], high, watch), beyond, np.zeros(len(g), bool), 0)
    in_high, lost, switches = _switched(_low(watch, rule), _low(high, rule), part)
    counts = np.where(in_high[:, None], high, watch)
    if part.lost == GAP:
        counts[lost] = (0, part.stream.counts(1.0), 0)  # of no consequence: nothing low, nothing hard
    else:
        good = np.maximum.accumulate(np.where(lost, 0, np.arange(len(g))))
        counts = counts[good]
    return Read(counts, in_high, lost, switches)


def _readings(g: np.ndarray, part: Switching) -> tuple[np.ndarray, np.ndarray]:
    """The stretch in either range, in counts of the stream."""
    found = []
    for front_end in part.fixed:
        top = 2 ** (part.bits - 1)
        own = np.clip(np.floor(g * front_end.k + 0.5), -top, top - 1)
        found.append(np.floor(own / front_end.k * part.stream.k + 0.5).astype(np.int16))
    return found[0], found[1]


def _beyond(g: np.ndarray, part: Switching) -> np.ndarray:
    """(n,) whether an axis is at the end of the watch range."""
    top = 2 ** (part.bits - 1)
    own = np.floor(g * part.fixed[0].k + 0.5)
    return np.asarray(((own <= -top) | (own >= top - 1)).any(axis=1))


def _low(counts: np.ndarray, rule: Rule) -> np.ndarray:
    """(n,) whether a sample is low, as the rule has it, its pre-filter left aside."""
    wide = counts.astype(np.int64)
    if rule.every_axis:
        return np.asarray((np.abs(wide) < rule.free_fall).all(axis=1))
    return np.asarray((wide * wide).sum(axis=1) < rule.free_fall ** 2)


def _switched(low: np.ndarray, low_in_high: np.ndarray, part: Switching) -> tuple[np.ndarray, np.ndarray, int]:
    """(n,) in the high range, (n,) lost, and how many switches. `low`: as the watch range reads it.

    A sample decides on the range of the next; one that is lost decides nothing.
    """
    n, stay = len(low), max(part.back, 1)
    in_high, lost = np.zeros(n, bool), np.zeros(n, bool)
    watch_lows, high_lows = np.flatnonzero(low), np.flatnonzero(low_in_high)
    # Low samples with none after them that is near enough to stay for.
    last = high_lows[np.diff(high_lows, append=n + stay + 1) > stay]
    at = switches = 0
    while (following := int(watch_lows.searchsorted(at))) < len(watch_lows):
        first = until = int(watch_lows[following])
        good = first + 1 + part.settling
        here = int(high_lows.searchsorted(good))
        if here < len(high_lows) and high_lows[here] <= max(good, first + stay):
            until = int(last[last.searchsorted(high_lows[here])])
        end = max(good, until + stay) + 1
        in_high[first + 1:end] = True
        lost[first + 1:good] = True
        lost[end:end + part.settling] = True
        switches += 1 + (end < n)
        at = end + part.settling
    return in_high, lost, switches

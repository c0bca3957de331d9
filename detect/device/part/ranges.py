"""A part whose range is switched while running by select lines: what it reads, what it loses, how it scores.

The rule sees one stream in counts of the watch range, as wide as the largest range needs: a reading of a larger range
is a coarser one, multiplied up. So thresholds keep their counts whatever range a sample was read in.

Two ways. *After a low sample*: the watch range until a sample is low, then the high one until nothing was low for a
while; at each switch some samples are lost while the part settles. They are repeated from the last good one, or leave
a gap, which makes the rule forget. *Both at once*: each sample is read in both ranges; low samples, posture and
stillness take the watch range, whatever is beyond it the high one.

A part that switches its range, scored against each of its ranges kept, over the same recordings.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from detect.device.part.material import Material, RecordingLimits, in_counts, refusal
from detect.device.part.what_if import clipped_falls, figures_by
from detect.device.quantities import Values, rows_of
from detect.rule.front_end import FrontEnd, resample
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import BadSetting, Settings
from detect.rule.timeline import Timeline
from detect.scoring.corpus import Corpus
from detect.scoring.figures import Figures
from detect.workers import Stopped

AFTER_LOW, BOTH = "after a low sample", "both at once"
HELD, GAP = "last one held", "gap"

WIDEST = 16
"""Bits of the stream: what the rule has integers for."""

QUANTITIES = rows_of("ranges", {"ranges.way": (AFTER_LOW, BOTH), "ranges.lost": (HELD, GAP)})


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
class RangeReading:
    """One stretch as read: `counts` (n, 3) int16 of the stream, `high` (n,) whether in the high range, `lost` (n,)
    whether while the part settled, `switches` how often it switched."""

    counts: np.ndarray
    high: np.ndarray
    lost: np.ndarray
    switches: int


def read(g: np.ndarray, part: Switching, rule: Rule) -> RangeReading:
    """One stretch in g at the part's rate; `rule`, of the stream, says what is low."""
    watch, high = _readings(g, part)
    if part.way == BOTH:
        beyond = _beyond(g, part)
        return RangeReading(np.where(beyond[:, None], high, watch), beyond, np.zeros(len(g), bool), 0)
    in_high, lost, switches = _switched(_low(watch, rule), _low(high, rule), part)
    counts = np.where(in_high[:, None], high, watch)
    if part.lost == GAP:
        counts[lost] = (0, part.stream.counts(1.0), 0)  # of no consequence: nothing low, nothing hard
    else:
        good = np.maximum.accumulate(np.where(lost, 0, np.arange(len(g))))
        counts = counts[good]
    return RangeReading(counts, in_high, lost, switches)


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


@dataclass(frozen=True)
class RangeScore:
    """How one way of reading scores, `name`; None where it can't be tried, `doubt` says why.

    Of `falls` so many `clipped`. `high_share`: of the samples read in the high range; `lost_share`: of those lost while
    the part settled.
    """

    name: str
    figures: Figures | None
    clipped: int = 0
    falls: int = 0
    high_share: float = 0.0
    switches_per_h: float = 0.0
    lost_share: float = 0.0
    doubt: str = ""


def compare(material: Material, recorded: Sequence[RecordingLimits], part: Switching, settings: Settings,
            done: Callable[[float], None] | None = None, cancelled: Callable[[], bool] | None = None) \
        -> tuple[RangeScore, ...]:
    """The part that switches, then each of its ranges kept.

    BadSetting where the rule can't run on the stream; Stopped. `done` hears the share that is worked out. What
    recordings can't bear is tried all the same, with the reason as a doubt: a comparison is worth something even where
    an impact was cut.
    """
    rule = rule_of(settings, part.stream)
    timelines = material.timelines(part.rate_hz)
    pieces = []
    for i, one in enumerate(material.sources):
        if cancelled is not None and cancelled():
            raise Stopped
        pieces.append([resample(piece, one.rate_hz, part.rate_hz) for piece in one.stretches()])
        if done is not None:
            done(0.5 * (i + 1) / len(material.sources))
    found = [_switched_score(material, timelines, pieces, part, rule, _doubt(recorded, part))]
    events = material.events(timelines)
    lend = None if material.lender is None else material.lender(timelines)
    for name, share, front_end in zip(("watch range kept", "high range kept"), (0.0, 1.0), part.fixed, strict=True):
        try:
            own = rule_of(settings, front_end)
        except BadSetting as bad:
            found.append(RangeScore(name, None, doubt=f"{bad.key} {bad.message} {bad.remedy}"))
            continue
        corpus = in_counts(pieces, front_end)
        clipped, falls = clipped_falls(corpus, events, front_end.lowest + 1, front_end.highest)
        found.append(RangeScore(name, figures_by(own, corpus, events, lend), clipped, falls, share,
                                doubt=refusal(recorded, front_end)))
    return tuple(found)


def _doubt(recorded: Sequence[RecordingLimits], part: Switching) -> str:
    """Of rate and range the high one's, of steps the watch range's."""
    watch, high = part.fixed
    return refusal([RecordingLimits(one.name, one.rate_hz, one.clips_g, 0.0) for one in recorded], high) \
        or refusal([RecordingLimits(one.name, one.rate_hz, float("inf"), one.step_g) for one in recorded], watch)


def _switched_score(material: Material, timelines: list[Timeline], pieces: list[list[np.ndarray]], part: Switching,
              rule: Rule, doubt: str) -> RangeScore:
    reads = [[read(piece, part, rule) for piece in recording] for recording in pieces]
    every = [one for recording in reads for one in recording]
    counts = np.concatenate([np.empty((0, 3), np.int16), *(one.counts for one in every)])
    lost = np.concatenate([np.zeros(0, bool), *(one.lost for one in every)])
    lengths = np.array([len(one.counts) for one in every], dtype=np.int64)
    stretch_first = np.unique((np.cumsum(lengths) - lengths)[lengths > 0])
    if part.lost == GAP:  # the rule begins anew with what is lost, and once more after it
        stretch_first = np.union1d(stretch_first, np.flatnonzero(np.diff(lost.astype(np.int8), prepend=0)))
    sizes = [sum(len(one.counts) for one in recording) for recording in reads]
    corpus = Corpus(np.ascontiguousarray(counts), stretch_first,
                    np.concatenate(([0], np.cumsum(sizes, dtype=np.int64))).astype(np.int64))
    events = material.events(timelines)
    lend = None if material.lender is None else material.lender(timelines)
    clipped, falls = clipped_falls(corpus, events, -part.top, part.top)
    hours, samples = sum(line.duration_s for line in timelines) / 3600, max(len(counts), 1)
    return RangeScore("switched" if part.way == AFTER_LOW else "both at once",
                      figures_by(rule, corpus, events, lend), clipped, falls,
                      sum(int(one.high.sum()) for one in every) / samples,
                      sum(one.switches for one in every) / hours if hours else 0.0, float(lost.sum()) / samples, doubt)

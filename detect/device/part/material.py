"""A study's recordings and labels as arrays, to be seen through any part: what is shared with those who work it out.

What recordings can bear: a part that could tell more than they hold can't be tried on them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from detect.device.part.filters import reach_of
from detect.rule.front_end import FrontEnd, rate_ratio, to_counts
from detect.rule.timeline import Timeline
from detect.scoring.corpus import Corpus, corpus_of
from detect.scoring.score import Events, events_from
from detect.tuning.tally import Lend

Lender = Callable[[Sequence[Timeline]], Lend | None]
"""Timelines at a rate to whose alarms count for whom; must be picklable."""


@dataclass(frozen=True, eq=False)
class TrialRecording:
    """One recording. `samples` (n, 3) in g, or counts of `counts_per_g`; stretches as in `Timeline`, at `rate_hz`.

    `person`: a number; `setting`: of `score.SETTINGS`.
    """

    name: str
    samples: np.ndarray
    counts_per_g: float
    rate_hz: float
    timeline: Timeline
    setting: str
    person: int

    def stretches(self) -> Iterator[np.ndarray]:
        """Of each gap-free stretch the samples in g, float64."""
        firsts = self.timeline.first
        for first, end in zip(firsts, [*firsts[1:], len(self.samples)], strict=True):
            piece = self.samples[first:end]
            yield piece if self.counts_per_g == 1.0 else piece / self.counts_per_g

    @cached_property
    def reaches(self) -> list[np.ndarray]:
        """Of each stretch how far from nought its motion can come, as `filters.reach_of`: the same for every part."""
        return [reach_of(piece) for piece in self.stretches()]


@dataclass(frozen=True, eq=False)
class Material:
    """Everything a part is tried on. Of every label: the place of its recording, whether it is a fall, onset and end
    (None: from end to end). `scored`: of every source whether it counts; alarms of others may be lent to those."""

    sources: tuple[TrialRecording, ...]
    recording: tuple[int, ...]
    is_fall: tuple[bool, ...]
    onset_s: tuple[float | None, ...]
    end_s: tuple[float | None, ...]
    before_s: float
    after_s: float
    people: int
    scored: tuple[bool, ...]
    lender: Lender | None = None

    def events(self, timelines: Sequence[Timeline]) -> Events:
        """The labels in samples of these timelines."""
        return events_from(self.recording, self.is_fall, self.onset_s, self.end_s, timelines,
                           setting=[one.setting for one in self.sources], scored=self.scored,
                           before_s=self.before_s, after_s=self.after_s)

    def timelines(self, rate_hz: float) -> list[Timeline]:
        """Every recording's, brought to a rate."""
        return [one.timeline.resampled(rate_ratio(one.rate_hz, rate_hz)) for one in self.sources]

    @property
    def person_of_label(self) -> np.ndarray:
        return np.array([self.sources[i].person for i in self.recording], dtype=np.int64)

    @property
    def person_of_recording(self) -> np.ndarray:
        return np.array([one.person for one in self.sources], dtype=np.int64)


def in_counts(pieces: Sequence[Sequence[np.ndarray]], front_end: FrontEnd) -> Corpus:
    """Every recording's stretches in g, at the front end's rate, as what a nominal part makes of them."""
    return corpus_of([[to_counts(piece, front_end)[0] for piece in recording] for recording in pieces])


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
class RecordingLimits:
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


def refusal(recorded: Sequence[RecordingLimits], front_end: FrontEnd) -> str:
    """Why these recordings say nothing about a part; empty where they can bear it. What counts is where the part
    really ends."""
    bits, rate_hz = front_end.bits, front_end.rate_hz
    range_g = max(-front_end.ends_g[0], front_end.ends_g[1])
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
                f"nothing about ±{range_g:.4g} g. Take at most ±{lowest:.3g} g{_or_leave(cut, recorded)}.")
    step = 1 / front_end.k
    coarse = [one for one in recorded if one.step_g > step * (1 + SAME)]
    if coarse:
        largest = max(one.step_g for one in coarse)
        most = math.floor(math.log2(range_g / largest * (1 + SAME))) + 1
        remedy = f"Take at most {most} bits" if most >= 8 else f"Take a range of at least ±{largest * 128:.3g} g"
        least = min(one.step_g for one in coarse)
        more = " or more" if largest > least * (1 + SAME) else ""
        return (f"{_some(coarse, recorded)} in steps of {1000 * least:.3g} mg{more}: they say nothing about "
                f"{bits} bits of ±{range_g:.4g} g, {1000 * step:.3g} mg. {remedy}{_or_leave(coarse, recorded)}.")
    return ""


def filter_refusal(rate_hz: float, corner_hz: float | None, recorded: Sequence[RecordingLimits]) -> str:
    """Why a low-pass can't be; empty where it can."""
    if corner_hz is not None and corner_hz > rate_hz / 2 * (1 + 1e-9):
        return (f"A filter of {corner_hz:g} Hz is above half the rate, {rate_hz / 2:g} Hz: what lies between would "
                f"fold back. Take at most {rate_hz / 2:g} Hz.")
    lowest = min((one.rate_hz for one in recorded), default=math.inf)
    if corner_hz is not None and corner_hz > lowest / 2 * (1 + SAME):
        return f"Nothing above {lowest / 2:g} Hz is in recordings of {lowest:g} Hz: take a lower filter."
    return ""


def _some(found: Sequence[RecordingLimits], of: Sequence[RecordingLimits], verb: str = "is") -> str:
    if len(of) == 1:
        return f"The recording {verb}".rstrip()
    if len(found) == 1:
        return f"{found[0].name} {verb}".rstrip()
    verb = "are" if verb else ""
    some = f"All {len(of)}" if len(found) == len(of) else f"{len(found)} of {len(of)}"
    return f"{some} recordings {verb}".rstrip()


def _or_leave(found: Sequence[RecordingLimits], of: Sequence[RecordingLimits]) -> str:
    return ", or leave them out of the score" if len(found) < len(of) else ""

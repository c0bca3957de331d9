"""A study's recordings and labels as arrays, to be seen through any part: what is shared with those who work it out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from detect.corpus import Corpus, corpus_of
from detect.frontend import FrontEnd, rate_ratio, to_counts
from detect.score import Events, events_from
from detect.timeline import Timeline
from detect.tuning.tally import Lend

Lender = Callable[[Sequence[Timeline]], Lend | None]
"""Timelines at a rate to whose alarms count for whom; must be picklable."""


@dataclass(frozen=True, eq=False)
class Source:
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


@dataclass(frozen=True, eq=False)
class Material:
    """Everything a part is tried on. Of every label: the place of its recording, whether it is a fall, onset and end
    (None: from end to end). `scored`: of every source whether it counts; alarms of others may be lent to those."""

    sources: tuple[Source, ...]
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

"""The surroundings of one event, small enough to be run a thousand times."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from detect.approach import filtered
from detect.attempt import Attempt
from detect.corpus import Corpus
from detect.engine import Engine
from detect.rule import Rule
from detect.score import Events, owners_of

REACH = 20_000
"""Samples before and after an event beyond which a long recording is cut off: more than any window reaches."""


@dataclass(frozen=True, eq=False)
class Nearby:
    """`run`: whether the event has an alarm under a rule, and a function for the attempts of that run.

    `squares`: |v|² of every sample that leaves the pre-filter; `axes`: its largest |component|.
    """

    run: Callable[[Rule], tuple[bool, Callable[[], Sequence[Attempt]]]]
    squares: np.ndarray
    axes: np.ndarray


def nearby(corpus: Corpus, prefilter: int, events: Events, event: int) -> Nearby:
    """The event's recording, or of a long one what lies within REACH of the event.

    Cut off there, an alarm from farther away can't hold this one off; what is found is to be tried on the whole.
    """
    recording = int(events.recording[event])
    begin, end = (int(at) for at in corpus.recording_first[recording:recording + 2])
    first = max(begin, begin + int(events.wide_first[event]) - REACH)
    last = min(end, begin + int(events.wide_last[event]) + 1 + REACH)
    inside = corpus.stretch_first[(corpus.stretch_first > first) & (corpus.stretch_first < last)]
    small = Corpus(np.ascontiguousarray(corpus.counts[first:last]), np.append(first, inside) - first,
                   np.array([0, last - first], dtype=np.int64))
    engine = Engine(small)

    def run(rule: Rule) -> tuple[bool, Callable[[], Sequence[Attempt]]]:
        found = engine.evaluate(rule)
        impact = found.alarm_impact + (first - begin)
        mine = owners_of(np.full(len(impact), recording), impact, events) == event
        return bool(mine.any()), lambda: [found.attempt(i) for i in range(len(found))]

    v, valid = filtered(small.counts, small.stretch_first, prefilter)
    return Nearby(run, np.sum(v * v, axis=1)[valid], np.abs(v).max(axis=1)[valid])

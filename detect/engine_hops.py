"""Without free fall and without restarts every impact can begin an attempt and rests where it is.

Where impacts are many, following each would cost more than the few attempts they make. So attempts are guessed some
way ahead, stretch by stretch, as if all were rejected, and judged together; up to the first alarm the guess is
right, and from there it starts anew, shorter; after a guess without an alarm longer.
"""

from __future__ import annotations

from bisect import bisect_left

import numpy as np

from detect.engine_highs import Impacts
from detect.engine_index import Index
from detect.engine_stages import Candidates, Path, landed_at, watched
from detect.engine_verdicts import Asked, Case, Tables
from detect.rule import Rule

FEWEST, MOST = 8, 1024
"""Attempts guessed ahead in one stretch."""


def hops(index: Index, rule: Rule, found: Impacts) -> tuple[Case, np.ndarray]:
    """All attempts, and which of them raise an alarm, (k,) bool."""
    length = watched(rule)
    next_one = found.place.searchsorted(index.begin).tolist()
    resume, ends = index.begin.tolist(), index.end.tolist()
    last = found.place.searchsorted(index.end).tolist()
    ahead = [FEWEST] * len(ends)
    parts = [np.empty(0, dtype=np.int64)]
    alarms = [np.empty(0, dtype=bool)]
    going = list(range(len(ends)))
    while going:
        guesses = [guess(found.place.data, next_one[s], resume[s], last[s], ahead[s], length)
                   for s in going]
        which = np.array([i for one in guesses for i in one], dtype=np.int64)
        alarm = np.zeros(len(which), dtype=bool)
        alarm[case_of(index, rule, which, found).passing(np.arange(len(which)))] = True
        going_on, first = [], 0
        for s, size in zip(going, map(len, guesses), strict=True):
            judged = alarm[first:first + size]
            raised = bool(judged.any())
            right = int(judged.argmax()) + 1 if raised else size
            parts.append(which[first:first + right])
            alarms.append(judged[:right])
            if raised or size == ahead[s]:
                next_one[s] = int(which[first + right - 1])
                resume[s] = min(int(found.place[next_one[s]]) + length + 1 + raised * rule.hold_off, ends[s])
                ahead[s] = max(ahead[s] // 2, FEWEST) if raised else min(2 * ahead[s], MOST)
                going_on.append(s)
            first += size
        going = going_on
    which = np.concatenate(parts)
    order = np.argsort(which)
    return case_of(index, rule, which[order], found), np.concatenate(alarms)[order]


def guess(place: memoryview[int], i: int, resume: int, last: int, count: int, length: int) -> list[int]:
    """The next so many impacts of a stretch that begin an attempt if all are rejected, as places in Impacts.

    The first is not before `i`, nor its place before `resume`. `last`: the stretch's END in Impacts.
    """
    guessed: list[int] = []
    step = length + 1
    i = bisect_left(place, resume, i, last)
    for _ in range(count):
        if i >= last:
            break
        guessed.append(i)
        most = i + step  # places ascend: this one is far enough
        i = bisect_left(place, place[i] + step, i + 1, most if most < last else last)
    return guessed


def case_of(index: Index, rule: Rule, which: np.ndarray, found: Impacts) -> Case:
    """A case of these impacts, each reached."""
    at, every = found.place.take(which), np.arange(len(which))
    yes = np.ones(len(which), dtype=bool)
    return Case(index, rule, Candidates(at, at, at, which, yes, at), landed_at(index, rule, at),
                Path(every, every + 1), Tables(*(Asked(rows, len(which)) for rows in (4, 3, 1))))

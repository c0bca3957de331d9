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
    place, span = found.place.data, length + rule.hold_off + 2
    next_one = found.place.searchsorted(index.begin).tolist()
    resume, ends = index.begin.tolist(), index.end.tolist()
    ahead = [FEWEST] * len(ends)
    parts: list[np.ndarray] = [np.empty(0, dtype=np.int64)]
    alarms: list[np.ndarray] = [np.empty(0, dtype=bool)]
    going = list(range(len(ends)))
    while going:
        guessed: list[int] = []
        sizes = []
        for s in going:
            before, at, i, end = len(guessed), resume[s], next_one[s], ends[s]
            for _ in range(ahead[s]):
                i = bisect_left(place, at, i, min(i + span, len(place)))
                if place[i] >= end:
                    break
                guessed.append(i)
                at = min(place[i] + length + 1, end)
            sizes.append(len(guessed) - before)
        case = case_of(index, rule, np.array(guessed, dtype=np.int64), found)
        alarm = np.zeros(len(guessed), dtype=bool)
        alarm[case.passing(np.arange(len(guessed)))] = True
        still_going, first = [], 0
        for s, size in zip(going, sizes, strict=True):
            right = alarm[first:first + size]
            raised = bool(right.any())
            count = int(right.argmax()) + 1 if raised else size
            parts.append(case.begun.ahead[first:first + count])
            alarms.append(right[:count])
            if count and (raised or size == ahead[s]):
                next_one[s] = guessed[first + count - 1]
                resume[s] = min(place[next_one[s]] + length + 1 + (rule.hold_off if raised else 0), ends[s])
                ahead[s] = max(ahead[s] // 2, FEWEST) if raised else min(2 * ahead[s], MOST)
                still_going.append(s)
            first += size
        going = still_going
    which = np.concatenate(parts)
    order = np.argsort(which)
    return case_of(index, rule, which[order], found), np.concatenate(alarms)[order]


def case_of(index: Index, rule: Rule, which: np.ndarray, found: Impacts) -> Case:
    """A case of these impacts, each reached."""
    at, every = found.place.take(which), np.arange(len(which))
    yes = np.ones(len(which), dtype=bool)
    return Case(index, rule, Candidates(at, at, at, which, yes, at), landed_at(index, rule, at),
                Path(every, every + 1), Tables(*(Asked(rows, len(which)) for rows in (4, 3, 1))))

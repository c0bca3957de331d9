"""The rule over a whole corpus at once: the same attempts as `detect/reference.py`, field by field.

The rule is a chain: an attempt can only begin once the one before it is over. But what becomes of an attempt does
not depend on the ones before, only on where it begins. So every place where one could begin is followed to its end
at once, in arrays; the chain then only hops from one to the next.

1. *Candidates*: every low row that is long enough (without free fall: every sample that is an impact). Each leads to
   an impact, or to none in time, or into a gap; rows that qualify before the deadline pass theirs on.
2. *Landings*: from each impact through its restarts to the sample that judges it.
3. *Verdicts*: sums over what was observed and over what came before.
4. *Chain*: the first candidate that is still low, or an impact, when the rule watches again.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from detect.attempts import Attempts
from detect.corpus import Corpus
from detect.engine_index import Index
from detect.engine_stages import HIT, Trail, candidates, land, passes
from detect.rule import Rule


class Engine:
    """Evaluates rules over one corpus. Keeps an index for the pre-filter last asked for."""

    def __init__(self, corpus: Corpus, progress: Callable[[float], None] | None = None) -> None:
        self.corpus = corpus
        self._index = Index(corpus, 1)
        if progress is not None:
            progress(1.0)

    def evaluate(self, rule: Rule) -> Attempts:
        """Every attempt of every recording, by recording, then time."""
        index = self._index
        if index.prefilter != rule.prefilter:
            index = self._index = Index(self.corpus, rule.prefilter)
        found = candidates(index, rule)
        hits = np.flatnonzero(found.kind == HIT)
        impacts, which = np.unique(found.at[hits], return_inverse=True)
        landed = land(index, rule, impacts)
        alarm = np.zeros(len(found.first), dtype=bool)
        alarm[hits] = passes(index, rule, found.first[hits], landed, which)
        landing = np.full(len(found.first), -1)
        landing[hits] = which
        resume = found.at + 1
        resume[hits] = np.minimum(landed.judged[which] + np.where(alarm[hits], rule.hold_off, 0),
                                  index.end[landed.stretch[which]]) + 1
        reached = chain(found.last, resume)
        return Attempts(index, rule, Trail(
            found.first[reached], np.append(0, resume[reached])[:-1], found.last[found.final[reached]],
            found.kind[reached], found.at[reached], alarm[reached], landing[reached]), landed)


def chain(last: np.ndarray, resume: np.ndarray) -> np.ndarray:
    """The candidates that do begin an attempt: the first, and after each the first not over when it resumes."""
    after = np.searchsorted(last, resume).tolist()
    reached, i = [], 0
    while i < len(after):
        reached.append(i)
        i = after[i]
    return np.array(reached, dtype=np.int64)

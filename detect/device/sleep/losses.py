"""What sleeping cost: events whose outcome changed and why, how much later alarms come, what the line did not see."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np

from detect.device.part.modes import FREE_FALL
from detect.device.sleep.awake import AwakeSpan
from detect.device.sleep.scores import SleepAttempts, Woken, check_names
from detect.device.sleep.wake_settings import Waking, largest_axis, runs
from detect.engine.attempt_table import CUT_OFF
from detect.rule.explanation import ENDED
from detect.rule.integers import Rule
from detect.scoring.corpus import Corpus
from detect.scoring.score import Events, Score

NEVER_WOKE, TOO_LATE, ASLEEP_AGAIN, NO_BEFORE, OTHERWISE = REASONS = (
    "never woke", "woke too late", "asleep again", "no before", "judged otherwise")


@dataclass(frozen=True)
class LostOutcome:
    """One event that came out otherwise. `was`, `now`: outcome codes; `why`: one of REASONS, `more` with its number;
    `sample`: where to look, in the recording."""

    event: int
    was: int
    now: int
    why: str
    more: str
    sample: int


def changes(always: SleepAttempts, score: Score, slept: Woken, slept_score: Score,
            rate_hz: float) -> tuple[LostOutcome, ...]:
    """Every event whose outcome is another one than that of a device that never sleeps."""
    found = []
    before, after = _alarms_of(always, score), _alarms_of(slept.tried, slept_score)
    for event in np.flatnonzero(score.outcome != slept_score.outcome).tolist():
        if event in before:
            at = before[event]
            times = slept.times[int(always.recording[at])]  # of the node that alarmed, where there are several
            why, more = _lost(always, at, slept.tried, times, rate_hz)
            sample = int(always.impact[at])
        else:
            at = after[event]
            why, more = _gained(slept.tried, at, always)
            sample = int(slept.tried.impact[at])
        found.append(LostOutcome(event, int(score.outcome[event]), int(slept_score.outcome[event]), why, more, sample))
    return tuple(found)


def _alarms_of(tried: SleepAttempts, score: Score) -> dict[int, int]:
    """For each event with alarms the attempt of its first; `score` is of these alarms."""
    found: dict[int, int] = {}
    for at, event in zip(tried.alarms.tolist(), score.event.tolist(), strict=True):
        if event >= 0:
            found.setdefault(event, at)
    return found


def _lost(always: SleepAttempts, at: int, slept: SleepAttempts, times: tuple[AwakeSpan, ...],
          rate_hz: float) -> tuple[str, str]:
    """Why an alarm did not come."""
    recording, first, decided = (int(column[at]) for column in (always.recording, always.first, always.decided))
    awake = [one for one in times if one.stop > first and one.woke <= decided]
    if not awake:
        return NEVER_WOKE, ""
    mine = np.flatnonzero((slept.recording == recording) & (slept.first <= decided) & (slept.decided >= first))
    ends = {one.stop for one in awake}
    for i in mine.tolist():
        asleep = int(slept.decided[i]) + 1
        if asleep in ends and asleep <= decided and (slept.early[i] or slept.ended[i] == CUT_OFF):
            return ASLEEP_AGAIN, f"{(decided + 1 - asleep) * 1000 / rate_hz:.0f} ms before it was judged"
    same = bool(np.any(slept.impact[mine] == always.impact[at]))
    if awake[0].first > first and not same:
        return TOO_LATE, f"{(awake[0].first - first) * 1000 / rate_hz:.0f} ms after it began"
    failed = [ENDED[name] for i in mine.tolist() for name in check_names(int(slept.failed[i]))]
    return OTHERWISE, ", ".join(dict.fromkeys(failed)) or "another attempt was in its way"


def _gained(slept: SleepAttempts, at: int, always: SleepAttempts) -> tuple[str, str]:
    """Why an alarm came that there would not have been."""
    same = np.flatnonzero((always.recording == slept.recording[at]) & (always.impact == slept.impact[at]))
    silent, early = int(slept.skipped[at]), bool(slept.early[at])
    if len(same) and early and not always.early[same[0]]:
        return ASLEEP_AGAIN, "judged early, on what there was"
    for i in same.tolist():
        unheard = check_names(int(always.failed[i]) & silent)
        if unheard:
            return NO_BEFORE, f"{' and '.join(unheard)} could not speak"
    return OTHERWISE, "what was in its way was slept through"


@dataclass(frozen=True)
class Later:
    """Of events with an alarm on either device: how much later it comes, in ms."""

    events: int
    median_ms: float
    most_ms: float


def later(always: SleepAttempts, score: Score, slept: Woken, slept_score: Score, rate_hz: float) -> Later | None:
    """From the sample that decides on a device that never sleeps to the one after which the firmware of this one
    knows. None where no event has an alarm on both."""
    before, after = _alarms_of(always, score), _alarms_of(slept.tried, slept_score)
    both = sorted(set(before) & set(after))
    if not both:
        return None
    added = np.array([slept.tried.told[after[event]] - always.decided[before[event]] for event in both])
    added = added * 1000 / rate_hz
    return Later(len(both), float(np.median(added)), float(added.max()))


def without_before(always: SleepAttempts, slept: SleepAttempts) -> tuple[int, int]:
    """Attempts with an impact that a check had nothing to go by for: always on, and asleep."""
    return tuple(int(np.count_nonzero((one.impact >= 0) & (one.skipped > 0)))  # type: ignore[return-value]
                 for one in (always, slept))


@dataclass(frozen=True)
class Miss:
    """An event in which the magnitude is low for as long as the rule wants it, but the free-fall line stays quiet.

    `low_samples`: the longest such row; `line_samples`: for how long in it every axis was below the line's level, in
    samples of the line; `axis`: in counts, how large the largest axis is at the row's best; `sample`: its first.
    """

    event: int
    low_samples: int
    line_samples: int
    axis: int
    sample: int


def line_misses(corpus: Corpus, rule: Rule, waking: Waking, events: Events) -> tuple[Miss, ...]:
    """Events that the rule's free fall finds by the magnitude, whatever their kind, and the line does not."""
    if waking.line != FREE_FALL:
        return ()
    found = []
    numbers = np.flatnonzero(events.scored[events.recording] & (events.wide_first <= events.wide_last))
    edges = np.append(corpus.stretch_first, corpus.samples).tolist()
    high = _Highs(corpus, waking)
    for event in numbers.tolist():
        base = int(corpus.recording_first[events.recording[event]])
        first, last = base + int(events.wide_first[event]), base + int(events.wide_last[event])
        best: Miss | None = None
        spoke = False
        for i in range(bisect_right(edges, first) - 1, len(edges) - 1):
            if edges[i] > last:
                break
            begin, stop = max(edges[i], first), min(edges[i + 1], last + 1)
            spoke = spoke or bool(high.of(i)[begin - edges[i]:stop - edges[i]].any())
            one = _longest_row(event, corpus.counts[begin:stop], rule, waking, begin - base)
            if one is not None and (best is None or one.low_samples > best.low_samples):
                best = one
        if best is not None and not spoke:
            found.append(best)
    return tuple(found)


class _Highs:
    """Where the line is high, of the stretch asked for last: events come recording by recording."""

    def __init__(self, corpus: Corpus, waking: Waking) -> None:
        self.corpus, self.waking = corpus, waking
        self._kept: tuple[int, np.ndarray] | None = None

    def of(self, stretch: int) -> np.ndarray:
        if self._kept is None or self._kept[0] != stretch:
            first, stop = int(self.corpus.stretch_first[stretch]), int(self.corpus.stretch_stop[stretch])
            self._kept = stretch, self.waking.high(self.corpus.counts[first:stop])
        return self._kept[1]


def _longest_row(event: int, counts: np.ndarray, rule: Rule, waking: Waking, at: int) -> Miss | None:
    """The longest row in which the magnitude is low, if that is long enough for the rule."""
    wide = counts.astype(np.int64)
    low = runs(np.sum(wide * wide, axis=1) < rule.free_fall ** 2)
    if len(low) == 0 or low.max() < rule.free_fall_run:
        return None
    end = int(np.argmax(low))
    first = end + 1 - int(low[end])
    axis = largest_axis(waking.read(counts[first:end + 1]))
    line = int(runs(axis < waking.level).max() * waking.line_hz / waking.rate_hz)
    return Miss(event, int(low[end]), line, int(axis.min()), at + first)

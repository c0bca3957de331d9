"""One recording looked at closely: its attempts in words, its stage lane, and for every event the attempt that came
nearest to turning it.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from app.formatting import decimal, with_unit
from app.study.memo import Memo
from app.study.pipeline import Evaluated, Prepared, StudyEvents
from app.study.recordings.device_signal import DeviceSignal
from app.study.results.content import AttemptRow
from app.study.state import Study
from detect.rule import explanation
from detect.rule.attempt import ENDS, Attempt
from detect.rule.explanation import Margin, StageSpan, lane
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule
from detect.rule.settings import Unit
from detect.scoring import nearest_approach
from detect.scoring.nearest_approach import Approach

HELD, UNDER_WAY = "within hold-off after an alarm", "another attempt was under way"
STOPPED = {"free_fall": "no free fall", "impact": "no impact", "deaf": "unheard"} | explanation.ENDED
"""Where the rule stopped, in words."""
EARLY = ", early"
"""Added to that where the signal ended before the rule was done."""

NO_ATTEMPT = 20
"""First number of the order of an event without an attempt: farther from an alarm than any attempt."""


@dataclass(frozen=True)
class Nearest:
    """`attempt` None where none was made. `stopped`: a key of STOPPED. `phrase`: "0.31 g short"; of an alarm the
    narrowest pass, "tilt by 3°". `order`: smaller is nearer to turning the event's outcome. `impact`: the attempt's,
    as a sample of the event's own recording. `node`: whose attempt it is, where that is another one's."""

    attempt: Attempt | None
    stopped: str
    phrase: str
    order: tuple[int, float]
    impact: int | None = None
    node: str = ""

    @property
    def ended(self) -> str:
        """Where it stopped, in words, and whether it was judged before its time: "alarm, early"."""
        return STOPPED[self.stopped] + (EARLY if self.attempt is not None and self.attempt.early else "")

    @property
    def sentence(self) -> str:
        """"no impact: 0.31 g short"; empty where it ended in an alarm."""
        if self.stopped == "alarm":
            return ""
        word = STOPPED[self.stopped]
        return self.phrase if self.phrase.startswith(word) else f"{word}: {self.phrase}"


class Signal:
    """The samples as the rule sees them, and how near events without an attempt came to one.

    Kept while the samples stay: an approach depends on little of the rule.
    """

    def __init__(self, prepared: Prepared, labelled: StudyEvents) -> None:
        self._corpus = prepared.engine.corpus
        self._memo = Memo()

    def squares(self, recording: int, first: int, last: int, length: int) -> tuple[np.ndarray, np.ndarray, int]:
        """What `filtered` gives of samples about `first` … `last` of a recording, and the first one's number there.

        Only what the pre-filter needs is filtered, not the whole recording.
        """
        corpus = self._corpus
        begin, end = (int(at) for at in corpus.recording_first[recording:recording + 2])
        start, stop = max(begin + first - length + 1, begin), min(begin + last + 1, end)
        inside = corpus.stretch_first[(corpus.stretch_first > start) & (corpus.stretch_first < stop)]
        v, valid = nearest_approach.filtered(corpus.counts[start:stop], np.append(start, inside) - start, length)
        return v, valid, start - begin

    def starts(self, recording: int) -> np.ndarray:
        """The first sample of each stretch of a recording, by its own numbers."""
        corpus = self._corpus
        begin, end = (int(at) for at in corpus.recording_first[recording:recording + 2])
        return corpus.stretch_first[(corpus.stretch_first >= begin) & (corpus.stretch_first < end)] - begin

    def approach(self, recording: int, first: int, last: int, rule: Rule) -> Approach:
        def make() -> Approach:
            v, valid, at = self.squares(recording, first, last, rule.prefilter)
            found = nearest_approach.approach(v, valid, rule, first - at, last - at)
            row = None if found.row_first is None else found.row_first + at
            return Approach(found.longest_row, row, found.lowest, found.highest)

        return self._memo.of((recording, first, last),
                             (rule.prefilter, rule.free_fall_on, rule.every_axis, rule.free_fall), make)


class NearestAttempts:
    """Of the events of one evaluation; each is looked at when first asked for."""

    def __init__(self, front_end: FrontEnd, found: Evaluated, labelled: StudyEvents, signal: Signal) -> None:
        self._front_end, self._found = front_end, found
        self._events, self._signal, self._lending = labelled.events, signal, labelled.lending
        self._memo = Memo()

    def of(self, event: int) -> Nearest:
        return self._memo.of(event, (), lambda: self._nearest(event))

    def _nearest(self, event: int) -> Nearest:
        """Of all nodes whose alarms count: of misses the one that came nearest, of alarms the surest, since each of
        them would have to be turned."""
        events = self._events
        recording, first, last = (int(of[event]) for of in (events.recording, events.wide_first, events.wide_last))
        if self._lending is None or last < first:
            return self._on(recording, first, last)
        found = []
        for place in self._lending.standing_for(recording):
            ends = self._lending.on(recording, place, np.array([first, last]))
            one = self._on(place, int(ends[0]), int(ends[1]))
            if place != recording:
                impact = None if one.impact is None else int(
                    self._lending.on(place, recording, np.array([one.impact]))[0])
                name = self._lending.names[place]
                one = replace(one, phrase=f"{one.phrase} on {name}", impact=impact, node=name)
            found.append(one)
        alarms = [one for one in found if one.stopped == "alarm"]
        return max(alarms, key=lambda one: one.order) if alarms else min(found, key=lambda one: one.order)

    def _on(self, recording: int, first: int, last: int) -> Nearest:
        """Of one node's attempts."""
        rule, front_end = self._found.rule, self._front_end
        if last < first:
            return Nearest(None, "free_fall" if rule.free_fall_on else "impact", "no samples", (NO_ATTEMPT + 2, 0.0))
        attempts = self._about(recording, first, last)
        found = nearest_approach.summary(attempts, rule, front_end, first, last,
                                 lambda: self._signal.approach(recording, first, last, rule))
        if found.approach is not None:
            return self._without(recording, found.approach, found.phrase)
        assert found.attempt is not None
        attempt = attempts[found.attempt]
        if found.stopped == "alarm":
            slack, phrase = narrowest(attempt, rule, front_end)
            return Nearest(attempt, "alarm", phrase, (0, slack), attempt.impact)
        before = max((one.decided for one in attempts[:found.attempt]), default=first - 1)
        phrase = (self._too_late(recording, attempt) or self._cut(recording, attempt)
                  or found.phrase + self._too_soon(recording, attempt, before))
        return Nearest(attempt, found.stopped, phrase, nearest_approach.nearness(attempt, rule, front_end),
                       attempt.impact)

    def _about(self, recording: int, first: int, last: int) -> list[Attempt]:
        """Attempts that touch these samples. They are in order, so two searches find them among thousands."""
        table = self._found.attempts
        mine, columns = table.of(recording), table.columns
        decided = columns["decided"].values[mine.start:mine.stop]
        low, impact = columns["first_low"], columns["first_impact"]
        begun = np.where(low.known, low.values, impact.values)[mine.start:mine.stop]
        start = int(np.searchsorted(decided, first))
        stop = int(np.searchsorted(begun, last, side="right"))
        return [table.attempt(mine.start + i) for i in range(start, stop)]

    def _too_late(self, recording: int, attempt: Attempt) -> str:
        """An impact that came only after the wait was over."""
        if attempt.ended != "no_impact":
            return ""
        rule, first = self._found.rule, attempt.decided + 1
        v, _, at = self._signal.squares(recording, first, attempt.decided + rule.impact_within, rule.prefilter)
        return too_late(np.sum(v * v, axis=1)[first - at:], rule, self._front_end)

    def _too_soon(self, recording: int, attempt: Attempt, decided: int) -> str:
        """An impact before the free fall that none came after. `decided`: the last sample of the attempt before."""
        rule = self._found.rule
        first, low = heard_by_none(attempt, decided, rule, self._signal.starts(recording))
        if first >= low:
            return ""
        v, _, at = self._signal.squares(recording, first, low - 1, rule.prefilter)
        return too_soon(np.sum(v * v, axis=1)[first - at:low - at], rule, self._front_end)

    def _cut(self, recording: int, attempt: Attempt) -> str:
        return cut_by_gap(attempt, self._signal.starts(recording))

    def _without(self, recording: int, near: Approach, phrase: str) -> Nearest:
        """An event without an attempt: ordered by how far the signal went."""
        rule = self._found.rule
        stopped = "free_fall" if rule.free_fall_on else "impact"
        if near.lowest is None or near.highest is None:
            return Nearest(None, stopped, phrase, (NO_ATTEMPT + 2, 0.0))
        if not rule.free_fall_on:
            if near.highest >= rule.impact ** 2:
                return Nearest(None, "deaf", UNDER_WAY, (NO_ATTEMPT, 0.0))
            return Nearest(None, stopped, phrase, (NO_ATTEMPT, 1 - near.highest ** 0.5 / rule.impact))
        if near.row_first is None:
            return Nearest(None, stopped, phrase, (NO_ATTEMPT + 1, near.lowest ** 0.5 / rule.free_fall - 1))
        if near.longest_row >= rule.free_fall_run:
            why = HELD if self._held(recording, near.row_first + near.longest_row - 1) else UNDER_WAY
            return Nearest(None, "deaf", why, (NO_ATTEMPT, 0.0))
        return Nearest(None, stopped, phrase, (NO_ATTEMPT, 1 - near.longest_row / rule.free_fall_run))

    def _held(self, recording: int, sample: int) -> bool:
        """Whether the last attempt that was over before this sample raised an alarm that it is still held off by."""
        table = self._found.attempts
        mine = table.of(recording)
        decided = table.columns["decided"].values[mine.start:mine.stop]
        before = int(np.searchsorted(decided, sample)) - 1
        return before >= 0 and ENDS[table.ended[mine.start + before]] == "alarm" \
            and sample <= int(decided[before]) + self._found.rule.hold_off


def too_late(squares: np.ndarray, rule: Rule, front_end: FrontEnd) -> str:
    """Of |v|² after a wait for the impact was over: by how much the impact missed it; empty where there is none."""
    late = np.flatnonzero(squares >= rule.impact ** 2)
    return f"impact {front_end.ms(int(late[0]) + 1):.0f} ms too late" if len(late) else ""


def heard_by_none(attempt: Attempt, decided: int, rule: Rule, starts: np.ndarray) -> tuple[int, int]:
    """From which sample to before which an impact may have come too soon for an attempt that waited for one in vain:
    after `decided`, the last sample of the attempt before, and in the same stretch; `starts`: their first samples."""
    low = attempt.first_low
    if attempt.ended != "no_impact" or low is None:
        return 0, 0
    return max(low - rule.impact_within, decided + 1, int(starts[starts <= low].max(initial=0))), low


def too_soon(squares: np.ndarray, rule: Rule, front_end: FrontEnd) -> str:
    """Of |v|² before a free fall: the impact that came before it and so counted for nothing; empty where none did."""
    if not len(squares) or squares.max() < rule.impact ** 2:
        return ""
    at = int(squares.argmax())
    hard = with_unit(round(float(squares[at]) ** 0.5 / front_end.k, 2), Unit.G)
    return f"; {hard} came {front_end.ms(len(squares) - at):.0f} ms too soon"


_NARROW = {"low": "free fall", "row": "free fall", "impact": "impact", "delay": "in time", "active": "not active",
           "tilt": "tilt", "reclined": "lying", "still": "still"}
_WHOLE = {Unit.DEGREE: 180.0, Unit.PERCENT: 100.0}


def narrowest(attempt: Attempt, rule: Rule, front_end: FrontEnd) -> tuple[float, str]:
    """Of the checks that an alarm passed the one with the least to spare, as a share, and in words: "tilt by 3°"."""
    passed = [m for m in explanation.margins(attempt, rule, front_end) if m.passed and m.spare is not None]
    least = min(passed, key=_slack)
    assert least.spare is not None
    return _slack(least), f"{_NARROW[least.name]} by {explanation.amount(least.spare, least.unit)}"


def _slack(margin: Margin) -> float:
    assert margin.spare is not None
    return margin.spare / max(_WHOLE.get(margin.unit, margin.asked), 1e-9)


def cut_by_gap(attempt: Attempt, starts: np.ndarray) -> str:
    """What cut an attempt off, where that is a gap and not the recording's end; `starts`: the first sample of each
    stretch."""
    at_gap = attempt.ended == "cut_off" and bool((starts == attempt.decided + 1).any())
    return "gap before an impact" if at_gap else ""


class Smoothed:
    """One recording as it leaves the pre-filter: the same under every rule that has the same one."""

    def __init__(self, seen: DeviceSignal, prefilter: int) -> None:
        self.seen, self.prefilter = seen, prefilter

    @cached_property
    def filtered(self) -> tuple[np.ndarray, np.ndarray]:
        return nearest_approach.filtered(self.seen.counts, self.seen.timeline.first, self.prefilter)

    @cached_property
    def squares(self) -> np.ndarray:
        """|v|² of every sample."""
        v, _ = self.filtered
        return np.sum(v * v, axis=1)


class Explained:
    """Made for one study under one rule; nothing is computed before it is asked for. `last`: the one before
    it, whose signal serves again where it is the same."""

    def __init__(self, study: Study, found: Evaluated, prepared: Prepared, at: int,
                 last: Explained | None = None) -> None:
        self.study, self.rule, self.front_end = study, found.rule, study.front_end
        self.seen, self.found = prepared.seen[at], found
        self._table, self._at = found.attempts, at
        same = last is not None and last.seen is self.seen and last.rule.prefilter == self.rule.prefilter
        self.signal: Smoothed = last.signal if last is not None and same else Smoothed(self.seen, self.rule.prefilter)

    @cached_property
    def attempts(self) -> tuple[Attempt, ...]:
        return tuple(self._table.attempt(i) for i in self._table.of(self._at))

    @cached_property
    def spans(self) -> tuple[StageSpan, ...]:
        return lane(self.attempts, self.rule, self.signal.squares, list(self.seen.timeline.first))

    def rows(self) -> tuple[AttemptRow, ...]:
        before = (-1, *(attempt.decided for attempt in self.attempts))
        return tuple(map(self._row, self.attempts, before))

    def _row(self, attempt: Attempt, before: int) -> AttemptRow:
        """`before`: the last sample of the attempt before."""
        began = attempt.first_low if attempt.first_low is not None else attempt.first_impact
        ended = " and ".join(explanation.ENDED[check] for check in attempt.failed) or explanation.ENDED[attempt.ended]
        if attempt.early:
            ended += EARLY
        margins = explanation.margins(attempt, self.rule, self.front_end)
        return AttemptRow(attempt, self.seconds(began), self.seconds(attempt.impact), ended,
                          self._missing(attempt, before),
                          tuple((MARGIN_TITLES[m.name], _measured(m), _both(m.asked, m.asked_integer, m.unit))
                                for m in margins))

    def _missing(self, attempt: Attempt, before: int) -> str:
        """By how much it gave up; an impact that came only after the wait was over, or too soon, is told as such."""
        late = ""
        if attempt.ended == "no_impact":
            after = slice(attempt.decided + 1, attempt.decided + 1 + self.rule.impact_within)
            late = too_late(self.signal.squares[after], self.rule, self.front_end)
        return (late or cut_by_gap(attempt, self.seen.timeline.first)
                or explanation.missing(attempt, self.rule, self.front_end)
                + too_soon(self.signal.squares[slice(*heard_by_none(attempt, before, self.rule,
                                                                    self.seen.timeline.first))],
                           self.rule, self.front_end))

    def before(self, sample: int) -> tuple[float, float, float] | None:
        """The mean reading in g before the attempt that holds a sample, where the rule takes its baseline from; None
        outside attempts and where a gap left too little."""
        at = bisect_left(self.attempts, sample, key=lambda attempt: attempt.decided)
        if at == len(self.attempts):
            return None
        attempt = self.attempts[at]
        begun = attempt.first_low if attempt.first_low is not None else attempt.first_impact
        if begun is None or begun > sample:
            return None
        after = begun - self.rule.guard
        first = after - self.rule.baseline
        stretch = self.seen.timeline.first[self.seen.timeline.first <= begun][-1]
        if first < stretch + self.rule.prefilter - 1:
            return None
        x, y, z = self.signal.filtered[0][first:after].mean(axis=0) / self.front_end.k
        return float(x), float(y), float(z)

    def seconds(self, sample: int | None) -> float | None:
        return None if sample is None else self.seen.timeline.seconds(sample)

    def stages(self) -> tuple[tuple[StageSpan, ...], tuple[int, ...], tuple[int, ...]]:
        spans = self.spans
        alarms = tuple(a.decided for a in self.attempts if a.ended == "alarm")
        return spans, alarms, tuple(a.impact for a in self.attempts if a.impact is not None)


MARGIN_TITLES = {"low": "free fall, depth", "row": "free fall, length", "impact": "impact",
                 "delay": "impact after free fall", "active": "active before", "tilt": "tilt change",
                 "reclined": "reclined", "still": "still"}


def _measured(margin: Margin) -> str:
    if margin.measured is None or margin.measured_integer is None:
        return "nothing to go by"
    return _both(margin.measured, margin.measured_integer, margin.unit)


def _both(value: float, integer: float, unit: Unit) -> str:
    """A physical value with its counts or samples: "0.31 g (159)"."""
    rounded = round(value, 2 if unit is Unit.G else 0)
    return f"{with_unit(rounded, unit)} ({decimal(round(integer))})"

"""The study's rule on a device that sleeps until its part's line: the score against always-on, events lost and why."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from app.formatting import GAP, plural
from app.study import actions
from app.study.device.cost import NUMBERS as COSTS
from app.study.device.cost import Cost, alarms_per_day, awake_for, cost_of, how_long, microamperes
from app.study.pipeline import Cancelled, Made, Prepared, Progress, StudyEvents
from app.study.results.readout import percent, unlabelled_sentence
from app.study.results.score_json import brief
from app.study.state import Study
from detect.device.energy.budget import response_s
from detect.device.energy.contradictions import wake_warnings
from detect.device.energy.current import NEVER as RUNS
from detect.device.sleep.awake import Duty
from detect.device.sleep.losses import REASONS, Later, LostOutcome, Miss, changes, later, line_misses, without_before
from detect.device.sleep.scores import always_on
from detect.device.sleep.wake_settings import LINES, NEVER, LinePart, reading_in_free_fall, waking_of
from detect.device.sleep.worst_part import AsleepLoss, worst_part
from detect.scoring.figures import Figures, figures
from detect.scoring.score import MISSED, OUTCOMES, Score

NUMBERS = ("wake.", "digital.buffer", "part.kind", "modes.")
"""How the keys of the device begin that waking hangs on."""


@dataclass(frozen=True)
class EventLine:
    """An event that came out otherwise, or that the line missed. `sample`: where to look, in its recording."""

    recording: str
    event: str
    kind: str
    was: str
    now: str
    why: str
    at_s: float
    sample: int


@dataclass(frozen=True, eq=False)
class WakingView:
    """`study`: what it was worked out for. `part`: of all that the data sheet allows the one that is shown, the worst.
    `lost`: falls that only always-on catches, by reason. `rows`: figure, always on, asleep till woken. `changed`,
    `missed`: events, falls first. `doubts`: contradictions, a sentence each. `tried`: of every part falls caught and
    share of the time awake. `cost`: mean current and days always on, and asleep; None where such a device can't be."""

    study: Study
    part: LinePart
    tried: tuple[tuple[LinePart, int, Duty], ...]
    cost: tuple[Cost | None, Cost | None]
    always: Score
    woken: Score
    duty: Duty
    later: Later | None
    without_before: tuple[int, int]
    short: int
    lost: tuple[tuple[str, int], ...]
    rows: tuple[tuple[str, str, str], ...]
    changed: tuple[EventLine, ...]
    missed: tuple[EventLine, ...]
    doubts: tuple[str, ...]
    headline: str

    @property
    def longest(self) -> Duty:
        """Of the part that is longest awake: the current is counted with it."""
        return max((duty for _, _, duty in self.tried), key=lambda one: one.share)

    @property
    def loss(self) -> AsleepLoss:
        return AsleepLoss(sum(number for _, number in self.lost), self.always.matrix.tp,
                          None if self.later is None else self.later.most_ms)

    def stands_for(self, study: Study) -> bool:
        """Whether it would come to the same for this study, its cost too."""
        costs = (one.device.under(*COSTS) for one in (self.study, study))
        return self.sleeps_as(study) and next(costs) == next(costs)

    def sleeps_as(self, study: Study) -> bool:
        """Whether this study's device sleeps and wakes at the same moments."""
        return key_of(self.study) == key_of(study)


def waking_view(study: Study, made: Made, cancelled: Cancelled = lambda: False,
                progress: Progress = lambda share: None) -> WakingView:
    """What waking costs under the study's numbers of the device, of the worst part that they allow: the one that
    catches the fewest falls, of such the one with the most false alarms. `made`: what a session evaluated for the
    study.

    Raises BadSetting where the numbers contradict each other, Stopped where cancelled.
    """
    found, labelled, prepared = made
    worst = worst_part(prepared.engine.corpus, found.rule, study.device, study.front_end,
                       lambda recording, impact: labelled.score(recording, impact, found.rule.hold_off),
                       cancelled, progress)
    part, slept, slept_score, tried = worst.part, worst.slept, worst.score, worst.tried
    waking = waking_of(study.device, study.front_end, part)
    always, rate_hz = always_on(found.attempts), study.front_end.rate_hz
    late = later(always, found.score, slept, slept_score, rate_hz)
    lines = _Lines(study, labelled, prepared)
    turned = changes(always, found.score, slept, slept_score, rate_hz)
    changed = tuple(lines.changed(one) for one in turned)
    lost = Counter(one.why for one in turned if one.now == MISSED)
    missed = tuple(lines.missed(one, waking.line_hz)
                   for one in line_misses(prepared.engine.corpus, found.rule, waking, labelled.events))
    silent, doubtful = without_before(always, slept.tried), wake_warnings(study.device, study.front_end, found.rule)
    longest = max((duty for _, _, duty in tried), key=lambda one: one.share)
    view = WakingView(study, part, tried, _costs(study, found.score, longest), found.score, slept_score,
                      slept.duty, late, silent, slept.short,
                      tuple((why, lost[why]) for why in REASONS if lost[why]), (), _falls_first(changed),
                      _falls_first(missed), doubtful, "")
    return replace(view, rows=_rows(view), headline=_headline(view))


def _costs(study: Study, always: Score, duty: Duty) -> tuple[Cost | None, Cost | None]:
    """Of a device that never sleeps, and of one awake for as long as this one in its recordings."""
    a_day, _ = alarms_per_day(study, always)
    running = actions.set_device_value(study, "current.sleeps", RUNS)
    return cost_of(running, a_day), cost_of(awake_for(study, duty), a_day)


def key_of(study: Study) -> object:
    """What the moments of sleeping hang on."""
    return study.scored_by, study.device.under(*NUMBERS)


class _Lines:
    """Events of a study in words."""

    def __init__(self, study: Study, labelled: StudyEvents, prepared: Prepared) -> None:
        self.front_end, self.labelled, self.prepared = study.front_end, labelled, prepared

    def changed(self, one: LostOutcome) -> EventLine:
        why = f"{one.why}: {one.more}" if one.more else one.why
        return self._line(one.event, OUTCOMES[one.was], OUTCOMES[one.now], why, one.sample)

    def missed(self, one: Miss, line_hz: float) -> EventLine:
        low_ms, axis_g = self.front_end.ms(one.low_samples), self.front_end.g(one.axis)
        line_ms = one.line_samples * 1000 / line_hz
        line = (f"an axis at {axis_g:.2f} g at best" if one.line_samples == 0 else
                f"every axis for {line_ms:.0f} ms only")
        return self._line(one.event, "", "", f"magnitude low for {low_ms:.0f} ms; {line}", one.sample)

    def _line(self, event: int, was: str, now: str, why: str, sample: int) -> EventLine:
        name, label = self.labelled.label(event)
        timeline = self.prepared.seen[int(self.labelled.events.recording[event])].timeline
        return EventLine(name, label.title, label.kind, was, now, why, float(timeline.seconds(sample)), sample)


def _falls_first(lines: tuple[EventLine, ...]) -> tuple[EventLine, ...]:
    return tuple(sorted(lines, key=lambda one: one.kind != "fall"))


def _rows(view: WakingView) -> tuple[tuple[str, str, str], ...]:
    before, after = figures(view.always), figures(view.woken)
    late = view.later
    return (
        ("sensitivity", _share(before, "sensitivity"), _share(after, "sensitivity")),
        ("specificity", _share(before, "specificity"), _share(after, "specificity")),
        ("unlabelled alarms", str(sum(view.always.unlabelled)), str(sum(view.woken.unlabelled))),
        ("mean current", _current(view.cost[0]), _current(view.cost[1])),
        ("battery life", _life(view.cost[0]), _life(view.cost[1])),
        ("awake", "100 %", f"{100 * view.duty.share:.1f} %"),
        *_of_parts(view),
        ("wakes an hour", "–", f"{view.duty.wakes_per_hour:.0f}"),
        *_response(view),
        ("alarm delay, median", "–", "no data" if late is None else f"{late.median_ms:.0f} ms"),
        ("alarm delay, maximum", "–", "no data" if late is None else f"{late.most_ms:.0f} ms"),
        ("check skipped", str(view.without_before[0]), str(view.without_before[1])),
        ("cut short by sleep", "–", str(view.short)),
        *((f"falls lost: {why}", "–", str(number)) for why, number in view.lost),
    )


def _response(view: WakingView) -> tuple[tuple[str, str, str], ...]:
    """From the impact until a station in reach knows."""
    on = view.study.device, view.study.front_end, view.study.settings
    always = response_s(*on)
    asleep = None if view.later is None else response_s(*on, view.later.most_ms)
    return (("impact to station, maximum", _seconds(always), _seconds(asleep)),)


def _seconds(one: float | None) -> str:
    return "no data" if one is None else f"{one:.2f}{GAP}s"


def _current(one: Cost | None) -> str:
    return "refused" if one is None else microamperes(one.mean_ua)


def _life(one: Cost | None) -> str:
    return "refused" if one is None else how_long(one.days)


def _of_parts(view: WakingView) -> tuple[tuple[str, str, str], ...]:
    """Where several parts were tried: which is shown, and how far they lie apart."""
    if len(view.tried) == 1:
        return ()
    caught, awake = [tp for _, tp, _ in view.tried], [duty.share for _, _, duty in view.tried]
    return (("shown: the worst part", "–", view.part.words),
            (f"falls caught, {len(view.tried)} parts", "–", f"{min(caught)} to {max(caught)}"),
            ("awake, all parts", "–", f"{100 * min(awake):.1f} % to {100 * max(awake):.1f} %"))


def _share(found: Figures, name: str) -> str:
    m, share = found.matrix, getattr(found, name)
    hit, of = (m.tp, m.tp + m.fn) if name == "sensitivity" else (m.tn, m.fp + m.tn)
    return f"{percent(share)} ({hit} of {of})" if share is not None else percent(share)


def _headline(view: WakingView) -> str:
    line = view.study.device.text("wake.line")
    if line == NEVER:
        return "It never sleeps: the score is the rule's own."
    a, w = view.always.matrix, view.woken.matrix
    falls = sum(one.kind == "fall" for one in view.missed)
    missed = f" {plural(falls, 'fall')} with a low magnitude missed by the interrupt." if view.missed else ""
    return (f"Caught {w.tp} of {w.tp + w.fn} (always on {a.tp}), false alarms {w.fp} ({a.fp}), awake "
            f"{100 * view.duty.share:.1f} %, unlabelled alarms {sum(view.woken.unlabelled)} "
            f"({sum(view.always.unlabelled)}).{missed}")


def plain(view: WakingView) -> dict[str, Any]:
    offset = view.study.device.number("wake.offset_mg") / 1000
    return {
        "numbers": view.study.device.under(*NUMBERS),
        "line_is_one_of": list(LINES),
        "always_on": _score_plain(view.always),
        "woken": _score_plain(view.woken),
        "part": asdict(view.part),
        "parts": [{**asdict(one), "caught": tp, "awake": duty.share} for one, tp, duty in view.tried],
        "cost": [None if one is None else asdict(one) for one in view.cost],
        "duty": asdict(view.duty) | {"share": view.duty.share, "wakes_per_hour": view.duty.wakes_per_hour},
        "later": None if view.later is None else asdict(view.later),
        "judged_without_before": {"always_on": view.without_before[0], "woken": view.without_before[1]},
        "cut_short_by_sleep": view.short,
        "falls_lost": dict(view.lost),
        "magnitude_in_free_fall_g": reading_in_free_fall((offset, offset, offset)),
        "changed": [asdict(one) for one in view.changed],
        "line_misses": [asdict(one) for one in view.missed],
        "doubts": list(view.doubts),
        "headline": view.headline,
    }


def _score_plain(one: Score) -> dict[str, Any]:
    found = figures(one)
    return {**brief(found),
            "unlabelled": sum(one.unlabelled), "unlabelled_hours": sum(one.unlabelled_hours),
            "unlabelled_in_words": unlabelled_sentence(found.unlabelled),
            "outcomes": np.bincount(one.outcome, minlength=len(OUTCOMES)).tolist()}

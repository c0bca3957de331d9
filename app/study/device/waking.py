"""The study's rule on a device that sleeps until its part's line: the score against always-on, events lost and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from app.study.pipeline import Evaluated, Labelled, Prepared, Stopped
from app.study.readout import percent, strays_sentence
from app.study.state import Study
from detect.device.awake import Duty
from detect.device.interrupts import reading_in_free_fall
from detect.device.slept import REASONS, Change, Later, Miss, changes, later, line_misses, without_before
from detect.device.wake import LINES, NEVER, waking_of
from detect.device.wake_doubts import doubts
from detect.device.woken import Woken, always_on, woken
from detect.figures import Figures, figures
from detect.intervals import Estimate
from detect.score import MISSED, OUTCOMES, Score, score

NUMBERS = ("wake.", "digital.buffer", "part.kind")
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
    """`study`: what it was worked out for. `lost`: falls that only always-on catches, by reason. `rows`: figure, always
    on, asleep till woken. `changed`, `missed`: events, falls first. `doubts`: contradictions, a sentence each."""

    study: Study
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


def waking_view(study: Study, made: tuple[Evaluated, Labelled, Prepared],
                cancelled: Callable[[], bool] = lambda: False) -> WakingView:
    """What waking costs under the study's numbers of the device. `made`: what a session evaluated for the study.

    Raises BadSetting where the numbers contradict each other, Stopped where cancelled.
    """
    found, labelled, prepared = made
    waking = waking_of(study.device, study.front_end)
    slept = woken(prepared.engine.corpus, found.rule, waking, cancelled)
    if slept is None:
        raise Stopped
    always, rate_hz = always_on(found.attempts), study.front_end.rate_hz
    slept_score = _scored(slept, labelled, found.rule.hold_off)
    late = later(always, found.score, slept, slept_score, rate_hz)
    lines = _Lines(study, labelled, prepared)
    turned = changes(always, found.score, slept, slept_score, rate_hz)
    changed = tuple(lines.changed(one) for one in turned)
    lost = Counter(one.why for one in turned if one.now == MISSED)
    missed = tuple(lines.missed(one, waking.line_hz)
                   for one in line_misses(prepared.engine.corpus, found.rule, waking, labelled.events))
    silent, doubtful = without_before(always, slept.tried), doubts(study.device, study.front_end, found.rule)
    view = WakingView(study, found.score, slept_score, slept.duty, late, silent, slept.short,
                      tuple((why, lost[why]) for why in REASONS if lost[why]), (), _falls_first(changed),
                      _falls_first(missed), doubtful, "")
    return replace(view, rows=_rows(view), headline=_headline(view))


def key_of(study: Study) -> object:
    """What a view hangs on: two studies with equal ones have the same."""
    device = study.device
    return (study.items, study.settings, study.front_end, study.widening, study.annotator, study.node,
            tuple(device[key] for key in device if key.startswith(NUMBERS)))


def duty_of(study: Study, made: tuple[Evaluated, Labelled, Prepared]) -> Duty:
    """How much of its recordings the study's device is awake for. Raises BadSetting."""
    found, _, prepared = made
    slept = woken(prepared.engine.corpus, found.rule, waking_of(study.device, study.front_end))
    assert slept is not None
    return slept.duty


def _scored(slept: Woken, labelled: Labelled, hold_off: int) -> Score:
    alarms = slept.tried.alarms
    recording, impact = slept.tried.recording[alarms], slept.tried.impact[alarms]
    if labelled.lending is not None:
        recording, impact = labelled.lending.lent(recording, impact, labelled.events, hold_off)
    return score(recording, impact, labelled.events)


class _Lines:
    """Events of a study in words."""

    def __init__(self, study: Study, labelled: Labelled, prepared: Prepared) -> None:
        self.front_end, self.labelled, self.prepared = study.front_end, labelled, prepared

    def changed(self, one: Change) -> EventLine:
        why = f"{one.why}: {one.more}" if one.more else one.why
        return self._line(one.event, OUTCOMES[one.was], OUTCOMES[one.now], why, one.sample)

    def missed(self, one: Miss, line_hz: float) -> EventLine:
        low_ms, axis_g = self.front_end.ms(one.low_samples), self.front_end.g(one.axis)
        line_ms = one.line_samples * 1000 / line_hz
        line = (f"an axis at {axis_g:.2f} g at best" if one.line_samples == 0 else
                f"every axis for {line_ms:.0f} ms only")
        return self._line(one.event, "", "", f"magnitude low for {low_ms:.0f} ms; {line}", one.sample)

    def _line(self, event: int, was: str, now: str, why: str, sample: int) -> EventLine:
        item, at = self.labelled.owners[event]
        label = item.labels[at]
        timeline = self.prepared.seen[int(self.labelled.events.recording[event])].timeline
        return EventLine(item.name, label.name or label.kind, label.kind, was, now, why,
                         float(timeline.seconds(sample)), sample)


def _falls_first(lines: tuple[EventLine, ...]) -> tuple[EventLine, ...]:
    return tuple(sorted(lines, key=lambda one: one.kind != "fall"))


def _rows(view: WakingView) -> tuple[tuple[str, str, str], ...]:
    before, after = figures(view.always), figures(view.woken)
    late = view.later
    return (
        ("sensitivity", _share(before, "sensitivity"), _share(after, "sensitivity")),
        ("specificity", _share(before, "specificity"), _share(after, "specificity")),
        ("strays", str(sum(view.always.strays)), str(sum(view.woken.strays))),
        ("awake", "100 %", f"{100 * view.duty.share:.1f} %"),
        ("wakes an hour", "–", f"{view.duty.wakes_per_hour:.0f}"),
        ("alarm later by, middle", "–", "no data" if late is None else f"{late.median_ms:.0f} ms"),
        ("alarm later by, most", "–", "no data" if late is None else f"{late.most_ms:.0f} ms"),
        ("a check could not speak", str(view.without_before[0]), str(view.without_before[1])),
        ("cut short by sleep", "–", str(view.short)),
        *((f"falls lost: {why}", "–", str(number)) for why, number in view.lost),
    )


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
    missed = f" The line misses {falls} falls that the magnitude finds low." if view.missed else ""
    return (f"Caught {w.tp} of {w.tp + w.fn} (always on {a.tp}), false alarms {w.fp} ({a.fp}), awake "
            f"{100 * view.duty.share:.1f} %, strays {sum(view.woken.strays)} ({sum(view.always.strays)}).{missed}")


def plain(view: WakingView) -> dict[str, Any]:
    """Values for JSON."""
    device = view.study.device
    offset = device.number("wake.offset_mg") / 1000
    return {
        "numbers": {key: device[key] for key in device if key.startswith(NUMBERS)},
        "line_is_one_of": list(LINES),
        "always_on": _score_plain(view.always),
        "woken": _score_plain(view.woken),
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
    found, m = figures(one), one.matrix
    return {"matrix": {"tp": m.tp, "fn": m.fn, "fp": m.fp, "tn": m.tn}, "sensitivity": _plain(found.sensitivity),
            "specificity": _plain(found.specificity), "strays": sum(one.strays), "stray_hours": sum(one.stray_hours),
            "strays_in_words": strays_sentence(found.strays),
            "outcomes": np.bincount(one.outcome, minlength=len(OUTCOMES)).tolist()}


def _plain(estimate: Estimate | None) -> dict[str, float | None]:
    if estimate is None:
        return {"value": None, "low": None, "high": None}
    return {"value": estimate.value, "low": estimate.low, "high": estimate.high}

"""A score as plain values for JSON: what `plumbfall score --json` prints, and can be fed back as a settings file."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from app.study import sealing
from app.study.confounding import needs_s
from app.study.readout import Bystanders
from app.study.session import Session
from detect import explain
from detect.attempt import Attempt
from detect.figures import Figures, figures
from detect.intervals import Estimate, Interval

CAUTION = "An engineering aid, not a medical device. Simulated falls by young volunteers flatter a detector."
PAGE_NAMES = {"a_sq": "|a|²", "b_sq": "|b|²", "a_u_sq": "|a_u|²", "u_sq": "|u|²"}
"""Fields whose name in the rule's page is no identifier."""


def plain(session: Session, *, with_attempts: bool) -> dict[str, Any]:
    """Matrix, figures, settings and events of the study in hand; every attempt where asked for."""
    study, found = session.study, session.found()
    rule = asdict(found.rule)
    answer: dict[str, Any] = {
        "study": study.title,
        "notes": study.notes,
        "front_end": study.front_end.plain(),
        "settings": study.settings.plain(),
        "integers": rule,
        "widening": asdict(study.widening),
        "node": study.node,
        **figures_plain(session),
        "events": [{"recording": e.recording, "kind": e.kind, "activity": e.name, "start": e.start_s, "end": e.end_s,
                    "outcome": e.outcome, "stopped": e.stopped} for e in session.event_rows()],
        "trimmed": [{"recording": item.name, "start_s": item.trim.start_s, "end_s": item.trim.end_s}
                    for item in study.items if item.trim.total_s],
        "annotator": study.annotator,
        "sealed": sealing.plain(study),
        "not_scored": [{"recording": row.name, "outcome": row.outcome, "reason": row.reason}
                       for row in session.results().rows if row.outcome in ("left out", "refused", "unscored")],
        "confounds": [{"name": one.key, "auc": one.auc, "sentence": one.sentence, "strong": one.strong}
                      for one in session.confounding().found(needs_s(found.rule, study.front_end))],
        "caution": CAUTION,
    }
    if with_attempts:
        answer["attempts"] = attempts(session)
    return answer


def figures_plain(session: Session) -> dict[str, Any]:
    """Matrix, strays and figures, with their intervals and those by people."""
    score = session.found().score
    every, m = figures(score), score.matrix
    return {
        "matrix": {"tp": m.tp, "fn": m.fn, "fp": m.fp, "tn": m.tn},
        "stray": {"alarms": sum(score.strays), "hours": sum(score.stray_hours),
                  "by_setting": [{"setting": s.setting, "alarms": s.alarms, "hours": s.hours,
                                  "per_hour": _estimate(s.per_hour), "per_24h": _estimate(s.per_24h),
                                  "caution": s.caution} for s in every.strays if s.hours > 0]},
        **_figures(every),
        "by_people": _by_people(session.bystanders(), session),
    }


def attempts(session: Session) -> list[dict[str, Any]]:
    """Every attempt of every readable recording, every field under its name in the rule's page."""
    front_end = session.study.front_end
    rows = []
    for item in session.study.items:
        explained = session.explained(item.name)
        if explained is None:
            continue
        for attempt in explained.attempts:
            rms = explain.rms_g(attempt, front_end)
            rows.append({"recording": item.name, "node": item.about.node, **_fields(attempt),
                         "tilt_deg": explain.tilt_deg(attempt), "rms_g": rms,
                         "impact_s": explained.seconds(attempt.impact)})
    return rows


def _fields(attempt: Attempt) -> dict[str, Any]:
    return {PAGE_NAMES.get(name, name): list(value) if isinstance(value, tuple) else value
            for name, value in asdict(attempt).items()}


def _figures(every: Figures) -> dict[str, Any]:
    named = ("sensitivity", "specificity", "precision", "f1", "mcc", "youden_j")
    return {name: _estimate(getattr(every, name)) for name in named} | {
        f"{name}_exact": _interval(getattr(every, f"{name}_exact")) for name in named[:3]}


def _estimate(estimate: Estimate | None) -> dict[str, float | None]:
    if estimate is None:
        return {"value": None, "low": None, "high": None}
    return {"value": estimate.value, "low": estimate.low, "high": estimate.high}


def _interval(interval: Interval | None) -> dict[str, float | None]:
    return {"low": None, "high": None} if interval is None else {"low": interval.low, "high": interval.high}


def _by_people(bystanders: Bystanders, session: Session) -> dict[str, Any] | None:
    by = bystanders.by_person(session.found().score.outcome)
    if by is None:
        return None
    return {"people": bystanders.number_of_people, "sensitivity": _interval(by.sensitivity),
            "specificity": _interval(by.specificity), "youden_j": _interval(by.youden_j)}

"""A score as plain values for JSON: what `plumbfall score --json` prints, and can be fed back as a settings file."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from app.study.results import standing_warnings, worth
from app.study.results.confounds import needs_s
from app.study.results.people_figures import by_people_plain, estimate_plain, named_figures
from app.study.sealed import sealed_set
from app.study.session import Session
from detect.rule import explanation
from detect.rule.attempt import Attempt
from detect.scoring.figures import Figures, figures

CAUTION = "An engineering aid, not a medical device. Simulated falls by young volunteers flatter a detector."
PAGE_NAMES = {"a_sq": "|a|²", "b_sq": "|b|²", "a_u_sq": "|a_u|²", "u_sq": "|u|²"}
"""Fields whose name in the rule's page is not an identifier."""


def plain(session: Session, *, with_attempts: bool) -> dict[str, Any]:
    """Matrix, figures, settings and events of the open study; every attempt where asked for."""
    study, found = session.study, session.found()
    answer: dict[str, Any] = {
        "study": study.title,
        "notes": study.notes,
        "front_end": study.front_end.plain(),
        "settings": study.settings.plain(),
        "integers": asdict(found.rule),
        "widening": asdict(study.widening),
        "node": study.node,
        **figures_plain(session),
        "events": [{"recording": e.recording, "kind": e.kind, "activity": e.name, "start": e.start_s, "end": e.end_s,
                    "outcome": e.outcome, "stopped": e.stopped} for e in session.event_rows()],
        "trimmed": [{"recording": item.name, "start_s": item.trim.start_s, "end_s": item.trim.end_s}
                    for item in study.items if item.trim.total_s],
        "annotator": study.annotator,
        "sealed": sealed_set.plain(study),
        "not_scored": [{"recording": row.name, "outcome": row.outcome, "reason": row.reason}
                       for row in session.results().rows if row.outcome in ("left out", "refused", "unscored")],
        "confounds": [{"name": one.key, "auc": one.auc, "sentence": one.sentence, "strong": one.strong,
                       "remedy": one.remedy}
                      for one in session.confounding().found(needs_s(found.rule, study.front_end))],
        "warnings": standing_warnings.plain(session.warnings()),
        "tuned": worth.plain(session.worth()),
        "caution": CAUTION,
    }
    if with_attempts:
        answer["attempts"] = attempts(session)
    return answer


def figures_plain(session: Session) -> dict[str, Any]:
    """Matrix, unlabelled alarms and figures, with their intervals and those by people."""
    score, bystanders = session.found().score, session.bystanders()
    every = figures(score)
    return {
        "matrix": asdict(score.matrix),
        "unlabelled": {"alarms": sum(score.unlabelled), "hours": sum(score.unlabelled_hours), "by_setting": [
            asdict(one) | {"per_hour": estimate_plain(one.per_hour), "per_24h": estimate_plain(one.per_24h)}
            for one in every.unlabelled if one.hours > 0]},
        **named_figures(every),
        "by_people": by_people_plain(bystanders.by_person(score.outcome), bystanders.number_of_people),
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
            rows.append({"recording": item.name, "node": item.about.node, **_fields(attempt),
                         "tilt_deg": explanation.tilt_deg(attempt), "rms_g": explanation.rms_g(attempt, front_end),
                         "impact_s": explained.seconds(attempt.impact)})
    return rows


def _fields(attempt: Attempt) -> dict[str, Any]:
    return {PAGE_NAMES.get(name, name): list(value) if isinstance(value, tuple) else value
            for name, value in asdict(attempt).items()}


def brief(found: Figures | None) -> dict[str, Any]:
    """Matrix, sensitivity, specificity and unlabelled alarms alone; null where nothing was scored."""
    if found is None:
        return dict.fromkeys(("matrix", "sensitivity", "specificity", "unlabelled"))
    return {"matrix": asdict(found.matrix), "sensitivity": estimate_plain(found.sensitivity),
            "specificity": estimate_plain(found.specificity),
            "unlabelled": {"alarms": found.unlabelled_alarms, "hours": sum(one.hours for one in found.unlabelled)}}

"""Energy and the alarm's life, and what any fall detector's report must say of its limits.

Behind every section on the device stand its numbers: a table with where each comes from, and those that nobody checked.
"""

from __future__ import annotations

from collections.abc import Sequence

from app.formatting import GAP, plural
from app.study.device.alarm_life import life_view
from app.study.device.budget import GROUPS, budget_view, slept_of
from app.study.device.cost import sleep_loss
from app.study.report.cautions import BINDING, CAUTIONS, PUBLISHED
from app.study.report.page import Section, Table
from app.study.session import Session
from app.study.state import Study
from detect.device.quantities import FROM_MEMORY, Plain


def table(key: str, study: Study, prefixes: Sequence[str]) -> Table:
    values = study.device
    rows = []
    for name in _names(study, prefixes):
        row = values.row(name)
        origin = f"set for this study; starts at {_said(row.default)}" if name in values.given else row.origin
        rows.append((row.title, f"{_said(values[name])}{GAP}{row.unit}".strip(), name, origin))
    return Table(key, "Numbers it stands on", ("number", "value", "key", "where it comes from"), tuple(rows), (1,))


def unverified(study: Study, prefixes: Sequence[str]) -> tuple[str, ...]:
    """One sentence on the numbers still at their starting values; none where every one was set."""
    names = _names(study, prefixes)
    untouched = [study.device.row(name) for name in names if name not in study.device.given]
    if not untouched:
        return ()
    recalled = sum(row.origin == FROM_MEMORY for row in untouched)
    memory = f"; {recalled} of them are from memory, without a source" if recalled else ""
    return (f"{plural(len(untouched), 'number')} of {len(names)} stand at their starting values, which nobody checked "
            f"against this device{memory}. Its table of numbers says where each comes from.",)


def _names(study: Study, prefixes: Sequence[str]) -> list[str]:
    return [name for name in study.device if name.startswith(tuple(prefixes))]


def _said(value: Plain) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return value if isinstance(value, str) else f"{value:.10g}"


LIFE, ENERGY = ("life.",), tuple(f"{group}." for group in GROUPS if group != "life")


def energy(session: Session) -> Section:
    view = budget_view(session, slept_of(session))
    against = tuple(f"{'Refused' if one.refused else 'Warning'}: {one}" for one in view.against)
    return Section("energy", "Energy", (view.headline, f"Alarms sent a day: {view.alarms.sent_per_day:.3g}, "
                                        f"{view.alarms.origin}.", *filter(None, [sleep_loss(session.study.device)])), (
        Table("energy", "Budget", ("what", "value", ""), view.rows, (1,)),
        table("energy_numbers", session.study, ENERGY)), warnings=against,
        unverified=unverified(session.study, ENERGY))


def alarm_life(session: Session) -> Section:
    view = life_view(session.study, session.evaluated()[:3])
    return Section("alarm_life", "The alarm's life", (
        view.headline, "A model of people and radio, not a measurement."), (
        Table("alarm_life", "Detector and station", ("", "detector", "station"), view.rows, (1, 2)),
        Table("alarm_fates", "What became of alarms", ("", "of falls", "of others"), view.fates, (1, 2)),
        table("alarm_life_numbers", session.study, LIFE)), unverified=unverified(session.study, LIFE))


def limits() -> Section:
    return Section("limits", "Limits and cautions", (*CAUTIONS, PUBLISHED), (
        Table("binding", "Among what binds such a product", ("", "what it is about"), BINDING,
              note="Named as what a product must meet. This report claims to meet none of it."),))

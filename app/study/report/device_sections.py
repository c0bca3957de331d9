"""Energy and the alarm's life, and what any fall detector's report must say of its limits."""

from __future__ import annotations

from app.study.device.alarm_life import life_view
from app.study.device.budget import GROUPS, budget_view, slept_of
from app.study.device.cost import sleep_loss
from app.study.report import numbers
from app.study.report.cautions import BINDING, CAUTIONS, PUBLISHED
from app.study.report.page import Section, Table
from app.study.session import Session

LIFE, ENERGY = ("life.",), tuple(f"{group}." for group in GROUPS if group != "life")


def energy(session: Session) -> Section:
    view = budget_view(session, slept_of(session))
    against = tuple(f"{'Refused' if one.refused else 'Warning'}: {one}" for one in view.against)
    return Section("energy", "Energy", (view.headline, f"Alarms sent a day: {view.alarms.sent_per_day:.3g}, "
                                        f"{view.alarms.origin}.", *filter(None, [sleep_loss(session.study.device)])), (
        Table("energy", "Budget", ("what", "value", ""), view.rows, (1,)),
        numbers.table("energy_numbers", session.study, ENERGY)), warnings=against,
        unverified=numbers.unverified(session.study, ENERGY))


def alarm_life(session: Session) -> Section:
    view = life_view(session.study, session.evaluated()[:3])
    return Section("alarm_life", "The alarm's life", (
        view.headline, "A model of people and radio, not a measurement."), (
        Table("alarm_life", "Detector and station", ("", "detector", "station"), view.rows, (1, 2)),
        Table("alarm_fates", "What became of alarms", ("", "of falls", "of others"), view.fates, (1, 2)),
        numbers.table("alarm_life_numbers", session.study, LIFE)), unverified=numbers.unverified(session.study, LIFE))


def limits() -> Section:
    return Section("limits", "Limits and cautions", (*CAUTIONS, PUBLISHED), (
        Table("binding", "Among what binds such a product", ("", "what it is about"), BINDING,
              note="Named as what a product must meet. This report claims to meet none of it."),))

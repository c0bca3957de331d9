"""The device's budget for the study in hand: figures, where its alarms come from, and what speaks against it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from app.study import actions
from app.study.device.waking import duty_of
from app.study.pipeline import Evaluated, Labelled, Prepared
from app.study.session import Session
from app.study.state import Study
from app.words import GAP, THIN, decimal
from detect.device import battery
from detect.device.budget import Budget, budget, sent_share
from detect.device.bus import FROM_STUDY
from detect.device.contradictions import Contradiction, against_budget, contradictions
from detect.device.current import WOKEN
from detect.device.memory import memory_of
from detect.figures import figures
from detect.settings import BadSetting

GROUPS = ("current", "processor", "battery", "bus", "radio", "memory", "life")
"""Of the device's numbers those that the budget is made of; how it sleeps until woken stands under "wake"."""


@dataclass(frozen=True)
class Alarms:
    """How many a day the detector raises, how one knows, and how many of them the radio sends: the wearer cancels
    some in time."""

    per_day: float
    origin: str
    sent_per_day: float


@dataclass(frozen=True)
class BudgetView:
    """`found` is None where something refuses. Rows: what, value, share or remark."""

    found: Budget | None
    against: tuple[Contradiction, ...]
    alarms: Alarms
    headline: str
    rows: tuple[tuple[str, str, str], ...]


def alarms_of(session: Session) -> Alarms:
    """The strays a day of the study's free-living time, where it has any and they are wanted; else as typed."""
    values = session.study.device
    per_day, origin = _alarms_per_day(session)
    return Alarms(per_day, origin, per_day * sent_share(values))


def _alarms_per_day(session: Session) -> tuple[float, str]:
    values = session.study.device
    typed = values.number("radio.alarms_per_day")
    if values.text("radio.alarms_from") != FROM_STUDY:
        return typed, "as typed"
    if session.ready and session.study.items:
        free = next(one for one in figures(session.found().score).strays if one.setting == "free-living")
        if free.per_24h is not None and free.hours > 0:
            return free.per_24h.value, (f"the study's strays: {free.alarms} in {free.hours:.1f} h free-living, "
                                        f"{free.per_24h.low:.1f} – {free.per_24h.high:.1f} a day with 95 %")
    return typed, "as typed: the study has no free-living time"


def awake_in_recordings(study: Study, made: tuple[Evaluated, Labelled, Prepared]) -> Study:
    """The study's device asleep until woken, awake for as long as in its recordings. Raises BadSetting."""
    found = duty_of(study, made)
    if not found.total_s:
        raise BadSetting("current.awake_pct", "", "can't be taken from recordings without samples.", "Read some first.")
    for key, value in (("current.sleeps", WOKEN), ("current.awake_pct", float(f"{100 * found.share:.4g}")),
                       ("current.wakes_per_hour", float(f"{found.wakes_per_hour:.4g}"))):
        study = actions.set_device_value(study, key, value)
    return study


@dataclass(frozen=True)
class Cost:
    """Mean current, and how long the battery lasts."""

    mean_ua: float
    days: float

    @property
    def words(self) -> str:
        return f"{microamperes(self.mean_ua)}, {lasts(self.days)}"


def cost_of(study: Study, strays_per_day: float) -> Cost | None:
    """What the study's device draws at so many strays a day; None where it is refused."""
    found = budget(study.device, study.front_end.rate_hz, strays_per_day * sent_share(study.device))
    if any(one.refused for one in against_budget(study.device, study.front_end.rate_hz, found)):
        return None
    return Cost(found.mean_ua, found.days)


def budget_view(session: Session) -> BudgetView:
    study, alarms = session.study, alarms_of(session)
    found = budget(study.device, study.front_end.rate_hz, alarms.sent_per_day)
    against = contradictions(study.device, study.front_end, study.settings, found)
    if any(one.refused for one in against):
        return BudgetView(None, against, alarms, "no budget: its numbers contradict each other", ())
    return BudgetView(found, against, alarms, headline(found), _rows(study, found, alarms))


def headline(found: Budget) -> str:
    """"219.6 µA · 35.5 days · sensor running takes 82 %"."""
    most = found.dominant
    return f"{microamperes(found.mean_ua)} · {lasts(found.days)} · {most.name} takes {percent(most.share)}"


def plain(session: Session) -> dict[str, Any]:
    """For JSON; figures are null where the device is refused."""
    view, study = budget_view(session), session.study
    found = view.found
    return {
        "study": study.title,
        "rate_hz": study.front_end.rate_hz,
        "alarms_per_day": asdict(view.alarms),
        "budget": None if found is None else {
            "mean_ua": found.mean_ua, "days": found.days if np.isfinite(found.days) else None,
            "dominant": found.dominant.name, "consumers": [asdict(one) for one in found.consumers],
            "usable_mah": battery.usable_mah(study.device), "processor_share": found.processor_share,
            "alarm_uah": found.alarm_uah, "alive_uah_per_day": found.alive_uah,
            "sleep": asdict(found.sleeping), "bus": asdict(found.bus), "radio": asdict(found.radio),
            "log": asdict(memory_of(study.device, study.front_end))},
        "refused": [_plainly(one) for one in view.against if one.refused],
        "warnings": [_plainly(one) for one in view.against if not one.refused],
        "values": {key: value for key, value in study.device.items() if key.partition(".")[0] in GROUPS},
        "given": dict(study.device.given),
    }


def _plainly(one: Contradiction) -> dict[str, Any]:
    return {"keys": list(one.keys), "sentence": one.sentence, "remedy": one.remedy}


def _rows(study: Study, found: Budget, alarms: Alarms) -> tuple[tuple[str, str, str], ...]:
    values, bus, radio, log = study.device, found.bus, found.radio, memory_of(study.device, study.front_end)
    consumers = [(one.name, microamperes(one.ua), percent(one.share))
                 for one in sorted(found.consumers, key=lambda one: -one.ua) if one.ua > 0]
    many = values.number("radio.nodes")
    nodes = f"{many:g} {'takes' if many == 1 else 'take'} {percent(radio.slots)} of its time"
    return (
        ("mean current", microamperes(found.mean_ua), f"{found.dominant.name} takes {percent(found.dominant.share)}"),
        ("lasts", lasts(found.days), f"{rounded(battery.usable_mah(values))}{GAP}mAh to the cut-off"),
        *consumers,
        ("alarms a day", rounded(alarms.per_day), alarms.origin),
        ("sent of them", rounded(alarms.sent_per_day),
         f"the wearer may cancel for {values.number('life.cancel_s'):g}{GAP}s before one is sent"),
        ("an alarm costs", f"{rounded(found.alarm_uah)}{GAP}µAh",
         f"radio on for {values.number('radio.alarm_ms'):g}{GAP}ms"),
        ("signs of life cost", f"{rounded(found.alive_uah)}{GAP}µAh", "a day"),
        ("processor runs", percent(found.processor_share), "of the time"),
        ("one read", f"{rounded(bus.read_us)}{GAP}µs",
         f"{bus.bits:g} bit times, {rounded(bus.sample_us)}{GAP}µs a sample" if bus.bits else "three conversions"),
        ("bus" if bus.bits else "converter", percent(bus.share), f"at most {rounded(bus.highest_hz)} samples a second"),
        ("buffer", f"{rounded(bus.latency_ms)}{GAP}ms", "an alarm may come so much later"),
        ("nodes, every sample sent", f"{radio.nodes}", f"one receiver bears; {nodes}"),
        ("an event's record", f"{log.record_bytes:,}{GAP}bytes".replace(",", THIN),
         f"{rounded(log.sample_bytes)} of them samples, {log.before + log.after} of three times {log.bits} bits"),
        ("events in the memory", rounded(log.kept), f"of {values.number('memory.kib'):g}{GAP}KiB, always whole"),
        ("the memory wears out in", f"{rounded(log.years)}{GAP}years",
         f"at {values.number('memory.records_per_day'):g} records a day"),
    )


def rounded(value: float) -> str:
    """Four digits that count."""
    return decimal(float(f"{value:.4g}"))


def percent(share: float) -> str:
    return f"{decimal(float(f'{100 * share:.3g}'))}{GAP}%"


def microamperes(ua: float) -> str:
    return f"{rounded(ua / 1000)}{GAP}mA" if ua >= 10_000 else f"{rounded(ua)}{GAP}µA"


def lasts(days: float) -> str:
    """"35.5 days", from two years on "3.1 years"."""
    if not np.isfinite(days):
        return "for ever"
    return f"{decimal(float(f'{days / 365.25:.3g}'))} years" if days >= 731 else f"{decimal(float(f'{days:.3g}'))} days"

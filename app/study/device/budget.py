"""The device's budget for the open study: figures, where its alarms come from, and what speaks against it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from app.formatting import GAP, decimal
from app.study.device.cost import (
    alarms_per_day,
    awake_for,
    borne,
    finite,
    how_long,
    microamperes,
    percent,
    rounded,
)
from app.study.device.sleep import WakingView, key_of, waking_view
from app.study.pipeline import Made
from app.study.session import Session
from app.study.state import Study
from detect.device.energy import battery
from detect.device.energy.budget import Budget, budget, response, response_s, sent_share, with_duty
from detect.device.energy.contradictions import Contradiction, contradictions
from detect.device.energy.current import BETWEEN
from detect.device.energy.memory import memory_of
from detect.device.quantities import Values
from detect.device.sleep.worst_part import sleeps
from detect.rule.settings import BadSetting

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
    """Unlabelled alarms a day in the study's free-living time, where it has any and they are wanted; else as typed."""
    found = session.found().score if session.ready and session.study.items else None
    per_day, origin = alarms_per_day(session.study, found)
    return Alarms(per_day, origin, per_day * sent_share(session.study.device))


def awake_in_recordings(study: Study, made: Made,
                        cancelled: Callable[[], bool] = lambda: False,
                        progress: Callable[[float], None] = lambda share: None) -> tuple[Study, WakingView]:
    """The study's device asleep until woken, awake for as long as the part that is longest awake in its recordings;
    and what sleeping costs there. Raises BadSetting, Stopped."""
    slept = waking_view(study, made, cancelled, progress)
    if not slept.longest.total_s:
        raise BadSetting("current.awake_pct", "", "can't be taken from recordings without samples.", "Read some first.")
    return awake_for(study, slept.longest), slept


def budget_view(session: Session, slept: WakingView | None = None) -> BudgetView:
    """`slept`: what sleeping costs, where that was worked out; left out where it was of another study."""
    study, alarms = session.study, alarms_of(session)
    found = budget(study.device, study.front_end.rate_hz, alarms.sent_per_day)
    against = contradictions(study.device, study.front_end, study.settings, found, alarms.per_day)
    if any(one.refused for one in against):
        return BudgetView(None, against, alarms, "No budget: the numbers contradict each other.", ())
    return BudgetView(found, against, alarms, headline(found),
                      (*_rows(study, found, alarms)[:2], *_slept_rows(study, slept), *_response_rows(study, slept),
                       *_rows(study, found, alarms)[2:]))


def slept_of(session: Session) -> WakingView | None:
    """What sleeping costs the study's device in its recordings; None where it never sleeps, can't, or nothing was
    read. Worked out once for a study."""
    study = session.study
    if not (sleeps(study.device) and study.items and session.ready):
        return None
    try:
        return session.memo.of("asleep", (key_of(study), study.device),
                               lambda: waking_view(study, session.evaluated()[:3]))
    except BadSetting:
        return None


LONGEST_YEARS = 100
"""Beyond this nobody cares how long a memory lasts."""
NOT_LOST = "counted from recordings that are open, while this is shown"


def _slept_rows(study: Study, slept: WakingView | None) -> tuple[tuple[str, str, str], ...]:
    """Days bought by sleeping stand beside the falls that it loses."""
    if not sleeps(study.device):
        return ()
    if slept is None or not slept.sleeps_as(study):
        return (("falls lost by sleeping", "not known", NOT_LOST),)
    lost = sum(number for _, number in slept.lost)
    return (("falls lost by sleeping", f"{lost} of {slept.always.matrix.tp}",
             f"caught by one that never sleeps; {slept.part.words}"),)


def _response_rows(study: Study, slept: WakingView | None) -> tuple[tuple[str, str, str], ...]:
    """From the impact, not from the alarm: the person lies there from then on."""
    known = slept is not None and slept.sleeps_as(study)
    later_ms = slept.later.most_ms if slept is not None and known and slept.later is not None else None
    one = response(study.device, study.front_end, study.settings, later_ms)
    if one is None:
        return ()
    asleep = "; what sleeping adds is not known" if sleeps(study.device) and later_ms is None else ""
    return (("impact to station", f"{rounded(one.whole_s)}{GAP}s",
             f"{rounded(one.judged_s)}{GAP}s until judged, {rounded(one.waits_s)}{GAP}s until the processor knows, "
             f"{rounded(one.cancel_s)}{GAP}s to cancel, {rounded(one.answer_s)}{GAP}s to answer; a station in "
             f"reach{asleep}"),)


def headline(found: Budget) -> str:
    """"219.6 µA · 35.5 days · sensor running takes 82 %"."""
    most = found.dominant
    return f"{microamperes(found.mean_ua)} · {how_long(found.days)} · {most.name} takes {percent(most.share)}"


def plain(session: Session, slept: WakingView | None = None) -> dict[str, Any]:
    """For JSON; figures are null where the device is refused."""
    view, study = budget_view(session, slept), session.study
    found = view.found
    return {
        "study": study.title,
        "rate_hz": study.front_end.rate_hz,
        "alarms_per_day": asdict(view.alarms),
        "budget": None if found is None else {
            "mean_ua": found.mean_ua, "days": finite(found.days),
            "dominant": found.dominant.name, "consumers": [asdict(one) for one in found.consumers],
            "usable_mah": battery.usable_mah(study.device, found.cut_off.left),
            "processor_share": found.processor_share, "alarm_uah": found.alarm_uah, "alarm_sends": found.alarm_sends,
            "impact_to_station_s": response_s(study.device, study.front_end, study.settings),
            "falls_lost_by_sleeping": None if slept is None else sum(number for _, number in slept.lost),
            "alive_uah_per_day": found.alive_uah, "cut_off": asdict(found.cut_off),
            "sleep": asdict(found.sleeping), "bus": asdict(found.bus), "radio": asdict(found.radio),
            "log": _finite(asdict(memory_of(study.device, study.front_end, view.alarms.per_day)))},
        **{name: [{"keys": list(one.keys), "sentence": one.sentence, "remedy": one.remedy} for one in view.against
                  if one.refused is refused] for name, refused in (("refused", True), ("warnings", False))},
        "values": {key: value for key, value in study.device.items() if key.partition(".")[0] in GROUPS},
        "given": dict(study.device.given),
    }


def _finite(figures: dict[str, Any]) -> dict[str, Any]:
    return {key: finite(value) if isinstance(value, float) else value for key, value in figures.items()}


def _rows(study: Study, found: Budget, alarms: Alarms) -> tuple[tuple[str, str, str], ...]:
    values, bus, radio = study.device, found.bus, found.radio
    log = memory_of(values, study.front_end, alarms.per_day)
    consumers = [(one.name, microamperes(one.ua), percent(one.share))
                 for one in sorted(found.consumers, key=lambda one: -one.ua) if one.ua > 0]
    many = values.number("radio.nodes")
    nodes = f"{many:g} {'node takes' if many == 1 else 'nodes take'} {percent(radio.slots)} of its time"
    return (
        ("mean current", microamperes(found.mean_ua), f"{found.dominant.name} takes {percent(found.dominant.share)}"),
        ("battery life", how_long(found.days), _to_cut_off(values, found)),
        *consumers,
        ("alarms a day", rounded(alarms.per_day), alarms.origin),
        ("alarms sent a day", rounded(alarms.sent_per_day),
         f"the wearer may cancel for {values.number('life.cancel_s'):g}{GAP}s before one is sent"),
        ("charge an alarm", f"{rounded(found.alarm_uah)}{GAP}µAh",
         f"sent {rounded(found.alarm_sends)} times in the mean, and listening for the station"),
        ("charge for heartbeats", f"{rounded(found.alive_uah)}{GAP}µAh", "a day"),
        ("processor runs", percent(found.processor_share), "of the time"),
        ("time of one read", f"{rounded(bus.read_us)}{GAP}µs",
         f"{bus.bits:g} bit times, {rounded(bus.sample_us)}{GAP}µs a sample" if bus.bits else "three conversions"),
        ("bus busy" if bus.bits else "converter busy", percent(bus.share),
         f"at most {rounded(bus.highest_hz)} samples a second"),
        ("delay by the buffer", f"{rounded(bus.latency_ms)}{GAP}ms", "an alarm may come so much later"),
        ("nodes a receiver can serve", f"{radio.nodes}", f"where each sends every sample; {nodes}"),
        ("size of an alarm's record", f"{decimal(log.record_bytes)}{GAP}bytes",
         f"{rounded(log.sample_bytes)} of them samples, {log.before + log.after} of three times {log.bits} bits"),
        ("records the memory holds", rounded(log.kept), f"of {values.number('memory.kib'):g}{GAP}KiB, always whole"),
        ("memory wears out in", _years(log.years),
         f"at {rounded(log.records_per_day)} records a day, alarms as above"),
        ("a record stays for", _years(log.turn_years),
         f"until it is written over; it can be read for {values.number('memory.retention_years'):g}{GAP}years"),
    )


def _years(years: float) -> str:
    """"21 days", "3.1 years"; "unlimited" where nothing is written."""
    return f"more than {LONGEST_YEARS}{GAP}years" if LONGEST_YEARS < years < np.inf else how_long(365.25 * years)


def _to_cut_off(values: Values, found: Budget) -> str:
    """What ends the battery."""
    ends = found.cut_off
    why = "as given" if ends.typed else f"the {ends.whom} needs {ends.needs_v:g}{GAP}V, and it sags by " \
        f"{rounded(1000 * ends.sag_v)}{GAP}mV"
    return (f"{rounded(battery.usable_mah(values, ends.left))}{GAP}mAh at "
            f"{decimal(values.number('battery.temperature_c'))}{GAP}°C down to {percent(ends.left)}, {why}")


RATES_HZ = tuple(6.25 * 2 ** (step / 2) for step in range(17))
DUTIES = (0.01, 0.05, 0.1, 0.2, 0.5, 1.0)


@dataclass(frozen=True, eq=False)
class DutyView:
    """Mean current and days over rate and duty cycle, (duties, rates); NaN where such a device is refused.
    `rate_hz` and `duty` are the current ones. `hears_all`: it sleeps between samples only, and loses none."""

    rates_hz: tuple[float, ...]
    duties: tuple[float, ...]
    mean_ua: np.ndarray
    days: np.ndarray
    rate_hz: float
    duty: float
    in_hand: Budget | None
    hears_all: bool

    def lost(self, duty: float) -> str:
        """Falls lost by sleeping at a duty cycle, in words."""
        return "0" if duty == 1 or self.hears_all else NOT_MEASURED

    def cells(self) -> Iterator[tuple[float, float, float, float]]:
        """Duty cycle, rate, mean current and days, the rate changing fastest."""
        for row, duty in enumerate(self.duties):
            yield from ((duty, *of_one) for of_one in zip(self.rates_hz, self.mean_ua[row].tolist(),
                                                          self.days[row].tolist(), strict=True))


def duty_view(study: Study, alarms_per_day: float) -> DutyView:
    """The device of the study at other rates and duty cycles; everything else as it is."""
    shape = len(DUTIES), len(RATES_HZ)
    mean, days = np.full(shape, np.nan), np.full(shape, np.nan)
    for row, duty in enumerate(DUTIES):
        for column, rate_hz in enumerate(RATES_HZ):
            found = borne(with_duty(study.device, rate_hz, duty), replace(study.front_end, rate_hz=rate_hz),
                           alarms_per_day)
            if found is not None:
                mean[row, column], days[row, column] = found.mean_ua, found.days
    here = budget(study.device, study.front_end.rate_hz, alarms_per_day)
    return DutyView(RATES_HZ, DUTIES, mean, days, study.front_end.rate_hz, here.sleeping.awake,
                    borne(study.device, study.front_end, alarms_per_day),
                    study.device.text("current.sleeps") == BETWEEN)


DUTY_HEADS = ("duty cycle", "rate", "mean current", "battery life", "falls lost by sleeping")
NOT_MEASURED = "not known"
"""Falls lost at a duty cycle that no recording woke the device for; what the current one loses is among the figures."""


def duty_table(view: DutyView) -> tuple[tuple[str, ...], ...]:
    """A row for every rate and duty cycle under DUTY_HEADS, in words."""
    return tuple((percent(duty), f"{rounded(rate_hz)}{GAP}Hz",
                  *(("refused", "", "") if np.isnan(mean) else
                    (microamperes(mean), how_long(days), view.lost(duty))))
                 for duty, rate_hz, mean, days in view.cells())


def duty_csv(view: DutyView) -> list[list[str]]:
    """For programs: plain numbers, empty where refused."""
    return [["duty_cycle", "rate_hz", "mean_ua", "days"],
            *(["" if np.isnan(one) else f"{one:.9g}" for one in cell] for cell in view.cells())]


def duty_plain(view: DutyView) -> list[dict[str, float | None]]:
    heading, *lines = duty_csv(view)
    return [{name: float(cell) if cell else None for name, cell in zip(heading, line, strict=True)} for line in lines]

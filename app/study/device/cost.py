"""What a device costs: its mean current and how long its battery lasts, in figures and in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.formatting import GAP, decimal
from app.study import actions
from app.study.state import Study
from detect.device.energy.budget import Budget, budget, sent_share
from detect.device.energy.bus import FROM_STUDY
from detect.device.energy.contradictions import against_budget
from detect.device.energy.current import WOKEN
from detect.device.quantities import Values
from detect.device.sleep.awake import Duty
from detect.device.sleep.worst_part import AsleepLoss, sleeps
from detect.rule.front_end import FrontEnd
from detect.scoring.figures import figures
from detect.scoring.score import Score

NUMBERS = ("current.", "processor.", "battery.", "bus.", "radio.", "memory.", "life.", "analog.", "modes.", "part.kind")
"""How the keys of the device begin that a cost hangs on."""


@dataclass(frozen=True)
class Cost:
    """Mean current, and how long the battery lasts. `asleep`: of a device that may lose falls by sleeping, which the
    scores beside it do not count."""

    mean_ua: float
    days: float
    asleep: bool = False

    @property
    def words(self) -> str:
        lost = ", falls lost asleep not counted" if self.asleep else ""
        return f"{microamperes(self.mean_ua)}, {how_long(self.days)}{lost}"


def cost_of(study: Study, unlabelled_per_day: float) -> Cost | None:
    """What the study's device draws at so many unlabelled alarms a day; None where it is refused."""
    found = borne(study.device, study.front_end, unlabelled_per_day * sent_share(study.device))
    return None if found is None else Cost(found.mean_ua, found.days, sleeps(study.device))


def borne(values: Values, front_end: FrontEnd, sent_per_day: float) -> Budget | None:
    """None where such a device is refused."""
    return None if refusal(values, front_end, sent_per_day) else budget(values, front_end.rate_hz, sent_per_day)


def refusal(values: Values, front_end: FrontEnd, sent_per_day: float) -> str:
    """Why a budget can't be given: the first reason; empty where there is one."""
    found = budget(values, front_end.rate_hz, sent_per_day)
    return next((one.sentence for one in against_budget(values, front_end, found) if one.refused), "")


def sleep_loss(values: Values) -> str:
    """Where a current is of a device that sleeps until it is woken: what the scores beside it are of."""
    if not sleeps(values):
        return ""
    return "The current is of a device that sleeps until it is woken, the scores of one that never sleeps: falls " \
        "lost asleep are counted apart, of the worst part that its numbers allow."


NO_LOSS = "none, it never sleeps"


def lost_words(loss: AsleepLoss | None) -> str:
    """"2 of 40" falls lost by sleeping."""
    if loss is None:
        return NO_LOSS
    return "refused" if loss.refused else f"{loss.lost} of {loss.caught}"


def alarms_per_day(study: Study, found: Score | None) -> tuple[float, str]:
    """How many a day the detector raises, and how one knows. `found`: the study's score where there is one."""
    values = study.device
    typed = values.number("radio.alarms_per_day")
    if values.text("radio.alarms_from") != FROM_STUDY:
        return typed, "as typed"
    if found is not None:
        free = next(one for one in figures(found).unlabelled if one.setting == "free-living")
        if free.per_24h is not None and free.hours > 0:
            return free.per_24h.value, (f"the study's unlabelled alarms: {free.alarms} in {free.hours:.1f} h "
                                        f"free-living, {free.per_24h.low:.1f} – {free.per_24h.high:.1f} a day "
                                        "with 95 %")
    return typed, "as typed: the study has no free-living time"


def awake_for(study: Study, duty: Duty) -> Study:
    """The study's device asleep until woken, awake for so much of the time. Raises BadSetting."""
    for key, value in (("current.sleeps", WOKEN), ("current.awake_pct", float(f"{100 * duty.share:.4g}")),
                       ("current.wakes_per_hour", float(f"{duty.wakes_per_hour:.4g}"))):
        study = actions.set_device_value(study, key, value)
    return study


def rounded(value: float) -> str:
    """Four digits that count."""
    return decimal(float(f"{value:.4g}"))


def percent(share: float) -> str:
    return f"{decimal(float(f'{100 * share:.3g}'))}{GAP}%"


def microamperes(ua: float) -> str:
    return f"{rounded(ua / 1000)}{GAP}mA" if ua >= 10_000 else f"{rounded(ua)}{GAP}µA"


def finite(value: float) -> float | None:
    """For JSON: null for what has no end."""
    return value if np.isfinite(value) else None


def how_long(days: float) -> str:
    """"35.5 days", from two years on "3.1 years"; "unlimited" for what has no end."""
    if not np.isfinite(days):
        return "unlimited"
    of, unit = (days / 365.25, "years") if days >= 731 else (days, "days")
    return f"{decimal(float(f'{of:.3g}'))}{GAP}{unit}"

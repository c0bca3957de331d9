"""The device's mean current and days over rate and duty cycle: what the chart draws, its table and its CSV."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.study.device.budget import lasts, microamperes, percent, rounded
from app.study.state import Study
from app.words import GAP
from detect.device.budget import Budget, budget, with_duty
from detect.device.contradictions import against_budget

RATES_HZ = tuple(6.25 * 2 ** (step / 2) for step in range(17))
DUTIES = (0.01, 0.05, 0.1, 0.2, 0.5, 1.0)


@dataclass(frozen=True, eq=False)
class DutyView:
    """Mean current and days over rate and duty cycle, (duties, rates); NaN where such a device is refused.
    `rate_hz` and `duty` are those in hand."""

    rates_hz: tuple[float, ...]
    duties: tuple[float, ...]
    mean_ua: np.ndarray
    days: np.ndarray
    rate_hz: float
    duty: float
    in_hand: Budget | None


def duty_view(study: Study, alarms_per_day: float) -> DutyView:
    """The device of the study at other rates and duty cycles; everything else as it is."""
    shape = len(DUTIES), len(RATES_HZ)
    mean, days = np.full(shape, np.nan), np.full(shape, np.nan)
    for row, duty in enumerate(DUTIES):
        for column, rate_hz in enumerate(RATES_HZ):
            values = with_duty(study.device, rate_hz, duty)
            found = budget(values, rate_hz, alarms_per_day)
            if not any(one.refused for one in against_budget(values, rate_hz, found)):
                mean[row, column], days[row, column] = found.mean_ua, found.days
    here = budget(study.device, study.front_end.rate_hz, alarms_per_day)
    refused = any(one.refused for one in against_budget(study.device, study.front_end.rate_hz, here))
    return DutyView(RATES_HZ, DUTIES, mean, days, study.front_end.rate_hz, here.sleeping.awake,
                    None if refused else here)


def duty_table(view: DutyView) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Headings and a row for every rate and duty cycle, in words."""
    rows = []
    for row, duty in enumerate(view.duties):
        for column, rate_hz in enumerate(view.rates_hz):
            mean, days = view.mean_ua[row, column], view.days[row, column]
            refused = bool(np.isnan(mean))
            rows.append((percent(duty), f"{rounded(rate_hz)}{GAP}Hz", "refused" if refused else microamperes(mean),
                         "" if refused else lasts(days)))
    return ("duty cycle", "rate", "mean current", "lasts"), tuple(rows)


def duty_csv(view: DutyView) -> list[list[str]]:
    """For programs: plain numbers, empty where refused."""
    lines = [["duty_cycle", "rate_hz", "mean_ua", "days"]]
    for row, duty in enumerate(view.duties):
        for column, rate_hz in enumerate(view.rates_hz):
            pair = (view.mean_ua[row, column], view.days[row, column])
            lines.append([f"{duty:.9g}", f"{rate_hz:.9g}", *("" if np.isnan(one) else f"{one:.9g}" for one in pair)])
    return lines


def duty_plain(view: DutyView) -> list[dict[str, float | None]]:
    heading, *lines = duty_csv(view)
    return [{name: float(cell) if cell else None for name, cell in zip(heading, line, strict=True)} for line in lines]

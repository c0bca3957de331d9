"""Missed falls against false alarms, over every detector that was tried; the charts' tables and CSV."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from app.formatting import MINUS, decimal, part, spoken, value_spoken
from app.study.device.cost import Cost
from app.study.results.counts import CAUGHT_AT, FALSE_AT, FIGURES, UNLABELLED_AT, Counter, Counts, StudyTrials
from app.study.results.readout import NO_DATA, percent, percent_range, plain, plain_range
from app.study.results.setting_map import MAPPABLE, CurveView, MapView, axis, switched_off
from detect.rule.front_end import FrontEnd
from detect.rule.settings import Settings
from detect.scoring.figures import figures_of
from detect.scoring.intervals import Estimate, proportion, rate
from detect.scoring.score import Matrix

AGAINST = ("unlabelled", "others")
"""False alarms as unlabelled alarms per 24 h of free-living time, or as a share of other activities."""

SWEPT = 24
"""Levels of each setting in a sweep."""


@dataclass(frozen=True)
class Trade:
    """One outcome that settings came to. `alarms`: per 24 h, or a share. `cost`: what its unlabelled alarms
    leave of the battery, None where nobody knows how many there are in a day."""

    counts: Counts
    settings: Settings
    missed: Estimate
    alarms: Estimate
    undominated: bool
    in_hand: bool
    cost: Cost | None = None


@dataclass(frozen=True, eq=False)
class TradeOff:
    """Points by fewer missed, then fewer alarms. `why_not`: why there are none."""

    against: str
    trials: StudyTrials
    points: tuple[Trade, ...]
    tried: int
    in_hand: Settings
    why_not: str = ""

    @property
    def undominated(self) -> tuple[Trade, ...]:
        return tuple(point for point in self.points if point.undominated)


def possible(trials: StudyTrials) -> tuple[str, ...]:
    """Which of AGAINST there is data for, what says most about a day first."""
    there = {"unlabelled": trials.free_living_h > 0, "others": trials.others > 0}
    return tuple(one for one in AGAINST if there[one])


def trade_off(counter: Counter, settings: Settings, in_hand: Counts | None, against: str,
              cost_of: Callable[[float], Cost | None] = lambda unlabelled_per_day: None) -> TradeOff:
    """`in_hand`: counts of the current settings, None where they weren't counted. `cost_of`: of so many unlabelled
    alarms a day."""
    trials, made = counter.trials, []
    if trials.falls == 0 or against not in possible(trials):
        lacks = _LACKS["falls" if trials.falls == 0 else against]
        return TradeOff(against, trials, (), counter.tried, settings, f"A trade-off can't be drawn: {lacks}.")
    best: dict[tuple[int, int], tuple[Counts, Settings]] = {}
    for counts, one in sorted(list(counter.outcomes.items()), key=lambda one: one[0]):  # noqa: C414 - a thread may add
        best.setdefault((trials.falls - counts[CAUGHT_AT], _alarms(counts, against)), (counts, one))
    mine = None if in_hand is None else (trials.falls - in_hand[CAUGHT_AT], _alarms(in_hand, against))
    least: int | None = None
    for missed, alarms in sorted(best):
        counts, one = best[missed, alarms]
        undominated = least is None or alarms < least
        least = alarms if undominated else least
        share = proportion(missed, trials.falls)
        assert share is not None
        here = mine == (missed, alarms)
        cost = cost_of(24 * counts[UNLABELLED_AT] / trials.free_living_h) if trials.free_living_h > 0 else None
        made.append(Trade(counts, settings if here else one, share, _estimate(alarms, trials, against), undominated,
                          here, cost))
    return TradeOff(against, trials, tuple(made), counter.tried, settings)


_LACKS = {"falls": "no labelled fall", "unlabelled": "no free-living time", "others": "no other activity"}


def sweep(settings: Settings, front_end: FrontEnd) -> list[Settings]:
    """Settings to try for the trade-off: every number that matters moved alone over its range."""
    return [settings.with_value(key, value) for key in MAPPABLE if not switched_off(key, settings)
            for value in axis(key, settings, front_end, SWEPT).values]


def _alarms(counts: Counts, against: str) -> int:
    return counts[UNLABELLED_AT if against == "unlabelled" else FALSE_AT]


def _estimate(alarms: int, trials: StudyTrials, against: str) -> Estimate:
    """Garwood's interval for a rate, Wilson's for a share."""
    found = rate(alarms, trials.free_living_h / 24) if against == "unlabelled" else proportion(alarms, trials.others)
    assert found is not None
    return found


def differences(settings: Settings, other: Settings) -> str:
    """What is different about `settings`, in words: "impact at least 2.20 g, still below 0.20 g"."""
    parts = [f"{spoken(key)} {value_spoken(key, settings[key])}" for key in settings if settings[key] != other[key]]
    return ", ".join(parts) or "the current settings"


def j_of(counts: Counts, trials: StudyTrials) -> tuple[str, str]:
    """Youden's J and its interval in words."""
    caught, false, _ = counts
    found = figures_of(Matrix(caught, trials.falls - caught, false, trials.others - false)).youden_j
    return plain(found), plain_range(found)


CANNOT = "can't run"


@dataclass(frozen=True)
class ChartTable:
    """Words for people: headings, and of each row its words and the thing of the picture that it is about."""

    headings: tuple[str, ...]
    rows: tuple[tuple[tuple[str, ...], object], ...]


def chart_table(view: MapView | CurveView) -> ChartTable:
    """A row for every point of a map or a curve, the levels across changing fastest."""
    figures = [view.values(name) for name in FIGURES]
    rows = []
    for index in np.ndindex(view.runs.shape):
        at, runs = index[::-1], bool(view.runs[index])
        words = (*(value_spoken(axis.key, axis.values[i]) for axis, i in zip(view.axes, at, strict=True)),
                 *_words([float(values[index]) for values in figures], runs),
                 *_counted(view.counts[index].tolist(), view.trials, runs))
        rows.append((words, at if len(at) > 1 else at[0]))
    return ChartTable((*(axis.title for axis in view.axes), *FIGURES.values(), *_COUNTED), tuple(rows))


def trade_table(trade: TradeOff) -> ChartTable:
    """The undominated ones, fewest missed falls first."""
    rows = []
    for point in trade.undominated:
        j, j_range = j_of(point.counts, trade.trials)
        alarms, a_day = point.alarms, trade.against == "unlabelled"
        rows.append(((percent(point.missed), percent_range(point.missed), plain(alarms) if a_day else percent(alarms),
                      plain_range(alarms) if a_day else percent_range(alarms), f"{j} ({j_range})",
                      *(() if point.cost is None else (point.cost.words,)),
                      differences(point.settings, trade.in_hand)), point))
    title = "false alarms per day" if trade.against == "unlabelled" else "false alarms"
    cost = ("current, battery lasts",) if any(point.cost is not None for point in trade.undominated) else ()
    return ChartTable(("missed", "95 %", title, "95 %", "Youden's J", *cost, "settings, compared with now"),
                      tuple(rows))


_COUNTED = ("caught", "false alarms", "unlabelled alarms")


def figure(value: float) -> str:
    return f"{value:.3f}".replace("-", MINUS)


def _words(values: Sequence[float], runs: bool) -> tuple[str, ...]:
    return tuple(CANNOT if not runs else NO_DATA if math.isnan(value) else figure(value) for value in values)


def _counted(counts: Sequence[int], trials: StudyTrials, runs: bool) -> tuple[str, str, str]:
    if not runs:
        return "", "", ""
    return (part(counts[CAUGHT_AT], trials.falls), part(counts[FALSE_AT], trials.others),
            decimal(counts[UNLABELLED_AT]) if trials.free_living_h else "")


# For programs: plain numbers; a setting's key tells its unit.

Lines = list[list[str]]


def chart_csv(view: MapView | CurveView) -> Lines:
    lines, trials = [[*(axis.key for axis in view.axes), "runs", *_CSV]], view.trials
    figures = [view.values(name) for name in FIGURES]
    for index in np.ndindex(view.runs.shape):
        line = [_number(axis.values[i]) for axis, i in zip(view.axes, index[::-1], strict=True)]
        if view.runs[index]:
            caught, false, unlabelled = view.counts[index].tolist()
            line += ["true", *map(str, (trials.falls, caught, trials.others, false, unlabelled)),
                     *("" if math.isnan(values[index]) else _number(float(values[index])) for values in figures)]
        else:
            line += ["false", *[""] * len(_CSV)]
        lines.append(line)
    return lines


def trade_csv(trade: TradeOff) -> Lines:
    """Every outcome, with all its settings."""
    keys = list(trade.in_hand)
    alarms = "strays_per_24h" if trade.against == "unlabelled" else "false_alarm_share"
    lines = [["missed_share", "missed_low", "missed_high", alarms, f"{alarms}_low", f"{alarms}_high", "undominated",
              "falls_caught", "false_alarms", "unlabelled", "mean_ua", "days", *keys]]
    for point in trade.points:
        plain = point.settings.plain()
        lines.append([*(_number(one) for estimate in (point.missed, point.alarms)
                        for one in (estimate.value, estimate.low, estimate.high)),
                      str(point.undominated).lower(), *map(str, point.counts),
                      *(("", "") if point.cost is None else (_number(point.cost.mean_ua), _number(point.cost.days))),
                      *(_plain(plain[key]) for key in keys)])
    return lines


_CSV = ("falls", "falls_caught", "other_activities", "false_alarms", "free_living_unlabelled", *FIGURES)


def _number(value: float) -> str:
    return f"{value:.9g}"


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return " ".join(_number(part) for part in value)
    return _number(value) if isinstance(value, int | float) else str(value)

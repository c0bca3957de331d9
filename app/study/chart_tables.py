"""Map, trade-off and curve as tables: what a screen reader, a clipboard and a CSV file get. No Qt."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.study.counting import CAUGHT_AT, FALSE_AT, FIGURES, STRAYS_AT, Trials, figure_of
from app.study.mapping import CurveView, MapView
from app.study.readout import percent, percent_range
from app.study.spoken import value_spoken
from app.study.tradeoff import TradeOff, differences, j_of
from app.words import MINUS
from detect.intervals import Estimate

NO_NUMBER = "no data"
CANNOT = "can't run"


@dataclass(frozen=True)
class ChartTable:
    """Words for people: headings, and of each row its words and the thing of the picture that it is about."""

    headings: tuple[str, ...]
    rows: tuple[tuple[tuple[str, ...], object], ...]


def map_table(view: MapView) -> ChartTable:
    """A row for every cell, the levels across changing fastest."""
    figures = {name: view.values(name) for name in FIGURES}
    rows = []
    for iy, y in enumerate(view.y.values):
        for ix, x in enumerate(view.x.values):
            words = (value_spoken(view.x.key, x), value_spoken(view.y.key, y),
                     *_words([float(values[iy, ix]) for values in figures.values()], bool(view.runs[iy, ix])),
                     *_counted(view.counts[iy, ix].tolist(), view.trials, bool(view.runs[iy, ix])))
            rows.append((words, (ix, iy)))
    return ChartTable((view.x.title, view.y.title, *FIGURES.values(), *_COUNTED), tuple(rows))


def curve_table(view: CurveView) -> ChartTable:
    figures = {name: view.values(name) for name in FIGURES}
    rows = []
    for ix, x in enumerate(view.x.values):
        words = (value_spoken(view.x.key, x),
                 *_words([float(values[ix]) for values in figures.values()], bool(view.runs[ix])),
                 *_counted(view.counts[ix].tolist(), view.trials, bool(view.runs[ix])))
        rows.append((words, ix))
    return ChartTable((view.x.title, *FIGURES.values(), *_COUNTED), tuple(rows))


def trade_table(trade: TradeOff) -> ChartTable:
    """The undominated ones, fewest missed falls first."""
    rows = []
    for point in trade.undominated:
        j, j_range = j_of(point.counts, trade.trials)
        rows.append(((percent(point.missed), percent_range(point.missed), _alarms(point.alarms, trade.against),
                      _alarm_range(point.alarms, trade.against), f"{j} ({j_range})",
                      *(() if point.cost is None else (point.cost.words,)),
                      differences(point.settings, trade.in_hand)), point))
    alarms = "strays per 24 h" if trade.against == "strays" else "false alarms"
    cost = ("current, battery lasts",) if any(point.cost is not None for point in trade.undominated) else ()
    return ChartTable(("missed", "95 %", alarms, "95 %", "Youden's J", *cost, "settings, against those in hand"),
                      tuple(rows))


def _alarms(estimate: Estimate, against: str) -> str:
    return f"{estimate.value:.2f}" if against == "strays" else percent(estimate)


def _alarm_range(estimate: Estimate, against: str) -> str:
    return f"{estimate.low:.2f} – {estimate.high:.2f}" if against == "strays" else percent_range(estimate)


_COUNTED = ("caught", "false alarms", "strays")


def figure(value: float) -> str:
    return f"{value:.3f}".replace("-", MINUS)


def _words(values: Sequence[float], runs: bool) -> tuple[str, ...]:
    return tuple(CANNOT if not runs else NO_NUMBER if math.isnan(value) else figure(value) for value in values)


def _counted(counts: Sequence[int], trials: Trials, runs: bool) -> tuple[str, str, str]:
    if not runs:
        return "", "", ""
    return (f"{counts[CAUGHT_AT]} of {trials.falls}", f"{counts[FALSE_AT]} of {trials.others}",
            str(counts[STRAYS_AT]) if trials.free_living_h else "")


# For programs: plain numbers; a setting's key tells its unit.

Lines = list[list[str]]


def map_csv(view: MapView) -> Lines:
    lines = [[view.x.key, view.y.key, "runs", *_CSV]]
    for iy, y in enumerate(view.y.values):
        for ix, x in enumerate(view.x.values):
            lines.append([_number(x), _number(y), *_line(view.counts[iy, ix], bool(view.runs[iy, ix]), view.trials)])
    return lines


def curve_csv(view: CurveView) -> Lines:
    return [[view.x.key, "runs", *_CSV],
            *([_number(x), *_line(view.counts[ix], bool(view.runs[ix]), view.trials)]
              for ix, x in enumerate(view.x.values))]


def trade_csv(trade: TradeOff) -> Lines:
    """Every outcome, with all its settings."""
    keys = list(trade.in_hand)
    alarms = "strays_per_24h" if trade.against == "strays" else "false_alarm_share"
    lines = [["missed_share", "missed_low", "missed_high", alarms, f"{alarms}_low", f"{alarms}_high", "undominated",
              "falls_caught", "false_alarms", "strays", "mean_ua", "days", *keys]]
    for point in trade.points:
        plain = point.settings.plain()
        lines.append([*(_number(one) for estimate in (point.missed, point.alarms)
                        for one in (estimate.value, estimate.low, estimate.high)),
                      str(point.undominated).lower(), *map(str, point.counts),
                      *(("", "") if point.cost is None else (_number(point.cost.mean_ua), _number(point.cost.days))),
                      *(_plain(plain[key]) for key in keys)])
    return lines


_CSV = ("falls", "falls_caught", "other_activities", "false_alarms", "free_living_strays", *FIGURES)


def _line(counts: np.ndarray, runs: bool, trials: Trials) -> list[str]:
    if not runs:
        return ["false", *[""] * len(_CSV)]
    caught, false, strays = counts.tolist()
    figures = [float(figure_of(name, counts, trials)) for name in FIGURES]
    return ["true", str(trials.falls), str(caught), str(trials.others), str(false), str(strays),
            *("" if math.isnan(value) else _number(value) for value in figures)]


def _number(value: float) -> str:
    return f"{value:.9g}"


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return " ".join(_number(part) for part in value)
    return _number(value) if isinstance(value, int | float) else str(value)

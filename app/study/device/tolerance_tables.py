"""Tolerances as tables: what a clipboard, a CSV file and a program get. No Qt."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import asdict
from typing import Any

from app.study.device.tolerance import (
    CAUTION,
    FIGURE_WORDS,
    FlipRow,
    ToleranceView,
    bounds_words,
    device_rows,
    drawn_words,
    limit_words,
    number,
    percent,
    spread_words,
)
from app.words import MINUS
from detect.device.drivers import METHODS, Driver
from detect.device.outcomes import QUANTILES, Distribution
from detect.device.spread import PARAMETERS, TOLERANCES

SPREAD_HEADS = ("figure", "nominal", "median", "worst 5 %", "worst")
DRIVER_HEADS = ("tolerance", "spread alone", "shift alone", "at its worst bound", "goes with", "rank correlation",
                "share of variance")
FLIP_HEADS = ("recording", "event", "nominal", "otherwise in", "devices")


def spread_rows(view: ToleranceView) -> list[tuple[str, ...]]:
    return [spread_words(name, one) for name, one in view.spread.items()]


def driver_row(view: ToleranceView, one: Driver) -> tuple[str, ...]:
    """As DRIVER_HEADS; empty where that was not looked at."""
    figure = view.limit.figure
    nominal = view.spread[figure]
    alone = ("", "") if one.alone is None or nominal is None else (
        number(figure, one.alone.sd), _signed(number(figure, one.alone.mean - nominal.nominal)))
    end = "" if one.end is None else f"{number(figure, one.end.value)} at {one.end.words.replace('-', MINUS)}"
    rank = ("", "") if one.rank is None else (one.rank.of, f"{one.rank.rho:+.2f} ({one.rank.interval.low:+.2f} – "
                                              f"{one.rank.interval.high:+.2f})".replace("-", MINUS))
    share = "" if one.sobol is None else (f"{one.sobol.first:.2f}, with others {one.sobol.total:.2f} "
                                          f"({one.sobol.total_interval.low:.2f} – {one.sobol.total_interval.high:.2f})"
                                          ).replace("-", MINUS)
    return (one.title, *alone, end, *rank, share)


def _signed(text: str) -> str:
    return text if text.startswith(MINUS) else f"+{text}"


def driver_rows(view: ToleranceView) -> list[tuple[str, ...]]:
    return [driver_row(view, one) for one in view.drivers]


def flip_row(row: FlipRow) -> tuple[str, ...]:
    return row.recording, row.name, row.nominal, percent(row.share), str(row.devices)


def as_text(view: ToleranceView) -> str:
    """All of it, tab-separated."""
    lines: list[tuple[str, ...]] = [
        (view.headline,), (f"seed {view.found.wanted.seed}",), ("limit", limit_words(view.limit)),
        *bounds_words(view.found), (), SPREAD_HEADS, *spread_rows(view), (), DRIVER_HEADS, *driver_rows(view),
        (chance_words(view),), (), FLIP_HEADS, *(flip_row(row) for row in view.flips), ()]
    for device in view.worst[:1]:
        lines += [(f"worst device: number {device}",), *drawn_words(view.found, device), ()]
    lines += [(one,) for one in view.remarks]
    return "".join("\t".join(line) + "\n" for line in lines)


def chance_words(view: ToleranceView) -> str:
    """How large a rank correlation may be by chance."""
    if view.chance is None:
        return "rank correlation: too few devices"
    return f"rank correlations within ±{view.chance:.2f} may be chance"


def as_csv(view: ToleranceView) -> str:
    """Every device with its drawn numbers and its figures; empty where there is no data."""
    heads, rows = device_rows(view.found)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(heads)
    writer.writerows([["" if math.isnan(value) else f"{value:.9g}" for value in row] for row in rows.tolist()])
    return text.getvalue()


def plain(view: ToleranceView) -> dict[str, Any]:
    """For JSON; null where there is no data."""
    found, limit = view.found, view.limit
    return {
        "devices": view.devices, "wanted": found.wanted.devices, "called_off": found.called_off,
        "seed": found.wanted.seed, "bounds": {key: value for key, value in found.values.items()
                                              if key.startswith("spread.")},
        "limit": {"figure": limit.figure, "value": limit.value, "at_most": limit.at_most,
                  "share": None if view.share is None else asdict(view.share),
                  "method": "Wilson score interval over devices"},
        "figures": {name: _plain_spread(one) for name, one in view.spread.items()},
        "strays_setting": view.stray_setting,
        "drivers": [asdict(one) for one in view.drivers], "drivers_of": limit.figure,
        "driver_methods": METHODS, "chance_level": view.chance,
        "worst": [_plain_device(view, device) for device in view.worst],
        "flips": [asdict(row) for row in view.flips],
        "tolerances": {one.name: {"title": one.title, "parameters": dict(one.parameters)} for one in TOLERANCES},
        "remarks": [one for one in view.remarks if one != CAUTION], "caution": CAUTION,
    }


def _plain_spread(one: Distribution | None) -> dict[str, Any] | None:
    if one is None:
        return None
    quantiles = {f"{share:g}": {"value": value, "low": bound.low, "high": bound.high}
                 for share, value, bound in zip(QUANTILES, one.quantiles, one.bounds, strict=True)}
    return {"nominal": one.nominal, "mean": one.mean, "sd": one.sd, "quantiles": quantiles,
            "worst": {"device": one.worst, "value": one.worst_value}, "histogram": {"edges": one.edges,
                                                                                    "devices": one.counts}}


def _plain_device(view: ToleranceView, device: int) -> dict[str, Any]:
    values = view.found.devices.values[device].tolist()
    figures = {name: float(view.found.outcomes.figure(name)[device]) for name in FIGURE_WORDS}
    return {"device": device,
            "drawn": {name: {"value": value, "unit": unit}
                      for (name, unit), value in zip(PARAMETERS, values, strict=True)},
            "figures": {name: None if math.isnan(value) else value for name, value in figures.items()},
            "flips": [row.event for row in view.flips_of(device)]}



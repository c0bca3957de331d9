"""A study's score over many devices that differ: what is put to them, and what came of it ready to read. No Qt."""

from __future__ import annotations

import math
from concurrent.futures import Executor
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from app.formatting import GAP, MINUS, csv_text, decimal, plural, tabbed
from app.study.device.material import clipped, motion_of
from app.study.pipeline import Cancelled, Made, Progress, StudyEvents
from app.study.results.readout import NO_DATA
from app.study.state import Study
from data.problem import Problem
from detect.device.part.digital import HALF
from detect.device.part.part import ANALOGUE, part_of
from detect.device.spread import outcomes
from detect.device.spread.drivers import METHODS, Driver, chance_level, drivers
from detect.device.spread.outcomes import QUANTILES, UNLABELLED, Distribution, Limit
from detect.device.spread.spread import BOUNDS, FIGURE_WORDS, FIGURES, PARAMETERS, SHAPE, TOLERANCES
from detect.device.spread.tolerance import Course, Tolerances, tolerances
from detect.scoring.intervals import Estimate
from detect.scoring.score import OUTCOMES

CAUTION = ("An engineering aid: bounds are a data sheet's or a habit's, parts of one batch are more alike than these, "
           "and simulated falls by young volunteers flatter a detector.")
MOST_WORST = 20
"""So many of the worst devices can be looked at."""

ONE_SIDED = ("spread.noise_ug", "spread.rotation_deg", "spread.moment")
"""Bounds of something that has no sign."""

Key = tuple[object, ...]


@dataclass(frozen=True)
class FlipRow:
    """An event that comes out otherwise than nominal in `devices` of them. `place`: the sample of its onset."""

    event: int
    recording: str
    name: str
    nominal: str
    devices: int
    share: float
    place: int


@dataclass(frozen=True, eq=False)
class ToleranceView:
    """What came of a run: `spread` None for a figure without data; `worst` the devices worst in the limit's figure, the
    worst first, none without data. `key` stands for the study it was of."""

    key: Key
    found: Tolerances
    limit: Limit
    share: Estimate | None
    spread: dict[str, Distribution | None]
    drivers: tuple[Driver, ...]
    chance: float | None
    flips: tuple[FlipRow, ...]
    worst: tuple[int, ...]
    unlabelled_setting: str
    headline: str
    remarks: tuple[str, ...]

    @property
    def devices(self) -> int:
        return len(self.found.outcomes)

    def flips_of(self, device: int) -> tuple[FlipRow, ...]:
        """The events that come out otherwise in this device."""
        mine = set(outcomes.flipped(self.found.outcomes, self.found.nominal, device))
        return tuple(row for row in self.flips if row.event in mine)


NUMBERS = ("spread.", "part.kind", "analog.", "digital.")
"""How the keys of the device begin that a run hangs on."""


def key_of(study: Study) -> Key:
    """What a run depends on of a study: equal keys have equal results."""
    return study.scored_by, study.device.under(*NUMBERS)


def course_of(study: Study, made: Made) -> Course:
    """What every device is put to. Raises Problem where there is nothing to score."""
    found, labelled, prepared = made
    matrix = found.score.matrix
    if matrix.tp + matrix.fn + matrix.fp + matrix.tn == 0:
        raise Problem("nothing_to_score", "No recording has a label that is scored, so no device can be told from "
                      "another: no data.", "Label falls and other activities first.")
    motion, recording_of = motion_of(study, prepared)
    return Course(motion, recording_of, len(prepared.names), study.front_end, found.rule, labelled.events,
                  study.device.text("spread.noise_filter"), None if labelled.lending is None else labelled.lending.lent,
                  _noise_corner_hz(study))


def _noise_corner_hz(study: Study) -> float | None:
    """None where the part sets its low-pass with its rate."""
    part = part_of(study.device, study.front_end)
    return None if study.device.text("part.kind") != ANALOGUE and study.device.text("digital.low_pass") == HALF \
        else part.noise_band_hz


def run(study: Study, made: Made, executor: Executor | None = None,
        progress: Progress | None = None, cancelled: Cancelled | None = None) -> ToleranceView:
    """Devices drawn as the study's numbers say, put to its recordings. Raises Problem; cancelled it gives the part
    that there is, and Problem where that is nothing."""
    came = tolerances(course_of(study, made), study.device, executor, progress, cancelled)
    if not len(came.outcomes):
        raise Problem("called_off", "Cancelled before the first device was done.", "Run it again.")
    return _view(study, made, came)


def _view(study: Study, made: Made, came: Tolerances) -> ToleranceView:
    limit = came.wanted.limit
    spread = {name: outcomes.distribution(came.outcomes, came.nominal, name) for name in FIGURES}
    rows = tuple(_flip(made[1], came, event, number) for event, number in outcomes.flips(came.outcomes, came.nominal))
    share = outcomes.share_within(came.outcomes, limit)
    worst = outcomes.worst_first(came.outcomes, limit.figure)[:MOST_WORST].tolist() if spread[limit.figure] else ()
    return ToleranceView(
        key_of(study), came, limit, share, spread, drivers(came, limit.figure), chance_level(came), rows, tuple(worst),
        came.outcomes.setting, _headline(came, limit, share), _remarks(made, came, spread))


def _flip(labelled: StudyEvents, came: Tolerances, event: int, number: int) -> FlipRow:
    name, label = labelled.label(event)
    return FlipRow(event, name, label.title, OUTCOMES[int(came.nominal.outcome[0, event])], number,
                   number / len(came.outcomes), int(labelled.events.onset[event]))


def limit_words(limit: Limit) -> str:
    """"Youden's J ≥ 0.80"."""
    return f"{FIGURE_WORDS[limit.figure]} {'≤' if limit.at_most else '≥'} {number(limit.figure, limit.value)}"


def _headline(came: Tolerances, limit: Limit, share: Estimate | None) -> str:
    """"91.2 % of 1 000 devices have Youden's J ≥ 0.80 (95 %: 89.3 – 92.8 %)"."""
    many = decimal(len(came.outcomes))
    if share is None:
        return f"{FIGURE_WORDS[limit.figure]}: {NO_DATA} in {many} devices."
    return (f"{percent(share.value)} of {many} devices have {limit_words(limit)} "
            f"(95{GAP}%: {100 * share.low:.1f} – {percent(share.high)})")


def _remarks(made: Made, came: Tolerances, spread: dict[str, Distribution | None]) -> tuple[str, ...]:
    found, _, prepared = made
    remarks = []
    if came.called_off:
        remarks.append(f"Cancelled after {decimal(len(came.outcomes))} of {decimal(came.wanted.devices)} devices: "
                       "these are the figures of those.")
    elif came.at_ends is None or (came.wanted.alone and not came.alone) or (came.wanted.pairs and not came.pairs):
        remarks.append("Cancelled before every tolerance was run on its own.")
    if not came.devices.values.any():
        remarks.append("Every bound is zero: all devices are the nominal one.")
    if found.score.matrix.tp + found.score.matrix.fn == 0:
        remarks.append("No fall is labelled: sensitivity and J have no data.")
    if found.score.matrix.fp + found.score.matrix.tn == 0:
        remarks.append("No activity other than falls is labelled: specificity and J have no data.")
    if spread[UNLABELLED] is None:
        remarks.append("No time is unlabelled: unlabelled alarms have no data.")
    elif came.outcomes.setting == "staged":
        remarks.append("Unlabelled alarms come from staged recordings: this rate is not what a wearer would see.")
    cut = clipped(prepared)
    if cut:
        remarks.append(f"In {plural(len(cut), 'recording')} the logger's range cut peaks off: a device that reads "
                       "less shows the "
                       "cut one smaller, where in truth it might have reached its own range.")
    remarks += came.remarks
    return (*remarks, CAUTION)


def number(figure: str, value: float) -> str:
    """A figure as people read it."""
    return f"{value:.{1 if figure == UNLABELLED else 3}f}".replace("-", MINUS)


def percent(share: float) -> str:
    return f"{100 * share:.1f}{GAP}%"


def spread_words(name: str, one: Distribution | None) -> tuple[str, ...]:
    """Figure, nominal, median, worst 5 %, worst: a row of the table."""
    if one is None:
        return FIGURE_WORDS[name], NO_DATA, "", "", ""
    # Of unlabelled alarms many are bad, of everything else few.
    tail = one.quantiles[QUANTILES.index(0.95 if name == UNLABELLED else 0.05)]
    return (FIGURE_WORDS[name], *(number(name, value) for value in
                                  (one.nominal, one.quantiles[QUANTILES.index(0.5)], tail, one.worst_value)))


def drawn_words(came: Tolerances, device: int) -> tuple[tuple[str, str], ...]:
    """The numbers drawn for a device, in words."""
    values = came.devices.values[device].tolist()
    return tuple((name.replace("_", " "), f"{value:+.3g}{GAP}{unit}".replace("-", MINUS))
                 for (name, unit), value in zip(PARAMETERS, values, strict=True))


def bounds_words(came: Tolerances) -> tuple[tuple[str, str], ...]:
    """The bounds and the shape that the devices were drawn from."""
    values = came.values
    return tuple((row.title, f"{'up to ' if row.key in ONE_SIDED else '±'}{values.number(row.key):g}{GAP}{row.unit}")
                 for row in BOUNDS) \
        + tuple((row.title, values.text(row.key)) for row in SHAPE)


def device_rows(came: Tolerances) -> tuple[list[str], np.ndarray]:
    """For a table of all devices: headings, and a row of numbers drawn and figures each."""
    heads = ["device", *(f"{name} [{unit}]" for name, unit in PARAMETERS), *FIGURES]
    n = len(came.outcomes)
    return heads, np.column_stack([np.arange(n), came.devices.values[:n],
                                   *(came.outcomes.figure(name) for name in FIGURES)])


SPREAD_HEADS = ("figure", "nominal", "median", "worst 5 %", "worst")
DRIVER_HEADS = ("tolerance", "spread alone", "shift alone", "at its worst bound", "correlates with", "rank correlation",
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


def flip_row(row: FlipRow) -> tuple[str, ...]:
    return row.recording, row.name, row.nominal, percent(row.share), decimal(row.devices)


def as_text(view: ToleranceView) -> str:
    """All of it, tab-separated."""
    lines: list[tuple[str, ...]] = [
        (view.headline,), (f"seed {view.found.wanted.seed}",), ("limit", limit_words(view.limit)),
        *bounds_words(view.found), (), SPREAD_HEADS, *spread_rows(view), (), DRIVER_HEADS,
        *(driver_row(view, one) for one in view.drivers), (chance_words(view),), (), FLIP_HEADS,
        *map(flip_row, view.flips), ()]
    for device in view.worst[:1]:
        lines += [(f"worst device: number {device}",), *drawn_words(view.found, device), ()]
    lines += [(one,) for one in view.remarks]
    return tabbed(lines)


def chance_words(view: ToleranceView) -> str:
    """How large a rank correlation may be by chance."""
    if view.chance is None:
        return "rank correlation: too few devices"
    return f"rank correlations within ±{view.chance:.2f} may be chance"


def as_csv(view: ToleranceView) -> str:
    """Every device with its drawn numbers and its figures; empty where there are no data."""
    heads, rows = device_rows(view.found)
    return csv_text([heads, *(["" if math.isnan(value) else f"{value:.9g}" for value in row] for row in rows.tolist())])


def plain(view: ToleranceView) -> dict[str, Any]:
    """For JSON; null where there are no data."""
    found, limit = view.found, view.limit
    return {
        "devices": view.devices, "wanted": found.wanted.devices, "called_off": found.called_off,
        "seed": found.wanted.seed, "bounds": found.values.under("spread."),
        "limit": {"figure": limit.figure, "value": limit.value, "at_most": limit.at_most,
                  "share": None if view.share is None else asdict(view.share),
                  "method": "Wilson score interval over devices"},
        "figures": {name: _plain_spread(one) for name, one in view.spread.items()},
        "unlabelled_setting": view.unlabelled_setting,
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

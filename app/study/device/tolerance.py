"""A study's score over many devices that differ: what is put to them, and what came of it ready to read. No Qt."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from app.study.device.in_g import clipped, motion_of
from app.study.pipeline import Evaluated, Labelled, Prepared
from app.study.state import Study
from app.words import GAP, MINUS, THIN
from data.problem import Problem
from detect.device.drivers import Driver, chance_level, drivers
from detect.device.outcomes import (
    QUANTILES,
    STRAYS,
    Distribution,
    Limit,
    distribution,
    flipped,
    flips,
    share_within,
    worst_first,
)
from detect.device.spread import BOUNDS, FIGURES, PARAMETERS, SHAPE
from detect.device.tolerance import Course, Tolerances, tolerances
from detect.intervals import Estimate
from detect.score import OUTCOMES

NO_DATA = "no data"
FIGURE_WORDS = {"youden_j": "Youden's J", "sensitivity": "sensitivity", "specificity": "specificity",
                STRAYS: "strays per 24 h"}
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
    stray_setting: str
    headline: str
    remarks: tuple[str, ...]

    @property
    def devices(self) -> int:
        return len(self.found.outcomes)

    def flips_of(self, device: int) -> tuple[FlipRow, ...]:
        """The events that come out otherwise in this device."""
        mine = set(flipped(self.found.outcomes, self.found.nominal, device))
        return tuple(row for row in self.flips if row.event in mine)


def key_of(study: Study) -> Key:
    """What a run depends on of a study: equal keys have equal results."""
    spread = tuple((key, value) for key, value in study.device.items() if key.startswith("spread."))
    return (study.items, study.front_end, study.settings, study.widening, study.annotator, study.node, spread)


def course_of(study: Study, made: tuple[Evaluated, Labelled, Prepared]) -> Course:
    """What every device is put to. Raises Problem where there is nothing to score."""
    found, labelled, prepared = made
    matrix = found.score.matrix
    if matrix.tp + matrix.fn + matrix.fp + matrix.tn == 0:
        raise Problem("nothing_to_score", "No recording has a label that is scored, so no device can be told from "
                      "another: no data.", "Label falls and other activities first.")
    motion, recording_of = motion_of(study, prepared)
    return Course(motion, recording_of, len(prepared.names), study.front_end, found.rule, labelled.events,
                  study.device.text("spread.noise_filter"), None if labelled.lending is None else labelled.lending.lent)


def run(study: Study, made: tuple[Evaluated, Labelled, Prepared], executor: Executor | None = None,
        progress: Callable[[float], None] | None = None,
        cancelled: Callable[[], bool] | None = None) -> ToleranceView:
    """Devices drawn as the study's numbers say, put to its recordings. Raises Problem; called off it gives the part
    that there is, and Problem where that is nothing."""
    came = tolerances(course_of(study, made), study.device, executor, progress, cancelled)
    if not len(came.outcomes):
        raise Problem("called_off", "Called off too early: nothing was through yet.", "Run it again.")
    return _view(study, made, came)


def _view(study: Study, made: tuple[Evaluated, Labelled, Prepared], came: Tolerances) -> ToleranceView:
    limit = came.wanted.limit
    spread = {name: distribution(came.outcomes, came.nominal, name) for name in FIGURES}
    rows = tuple(_flip(made[1], came, event, number) for event, number in flips(came.outcomes, came.nominal))
    share = share_within(came.outcomes, limit)
    worst = () if spread[limit.figure] is None else worst_first(came.outcomes, limit.figure)[:MOST_WORST].tolist()
    return ToleranceView(
        key_of(study), came, limit, share, spread, drivers(came, limit.figure), chance_level(came), rows, tuple(worst),
        came.outcomes.setting, _headline(came, limit, share), _remarks(made, came, spread))


def _flip(labelled: Labelled, came: Tolerances, event: int, number: int) -> FlipRow:
    item, at = labelled.owners[event]
    one = item.labels[at]
    return FlipRow(event, item.name, one.name or one.kind, OUTCOMES[int(came.nominal.outcome[0, event])], number,
                   number / len(came.outcomes), int(labelled.events.onset[event]))


def limit_words(limit: Limit) -> str:
    """"Youden's J ≥ 0.80"."""
    return f"{FIGURE_WORDS[limit.figure]} {'≤' if limit.at_most else '≥'} {number(limit.figure, limit.value)}"


def _headline(came: Tolerances, limit: Limit, share: Estimate | None) -> str:
    """"91.2 % of 1 000 devices have Youden's J ≥ 0.80 (95 %: 89.3 – 92.8 %)"."""
    many = f"{len(came.outcomes):,}".replace(",", THIN)
    if share is None:
        return f"{FIGURE_WORDS[limit.figure]}: {NO_DATA} in {many} devices."
    return (f"{percent(share.value)} of {many} devices have {limit_words(limit)} "
            f"(95{GAP}%: {100 * share.low:.1f} – {percent(share.high)})")


def _remarks(made: tuple[Evaluated, Labelled, Prepared], came: Tolerances,
             spread: dict[str, Distribution | None]) -> tuple[str, ...]:
    found, _, prepared = made
    remarks = []
    if came.called_off:
        remarks.append(f"Called off after {len(came.outcomes)} of {came.wanted.devices} devices: this is of those.")
    elif came.at_ends is None or (came.wanted.alone and not came.alone) or (came.wanted.pairs and not came.pairs):
        remarks.append("Called off before every tolerance was looked at on its own.")
    if not came.devices.values.any():
        remarks.append("Every bound is zero: all devices are the nominal one.")
    if found.score.matrix.tp + found.score.matrix.fn == 0:
        remarks.append("There is no labelled fall: sensitivity and J have no data.")
    if found.score.matrix.fp + found.score.matrix.tn == 0:
        remarks.append("There is no labelled activity other than falls: specificity and J have no data.")
    if spread[STRAYS] is None:
        remarks.append("There is no unlabelled time: strays have no data.")
    elif came.outcomes.setting == "staged":
        remarks.append("Strays come from staged recordings: this rate is not what a wearer would see.")
    cut = clipped(prepared)
    if cut:
        remarks.append(f"In {len(cut)} recordings the logger's range cut peaks off: a device that reads less shows the "
                       "cut one smaller, where in truth it might have reached its own range.")
    remarks += came.remarks
    return (*remarks, CAUTION)


def number(figure: str, value: float) -> str:
    """A figure as people read it."""
    return f"{value:.{1 if figure == STRAYS else 3}f}".replace("-", MINUS)


def percent(share: float) -> str:
    return f"{100 * share:.1f}{GAP}%"


def spread_words(name: str, one: Distribution | None) -> tuple[str, ...]:
    """Figure, nominal, median, worst 5 %, worst: a row of the table."""
    if one is None:
        return FIGURE_WORDS[name], NO_DATA, "", "", ""
    # Of strays many are bad, of everything else few.
    tail = one.quantiles[QUANTILES.index(0.95 if name == STRAYS else 0.05)]
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


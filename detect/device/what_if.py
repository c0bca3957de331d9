"""What if the part were another: range × rate × bits × filter over a study's recordings, each scored.

Each cell is seen as that part would: through its low-pass, read at its rate, clipped, quantised. Without a low-pass
the recordings come to the rate as for any score, through an anti-alias filter; with one nothing else holds back what
lies above half the rate. Settings are carried over in physical units, and may be searched anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from detect.corpus import Corpus
from detect.device.filters import noise_g, one_pole, sampled
from detect.device.material import Material, in_counts
from detect.device.part import threshold_doubts
from detect.device.support import Recorded, filter_refusal, refusal
from detect.engine import Engine
from detect.figures import Figures, figures, figures_of
from detect.frontend import FrontEnd, resample
from detect.rule import Rule, rule_of
from detect.score import Events, Matrix, score
from detect.settings import BadSetting, Settings
from detect.timeline import Timeline
from detect.tuning.find import Finder
from detect.tuning.folds import folds_of
from detect.tuning.goal import Goal
from detect.tuning.levels import TUNABLE, Scale, scale
from detect.tuning.space import Space
from detect.tuning.store import Store
from detect.tuning.tally import Lend, Tally
from detect.workers import Shared

HALF_RATE = "half"
"""A filter whose corner goes with the rate: rate = 2 × bandwidth."""

NOISE_SEED = 8
"""Every part draws the same noise, so that parts differ by what they are."""

Filter = float | str | None
"""A corner in hertz, HALF_RATE, or None for none."""


@dataclass(frozen=True)
class Grid:
    """Which parts to try: every combination. `noise_ug`: white noise of each, µg/√Hz, beside what recordings hold."""

    ranges_g: tuple[float, ...]
    rates_hz: tuple[float, ...]
    bits: tuple[int, ...]
    filters: tuple[Filter, ...]
    noise_ug: float = 0.0

    def cells(self) -> tuple[Cell, ...]:
        """In the order of filters, rates, ranges, bits. BadSetting for what no part can be."""
        return tuple(Cell(FrontEnd(range_g, bits, rate), rate / 2 if low_pass == HALF_RATE else _corner(low_pass),
                          self.noise_ug)
                     for low_pass, rate, range_g, bits in product(self.filters, self.rates_hz, self.ranges_g,
                                                                  self.bits))


@dataclass(frozen=True)
class Cell:
    """One part: its front end, its filter's corner, None without one, and its noise density, µg/√Hz."""

    front_end: FrontEnd
    corner_hz: float | None
    noise_ug: float = 0.0


@dataclass(frozen=True)
class Retuned:
    """Settings searched anew for one part. `left_out`: what such settings are worth on people left out of their
    search; None where nobody can be."""

    settings: Settings
    in_sample: Figures
    left_out: Figures | None


@dataclass(frozen=True)
class CellScore:
    """What one part makes of the study; `refused` says why it was not tried, the rest is None then.

    `clipped`, `falls`: of so many falls so many clip on an axis at their hardest sample.
    """

    cell: Cell
    refused: str = ""
    figures: Figures | None = None
    clipped: int = 0
    falls: int = 0
    free_fall_counts: int = 0
    doubts: tuple[str, ...] = ()
    retuned: Retuned | None = None


@dataclass(frozen=True)
class Plan:
    """Cells of one rate, filter and noise, which share the slow step, and the settings to try them with."""

    cells: tuple[Cell, ...]
    settings: Settings


def what_if(shared: Shared[Material], recorded: Sequence[Recorded], grid: Grid, settings: Settings, in_hand: Cell, *,
            executor: Executor | None = None, done: Callable[[float], None] | None = None,
            cancelled: Callable[[], bool] | None = None) -> tuple[CellScore, ...]:
    """The part in hand, then every other cell of the grid in its order. Raises Cancelled, and BadSetting for a part
    that can't be.

    `recorded`: of each recording that is scored. `done` hears the share that is worked out. The part in hand is tried
    whatever the recordings can bear, as the study's own score is; the reason is among its doubts then.
    """
    cells = tuple(dict.fromkeys((in_hand, *grid.cells())))
    reasons = {cell: refused(cell, recorded, settings) for cell in cells}
    doubt, reasons[in_hand] = reasons[in_hand], ""
    groups: dict[tuple[float, float | None, float], list[Cell]] = {}
    for cell in reasons:
        if not reasons[cell]:
            groups.setdefault((cell.front_end.rate_hz, cell.corner_hz, cell.noise_ug), []).append(cell)
    # The dearest first, so that no worker is left with one at the end.
    plans = sorted((Plan(tuple(some), settings) for some in groups.values()),
                   key=lambda plan: -plan.cells[0].front_end.rate_hz)
    told = None if done is None else (lambda number: done(number / len(plans)))
    found: dict[Cell, CellScore] = {}
    for scores in shared.map(tried, plans, executor, done=told, cancelled=cancelled):
        found.update({one.cell: one for one in scores})
    if doubt:
        found[in_hand] = replace(found[in_hand], doubts=(doubt, *found[in_hand].doubts))
    return tuple(found[cell] if cell in found else CellScore(cell, reasons[cell]) for cell in cells)


def refused(cell: Cell, recorded: Sequence[Recorded], settings: Settings) -> str:
    """Why a part is not tried; empty where it can be."""
    front_end = cell.front_end
    found = refusal(recorded, front_end.range_g, front_end.bits, front_end.rate_hz) \
        or filter_refusal(front_end.rate_hz, cell.corner_hz, recorded)
    if found:
        return found
    try:
        rule_of(settings, front_end)
    except BadSetting as bad:
        return f"{bad.key} {bad.message} {bad.remedy}"
    return ""


def tried(material: Material, plan: Plan) -> tuple[CellScore, ...]:
    """The cells of one plan: a job for a worker."""
    timelines, pieces = _brought(material, plan.cells[0])
    events = material.events(timelines)
    lend = None if material.lender is None else material.lender(timelines)
    scores = []
    for cell in plan.cells:
        corpus = in_counts(pieces, cell.front_end)
        rule = rule_of(plan.settings, cell.front_end)
        clipped, falls = clipped_falls(corpus, events, 2 ** (cell.front_end.bits - 1) - 1)
        scores.append(CellScore(cell, "", figures_by(rule, corpus, events, lend), clipped, falls, rule.free_fall,
                                threshold_doubts(plan.settings, cell.front_end)))
    return tuple(scores)


def _brought(material: Material, cell: Cell) -> tuple[list[Timeline], list[list[np.ndarray]]]:
    """Timelines at the cell's rate, and every recording's stretches in g as its low-pass and rate let them through."""
    rate = cell.front_end.rate_hz
    pieces = []
    for number, one in enumerate(material.sources):
        random = np.random.default_rng([NOISE_SEED, number])
        seen = [through(piece, one.rate_hz, rate, cell.corner_hz) for piece in one.stretches()]
        if cell.noise_ug:
            seen = [piece + noise_g(len(piece), rate, cell.noise_ug, cell.corner_hz, random) for piece in seen]
        pieces.append(seen)
    return material.timelines(rate), pieces


def through(g: np.ndarray, rate_hz: float, target_hz: float, corner_hz: float | None) -> np.ndarray:
    """One stretch in g as a part's own low-pass and rate let it through."""
    if corner_hz is None:
        return resample(g, rate_hz, target_hz)
    return sampled(one_pole(g, rate_hz, corner_hz), rate_hz, target_hz)


def figures_by(rule: Rule, corpus: Corpus, events: Events, lend: Lend | None) -> Figures:
    """What a rule makes of a corpus."""
    attempts = Engine(corpus).evaluate(rule)
    recording, impact = attempts.alarm_recording, attempts.alarm_impact
    if lend is not None:
        recording, impact = lend(recording, impact, events, rule.hold_off)
    return figures(score(recording, impact, events))


def clipped_falls(corpus: Corpus, events: Events, top: int) -> tuple[int, int]:
    """Of the scored falls how many read `top` counts or more on an axis at their hardest sample; how many there are."""
    clipped = falls = 0
    held = events.is_fall & events.scored[events.recording] & (events.wide_first <= events.wide_last)
    for i in np.flatnonzero(held):
        base = int(corpus.recording_first[events.recording[i]])
        piece = corpus.counts[base + int(events.wide_first[i]):base + int(events.wide_last[i]) + 1].astype(np.int64)
        hardest = piece[int(np.argmax((piece * piece).sum(axis=1)))]
        clipped += bool((np.abs(hardest) >= top).any())
        falls += 1
    return clipped, falls


def retuned(material: Material, cell: Cell, settings: Settings, *, executor: Executor | None = None,
            done: Callable[[float], None] | None = None,
            cancelled: Callable[[], bool] | None = None) -> Retuned | None:
    """Settings searched anew for one part, people left out; None where there is nothing to tune on. Raises Cancelled.
    """
    timelines, pieces = _brought(material, cell)
    tally = Tally(in_counts(pieces, cell.front_end), material.events(timelines), material.person_of_label,
                  material.person_of_recording, material.people,
                  None if material.lender is None else material.lender(timelines))
    trials = tally.trials
    if not trials.falls.sum() or not trials.others.sum():
        return None
    space = Space(settings, cell.front_end, list(_scales(cell.front_end)))
    found = Finder(space, Goal(), Store(tally, executor, cancelled), folds_of(trials, None, 0), progress=done).run()
    out = found.scored_out
    return Retuned(space.settings(found.step.point), _of_counts(found.in_sample, trials.falls, trials.others),
                   _of_counts(found.left_out[out], trials.falls[out], trials.others[out]) if out.any() else None)


def _scales(front_end: FrontEnd) -> Iterator[Scale]:
    for key in TUNABLE:
        try:
            yield scale(key, front_end)
        except BadSetting:  # no level of it is left on this part
            continue


def _of_counts(counts: np.ndarray, falls: np.ndarray, others: np.ndarray) -> Figures:
    caught, false = int(counts[:, 0].sum()), int(counts[:, 1].sum())
    return figures_of(Matrix(caught, int(falls.sum()) - caught, false, int(others.sum()) - false))


def _corner(low_pass: Filter) -> float | None:
    if low_pass is None or (isinstance(low_pass, float | int) and 0 < low_pass < float("inf")):
        return None if low_pass is None else float(low_pass)
    raise BadSetting("filter", low_pass, "is no corner of a low-pass.", 'Write hertz above 0, "half" or "none".')

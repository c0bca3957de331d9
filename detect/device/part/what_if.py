"""What if the part were another: range × rate × bits × filter over a study's recordings, each scored.

Each cell is seen as that part would: cut off at its ends, through its low-pass, read at its rate, quantised. Without a
low-pass the recordings come to the rate as for any score, through an anti-alias filter; with one nothing else holds
back what lies above half the rate. Settings are carried over in physical units, and may be searched anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from detect.device.part.filters import cut_off, noise_g, read_through
from detect.device.part.material import Material, RecordingLimits, filter_refusal, refusal
from detect.device.part.part import threshold_doubts, with_range
from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd, resample, to_counts
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import BadSetting, Settings
from detect.rule.timeline import Timeline
from detect.scoring.clipped_peaks import clipped_peaks
from detect.scoring.corpus import Corpus, corpus_of
from detect.scoring.figures import Figures, figures, figures_of
from detect.scoring.score import Events, Matrix, score
from detect.tuning.goal import Goal
from detect.tuning.levels import TUNABLE, LevelScale, canonical_start, scale
from detect.tuning.search import Finder, folds_of
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
    """Which parts to try: every combination. `noise_ug`: white noise of each, µg/√Hz, beside what recordings hold;
    `band_hz`: the corner of a part without a low-pass, all of whose noise folds into what is read."""

    ranges_g: tuple[float, ...]
    rates_hz: tuple[float, ...]
    bits: tuple[int, ...]
    filters: tuple[Filter, ...]
    noise_ug: float = 0.0
    band_hz: float = 1000.0

    def cells(self, in_hand: FrontEnd | None = None) -> tuple[PartCell, ...]:
        """In the order of filters, rates, ranges, bits; parts of the current kind, with its scale and ends where they
        are its own. BadSetting for what no part can be."""
        kind = FrontEnd() if in_hand is None else in_hand
        return tuple(PartCell(with_range(kind, range_g, bits, rate),
                              rate / 2 if low_pass == HALF_RATE else _corner(low_pass), self.noise_ug,
                              self.band_hz if self.noise_ug else 0.0)
                     for low_pass, rate, range_g, bits in product(self.filters, self.rates_hz, self.ranges_g,
                                                                  self.bits))


@dataclass(frozen=True)
class PartCell:
    """One part: its front end, its filter's corner, None without one, and its noise density, µg/√Hz; where it has
    some, the corner of the part itself."""

    front_end: FrontEnd
    corner_hz: float | None
    noise_ug: float = 0.0
    band_hz: float = 0.0


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

    cell: PartCell
    refused: str = ""
    figures: Figures | None = None
    clipped: int = 0
    falls: int = 0
    free_fall_counts: int = 0
    doubts: tuple[str, ...] = ()
    retuned: Retuned | None = None


@dataclass(frozen=True)
class WhatIfJob:
    """Cells of one rate, filter and noise, which share the slow step, and the settings to try them with."""

    cells: tuple[PartCell, ...]
    settings: Settings


def what_if(shared: Shared[Material], recorded: Sequence[RecordingLimits], grid: Grid, settings: Settings,
            in_hand: PartCell, *,
            executor: Executor | None = None, done: Callable[[float], None] | None = None,
            cancelled: Callable[[], bool] | None = None) -> tuple[CellScore, ...]:
    """The current part, then every other cell of the grid in its order. Raises Stopped, and BadSetting for a part
    that can't be.

    `recorded`: of each recording that is scored. `done` hears the share that is worked out. The current part is tried
    whatever the recordings can bear, as the study's own score is; the reason is among its doubts then.
    """
    return try_cells(shared, recorded, grid.cells(in_hand.front_end), settings, in_hand, executor=executor, done=done,
                     cancelled=cancelled)


def try_cells(shared: Shared[Material], recorded: Sequence[RecordingLimits], wanted: Sequence[PartCell],
              settings: Settings, in_hand: PartCell, *, forced: bool = False, executor: Executor | None = None,
              done: Callable[[float], None] | None = None,
              cancelled: Callable[[], bool] | None = None) -> tuple[CellScore, ...]:
    """The same of any cells. `forced`: all that the rule can run on are tried as the current part is, whatever the
    recordings can bear."""
    cells = tuple(dict.fromkeys((in_hand, *wanted)))
    reasons = {cell: refused(cell, recorded, settings) for cell in cells}
    doubts = {cell: reasons[cell] for cell in (cells if forced else (in_hand,)) if not unfit(cell, settings)}
    reasons.update(dict.fromkeys(doubts, ""))
    groups: dict[tuple[float, float | None, float, float], list[PartCell]] = {}
    for cell in reasons:
        if not reasons[cell]:
            groups.setdefault((cell.front_end.rate_hz, cell.corner_hz, cell.noise_ug, cell.band_hz), []).append(cell)
    # The dearest first, so that no worker is left with one at the end.
    plans = sorted((WhatIfJob(tuple(some), settings) for some in groups.values()),
                   key=lambda plan: -plan.cells[0].front_end.rate_hz)
    told = None if done is None else (lambda number: done(number / len(plans)))
    found: dict[PartCell, CellScore] = {}
    for scores in shared.map(tried, plans, executor, done=told, cancelled=cancelled):
        found.update({one.cell: one for one in scores})
    for cell, doubt in doubts.items():
        if doubt:
            found[cell] = replace(found[cell], doubts=(doubt, *found[cell].doubts))
    return tuple(found[cell] if cell in found else CellScore(cell, reasons[cell]) for cell in cells)


def refused(cell: PartCell, recorded: Sequence[RecordingLimits], settings: Settings) -> str:
    """Why a part is not tried; empty where it can be."""
    front_end = cell.front_end
    found = refusal(recorded, front_end) or filter_refusal(front_end.rate_hz, cell.corner_hz, recorded)
    return found or unfit(cell, settings)


def unfit(cell: PartCell, settings: Settings) -> str:
    """Why the rule can't run on a part; empty where it can."""
    try:
        rule_of(settings, cell.front_end)
    except BadSetting as bad:
        return f"{bad.key} {bad.message} {bad.remedy}"
    return ""


def tried(material: Material, plan: WhatIfJob) -> tuple[CellScore, ...]:
    """The cells of one plan: a job for a worker."""
    timelines, pieces = _brought(material, plan.cells)
    events = material.events(timelines)
    lend = None if material.lender is None else material.lender(timelines)
    scores = []
    for cell in plan.cells:
        corpus = _corpus(pieces, cell.front_end)
        rule = rule_of(plan.settings, cell.front_end)
        clipped, falls = clipped_falls(corpus, events, cell.front_end.lowest + 1, cell.front_end.highest)
        scores.append(CellScore(cell, "", figures_by(rule, corpus, events, lend), clipped, falls, rule.free_fall,
                                threshold_doubts(plan.settings, cell.front_end)))
    return tuple(scores)


@dataclass(frozen=True, eq=False)
class SeenStretch:
    """A stretch in g as low-pass and rate let it through, (n, 3). `cuts`: by a part's ends which of its samples they
    move, ascending, and by how much, (k, 3)."""

    g: np.ndarray
    cuts: dict[tuple[float, float], tuple[np.ndarray, np.ndarray]]

    def counts(self, front_end: FrontEnd) -> np.ndarray:
        """What a part makes of it, (n, 3) int16."""
        found, _ = to_counts(self.g, front_end)
        if front_end.ends_g in self.cuts:
            at, by = self.cuts[front_end.ends_g]
            found[at], _ = to_counts(self.g[at] - by, front_end)
        return found


def _brought(material: Material, cells: Sequence[PartCell]) -> tuple[list[Timeline], list[list[SeenStretch]]]:
    """Timelines at the rate of the cells, which have low-pass and noise in common, and every recording's stretches as
    these let them through."""
    cell = cells[0]
    ends, pieces = tuple(dict.fromkeys(one.front_end.ends_g for one in cells)), []
    for number, one in enumerate(material.sources):
        random = np.random.default_rng([NOISE_SEED, number])
        reaches = one.reaches if cell.corner_hz is not None else [np.empty((0, 3))] * len(one.timeline.first)
        pieces.append([_seen(piece, reach, one.rate_hz, cell, ends, random)
                       for piece, reach in zip(one.stretches(), reaches, strict=True)])
    return material.timelines(cell.front_end.rate_hz), pieces


def _seen(g: np.ndarray, reach: np.ndarray, rate_hz: float, cell: PartCell, ends: Sequence[tuple[float, float]],
          random: np.random.Generator) -> SeenStretch:
    target, corner = cell.front_end.rate_hz, cell.corner_hz
    cuts: dict[tuple[float, float], tuple[np.ndarray, np.ndarray]] = {}
    seen = through(g, rate_hz, target, corner)
    if corner is not None and len(g):
        cuts = {pair: cut_off(g, reach, rate_hz, target, corner, pair) for pair in ends}
    if cell.noise_ug:
        seen = seen + noise_g(len(seen), target, cell.noise_ug, cell.band_hz if corner is None else corner, random)
    return SeenStretch(seen, cuts)


def _corpus(pieces: Sequence[Sequence[SeenStretch]], front_end: FrontEnd) -> Corpus:
    return corpus_of([[piece.counts(front_end) for piece in recording] for recording in pieces])


def through(g: np.ndarray, rate_hz: float, target_hz: float, corner_hz: float | None) -> np.ndarray:
    """One stretch in g as a part's own low-pass and rate let it through, were its range without an end."""
    if corner_hz is None:
        return resample(g, rate_hz, target_hz)
    return read_through(g, rate_hz, target_hz, corner_hz)


def figures_by(rule: Rule, corpus: Corpus, events: Events, lend: Lend | None) -> Figures:
    """What a rule makes of a corpus."""
    attempts = Engine(corpus).evaluate(rule)
    recording, impact = attempts.alarm_recording, attempts.alarm_impact
    if lend is not None:
        recording, impact = lend(recording, impact, events, rule.hold_off)
    return figures(score(recording, impact, events))


def clipped_falls(corpus: Corpus, events: Events, low: int, high: int) -> tuple[int, int]:
    """Of the scored falls how many read `low` counts or less or `high` or more on an axis at their hardest sample; how
    many there are."""
    found = clipped_peaks(corpus, events, [(low, high)] * corpus.recordings)
    return found.falls, found.of_falls


def retuned(material: Material, cell: PartCell, settings: Settings, *, executor: Executor | None = None,
            done: Callable[[float], None] | None = None,
            cancelled: Callable[[], bool] | None = None) -> Retuned | None:
    """Settings searched anew for one part, people left out; None where there is nothing to tune on. Raises Stopped.
    """
    timelines, pieces = _brought(material, (cell,))
    tally = Tally(_corpus(pieces, cell.front_end), material.events(timelines), material.person_of_label,
                  material.person_of_recording, material.people,
                  None if material.lender is None else material.lender(timelines))
    trials = tally.trials
    if not trials.falls.sum() or not trials.others.sum():
        return None
    space = Space(canonical_start(settings, cell.front_end, TUNABLE), cell.front_end, list(_scales(cell.front_end)))
    found = Finder(space, Goal(), Store(tally, executor, cancelled), folds_of(trials, None, 0), progress=done).run()
    out = found.scored_out
    return Retuned(space.settings(found.step.point), _of_counts(found.in_sample, trials.falls, trials.others),
                   _of_counts(found.left_out[out], trials.falls[out], trials.others[out]) if out.any() else None)


def _scales(front_end: FrontEnd) -> Iterator[LevelScale]:
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
    raise BadSetting("filter", low_pass, "is not a corner of a low-pass.", 'Write hertz above 0, "half" or "none".')

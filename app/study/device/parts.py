"""Several parts beside each other for the open study, held against its requirements; what would change the choice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, cast

from app.formatting import GAP, decimal
from app.study.device.cost import borne, how_long, lost_words, microamperes, refusal, rounded, sleep_loss
from app.study.device.material import InHand, material_of, recorded
from app.study.device.requirements import caught, held
from app.study.state import Study
from data.files import write_atomically
from data.parts.part_file import PartFile
from data.problem import Problem
from detect.device.part import what_if as engine
from detect.device.part.analogue import AnalogPart
from detect.device.part.digital import noise_rms_mg
from detect.device.part.modes import modes_of, settling_ms
from detect.device.part.part import front_end_of, part_of
from detect.device.part.registers import RegisterCodes, RegisterRow, register_rows
from detect.device.part.what_if import CellScore, PartCell
from detect.device.quantities import FROM_MEMORY, PRACTICE, Plain, Values
from detect.device.quantity_table import device_values
from detect.device.requirements import Held, requirements_of
from detect.device.sleep.worst_part import AsleepLoss
from detect.device.spread.spread import TOLERANCES, bound_of
from detect.rule.front_end import FrontEnd
from detect.rule.settings import BadSetting
from detect.workers import Shared

TYPICAL = Path(__file__).parent / "typical_parts"
"""Typical parts, of no maker."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """One range of one part: the study's device with its numbers, and what the rule sees of it."""

    part: PartFile
    range_g: float
    values: Values
    front_end: FrontEnd

    @property
    def name(self) -> str:
        return f"{self.part.name}, ±{self.range_g:g}{GAP}g"


@dataclass(frozen=True, eq=False)
class PartRow:
    """A candidate with its score and what it comes to; `held`: each requirement; `refused`: why it can't be; `lost`:
    what it loses by sleeping, None where it never sleeps."""

    candidate: Candidate
    score: CellScore
    mean_ua: float | None
    days: float | None
    held: tuple[Held, ...]
    refused: str
    lost: AsleepLoss | None

    @property
    def missed(self) -> int:
        return sum(one.met is False for one in self.held) + bool(self.refused)

    def study_with(self, study: Study) -> Study:
        """The study on this part, whether its settings can run on it or not."""
        return replace(study, front_end=self.candidate.front_end, device=self.candidate.values)


@dataclass(frozen=True)
class Decider:
    """An untouched number that would change the choice: by which factor, smallest first, and to what."""

    key: str
    title: str
    factor: float
    choice: str
    origin: str


@dataclass(frozen=True, eq=False)
class PartsView:
    """`rows`: the best first. `deciders`: the ranking of unverified numbers."""

    study: Study
    rows: tuple[PartRow, ...]
    deciders: tuple[Decider, ...]

    def stands_for(self, study: Study) -> bool:
        """Whether another run would say the same."""
        return self.study.scored_by == study.scored_by and self.study.device == study.device \
            and self.study.parts == study.parts


def write_typical(folder: Path) -> list[Path]:
    """Files of the typical parts, to begin one's own with. Raises Problem where one is there already."""
    written = []
    for source in sorted(TYPICAL.glob("*.toml")):
        path = folder / source.name
        if path.exists():
            raise Problem("part_file", "There is such a file already.", "Name another folder.", file=str(path))
        write_atomically(path, source.read_bytes())
        written.append(path)
    return written


def candidates(study: Study, parts: Sequence[PartFile]) -> tuple[Candidate, ...]:
    """Every range of every part on the study's device. Raises Problem that names the file's part."""
    found = []
    for part in parts:
        for one in part.ranges:
            given = {**study.device.given, "part.kind": part.kind, **part.numbers, **one.numbers}
            try:
                values = device_values({key: cast(Plain, value) for key, value in given.items()})
                front_end = front_end_of(values, FrontEnd(one.range_g, one.bits, study.front_end.rate_hz))
                if part.kind == "analogue" and front_end.range_g != one.range_g:
                    raise BadSetting("analog.range_g", front_end.range_g, "is not the range of its table.",
                                     f"Write {one.range_g:g}.")
            except BadSetting as bad:
                raise Problem("part_file", f"{part.name}: {bad.key} = {bad.value} {bad.message}", bad.remedy) from None
            found.append(Candidate(part, one.range_g, values, front_end))
    return tuple(found)


def compare(hand: InHand, parts: Sequence[PartFile], executor: Executor | None = None,
            progress: Callable[[float], None] | None = None,
            cancelled: Callable[[], bool] | None = None) -> PartsView:
    """Every range of every part scored on the study's recordings and held against its requirements, in-sample: the
    settings are the study's. What the recordings can't bear is tried all the same, with the reason as a remark. Raises
    Problem, Stopped."""
    study, every = hand.study, candidates(hand.study, parts)
    shared = Shared(material_of(hand))
    cells = {one: PartCell(one.front_end, _corner(one)) for one in every}
    devices = {cell: tuple(one.values for one in every if cells[one] == cell) for cell in cells.values()}
    scores = {one.cell: one for one in engine.try_cells(
        shared, recorded(hand), list(dict.fromkeys(cells.values())), study.settings, PartCell(study.front_end, None),
        forced=True, devices=devices, executor=executor, done=progress, cancelled=cancelled)}
    lost = {one: _lost(scores[cells[one]], devices[cells[one]].index(one.values)) for one in every}
    rows = _rows(study, [(one, scores[cells[one]], lost[one]) for one in every], hand.alarms_per_day)
    return PartsView(study, rows, _deciders(study, rows, hand.alarms_per_day))


def _lost(score: CellScore, at: int) -> AsleepLoss | None:
    """None also of a part that was not tried."""
    return score.asleep[at] if score.asleep else None


def _corner(one: Candidate) -> float | None:
    """An analogue part's filter, where the recordings' rate lets it be tried; a digital part comes to its rate as any
    score does."""
    part = part_of(one.values, one.front_end)
    return part.cutoff_hz if isinstance(part, AnalogPart) and part.cutoff_hz <= one.front_end.rate_hz / 2 else None


def _rows(study: Study, scored: Sequence[tuple[Candidate, CellScore, AsleepLoss | None]],
          sent_per_day: float) -> tuple[PartRow, ...]:
    rows = []
    for one, score, lost in scored:
        budget = borne(one.values, one.front_end, sent_per_day)
        mean, days = (None, None) if budget is None else (budget.mean_ua, budget.days)
        refused = score.refused or refusal(one.values, one.front_end, sent_per_day)
        works_c = one.part.lowest_c, one.part.highest_c
        rows.append(PartRow(one, score, mean, days, tuple(
            held(study, one.values, one.front_end, score.figures, days, works_c,
                 lost, one.part.origin or "the part's file, no source given")), refused, lost))
    return _ranked(rows)


HARDLY = 0.5
"""A part that catches less than this share of the falls that are required, or that the best one catches, comes last:
one that never speaks meets every other requirement. Common practice, no source."""


def _ranked(rows: Sequence[PartRow]) -> tuple[PartRow, ...]:
    """Those that hardly catch a fall behind the others; fewest requirements missed, then falls caught, then days."""
    best = max((_caught(row) for row in rows), default=0.0)

    def rank(row: PartRow) -> tuple[bool, int, float, float]:
        wanted = min(requirements_of(row.candidate.values).sensitivity, best)
        return _caught(row) < HARDLY * wanted, row.missed, -_caught(row), -(row.days or 0.0)

    return tuple(sorted(rows, key=rank))


def _caught(row: PartRow) -> float:
    """Share of the falls."""
    return caught(row.score.figures, row.lost) or 0.0


FACTORS = (1.25, 1.5, 2.0, 4.0)
GROUPS = ("current", "processor", "battery", "bus", "radio", "life", "modes")


def _deciders(study: Study, rows: Sequence[PartRow], sent_per_day: float) -> tuple[Decider, ...]:
    """Of numbers that nobody has touched those that would change the choice, or whether it meets what is required, if
    they were off by a factor; the smallest factor first. Scores stay: they hang on the recordings."""
    if not rows:
        return ()
    now, found = _outcome(rows), []
    for key in study.device:
        row = study.device.row(key)
        untouched = all(key not in one.candidate.values.given for one in rows)
        wanted = key == "battery.wanted_days"  # a requirement, not a figure
        if not untouched or wanted or row.group not in GROUPS or isinstance(row.default, bool | str) \
                or row.origin not in (FROM_MEMORY, PRACTICE):
            continue
        for factor in (one for pair in FACTORS for one in (pair, 1 / pair)):
            value = min(max(float(row.default) * factor, row.low), row.high)
            moved = [(replace(one.candidate, values=one.candidate.values.with_value(key, value)), one.score, one.lost)
                     for one in rows]
            then = _outcome(_rows(study, moved, sent_per_day))
            if then != now:
                found.append(Decider(key, row.title, factor, then[0], row.origin))
                break
    return tuple(sorted(found, key=lambda one: max(one.factor, 1 / one.factor)))


def _outcome(rows: Sequence[PartRow]) -> tuple[str, tuple[bool | None, ...]]:
    """Which part is first, and which requirements it meets."""
    return rows[0].candidate.name, tuple(one.met for one in rows[0].held)


TITLES = ("part", "requirements missed", "falls caught", "false alarms", "false alarms a day", "price", "scale",
          "noise", "offset ±", "battery", "lost asleep", "right after sleep", "running", "asleep", "read by", "remark")
PRICE, LOST, REMARK = (TITLES.index(one) for one in ("price", "lost asleep", "remark"))
IN_DETAIL = tuple(map(TITLES.index, ("right after sleep", "running", "asleep", "read by")))
"""What the window tells of the part that is chosen."""


def row_texts(row: PartRow) -> tuple[str, ...]:
    """Under TITLES; `missed`: how many requirements."""
    one, m = row.candidate, None if row.score.figures is None else row.score.figures.matrix
    part, (running, asleep) = part_of(one.values, one.front_end), modes_of(one.values)
    noise = noise_rms_mg(part.noise_ug, part.noise_band_hz)
    offset = bound_of(one.values, TOLERANCES[0], one.front_end)[0]
    rate = next(held.found for held in row.held if held.name == "false alarms")
    analogue = isinstance(part, AnalogPart)
    reads = f"{1000 * part.v_per_g:.4g}{GAP}mV/g" if isinstance(part, AnalogPart) else \
        f"{rounded(one.front_end.k)}{GAP}counts/g"
    rate = rate.removesuffix(" a day")
    return (one.name, str(row.missed), "" if m is None else f"{m.tp} of {m.tp + m.fn}",
            "" if m is None else f"{m.fp} of {m.fp + m.tn}", rate,
            "" if one.part.price is None else decimal(one.part.price), reads, f"{noise:.2g}{GAP}mg",
            f"{offset:.3g}{GAP}mg",
            "" if row.days is None or row.mean_ua is None else f"{how_long(row.days)}, {microamperes(row.mean_ua)}",
            lost_words(row.lost),
            f"{settling_ms(one.values, one.front_end):.3g}{GAP}ms",
            f"{microamperes(running.ua)}; {running.interrupts}", f"{microamperes(asleep.ua)}; {asleep.interrupts}",
            "converter" if analogue else one.values.text("bus.kind"), row.refused or " ".join(row.score.doubts))


DECIDER_TITLES = ("number nobody has touched", "off by a factor of", "then the choice is", "origin")


def decider_rows(view: PartsView) -> tuple[tuple[str, ...], ...]:
    """Under DECIDER_TITLES."""
    return tuple((f"{one.title} ({one.key})", f"{one.factor:.3g}",
                  one.choice if view.rows and one.choice != view.rows[0].candidate.name else "the same, but "
                  "requirements that it meets change", one.origin) for one in view.deciders)


def plain(view: PartsView) -> dict[str, Any]:
    return {"study": view.study.title, "requirements": asdict(requirements_of(view.study.device)), "parts": [
        {"part": row.candidate.part.name, "range_g": row.candidate.range_g, **row.candidate.front_end.plain(),
         "matrix": None if row.score.figures is None else asdict(row.score.figures.matrix),
         "mean_ua": row.mean_ua, "days": row.days, "falls_lost_asleep": None if row.lost is None else asdict(row.lost),
         "price": row.candidate.part.price, "refused": row.refused or None,
         "warnings": list(row.score.doubts), "requirements": [asdict(one) for one in row.held]} for row in view.rows],
        "would_change_the_choice": [asdict(one) for one in view.deciders],
        "caution": caution(view.study)}


def caution(study: Study) -> str:
    """What the comparison is worth."""
    said = "In-sample: the study's settings on the study's recordings. Typical parts are of no maker; their numbers " \
        "are recalled."
    return f"{said} {lost}" if (lost := sleep_loss(study.device)) else said


def headline(view: PartsView) -> str:
    """Which part comes first, and how many requirements it misses."""
    if not view.rows:
        return "No part was given to compare."
    first = view.rows[0]
    met = sum(one.met is True for one in first.held)
    unknown = sum(one.met is None for one in first.held)
    return (f"{first.candidate.name} comes first: {met} of {len(first.held)} requirements met"
            + (f", {unknown} not known" if unknown else "") + f". {caution(view.study)}")


def registers_of(study: Study, part: PartFile) -> tuple[RegisterRow, ...]:
    """The codes that the study's sensor and device want of a part. BadSetting where it has no such value."""
    known = {key: study.device.number(key) for key in study.device
             if not isinstance(study.device.row(key).default, bool | str)}
    known |= {"range_g": study.front_end.range_g, "rate_hz": study.front_end.rate_hz}
    return register_rows(codes_of(part), known)


def codes_of(part: PartFile) -> tuple[RegisterCodes, ...]:
    return tuple(RegisterCodes(one.key, one.macro, one.codes, one.step, one.most) for one in part.registers)

"""What if the part were another, for the open study: run, told as rows, as JSON and as CSV, taken over."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from typing import Any

from app.formatting import GAP, decimal, tabbed
from app.study.device.cost import NUMBERS as COSTS
from app.study.device.cost import Cost, borne, finite, how_long, lost_words, rounded, sleep_loss
from app.study.device.material import InHand, material_of, recorded
from app.study.device.sleep import NUMBERS as ASLEEP
from app.study.pipeline import Cancelled, Progress
from app.study.results.readout import percent, percent_range
from app.study.results.score_json import brief
from app.study.state import Study
from data.problem import Problem
from detect.device.energy.budget import response_s
from detect.device.part import what_if as engine
from detect.device.part.digital import DigitalPart
from detect.device.part.material import SAME, Material, RecordingLimits, refusal
from detect.device.part.part import part_of, with_range
from detect.device.part.what_if import HALF_RATE, CellScore, Filter, Grid, PartCell, Retuned
from detect.device.sleep.worst_part import AsleepLoss
from detect.rule.front_end import FrontEnd
from detect.rule.settings import BadSetting, Settings
from detect.scoring.intervals import Estimate
from detect.workers import Shared

CAUTION = "A recording can't gain what it lacks; its own logger's filter and noise are in every cell."
SCORING_SHARE = 0.2
"""Of the progress, where settings are searched anew as well."""


@dataclass(frozen=True)
class WhatIfRequest:
    """What to try. `retune`: search settings anew for each part too."""

    grid: Grid
    retune: bool = False


@dataclass(frozen=True, eq=False)
class WhatIf:
    """What was tried, on the study as it was then: the current part, then the grid's. `costs`: of each part, None where
    the device can't be with it.

    `remarks`: sentences on workers that were lost, and on a current that is of a device that sleeps.
    """

    study: Study
    wanted: WhatIfRequest
    cells: tuple[CellScore, ...]
    costs: tuple[Cost | None, ...]
    remarks: tuple[str, ...]

    def stands_for(self, study: Study) -> bool:
        """Whether another run would say the same of this study."""
        mine, other = ((replace(one, front_end=replace(one.front_end, range_g=1, bits=8, rate_hz=1)).scored_by,
                        one.device.under(*COSTS, *ASLEEP)) for one in (self.study, study))
        return mine == other


def run(hand: InHand, wanted: WhatIfRequest, executor: Executor | None = None,
        progress: Progress | None = None, cancelled: Cancelled | None = None) -> WhatIf:
    """Every part of the grid on the open study. Raises Stopped, Problem."""
    study, tell = hand.study, progress or (lambda share: None)
    material = material_of(hand)
    shared = Shared(material)
    whole = SCORING_SHARE if wanted.retune else 1.0
    try:
        cells = engine.what_if(shared, recorded(hand), wanted.grid, study.settings, PartCell(study.front_end, None),
                               device=study.device, executor=executor, done=lambda share: tell(whole * share),
                               cancelled=cancelled)
        if wanted.retune:
            cells = _retuned(cells, material, study.settings, executor, lambda share: tell(whole + (1 - whole) * share),
                             cancelled)
    except BadSetting as bad:
        raise Problem("bad_setting", f"{bad.key} = {bad.value}: {bad.message}", bad.remedy) from None
    found = (borne(study.device, one.cell.front_end, hand.alarms_per_day) for one in cells)
    costs = tuple(None if one is None else Cost(one.mean_ua, one.days) for one in found)
    lost = sleep_loss(study.device)
    return WhatIf(study, wanted, cells, costs, (*shared.remarks, *([lost] if lost else [])))


def _retuned(cells: tuple[CellScore, ...], material: Material, settings: Settings, executor: Executor | None,
             tell: Progress, cancelled: Cancelled | None) -> tuple[CellScore, ...]:
    """One part after the other: each search is shared out among the workers."""
    tried = [one for one in cells if not one.refused]
    found = {}
    for i, one in enumerate(tried):
        def told(share: float, i: int = i) -> None:
            tell((i + share) / len(tried))
        again = engine.retuned(material, one.cell, settings, executor=executor, done=told, cancelled=cancelled)
        found[one.cell] = replace(one, retuned=again)
    return tuple(found.get(one.cell, one) for one in cells)


def taken(study: Study, cell: CellScore) -> Study:
    """The study with a cell's range, width and rate; its retuned settings where it has some."""
    front = cell.cell.front_end
    settings = cell.retuned.settings if cell.retuned is not None else study.settings
    return replace(study, front_end=with_range(study.front_end, front.range_g, front.bits, front.rate_hz),
                   settings=settings)


def suggested(study: Study, recorded: Sequence[RecordingLimits] = ()) -> dict[str, str]:
    """Lists to begin with, about the current part; only what these recordings can bear, in every combination."""
    front_end, part = study.front_end, part_of(study.device, study.front_end)
    low_pass = "half" if isinstance(part, DigitalPart) else f"{part.cutoff_hz:.3g}"
    most_g = min((one.clips_g for one in recorded), default=math.inf)
    most_hz = min((one.rate_hz for one in recorded), default=math.inf)
    ranges = [g for share in (0.5, 1, 2) if (g := front_end.range_g * share) <= most_g * (1 + SAME)]
    rates = [hz for share in (0.25, 0.5, 1) if (hz := front_end.rate_hz * share) <= most_hz * (1 + SAME)]
    ranges, rates = ranges or [float(f"{most_g:.3g}")], rates or [most_hz]

    def borne(range_g: float, bits: int) -> bool:
        return not refusal(recorded, with_range(front_end, range_g, bits, rates[0]))

    widths = sorted({8, 10, front_end.bits})
    ranges = [g for g in ranges if borne(g, widths[-1])] or [g for g in ranges if borne(g, widths[0])] or ranges[-1:]
    bits = [one for one in widths if all(borne(g, one) for g in ranges)] or widths[:1]
    return {"ranges": "  ".join(f"{g:g}" for g in ranges), "rates": "  ".join(f"{rate:g}" for rate in rates),
            "bits": "  ".join(map(str, bits)), "filters": f"none  {low_pass}"}


def most_refused(found: WhatIf) -> str:
    """Why most of what was refused was; empty where nothing was."""
    reasons = Counter(one.refused for one in found.cells if one.refused)
    return reasons.most_common(1)[0][0] if reasons else ""


def noise_of(study: Study) -> float:
    """The noise density of the part in use, µg/√Hz."""
    return part_of(study.device, study.front_end).noise_ug


def noise_band_of(study: Study) -> float:
    """What its noise goes through where a part has no low-pass, Hz."""
    return study.device.number("digital.full_hz")


def wanted_of(texts: Mapping[str, str], noise_ug: float, band_hz: float, retune: bool) -> WhatIfRequest:
    """What the four lists ask for. Raises Problem that names the list."""
    return WhatIfRequest(Grid(numbers(texts["ranges"], "Ranges"), numbers(texts["rates"], "Rates"),
                              widths(texts["bits"]), filters(texts["filters"]), noise_ug, band_hz), retune)


def numbers(text: str, what: str) -> tuple[float, ...]:
    """Numbers above 0 with commas or spaces between. Raises Problem that names the one that is none."""
    found = []
    for word in text.replace(",", " ").replace(";", " ").split():
        try:
            value = float(word)
        except ValueError:
            value = 0.0
        if not 0 < value < float("inf"):
            raise Problem("option", f'{what}: "{word}" is not a number above 0.', "Write numbers, such as 2, 4, 8.",
                          value=word)
        found.append(value)
    if not found:
        raise Problem("option", f"{what}: nothing is named.", "Write one or several numbers, such as 2, 4, 8.")
    return tuple(dict.fromkeys(found))


def widths(text: str) -> tuple[int, ...]:
    """Widths in bits, 8 to 16. Raises Problem."""
    found = numbers(text, "Resolutions")
    for value in found:
        if not (value.is_integer() and 8 <= value <= 16):
            raise Problem("option", f"Resolutions: {value:g} is not a resolution that the rule has integers for.",
                          "Write whole numbers from 8 to 16.", value=f"{value:g}")
    return tuple(int(value) for value in found)


def filters(text: str) -> tuple[Filter, ...]:
    """Corners in hertz, "half" for half the rate, "none". Raises Problem."""
    found: list[Filter] = []
    for word in text.replace(",", " ").replace(";", " ").split():
        if word in ("none", "half"):
            found.append(None if word == "none" else HALF_RATE)
        else:
            found += numbers(word, "Filters")
    if not found:
        raise Problem("option", "Filters: nothing is named.", 'Write "none", "half" or hertz, such as none, half, 20.')
    return tuple(dict.fromkeys(found))


TITLES = ("part", "filter", "sensitivity", "specificity", "searched again", "unlabelled alarms", "clipped falls",
          "free fall", "current, battery", "lost asleep", "impact to station", "remark")
ANEW = TITLES.index("searched again")
"""Sensitivity and specificity of settings searched again; empty where none were."""

LOST = TITLES.index("lost asleep")
"""Falls lost by sleeping; the same of every part where the device never sleeps."""

REMARK = TITLES.index("remark")

UNTRIED = "refused"


def row_texts(found: WhatIf, at: int, front_end: FrontEnd) -> tuple[str, ...]:
    """One cell under TITLES; `front_end` is the current one."""
    one, cost = found.cells[at], found.costs[at]
    costs = UNTRIED if cost is None else f"{decimal(round(cost.mean_ua, 1))}{GAP}µA, {how_long(cost.days)}"
    in_hand = one.cell == PartCell(front_end, None)
    front = one.cell.front_end
    name = f"{'current: ' if in_hand else ''}±{front.range_g:g} g, {front.bits} bits, {front.rate_hz:g} Hz"
    low_pass = "none" if one.cell.corner_hz is None else f"{one.cell.corner_hz:g}{GAP}Hz"
    if one.figures is None:
        return name, low_pass, UNTRIED, "", "", "", "", "", "", "", "", one.refused
    figures = one.figures
    clipped = f"{100 * one.clipped / one.falls:.0f}{GAP}%" if one.falls else "no falls"
    return (name, low_pass, percent(figures.sensitivity), percent(figures.specificity), _anew(one.retuned),
            str(figures.unlabelled_alarms), clipped, f"{one.free_fall_counts}{GAP}counts", costs,
            lost_words(lost_of(one)), _delay_words(found.study, one), remark(one))


def lost_of(one: CellScore) -> AsleepLoss | None:
    """What the study's device loses by sleeping on this part; None where it never sleeps."""
    return one.asleep[0] if one.asleep else None


def delay_s(study: Study, one: CellScore) -> float | None:
    """From the impact until a station in reach knows, the longest by sleeping included; None where the rule can't run
    on this part, or it sleeps and nothing is known of how much later it is."""
    loss = lost_of(one)
    if one.figures is None or (loss is not None and loss.later_ms is None):
        return None
    return response_s(study.device, one.cell.front_end, study.settings, None if loss is None else loss.later_ms)


def _delay_words(study: Study, one: CellScore) -> str:
    delay = delay_s(study, one)
    return "not known" if delay is None else f"{rounded(delay)}{GAP}s"


def remark(one: CellScore) -> str:
    """What is to be said beside the figures: what a search found, what contradicts itself."""
    noise = one.cell.noise_ug
    return " ".join([*([f"With {noise:g} µg/√Hz of noise."] if noise else []),
                     *([retuned_words(one.retuned)] if one.retuned is not None else []), *one.doubts])


def _anew(found: Retuned | None) -> str:
    if found is None:
        return ""
    figures = found.left_out or found.in_sample
    return f"{percent(figures.sensitivity)}, {percent(figures.specificity)}"


def retuned_words(found: Retuned) -> str:
    """Of settings searched again what they are worth on people left out; on all where nobody could be."""
    figures, on = (found.in_sample, "on whom they were found") if found.left_out is None \
        else (found.left_out, "in cross-validation, on people left out")
    return (f"Searched again: sensitivity {percent(figures.sensitivity)}, specificity {percent(figures.specificity)} "
            f"{on}.")


def tip(one: CellScore) -> str:
    """All there is to say of a cell, for its tool tip."""
    if one.figures is None:
        return one.refused
    figures = one.figures
    parts = [f"Sensitivity {percent(figures.sensitivity)} ({percent_range(figures.sensitivity)}), specificity "
             f"{percent(figures.specificity)} ({percent_range(figures.specificity)}), 95 %.", remark(one)]
    return " ".join(part for part in parts if part)


def as_text(found: WhatIf) -> str:
    """Tab-separated, under a heading."""
    lines = [TITLES, *(row_texts(found, at, found.study.front_end) for at in range(len(found.cells)))]
    return tabbed([" ".join(text.split()) for text in line] for line in lines)


def csv_rows(found: WhatIf) -> list[list[str]]:
    """For programs: plain numbers, empty where there are no data."""
    lines = [["range_g", "bits", "rate_hz", "filter_hz", "noise_ug", "sensitivity", "sensitivity_low",
              "sensitivity_high", "specificity", "specificity_low", "specificity_high", "tp", "fn", "fp", "tn",
              "unlabelled", "clipped_falls", "falls", "free_fall_counts", "mean_ua", "retuned_sensitivity",
              "retuned_specificity", "days", "falls_lost_asleep", "impact_to_station_s", "refused"]]
    for one, cost in zip(found.cells, found.costs, strict=True):
        current, days = ("", "") if cost is None else (f"{cost.mean_ua:.9g}", f"{cost.days:.9g}")
        loss = lost_of(one)
        lost = "" if loss is None or loss.refused else str(loss.lost)
        front, corner = one.cell.front_end, one.cell.corner_hz
        cells = [f"{front.range_g:g}", str(front.bits), f"{front.rate_hz:g}", "" if corner is None else f"{corner:g}",
                 f"{one.cell.noise_ug:g}"]
        if one.figures is None:
            cells += [""] * 14 + [current, "", "", days, "", "", one.refused]
        else:
            m, again = one.figures.matrix, None if one.retuned is None else one.retuned.left_out
            cells += [*_three(one.figures.sensitivity), *_three(one.figures.specificity), str(m.tp), str(m.fn),
                      str(m.fp), str(m.tn), str(one.figures.unlabelled_alarms), str(one.clipped), str(one.falls),
                      str(one.free_fall_counts), current,
                      _three(None if again is None else again.sensitivity)[0],
                      _three(None if again is None else again.specificity)[0], days, lost,
                      "" if (delay := delay_s(found.study, one)) is None else f"{delay:.9g}", ""]
        lines.append(cells)
    return lines


def plain(found: WhatIf) -> dict[str, Any]:
    """For JSON; figures are null where a cell is refused."""
    return {
        "study": found.study.title, "front_end": found.study.front_end.plain(),
        "settings": found.study.settings.plain(),
        "cells": [_plain(found.study, one, cost) for one, cost in zip(found.cells, found.costs, strict=True)],
        "remarks": list(found.remarks),
        "caution": f"An engineering aid. {CAUTION}",
    }


def _plain(study: Study, one: CellScore, cost: Cost | None) -> dict[str, Any]:
    again, score = one.retuned, one.figures
    return {
        **one.cell.front_end.plain(), "filter_hz": one.cell.corner_hz, "noise_ug": one.cell.noise_ug,
        "refused": one.refused or None,
        **brief(score), "clipped_falls": None if score is None else {"clipped": one.clipped, "falls": one.falls},
        "free_fall_counts": None if score is None else one.free_fall_counts,
        "mean_ua": None if cost is None else cost.mean_ua, "days": None if cost is None else finite(cost.days),
        "falls_lost_asleep": None if (loss := lost_of(one)) is None else asdict(loss),
        "impact_to_station_s": delay_s(study, one),
        "warnings": list(one.doubts),
        "retuned": None if again is None else {
            "settings": again.settings.plain(), "in_sample": brief(again.in_sample),
            "left_out": None if again.left_out is None else brief(again.left_out)},
    }


def _three(one: Estimate | None) -> list[str]:
    return ["", "", ""] if one is None else [f"{x:.9g}" for x in (one.value, one.low, one.high)]

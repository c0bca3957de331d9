"""What came of trying other parts, told: rows of a table, tool tips, CSV and JSON."""

from __future__ import annotations

from typing import Any

from app.study.device.what_if import WhatIf
from app.study.readout import percent, percent_range
from app.words import GAP, decimal
from detect.device.what_if import Cell, CellScore, Retuned
from detect.figures import Figures
from detect.frontend import FrontEnd
from detect.intervals import Estimate

TITLES = ("part", "filter", "sensitivity", "specificity", "searched anew", "strays", "clipped falls", "free fall",
          "current", "remark")
ANEW = TITLES.index("searched anew")
"""Sensitivity and specificity of settings searched anew; empty where none were."""

UNTRIED = "refused"


def row_texts(found: WhatIf, at: int, front_end: FrontEnd) -> tuple[str, ...]:
    """One cell under TITLES; `front_end` is the one in hand."""
    one, current = found.cells[at], f"{decimal(round(found.current_ua[at], 1))}{GAP}µA"
    in_hand = one.cell == Cell(front_end, None)
    front = one.cell.front_end
    name = f"{'in hand: ' if in_hand else ''}±{front.range_g:g} g, {front.bits} bits, {front.rate_hz:g} Hz"
    low_pass = filter_words(one.cell.corner_hz)
    if one.figures is None:
        return name, low_pass, UNTRIED, "", "", "", "", "", "", one.refused
    figures = one.figures
    clipped = f"{100 * one.clipped / one.falls:.0f}{GAP}%" if one.falls else "no falls"
    return (name, low_pass, percent(figures.sensitivity), percent(figures.specificity), _anew(one.retuned),
            str(strays_of(figures)), clipped, f"{one.free_fall_counts}{GAP}counts", current, remark(one))


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
    """Of settings searched anew what they are worth on people left out; on all where nobody could be."""
    figures, on = (found.in_sample, "on whom they were found") if found.left_out is None \
        else (found.left_out, "on people left out")
    return (f"Searched anew: sensitivity {percent(figures.sensitivity)}, specificity {percent(figures.specificity)} "
            f"{on}.")


def tip(one: CellScore) -> str:
    """All there is to say of a cell, for its tool tip."""
    if one.figures is None:
        return one.refused
    figures = one.figures
    parts = [f"Sensitivity {percent(figures.sensitivity)} ({percent_range(figures.sensitivity)}), specificity "
             f"{percent(figures.specificity)} ({percent_range(figures.specificity)}), 95 %.", remark(one)]
    return " ".join(part for part in parts if part)


def strays_of(figures: Figures) -> int:
    return sum(one.alarms for one in figures.strays)


def filter_words(corner_hz: float | None) -> str:
    return "none" if corner_hz is None else f"{corner_hz:g}{GAP}Hz"


def as_text(found: WhatIf) -> str:
    """Tab-separated, under a heading."""
    lines = [TITLES, *(row_texts(found, at, found.study.front_end) for at in range(len(found.cells)))]
    return "".join("\t".join(" ".join(text.split()) for text in line) + "\n" for line in lines)


def csv_rows(found: WhatIf) -> list[list[str]]:
    """For programs: plain numbers, empty where there is no data."""
    lines = [["range_g", "bits", "rate_hz", "filter_hz", "noise_ug", "sensitivity", "sensitivity_low",
              "sensitivity_high", "specificity", "specificity_low", "specificity_high", "tp", "fn", "fp", "tn",
              "strays", "clipped_falls", "falls", "free_fall_counts", "mean_ua", "retuned_sensitivity",
              "retuned_specificity", "refused"]]
    for one, current in zip(found.cells, found.current_ua, strict=True):
        front, corner = one.cell.front_end, one.cell.corner_hz
        cells = [f"{front.range_g:g}", str(front.bits), f"{front.rate_hz:g}", "" if corner is None else f"{corner:g}",
                 f"{one.cell.noise_ug:g}"]
        if one.figures is None:
            cells += [""] * 14 + [f"{current:.9g}", "", "", one.refused]
        else:
            m, again = one.figures.matrix, None if one.retuned is None else one.retuned.left_out
            cells += [*_three(one.figures.sensitivity), *_three(one.figures.specificity), str(m.tp), str(m.fn),
                      str(m.fp), str(m.tn), str(strays_of(one.figures)), str(one.clipped), str(one.falls),
                      str(one.free_fall_counts), f"{current:.9g}",
                      _three(None if again is None else again.sensitivity)[0],
                      _three(None if again is None else again.specificity)[0], ""]
        lines.append(cells)
    return lines


def plain(found: WhatIf) -> dict[str, Any]:
    """For JSON; figures are null where a cell is refused."""
    return {
        "study": found.study.title, "front_end": found.study.front_end.plain(),
        "settings": found.study.settings.plain(),
        "cells": [_plain(one, ua) for one, ua in zip(found.cells, found.current_ua, strict=True)],
        "remarks": list(found.remarks),
        "caution": "An engineering aid. A recording can't gain what it lacks; its own logger's filter and noise are "
                   "in every cell.",
    }


def _plain(one: CellScore, current: float) -> dict[str, Any]:
    again, score = one.retuned, one.figures
    return {
        **one.cell.front_end.plain(), "filter_hz": one.cell.corner_hz, "noise_ug": one.cell.noise_ug,
        "refused": one.refused or None,
        **_figures(score), "clipped_falls": None if score is None else {"clipped": one.clipped, "falls": one.falls},
        "free_fall_counts": None if score is None else one.free_fall_counts, "mean_ua": current,
        "warnings": list(one.doubts),
        "retuned": None if again is None else {
            "settings": again.settings.plain(), "in_sample": _figures(again.in_sample),
            "left_out": None if again.left_out is None else _figures(again.left_out)},
    }


def _figures(found: Figures | None) -> dict[str, Any]:
    if found is None:
        return {"matrix": None, "sensitivity": None, "specificity": None, "stray": None}
    m = found.matrix
    return {"matrix": {"tp": m.tp, "fn": m.fn, "fp": m.fp, "tn": m.tn}, "sensitivity": _estimate(found.sensitivity),
            "specificity": _estimate(found.specificity),
            "stray": {"alarms": strays_of(found), "hours": sum(one.hours for one in found.strays)}}


def _estimate(one: Estimate | None) -> dict[str, float | None]:
    return {"value": None, "low": None, "high": None} if one is None \
        else {"value": one.value, "low": one.low, "high": one.high}


def _three(one: Estimate | None) -> list[str]:
    return ["", "", ""] if one is None else [f"{x:.9g}" for x in (one.value, one.low, one.high)]

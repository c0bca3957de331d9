"""What if the part were another, for the study in hand: run, told as rows, as JSON and as CSV, taken over."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from app.study.device.material import InHand, material_of, recorded
from app.study.pipeline import Stopped
from app.study.state import Study
from data.problem import Problem
from detect.device import what_if as engine
from detect.device.budget import budget
from detect.device.digital import DigitalPart
from detect.device.material import Material
from detect.device.part import in_use, part_of
from detect.device.what_if import HALF_RATE, Cell, CellScore, Filter, Grid
from detect.settings import BadSetting, Settings
from detect.workers import Cancelled, Shared

SCORING_SHARE = 0.2
"""Of the progress, where settings are searched anew as well."""


@dataclass(frozen=True)
class Wanted:
    """What to try. `retune`: search settings anew for each part too."""

    grid: Grid
    retune: bool = False


@dataclass(frozen=True, eq=False)
class WhatIf:
    """What was tried, on the study as it was then: the part in hand, then the grid's. `current_ua`: each part's mean.

    `remarks`: sentences on workers that were lost.
    """

    study: Study
    wanted: Wanted
    cells: tuple[CellScore, ...]
    current_ua: tuple[float, ...]
    remarks: tuple[str, ...]

    def stands_for(self, study: Study) -> bool:
        """Whether another run would say the same of this study, but for the current."""
        front_end = replace(study.front_end, range_g=1, bits=8, rate_hz=1)
        mine = replace(self.study.front_end, range_g=1, bits=8, rate_hz=1)
        return (study.items is self.study.items and study.settings == self.study.settings and front_end == mine
                and study.widening == self.study.widening and study.node == self.study.node
                and study.annotator == self.study.annotator)


def run(hand: InHand, wanted: Wanted, executor: Executor | None = None,
        progress: Callable[[float], None] | None = None, cancelled: Callable[[], bool] | None = None) -> WhatIf:
    """Every part of the grid on the study in hand. Raises Stopped, Problem."""
    study, tell = hand.study, progress or (lambda share: None)
    material = material_of(hand)
    shared = Shared(material)
    whole = SCORING_SHARE if wanted.retune else 1.0
    try:
        cells = engine.what_if(shared, recorded(hand), wanted.grid, study.settings, Cell(study.front_end, None),
                               executor=executor, done=lambda share: tell(whole * share), cancelled=cancelled)
        if wanted.retune:
            cells = _retuned(cells, material, study.settings, executor, lambda share: tell(whole + (1 - whole) * share),
                             cancelled)
    except Cancelled:
        raise Stopped from None
    except BadSetting as bad:
        raise Problem("bad_setting", f"{bad.key} = {bad.value}: {bad.message}", bad.remedy) from None
    currents = tuple(budget(study.device, one.cell.front_end.rate_hz, hand.alarms_per_day).mean_ua for one in cells)
    return WhatIf(study, wanted, cells, currents, tuple(shared.remarks))


def _retuned(cells: tuple[CellScore, ...], material: Material, settings: Settings, executor: Executor | None,
             tell: Callable[[float], None], cancelled: Callable[[], bool] | None) -> tuple[CellScore, ...]:
    """One part after the other: each search is shared out among the workers."""
    tried = [one for one in cells if not one.refused]
    found = {}
    for i, one in enumerate(tried):
        def told(share: float, i: int = i) -> None:
            tell((i + share) / len(tried))
        found[one.cell] = replace(one, retuned=engine.retuned(material, one.cell, settings, executor=executor,
                                                              done=told, cancelled=cancelled))
    return tuple(found.get(one.cell, one) for one in cells)


def taken(study: Study, cell: CellScore) -> Study:
    """The study with a cell's range, width and rate; its retuned settings where it has some."""
    front = cell.cell.front_end
    settings = cell.retuned.settings if cell.retuned is not None else study.settings
    return replace(study, front_end=in_use(study.front_end, front.range_g, front.bits, front.rate_hz),
                   settings=settings)


def suggested(study: Study) -> dict[str, str]:
    """Lists to begin with, about the part in hand."""
    front_end, part = study.front_end, part_of(study.device, study.front_end)
    low_pass = "half" if isinstance(part, DigitalPart) else f"{part.cutoff_hz:.3g}"
    half, whole, double = front_end.range_g / 2, front_end.range_g, front_end.range_g * 2
    rates = (front_end.rate_hz / 4, front_end.rate_hz / 2, front_end.rate_hz)
    bits = sorted({8, 10, front_end.bits})
    return {"ranges": f"{half:g}  {whole:g}  {double:g}", "rates": "  ".join(f"{rate:g}" for rate in rates),
            "bits": "  ".join(map(str, bits)), "filters": f"none  {low_pass}"}


def noise_of(study: Study) -> float:
    """The noise density of the part in use, µg/√Hz."""
    return part_of(study.device, study.front_end).noise_ug


def wanted_of(texts: Mapping[str, str], noise_ug: float, retune: bool) -> Wanted:
    """What the four lists ask for. Raises Problem that names the list."""
    return Wanted(Grid(numbers(texts["ranges"], "Ranges"), numbers(texts["rates"], "Rates"), widths(texts["bits"]),
                       filters(texts["filters"]), noise_ug), retune)


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
    found = numbers(text, "Bits")
    for value in found:
        if not (value.is_integer() and 8 <= value <= 16):
            raise Problem("option", f"Bits: {value:g} is no width that the rule has integers for.",
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

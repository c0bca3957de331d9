"""The part in use for the open study: what its numbers come to, and what contradicts itself, ready to read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from app.formatting import GAP, MINUS, THIN
from app.study import actions
from app.study.state import Study
from detect.device.part.analogue import AnalogPart
from detect.device.part.modes import modes_of, settling_ms
from detect.device.part.part import ANALOGUE, figures, followed, front_end_of, in_words, part_of, part_warnings
from detect.device.quantities import Plain

Reading = tuple[float, float, float]


@dataclass(frozen=True)
class PartView:
    """`kind` of the part; `front_end` in words; `rows`: name, value with unit, sentence; `doubts`: a sentence each.
    `can_take`: whether the part is another one than the score is of."""

    kind: str
    front_end: str
    rows: tuple[tuple[str, str, str], ...]
    doubts: tuple[str, ...]
    can_take: bool


def part_view(study: Study) -> PartView:
    seen = front_end_of(study.device, study.front_end)
    rows = tuple((one.name, f"{significant(one.value)}{GAP}{one.unit}", one.sentence)
                 for one in figures(study.device, study.front_end, study.settings)) + _mode_rows(study)
    return PartView(study.device.text("part.kind"), in_words(seen), rows,
                    part_warnings(study.device, study.front_end, study.settings), seen != study.front_end)


def _mode_rows(study: Study) -> tuple[tuple[str, str, str], ...]:
    """What still works in each mode, and how long the part needs to be right after sleep."""
    settles = settling_ms(study.device, study.front_end)
    return (*((one.name, f"{significant(one.ua)}{GAP}µA", one.works) for one in modes_of(study.device)),
            ("right after sleep", f"{significant(settles)}{GAP}ms",
             "From off to within half a step: turn-on, and the filter's time constant times the logarithm of twice "
             "the codes."))


def taken(study: Study) -> Study:
    """The study with the part's own front end."""
    return actions.set_front_end(study, front_end_of(study.device, study.front_end))


def changed(study: Study, key: str, value: object) -> Study:
    """One number of the device; a front end that was the analogue part's own goes along with its part.

    Raises BadSetting where the number, or the rule on what becomes of the front end, can't be.
    """
    after = actions.set_device_value(study, key, value)
    front_end = followed(study.device, after.device, study.front_end)
    return after if front_end == study.front_end else actions.set_front_end(after, front_end)


def volts(study: Study) -> Callable[[Reading], Reading] | None:
    """From a reading in g to what an analogue part puts out, volts of each axis; None where a digital one is in use."""
    part = part_of(study.device, study.front_end)
    if not isinstance(part, AnalogPart):
        return None

    def of(reading: Reading) -> Reading:
        x, y, z = part.volts(np.array(reading)).tolist()
        return x, y, z
    return of


def number_rows(study: Study) -> tuple[tuple[str, str, str, str], ...]:
    """Of each number of the part in use: title, value with unit, key, where its starting value comes from."""
    values = study.device
    return tuple((row.title, _words(values[key], row.unit), key, row.origin)
                 for key in values if (row := values.row(key)).group in _groups(study))


def _words(value: Plain, unit: str) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return value if isinstance(value, str) else f"{significant(value)}{GAP}{unit}".strip()


def _groups(study: Study) -> tuple[str, ...]:
    return "part", "analog" if study.device.text("part.kind") == ANALOGUE else "digital", "modes"


def plain(study: Study) -> dict[str, Any]:
    values = study.device
    return {
        "study": study.title,
        "front_end": front_end_of(values, study.front_end).plain(),
        "in_score": study.front_end.plain(),
        "numbers": {key: {"value": values[key], "unit": values.row(key).unit, "starts_at": values.row(key).default,
                          "origin": values.row(key).origin, "sentence": values.row(key).sentence}
                    for key in values if values.row(key).group in _groups(study)},
        "figures": {one.key: {"name": one.name, "value": one.value, "unit": one.unit, "sentence": one.sentence}
                    for one in figures(values, study.front_end, study.settings)},
        "modes": [{"name": one.name, "outputs": one.outputs, "lines": list(one.lines), "ua": one.ua}
                  for one in modes_of(values)],
        "settling_ms": settling_ms(values, study.front_end),
        "warnings": list(part_warnings(values, study.front_end, study.settings)),
    }


def significant(value: float) -> str:
    """Four digits, thousands set apart, a true minus."""
    if value == 0:
        return "0"
    whole = abs(value) >= 1000 or float(value).is_integer()
    text = f"{value:,.0f}" if whole else f"{value:.4g}"
    return text.replace(",", THIN).replace("-", MINUS)

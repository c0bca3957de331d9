"""SHA-256 of what a study is made from and how that is scored: the same for the same recordings in any order."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, replace
from functools import lru_cache
from typing import Any

from app.study.recordings.nodes import ANY, groups, passed_over
from app.study.state import Item, Study
from data.recipe.recipe import Recipe, axes_to_plain, recipe_to_plain
from data.recipe.sections import LabelTable
from data.recordings.model import About

SCORING = {
    "node": "node scored", "match_window": "match window", "people": "people", "setting": "staged or free-living",
    "calibration": "calibration", "orientation": "orientation", "reading": "how files are read",
}
"""What a score hangs on beside files and labels, settings and sensor: keys in files, and words for people."""

STUDY_WIDE = ("node", "match_window")
"""Of these what is chosen for a whole study; the others are of each recording."""


def of(items: Iterable[Item], annotator: str | None) -> tuple[str, str]:
    """Of recordings, and of their labels by an annotator, None for everybody's."""
    every = tuple(items)
    return of_recordings(every), of_labels(every, annotator)


def of_recordings(items: Iterable[Item]) -> str:
    """Their content, and what of them is scored."""
    return _digest([[item.name, item.sha256, *_kept(item)] for item in items])


def of_labels(items: Iterable[Item], annotator: str | None) -> str:
    return _digest([[item.name, [one.plain() for one in item.labels if annotator in (None, one.annotator)]]
                    for item in items])


def of_scoring(study: Study, items: Iterable[Item]) -> dict[str, str]:
    """Of all that SCORING names, each on its own. `items`: those scored, of several nodes all."""
    every = tuple(items)
    own: dict[str, list[Any]] = {
        "node": _nodes(study), "match_window": [["", study.widening.before_s, study.widening.after_s]],
        "people": [[item.name, item.about.person] for item in every],
        "setting": [[item.name, item.about.setting] for item in every],
        "calibration": [[item.name, item.calibration.offset_g, item.calibration.gain] for item in every
                        if item.calibration is not None],
        "orientation": [[item.name, axes_to_plain(item.axes)] for item in every if item.axes is not None],
        "reading": [[item.name, item.rate_hz, _reading(item.recipe)] for item in every],
    }
    return {key: _digest(own[key]) for key in SCORING}


def _nodes(study: Study) -> list[Any]:
    """Recordings that another node stands for; where an alarm of any node counts, those and the clocks it goes by."""
    over = [[name] for name in passed_over(study)]
    if study.node != ANY:
        return over
    return over + [[item.name, asdict(item.clock)] for some in groups(study.items).values() for item in some]


@lru_cache(maxsize=256)
def _reading(recipe: Recipe) -> str:
    """What of a recipe makes samples of a file: not its labels, nor what it says of the wearer."""
    return json.dumps(recipe_to_plain(replace(recipe, labels=LabelTable(), about=About(), pattern="")))


def _kept(item: Item) -> list[float]:
    """What of it was scored, where that is not all."""
    return [item.trim.start_s, item.trim.end_s] if item.trim.total_s else []


def _digest(rows: list) -> str:
    """SHA-256 over the rows in order of name, as compact JSON."""
    text = json.dumps(sorted(rows, key=lambda row: row[0]), ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()

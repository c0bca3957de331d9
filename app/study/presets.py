"""Settings to start from, each with its origin; presets of one's own; what published rules did on real falls."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from app.study.results.readout import NO_DATA
from app.study.session import Session
from app.study.state import Study
from app.study.storage.study_files import record_of, settings_plain
from data.files import write_atomically
from data.problem import Problem, os_refusals
from detect.rule.settings import Settings, Value, from_plain
from detect.scoring.figures import UnlabelledAlarmRate, figures


@dataclass(frozen=True)
class Preset:
    title: str
    origin: str
    values: Mapping[str, Value] = field(default_factory=dict)

    @property
    def settings(self) -> Settings:
        return from_plain(self.values)[0]


PRESETS = (
    Preset("Waist", "a common starting point, recalled, no source; not tuned"),
    Preset("Waist, impact and posture only",
           "common practice, no source: without the free-fall stage, for sliding falls",
           {"free_fall_on": False, "impact_g": 2.5, "active_on": True}),
    Preset("Wrist", "recalled, no source; not tuned: arms swing, so the impact is higher and stillness is lax",
           {"free_fall_on": False, "impact_g": 3.0, "active_on": True, "still_g": 0.5}),
)


def preset(title: str) -> Preset:
    return next(one for one in PRESETS if one.title == title)


_NO_NAME = re.compile(r'[<>:"/\\|?*\x00-\x1f]')


@dataclass(frozen=True)
class OwnPreset:
    """A settings file; its title is the file's name."""

    title: str
    path: Path


def found(folder: Path) -> tuple[OwnPreset, ...]:
    """Every settings file of the folder by title; none where the folder does not exist yet."""
    try:
        paths = sorted(folder.glob("*.json"), key=lambda path: path.stem.casefold())
    except OSError:
        return ()
    return tuple(OwnPreset(path.stem, path) for path in paths)


def path_for(folder: Path, title: str) -> Path:
    """Where a preset of this title is kept. Raises Problem where the title is not a name for a file."""
    name = " ".join(_NO_NAME.sub(" ", title).split()).strip(". ")
    if not name:
        raise Problem("preset", f"“{title}” can not be a file name.", "Give the preset a name with letters or digits.")
    return folder / f"{name}.json"


def save(path: Path, study: Study) -> None:
    """The current settings with their front end as a settings file. Raises Problem where it can't be written."""
    with os_refusals(str(path.parent), "save"):
        path.parent.mkdir(parents=True, exist_ok=True)
    plain = settings_plain(study.settings, study.front_end, record_of(study))
    write_atomically(path, json.dumps(plain, indent=1) + "\n")


SOURCE = "Bagalà et al. 2012, PLoS ONE 7(5):e37062"
"""Thirteen published rules run on 29 real falls; false alarms in one day each of three people who fall."""

WHY_NOT = (
    "The published falls happened; nobody staged them. Falls staged by volunteers are faster, harder and end more "
    "plainly: rules that caught nearly all of those caught about half of the real ones.",
    "Other people fell: old or ill, at home and in care, not volunteers on a mattress.",
    "The published rules met those falls as they had been printed, with thresholds from elsewhere. Settings here "
    "may have been tuned on the very people they are scored on: compare, if at all, what was left out or sealed.",
    "A specificity is a share of chosen activities: which were chosen, how hard and how often, makes most of it. Only "
    "alarms in a day that somebody really lived can be set side by side, and those came from three people.",
    "Placement, range and rate of the sensor differ. A fall beyond a sensor's range looks different to a rule.",
    "± is the spread of the thirteen rules, not the uncertainty of one. With 29 falls a sensitivity of 57 % "
    "has an interval of its own, some 17 points either way.",
)
"""Why the two columns can't be compared one to one."""


@dataclass(frozen=True)
class PublishedRow:
    """One figure: of the published rules on the average, their best or their range, and of this study."""

    figure: str
    average: str
    best: str
    here: str
    interval: str


def beside(session: Session) -> tuple[PublishedRow, ...]:
    """The published spread beside the current score, where there is one."""
    sensitivity = specificity = unlabelled = (NO_DATA, "")
    falls = NO_DATA
    if session.ready and session.study.items:
        view = session.results().score
        cells = {cell.name: (cell.text, cell.interval) for cell in view.cells}
        sensitivity, specificity, falls = cells["sensitivity"], cells["specificity"], str(view.falls)
        unlabelled = _a_day(figures(session.found().score).unlabelled)
    return (PublishedRow("falls", "29, real", "", falls, ""),
            PublishedRow("sensitivity", "57.0 ± 27.3 %", "82.8 %", *sensitivity),
            PublishedRow("specificity", "83.0 ± 30.3 %", "98 %", *specificity),
            PublishedRow("false alarms in 24 h", "", "3 – 85", *unlabelled))


def _a_day(unlabelled: Sequence[UnlabelledAlarmRate]) -> tuple[str, str]:
    """Of free-living time only: an hour of staged activities is not a part of a day."""
    for rate in unlabelled:
        if rate.per_24h is not None and not rate.caution and rate.hours > 0:
            return f"{rate.per_24h.value:.1f}", f"{rate.per_24h.low:.1f} – {rate.per_24h.high:.1f}"
    return NO_DATA, ""

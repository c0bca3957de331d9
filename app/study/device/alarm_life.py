"""The study's alarms through the life of an alarm: what the station hears of them, and how many seconds later."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from app.formatting import plural
from app.study.pipeline import Made, Prepared, StudyEvents
from app.study.results.readout import percent
from app.study.state import Study
from detect.device.energy.life import FATES, Lived, Told, lived
from detect.device.sleep.scores import SleepAttempts, always_on
from detect.scoring.figures import Figures, figures
from detect.scoring.score import Score, owners_of

_ROWS: tuple[tuple[str, Callable[[Figures], str]], ...] = (
    ("falls known", lambda f: f"{f.matrix.tp} of {f.matrix.tp + f.matrix.fn}"),
    ("sensitivity", lambda f: percent(f.sensitivity)),
    ("false alarms", lambda f: f"{f.matrix.fp} of {f.matrix.fp + f.matrix.tn}"),
    ("specificity", lambda f: percent(f.specificity)),
    ("unlabelled alarms", lambda f: str(f.unlabelled_alarms)),
)


@dataclass(frozen=True, eq=False)
class LifeView:
    """`detector`: the score of what the rule says; `station`: of what the station hears and nobody withdrew.
    `rows`: figure, detector, station. `fates`: what became of an alarm, of falls, of others."""

    detector: Score
    station: Score
    sums: Lived
    rows: tuple[tuple[str, str, str], ...]
    fates: tuple[tuple[str, str, str], ...]
    headline: str


def life_view(study: Study, made: Made, seed: int = 0) -> LifeView:
    """Each recording's alarms live through a device of their own.

    A model of people and radio, not a measurement: shares and times are the device's numbers, the draw is seeded.
    """
    found, labelled, prepared = made
    tried = always_on(found.attempts)
    told, places = _told(tried, labelled, prepared)
    fates, sums = lived(told, study.device, seed)
    heard = np.array([place for some, at in zip(fates, places, strict=True)
                      for fate, place in zip(some, at, strict=True) if fate.fate == "heard"], dtype=np.int64)
    station = labelled.score(tried.recording[heard], tried.impact[heard], found.rule.hold_off)
    before, after = figures(found.score), figures(station)
    rows = tuple((name, of(before), of(after)) for name, of in _ROWS)
    of_alarms = tuple((fate, str(sums.falls[fate]), str(sums.others[fate])) for fate in FATES)
    return LifeView(found.score, station, sums, rows, of_alarms, _headline(found.score, station, sums))


def _told(tried: SleepAttempts, labelled: StudyEvents, prepared: Prepared) -> tuple[list[list[Told]], list[list[int]]]:
    """The alarms of each recording in order of time, and their places among all attempts."""
    alarms = tried.alarms
    owner = owners_of(tried.recording[alarms], tried.impact[alarms], labelled.events)
    fell = (owner >= 0) & labelled.events.is_fall[np.maximum(owner, 0)] if len(labelled.events) else owner > 0
    told: list[list[Told]] = [[] for _ in prepared.seen]
    places: list[list[int]] = [[] for _ in prepared.seen]
    for place, fall in zip(alarms.tolist(), fell.tolist(), strict=True):
        recording = int(tried.recording[place])
        seconds = prepared.seen[recording].timeline.seconds(int(tried.decided[place]))
        impact = prepared.seen[recording].timeline.seconds(int(tried.impact[place]))
        told[recording].append(Told(float(seconds), bool(fall), float(impact)))
        places[recording].append(place)
    return told, places


def _headline(detector: Score, station: Score, sums: Lived) -> str:
    d, s = detector.matrix, station.matrix
    lost = "" if sums.median_lost_s is None or sums.worst_lost_s is None else \
        f" It knows {sums.median_lost_s:.0f} s after the impact (median), {sums.worst_lost_s:.0f} s at most (maximum)."
    return (f"Of {d.tp} falls caught the station hears of {s.tp}, of {d.fp} false alarms of {s.fp}; "
            f"{plural(sums.falls['cancelled'], 'alarm of a fall was', 'alarms of falls were')} cancelled.{lost}")


def plain(view: LifeView, study: Study) -> dict[str, Any]:
    return {"numbers": study.device.under("life."),
            "detector": asdict(view.detector.matrix) | {"unlabelled": sum(view.detector.unlabelled)},
            "station": asdict(view.station.matrix) | {"unlabelled": sum(view.station.unlabelled)},
            "fates": {"falls": view.sums.falls, "others": view.sums.others},
            "seconds_lost": {"median": view.sums.median_lost_s, "worst": view.sums.worst_lost_s},
            "headline": view.headline}

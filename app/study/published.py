"""What published threshold rules did on real falls, beside what the settings in hand do in this study. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.study.readout import NO_DATA
from app.study.session import Session
from detect.figures import StrayRate, figures

SOURCE = "Bagalà et al. 2012, PLoS ONE 7(5):e37062"
"""Thirteen published rules run on 29 real falls; false alarms in one day each of three people who fall."""

WHY_NOT = (
    "The published falls happened; nobody staged them. Falls staged by volunteers are faster, harder and end more "
    "plainly: rules that caught nearly all of those caught about half of the real ones.",
    "Other people fell: old or ill, at home and in care, not volunteers on a mattress.",
    "The published rules met those falls as they had been printed, with thresholds from elsewhere. Settings in hand "
    "here may have been tuned on the very people they are scored on: compare, if at all, what was left out or sealed.",
    "A specificity is a share of chosen activities: which were chosen, how hard and how often, makes most of it. Only "
    "alarms in a day that somebody really lived can be set side by side, and those came from three people.",
    "Where the sensor sat, its range and its rate differ. A fall beyond a sensor's range is another fall to a rule.",
    "± is how far the thirteen rules lie apart, not how sure any of them is. With 29 falls a sensitivity of 57 % "
    "has an interval of its own, some 17 points either way.",
)
"""Why the two columns can't be compared one to one."""


@dataclass(frozen=True)
class Row:
    """One figure: of the published rules on the average, their best or their range, and of this study."""

    figure: str
    average: str
    best: str
    here: str
    interval: str


def beside(session: Session) -> tuple[Row, ...]:
    """The published spread beside the score in hand, where there is one."""
    sensitivity = specificity = strays = (NO_DATA, "")
    falls = NO_DATA
    if session.ready and session.study.items:
        view = session.results().score
        cells = {cell.name: (cell.text, cell.interval) for cell in view.cells}
        sensitivity, specificity, falls = cells["sensitivity"], cells["specificity"], str(view.falls)
        strays = _a_day(figures(session.found().score).strays)
    return (Row("falls", "29, real", "", falls, ""),
            Row("sensitivity", "57.0 ± 27.3 %", "82.8 %", *sensitivity),
            Row("specificity", "83.0 ± 30.3 %", "98 %", *specificity),
            Row("false alarms in 24 h", "", "3 – 85", *strays))


def _a_day(strays: Sequence[StrayRate]) -> tuple[str, str]:
    """Of free-living time only: an hour of staged activities is no part of a day."""
    for stray in strays:
        if stray.per_24h is not None and not stray.caution and stray.hours > 0:
            return f"{stray.per_24h.value:.1f}", f"{stray.per_24h.low:.1f} – {stray.per_24h.high:.1f}"
    return NO_DATA, ""

"""How many deciding peaks of the study were clipped: for its standing warnings and for a search."""

from __future__ import annotations

from dataclasses import dataclass

from app.study.pipeline import Prepared, StudyEvents
from data.recordings.sampling import clipped_at_g
from detect.rule.settings import Settings
from detect.scoring.clipped_peaks import ClippedPeaks, clipped_peaks

AT_ITS_LIMIT = 0.98
"""From this share of a logger's limit on a peak counts as cut off: resampling takes a little off its top."""


@dataclass(frozen=True)
class DecidingPeaks:
    """`limit_g`: where the first of the loggers and the front end ends. `recordings`: those with a clipped fall."""

    found: ClippedPeaks
    limit_g: float
    recordings: tuple[str, ...]

    def sentence(self, settings: Settings) -> str:
        """Empty where no deciding peak is clipped. `settings`: their impact threshold is held against the limit."""
        return self.found.sentence(self.limit_g, settings.number("impact_g"))


def deciding_peaks(prepared: Prepared, labelled: StudyEvents) -> DecidingPeaks:
    """Of the scored events."""
    front_end, events = prepared.front_end, labelled.events
    ends: list[tuple[float, float]] = [(front_end.lowest, front_end.highest)] * len(prepared.recordings)
    limit_g = front_end.highest / front_end.k
    recipes = {int(at): item.recipe for at, (item, _) in zip(events.recording, labelled.owners, strict=True)}
    for at, recipe in recipes.items():
        one = prepared.recordings[at]
        if one.clipped:
            own_g = clipped_at_g(one, recipe, front_end.k)
            limit, limit_g = AT_ITS_LIMIT * own_g * front_end.k, min(limit_g, own_g)
            ends[at] = max(-limit, front_end.lowest), min(limit, front_end.highest)
    found = clipped_peaks(prepared.engine.corpus, events, ends)
    names = dict.fromkeys(prepared.names[int(events.recording[event])] for event in found.cut_falls)
    return DecidingPeaks(found, limit_g, tuple(names))

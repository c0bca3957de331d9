"""Onsets proposed for falls of which nobody knows when in their recording they happened: around the largest impact.

A proposal is not knowledge: it is marked so wherever it goes until somebody confirms or corrects it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from data.labels.table import time_range
from data.recordings.model import Label, Recording
from data.recordings.rest_and_impacts import ImpactPeaks, impacts_of

LEAST_G = 1.5
"""No fall hits with less than this at hip, chest or wrist; common practice, no source."""

BEFORE_S, AFTER_S = 0.8, 0.7
"""A fall's onset before its largest impact and its end after it, where no labelled falls say how long: common practice,
no source."""

FEWEST_FALLS = 4
"""So many labelled falls say better how long before the impact their annotator sees the onset."""

RIVAL_SHARE, RIVAL_APART_S = 0.8, 2.0
"""Another impact of this share of the largest, so far from it, may as well be the fall."""


@dataclass(frozen=True)
class UsualFall:
    """How long before its largest impact a fall begins and after it ends, seconds; from how many labelled falls, 0 for
    what is customary."""

    before_s: float = BEFORE_S
    after_s: float = AFTER_S
    falls: int = 0


@dataclass(frozen=True)
class OnsetProposal:
    """Times on the recording's clock, and the impact they stand around. `rival_s`, `rival_g`: the next largest impact,
    where it may as well be the fall; None where none may."""

    onset_s: float
    end_s: float
    impact_s: float
    impact_g: float
    rival_s: float | None = None
    rival_g: float | None = None


def usual_fall(entries: Sequence[tuple[Recording, Sequence[Label], float]]) -> UsualFall:
    """From falls whose times somebody knows. `entries`: recordings, their labels and counts per g."""
    before, after = [], []
    for recording, labels, per_g in entries:
        timed = [one for one in labels if one.kind == "fall" and one.onset_s is not None and not one.proposed]
        impacts = impacts_of(recording, LEAST_G, per_g) if timed else None
        for label in timed:
            assert impacts is not None
            assert label.onset_s is not None
            assert label.end_s is not None
            inside = (impacts.seconds >= label.onset_s) & (impacts.seconds <= label.end_s)
            if inside.any():
                at = float(impacts.seconds[np.argmax(np.where(inside, impacts.size_g, -1))])
                before.append(at - label.onset_s)
                after.append(label.end_s - at)
    if len(before) < FEWEST_FALLS:
        return UsualFall()
    return UsualFall(float(np.median(before)), float(np.median(after)), len(before))


def propose_onset(recording: Recording, usual: UsualFall, counts_per_g: float = 1.0) -> OnsetProposal | None:
    """When the one fall in a recording probably was; None where nothing in it hits as falls do."""
    impacts = impacts_of(recording, LEAST_G, counts_per_g)
    if not len(impacts.seconds):
        return None
    start, end = time_range(recording)
    i = int(np.argmax(impacts.size_g))
    at, size = float(impacts.seconds[i]), float(impacts.size_g[i])
    rival = rival_of(impacts, at, size)
    return OnsetProposal(max(at - usual.before_s, start), min(at + usual.after_s, end), at, size,
                         *(rival or (None, None)))


def rival_of(impacts: ImpactPeaks, at_s: float, size_g: float) -> tuple[float, float] | None:
    """When the largest other impact was that may as well be the fall, and how large."""
    away = (np.abs(impacts.seconds - at_s) >= RIVAL_APART_S) & (impacts.size_g >= RIVAL_SHARE * size_g)
    if not away.any():
        return None
    i = int(np.argmax(np.where(away, impacts.size_g, -1)))
    return float(impacts.seconds[i]), float(impacts.size_g[i])

"""Events whose deciding peak was cut off: how hard these impacts were is not known, nor what a threshold there does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from detect.scoring.corpus import Corpus
from detect.scoring.score import Events

NEAR = 0.9
"""From this share of the limit on a threshold is too near to it to be judged. Common practice, no source."""


@dataclass(frozen=True)
class ClippedPeaks:
    """Of so many scored falls and other activities so many read an end of the range on an axis at their hardest sample;
    `cut_falls`: the numbers of such falls among the events, ascending.
    """

    falls: int
    of_falls: int
    others: int
    of_others: int
    cut_falls: tuple[int, ...] = ()

    def sentence(self, limit_g: float, impact_g: float) -> str:
        """What that means for thresholds; empty where nothing is clipped. `limit_g`: where the first of them ends."""
        if not self.falls + self.others:
            return ""
        said = (f"The deciding peak is clipped in {self.falls} of {self.of_falls} falls and {self.others} of "
                f"{self.of_others} other activities: how hard these impacts were is not known, and thresholds from "
                f"{NEAR * limit_g:.3g} g on, near full scale, can't be judged.")
        if impact_g >= NEAR * limit_g:
            said += f" The impact threshold, {impact_g:.3g} g, is one of them."
        return said


def clipped_peaks(corpus: Corpus, events: Events, ends: Sequence[tuple[float, float]]) -> ClippedPeaks:
    """`ends`: for each recording the counts at and beyond which a reading is at an end, downwards and upwards."""
    cut: tuple[list[int], list[int]] = ([], [])
    of = [0, 0]
    held = events.scored[events.recording] & (events.wide_first <= events.wide_last)
    for i in np.flatnonzero(held).tolist():
        at, fall = int(events.recording[i]), bool(events.is_fall[i])
        base = int(corpus.recording_first[at])
        piece = corpus.counts[base + int(events.wide_first[i]):base + int(events.wide_last[i]) + 1]
        low, high = ends[at]
        of[fall] += 1
        if piece.min() > low and piece.max() < high:  # as nearly all are
            continue
        v = piece.astype(np.int64)
        hardest = v[int(np.argmax(np.einsum("ij,ij->i", v, v)))]
        if ((hardest <= low) | (hardest >= high)).any():
            cut[fall].append(i)
    return ClippedPeaks(len(cut[1]), of[1], len(cut[0]), of[0], tuple(cut[1]))

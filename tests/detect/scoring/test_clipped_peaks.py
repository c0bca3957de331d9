"""Which deciding peaks were cut off, counted by hand."""

from __future__ import annotations

import numpy as np

from detect.rule.timeline import even
from detect.scoring.clipped_peaks import ClippedPeaks, clipped_peaks
from detect.scoring.corpus import corpus_of
from detect.scoring.score import events_from


def recording(peak: tuple[int, int, int]) -> np.ndarray:
    counts = np.zeros((100, 3), np.int16)
    counts[50] = peak
    return counts


def test_only_the_hardest_sample_of_an_event_decides() -> None:
    """A fall at the end upwards, one at the end downwards, one short of it but larger, and a clap at it."""
    peaks = ((1392, 0, 0), (-2703, 0, 0), (1300, 1391, 1391), (0, 0, 1392))
    corpus = corpus_of([[recording(peak)] for peak in peaks])
    events = events_from([0, 1, 2, 3], [True, True, True, False], [0.9] * 4, [1.9] * 4, [even(100, 50)] * 4)
    assert clipped_peaks(corpus, events, [(-2703, 1392)] * 4) == ClippedPeaks(2, 3, 1, 1, (0, 1))
    assert clipped_peaks(corpus, events, [(-3000, 3000)] * 3 + [(-1000, 1000)]) == ClippedPeaks(0, 3, 1, 1)


def test_it_says_what_that_is_worth_and_whether_the_threshold_is_too_near() -> None:
    found = ClippedPeaks(83, 175, 99, 295)
    said = found.sentence(4.0, 4.18)
    assert "clipped in 83 of 175 falls and 99 of 295 other activities" in said
    assert "thresholds from 3.6 g on, near full scale, can't be judged" in said
    assert said.endswith("The impact threshold, 4.18 g, is one of them.")
    assert "is one of them" not in found.sentence(4.0, 2.0)
    assert ClippedPeaks(0, 3, 0, 3).sentence(4.0, 4.0) == ""

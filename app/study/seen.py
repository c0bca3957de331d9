"""A recording as the device would see it: counts at the front end's rate, each with its place in time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from data.recording import Recording
from detect.frontend import FrontEnd, rate_ratio, resample, to_counts
from detect.timeline import Timeline


@dataclass(frozen=True, eq=False)
class Seen:
    """`counts`: (n, 3) int16. `clamped`: values that the front end's range cut off, beside what the logger clipped."""

    counts: np.ndarray
    timeline: Timeline
    clamped: int
    resampled: bool

    def stretches(self) -> list[np.ndarray]:
        return np.split(self.counts, self.timeline.first[1:])


def device_rate(recording: Recording) -> float:
    """The rate a recording is taken to have: its nominal one, or what its stamps say where that is unknown."""
    # To a tenth, so that the resampler's fraction stays short; such a recording is only looked at, never scored.
    return recording.rate_hz if recording.rate_known else max(round(recording.fitted_rate_hz, 1), 0.1)


def seen_through(recording: Recording, front_end: FrontEnd) -> Seen:
    """Bring each stretch to the front end's rate and counts. Counts logged at that rate pass through untouched."""
    rate = device_rate(recording)
    ratio = rate_ratio(rate, front_end.rate_hz)
    ends = [s.first for s in recording.stretches[1:]] + [len(recording)]
    pieces, firsts, clamped, at = [], [], 0, 0
    for stretch, end in zip(recording.stretches, ends, strict=True):
        samples = recording.samples[stretch.first:end]
        if recording.unit != "counts":
            counts, outside = to_counts(resample(samples, rate, front_end.rate_hz), front_end)
        elif ratio == 1:
            counts, outside = np.asarray(samples, dtype=np.int16), 0
        else:
            counts, outside = to_counts(resample(samples / front_end.k, rate, front_end.rate_hz), front_end)
        pieces.append(counts)
        firsts.append(at)
        clamped += outside
        at += len(counts)
    timeline = Timeline(np.array(firsts), np.array([s.start_s for s in recording.stretches]),
                        np.array([s.step_s / float(ratio) for s in recording.stretches]), at)
    whole = pieces[0] if len(pieces) == 1 else np.concatenate(pieces)
    return Seen(np.ascontiguousarray(whole), timeline, clamped, ratio != 1)

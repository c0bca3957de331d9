"""A part that switches its range, scored against each of its ranges kept, over the same recordings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from detect.corpus import Corpus
from detect.device.material import Material, in_counts
from detect.device.ranges import AFTER_LOW, GAP, Switching, read
from detect.device.support import Recorded, refusal
from detect.device.what_if import clipped_falls, figures_by
from detect.figures import Figures
from detect.frontend import resample
from detect.rule import Rule, rule_of
from detect.settings import BadSetting, Settings
from detect.timeline import Timeline
from detect.workers import Cancelled


@dataclass(frozen=True)
class RangeScore:
    """How one way of reading scores, `name`; None where it can't be tried, `doubt` says why.

    Of `falls` so many `clipped`. `high_share`: of the samples read in the high range; `lost_share`: of those lost while
    the part settled.
    """

    name: str
    figures: Figures | None
    clipped: int = 0
    falls: int = 0
    high_share: float = 0.0
    switches_per_h: float = 0.0
    lost_share: float = 0.0
    doubt: str = ""


def compare(material: Material, recorded: Sequence[Recorded], part: Switching, settings: Settings,
            done: Callable[[float], None] | None = None, cancelled: Callable[[], bool] | None = None) \
        -> tuple[RangeScore, ...]:
    """The part that switches, then each of its ranges kept.

    BadSetting where the rule can't run on the stream; Cancelled. `done` hears the share that is worked out. What
    recordings can't bear is tried all the same, with the reason as a doubt: a comparison is worth something even where
    an impact was cut.
    """
    rule = rule_of(settings, part.stream)
    timelines = material.timelines(part.rate_hz)
    pieces = []
    for i, one in enumerate(material.sources):
        if cancelled is not None and cancelled():
            raise Cancelled
        pieces.append([resample(piece, one.rate_hz, part.rate_hz) for piece in one.stretches()])
        if done is not None:
            done(0.5 * (i + 1) / len(material.sources))
    found = [_switched(material, timelines, pieces, part, rule, _doubt(recorded, part))]
    events = material.events(timelines)
    lend = None if material.lender is None else material.lender(timelines)
    for name, share, front_end in zip(("watch range kept", "high range kept"), (0.0, 1.0), part.fixed, strict=True):
        try:
            own = rule_of(settings, front_end)
        except BadSetting as bad:
            found.append(RangeScore(name, None, doubt=f"{bad.key} {bad.message} {bad.remedy}"))
            continue
        corpus = in_counts(pieces, front_end)
        clipped, falls = clipped_falls(corpus, events, 2 ** (front_end.bits - 1) - 1)
        found.append(RangeScore(name, figures_by(own, corpus, events, lend), clipped, falls, share,
                                doubt=refusal(recorded, front_end.range_g, front_end.bits, front_end.rate_hz)))
    return tuple(found)


def _doubt(recorded: Sequence[Recorded], part: Switching) -> str:
    """Of rate and range the high one's, of steps the watch range's."""
    return refusal([Recorded(one.name, one.rate_hz, one.clips_g, 0.0) for one in recorded], part.high_g, part.bits,
                   part.rate_hz) \
        or refusal([Recorded(one.name, one.rate_hz, float("inf"), one.step_g) for one in recorded], part.watch_g,
                   part.bits, part.rate_hz)


def _switched(material: Material, timelines: list[Timeline], pieces: list[list[np.ndarray]], part: Switching,
              rule: Rule, doubt: str) -> RangeScore:
    reads = [[read(piece, part, rule) for piece in recording] for recording in pieces]
    every = [one for recording in reads for one in recording]
    counts = np.concatenate([np.empty((0, 3), np.int16), *(one.counts for one in every)])
    lost = np.concatenate([np.zeros(0, bool), *(one.lost for one in every)])
    lengths = np.array([len(one.counts) for one in every], dtype=np.int64)
    stretch_first = np.unique((np.cumsum(lengths) - lengths)[lengths > 0])
    if part.lost == GAP:  # the rule begins anew with what is lost, and once more after it
        stretch_first = np.union1d(stretch_first, np.flatnonzero(np.diff(lost.astype(np.int8), prepend=0)))
    sizes = [sum(len(one.counts) for one in recording) for recording in reads]
    corpus = Corpus(np.ascontiguousarray(counts), stretch_first,
                    np.concatenate(([0], np.cumsum(sizes, dtype=np.int64))).astype(np.int64))
    events = material.events(timelines)
    lend = None if material.lender is None else material.lender(timelines)
    clipped, falls = clipped_falls(corpus, events, part.top)
    hours, samples = sum(line.duration_s for line in timelines) / 3600, max(len(counts), 1)
    return RangeScore("switched" if part.way == AFTER_LOW else "both at once",
                      figures_by(rule, corpus, events, lend), clipped, falls,
                      sum(int(one.high.sum()) for one in every) / samples,
                      sum(one.switches for one in every) / hours if hours else 0.0, float(lost.sum()) / samples, doubt)

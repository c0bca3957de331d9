"""What happened along the recording: labels, the rule's stages, impacts and alarms, thousands as one."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from app.ui.charts.scale import Scale, TimeWindow, figure
from app.ui.trace.signal import DrawnSignal
from data.recordings.model import Label
from detect.rule.explanation import StageSpan

MOST_ROWS = 4
"""Of the label lane."""


def label_text(label: Label) -> str:
    """What stands on a label's band: its name, that it is a fall where the name doesn't say so, and that its times are
    proposed."""
    return f"{_title(label)}, proposed" if label.proposed else _title(label)


def _title(label: Label) -> str:
    if label.kind == "fall" and "fall" not in label.name.lower():
        return f"fall, {label.name}" if label.name else "fall"
    return label.name or label.kind


class Band(NamedTuple):
    """A label in view: its first pixel and the first after it, its row in the lane, its place in the recording's
    labels."""

    label: Label
    start: int
    end: int
    row: int
    at: int


class Labels:
    """Labels in the order of their onsets; one that holds for the whole recording begins and ends with it.

    `people`: whose they are, a row of the lane each; of more than fit the last share one.
    """

    def __init__(self, recorded: DrawnSignal) -> None:
        limits, labels = recorded.limits, recorded.trace.item.labels
        self._at = sorted(range(len(labels)), key=lambda i: _onset(labels[i], limits))
        self.labels = [labels[i] for i in self._at]
        self.start_s = np.array([_onset(label, limits) for label in self.labels])
        self.end_s = np.array([limits.end if label.end_s is None else label.end_s for label in self.labels])
        self.people = sorted({label.annotator for label in labels}) or [""]
        self.rows = min(len(self.people), MOST_ROWS)
        row = {person: min(i, MOST_ROWS - 1) for i, person in enumerate(self.people)}
        self._row = np.array([row[label.annotator] for label in self.labels], dtype=np.int64)

    def bands(self, time: Scale) -> list[Band]:
        """What shows of them, row by row from left to right; those on one place once."""
        seen = np.flatnonzero((self.end_s >= time.low) & (self.start_s <= time.high))
        left, right = round(time.start), round(time.end)
        x0, x1 = _pixels(time, self.start_s[seen], self.end_s[seen], least=2)
        across = right - left + 1
        places = (self._row[seen] * across + np.minimum(x0, right - 2) - left) * across + x1 - left
        kept = np.unique(places, return_index=True)[1]
        return [Band(self.labels[seen[i]], int(x0[i]), int(x1[i]), int(self._row[seen[i]]), self._at[seen[i]])
                for i in kept]

    def times(self, at: int) -> tuple[float, float]:
        """From when to when a label holds."""
        i = self._at.index(at)
        return float(self.start_s[i]), float(self.end_s[i])

    def words(self, at: int) -> str:
        return label_words(self.labels[self._at.index(at)])

    def __len__(self) -> int:
        return len(self.labels)

    def band(self, at: int, time: Scale) -> Band | None:
        """Where one label shows; None where it doesn't."""
        if at not in self._at:
            return None
        i = self._at.index(at)
        if self.end_s[i] < time.low or self.start_s[i] > time.high:
            return None
        x0, x1 = _pixels(time, self.start_s[i:i + 1], self.end_s[i:i + 1], least=2)
        return Band(self.labels[i], int(x0[0]), int(x1[0]), int(self._row[i]), at)


def label_words(label: Label) -> str:
    """A label with its times, its annotator and comment: "fall, backward, 7.20 to 8.70 s, by AB: hard"."""
    if label.onset_s is None or label.end_s is None:
        times = ", the whole recording"
    else:
        times = f", {figure(label.onset_s, 2)} to {figure(label.end_s, 2)}\u00a0s"
    by = f", by {label.annotator}" if label.annotator else ""
    return label_text(label) + times + by + (f": {label.comment}" if label.comment else "")


def _onset(label: Label, limits: TimeWindow) -> float:
    return limits.start if label.onset_s is None else label.onset_s


def _pixels(time: Scale, start_s: np.ndarray, end_s: np.ndarray, least: int) -> tuple[np.ndarray, np.ndarray]:
    """First pixel and the first after it, cut to the picture, at least so wide."""
    left, right = round(time.start), round(time.end)
    x0 = np.clip(np.rint(time.pixel(start_s)), left, right - least).astype(np.int64)
    x1 = np.clip(np.rint(time.pixel(end_s)), x0 + least, right).astype(np.int64)
    return x0, x1


def runs(x0: np.ndarray, x1: np.ndarray) -> list[tuple[int, int]]:
    """Stretches of pixels covered by any of x0 … x1 − 1, however many there are."""
    if not len(x0):
        return []
    left = int(x0.min())
    change = np.zeros(int(x1.max()) - left + 1, np.int64)
    np.add.at(change, x0 - left, 1)
    np.add.at(change, x1 - left, -1)
    covered = np.concatenate([[False], np.cumsum(change) > 0])
    turns = np.flatnonzero(covered[1:] != covered[:-1]) + left
    return list(zip(turns[::2].tolist(), turns[1::2].tolist(), strict=True))


class Stages:
    """Spans in order, and the seconds from each first sample's time to its last one's end."""

    def __init__(self, recorded: DrawnSignal, spans: Sequence[StageSpan]) -> None:
        self.spans = spans
        self._first = np.fromiter((s.first for s in spans), np.int64, len(spans))
        self._last = np.fromiter((s.last for s in spans), np.int64, len(spans))
        names = [s.stage for s in spans]
        self._of_stage = {name: np.array([other == name for other in names]) for name in set(names)}
        line = recorded.trace.seconds
        self.start_s = line.seconds(self._first)
        stretch = np.searchsorted(line.first, self._last, side="right") - 1
        self.end_s = line.seconds(self._last) + line.step_s[stretch]

    def blocks(self, stage: str, time: Scale) -> list[tuple[int, int]]:
        """First pixel and the first after it of where a stage shows; what touches is one block."""
        here = self.seen(TimeWindow(time.low, time.high))
        if stage not in self._of_stage or not here:
            return []
        held = here.start + np.flatnonzero(self._of_stage[stage][here.start:here.stop])
        return runs(*_pixels(time, self.start_s[held], self.end_s[held], least=1))

    def wide(self, time: Scale, least: int) -> list[tuple[StageSpan, int, int]]:
        """Spans in view that are at least so many pixels wide, with first pixel and the first after it."""
        here = self.seen(TimeWindow(time.low, time.high))
        x0, x1 = _pixels(time, self.start_s[here.start:here.stop], self.end_s[here.start:here.stop], least=1)
        wide = np.flatnonzero(x1 - x0 >= least).tolist()
        return [(self.spans[here.start + i], int(x0[i]), int(x1[i])) for i in wide]

    def at(self, sample: int) -> StageSpan | None:
        i = int(np.searchsorted(self._first, sample, side="right")) - 1
        return self.spans[i] if i >= 0 and sample <= self._last[i] else None

    def seen(self, window: TimeWindow) -> range:
        """Indices of the spans that show."""
        return range(int(np.searchsorted(self.end_s, window.start, side="right")),
                     int(np.searchsorted(self.start_s, window.end, side="left")))


class Marks:
    """Samples at which something happened, when that was and the magnitude there."""

    def __init__(self, recorded: DrawnSignal, samples: Sequence[int]) -> None:
        self.samples = np.unique(np.asarray(samples, dtype=np.int64))
        self.seconds = recorded.trace.seconds.seconds(self.samples)
        g = recorded.trace.counts[self.samples] / recorded.trace.counts_per_g
        self.magnitude_g = np.sqrt((g * g).sum(axis=1))

    def standing(self, time: Scale, least: float) -> tuple[np.ndarray, np.ndarray]:
        """Pixels and magnitudes of the marks in view; of those closer together than `least` pixels the first."""
        here = slice(int(np.searchsorted(self.seconds, time.low, side="left")),
                     int(np.searchsorted(self.seconds, time.high, side="right")))
        pixels = time.pixel(self.seconds[here])
        kept = apart(pixels.tolist(), least)
        return pixels[kept], self.magnitude_g[here][kept]


def apart(pixels: list[float], least: float) -> list[int]:
    """Indices of those of ascending pixels that stand at least so far from the one kept before."""
    kept: list[int] = []
    i = 0
    while i < len(pixels):
        kept.append(i)
        i = max(bisect_left(pixels, pixels[i] + least), i + 1)
    return kept

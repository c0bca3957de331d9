"""What happened along the recording: labels, the rule's stages, impacts and alarms, thousands as one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from app.plot.recorded import Recorded
from app.plot.scale import Window
from app.study.shown import StageSpan
from data.recording import Label


def label_text(label: Label) -> str:
    """What stands on a label's band: its name, and that it is a fall where the name doesn't say so."""
    if label.kind == "fall" and "fall" not in label.name.lower():
        return f"fall, {label.name}" if label.name else "fall"
    return label.name or label.kind


class Stages:
    """Spans in order, and the seconds from each first sample's time to its last one's end."""

    def __init__(self, recorded: Recorded, spans: Sequence[StageSpan]) -> None:
        self.spans = spans
        self._first = np.fromiter((s.first for s in spans), np.int64, len(spans))
        self._last = np.fromiter((s.last for s in spans), np.int64, len(spans))
        line = recorded.trace.seconds
        self.start_s = line.seconds(self._first)
        stretch = np.searchsorted(line.first, self._last, side="right") - 1
        self.end_s = line.seconds(self._last) + line.step_s[stretch]

    def at(self, sample: int) -> StageSpan | None:
        i = int(np.searchsorted(self._first, sample, side="right")) - 1
        return self.spans[i] if i >= 0 and sample <= self._last[i] else None

    def seen(self, window: Window) -> range:
        """Indices of the spans that show."""
        return range(int(np.searchsorted(self.end_s, window.start, side="right")),
                     int(np.searchsorted(self.start_s, window.end, side="left")))


class Marks:
    """Samples at which something happened."""

    def __init__(self, recorded: Recorded, samples: Sequence[int]) -> None:
        self.samples = np.unique(np.asarray(samples, dtype=np.int64))
        self.seconds = recorded.trace.seconds.seconds(self.samples)

    def seen(self, window: Window) -> slice:
        return slice(int(np.searchsorted(self.seconds, window.start, side="left")),
                     int(np.searchsorted(self.seconds, window.end, side="right")))


def apart(pixels: np.ndarray, least: float) -> list[int]:
    """Indices of those of ascending pixels that stand at least so far from the one kept before."""
    kept: list[int] = []
    i = 0
    while i < len(pixels):
        kept.append(i)
        i = max(int(np.searchsorted(pixels, pixels[i] + least)), i + 1)
    return kept

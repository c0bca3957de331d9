"""Recordings as true motion at the front end's rate: as they are worn, brought to one rate, not yet in counts."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from app.study.pipeline import Prepared
from app.study.seen import device_rate
from app.study.state import Study
from app.study.worn import as_worn
from data.recording import Recording
from detect.device.sampled import Motion
from detect.frontend import FrontEnd, resample


def motion_of(study: Study, prepared: Prepared) -> tuple[Motion, np.ndarray]:
    """All recordings of `prepared` and, of each stretch of motion, the recording's number."""
    items = {item.name: item for item in study.items}
    pieces, numbers = [], []
    for number, (name, recording) in enumerate(zip(prepared.names, prepared.recordings, strict=True)):
        for piece in stretches(as_worn(items[name], recording), study.front_end):
            pieces.append(piece)
            numbers.append(number)
    lengths = np.array([len(piece) for piece in pieces], dtype=np.int64)
    g = np.concatenate([np.empty((0, 3)), *pieces])
    return Motion(np.ascontiguousarray(g.T), np.cumsum(lengths) - lengths), np.array(numbers, dtype=np.int64)


def stretches(recording: Recording, front_end: FrontEnd) -> list[np.ndarray]:
    """Each stretch in g, (n, 3) float64, at the front end's rate: `seen.seen_through` before it counts."""
    ends = [stretch.first for stretch in recording.stretches[1:]] + [len(recording)]
    scale = front_end.k if recording.unit == "counts" else 1.0
    return [resample(recording.samples[stretch.first:end] / scale, device_rate(recording), front_end.rate_hz)
            for stretch, end in zip(recording.stretches, ends, strict=True)]


def clipped(prepared: Prepared) -> Mapping[str, Recording]:
    """Recordings in which the logger's own range cut something off."""
    return {name: one for name, one in zip(prepared.names, prepared.recordings, strict=True) if one.clipped}

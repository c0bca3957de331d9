"""A small made-up recording with a fall in it, for the tests of the trace."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from app.study.results.content import Trace
from app.study.state import Item
from data.recordings.model import About, Label
from detect.rule.explanation import StageSpan
from detect.rule.timeline import Timeline, even

K = 512.0
RATE_HZ = 50.0
COUNT = 1000
"""20 seconds."""

IMPACT = 393
SPANS = (StageSpan(0, 374, "watch"), StageSpan(375, 392, "free fall", 0), StageSpan(393, 393, "impact", 0),
         StageSpan(394, 443, "settle", 0), StageSpan(444, 543, "observe", 0, "not still"),
         StageSpan(544, 999, "watch"))


def counts(samples: int = COUNT) -> np.ndarray:
    """Upright and walking, 0.36 s of free fall, a knock of 3 g, then lying."""
    t = np.arange(samples) / RATE_HZ
    g = np.column_stack([np.zeros(samples), 1 + 0.2 * np.sin(6 * t), 0.1 * np.cos(5 * t)])
    g[375:393] = 0.1
    g[393:394] = (2.0, -2.0, 1.0)
    g[394:] = (-0.9, 0.2, 0.3)
    return np.floor(g * K + 0.5).astype(np.int16)


def item(name: str = "W04 porch back 2") -> Item:
    return Item(name, f"/recordings/{name}.csv", about=About("W04", "back step off porch", "wrist", "2"),
                labels=(Label("fall", "backward", 7.2, 8.7),))


def trace(samples: int = COUNT, name: str = "W04 porch back 2") -> Trace:
    return Trace(item(name), counts(samples), K, even(samples, RATE_HZ), "wrist · 20 s · 50 Hz")


def with_gap(samples: int = COUNT, first: int = 500, resumes_s: float = 14.0) -> Trace:
    """Samples are missing from 10 s to 14 s."""
    line = Timeline(np.array([0, first]), np.array([0.0, resumes_s]), np.array([0.02, 0.02]), samples)
    return replace(trace(samples), seconds=line)

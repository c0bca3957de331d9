"""A small course: people fall, land and walk in g at 50 Hz; one recording has a gap, one no label."""

from __future__ import annotations

import numpy as np

from detect.device.spread.signal import Motion
from detect.device.spread.tolerance import Course
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import DEFAULTS
from detect.rule.timeline import Timeline, even
from detect.scoring.score import events_from

FRONT_END = FrontEnd(4.0, 12, 50.0)
RULE = rule_of(DEFAULTS, FRONT_END)
RATE_HZ = FRONT_END.rate_hz
IMPACT = 400
SECONDS = 14


def fall(low_g: float, impact_g: float, low: int = 15, turned: bool = True, still_g: float = 0.02,
         seed: int = 0) -> np.ndarray:
    """Standing on y, a low row that ends before sample IMPACT, an impact, lying on x; (n, 3)."""
    n = int(SECONDS * RATE_HZ)
    g = np.zeros((n, 3))
    g[:, 1] = 1.0
    g[IMPACT - low:IMPACT, 1] = low_g
    g[IMPACT] = (impact_g, 0.0, 0.0)
    if turned:
        g[IMPACT + 1:] = (1.0, 0.0, 0.0)
    return g + np.random.default_rng(seed).normal(0, still_g, (n, 3))


def walk(seed: int) -> np.ndarray:
    t = np.arange(int(SECONDS * RATE_HZ)) / RATE_HZ
    g = np.column_stack([np.zeros_like(t), 1 + 0.6 * np.sin(2 * np.pi * 1.9 * t), np.zeros_like(t)])
    return g + np.random.default_rng(seed).normal(0, 0.03, g.shape)


def course(rule: Rule = RULE, noise_filter: str = "one pole") -> Course:
    """Falls on either side of the free-fall and impact thresholds, so that devices tell them apart differently."""
    falls = [fall(low, impact, seed=i) for i, (low, impact) in enumerate(
        [(0.2, 3.5), (0.55, 3.0), (0.59, 2.5), (0.62, 2.5), (0.3, 2.02), (0.3, 1.98), (0.3, 2.1), (0.56, 1.93)])]
    others = [fall(0.59, 2.4, seed=20), fall(0.63, 2.1, seed=21), walk(22), walk(23), fall(0.3, 3.0, seed=24,
                                                                                           turned=False)]
    days = [np.concatenate([fall(0.57, 2.05, seed=30), walk(31), fall(0.58, 2.2, seed=32)])]
    pieces = [*falls, *others, *days]
    lengths = np.array([len(piece) for piece in pieces])
    first = np.cumsum(lengths) - lengths
    recording_of = np.arange(len(pieces))
    # The first walk has a gap in its middle: two stretches of one recording.
    at = len(falls) + 2
    gap = first[at] + lengths[at] // 2
    first = np.insert(first, at + 1, gap)
    recording_of = np.insert(recording_of, at + 1, at)
    lines = [even(n, RATE_HZ) for n in lengths.tolist()]
    half = int(lengths[at] // 2)
    lines[at] = Timeline(np.array([0, half]), np.array([0.0, 60.0]), np.array([1, 1]) / RATE_HZ, int(lengths[at]))
    number = len(falls) + len(others)
    onset: list[float | None] = [(IMPACT - 20) / RATE_HZ] * len(falls)
    end: list[float | None] = [(IMPACT + 10) / RATE_HZ] * len(falls)
    events = events_from(list(range(number)), [i < len(falls) for i in range(number)], onset + [None] * len(others),
                         end + [None] * len(others), lines, setting=["staged"] * number + ["free-living"])
    motion = Motion(np.ascontiguousarray(np.concatenate(pieces).T), first)
    return Course(motion, recording_of, len(pieces), FRONT_END, rule, events, noise_filter)

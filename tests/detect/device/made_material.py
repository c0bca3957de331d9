"""Material made in memory: people who fall and people who walk, at one rate, in steps of one size."""

from __future__ import annotations

import numpy as np

from detect.device.part.material import Material, TrialRecording
from detect.rule.timeline import Timeline, even


def fall(rate_hz: float, impact_g: float = 3.0, seconds: float = 20.0) -> np.ndarray:
    """Standing, 0.3 s of free fall, a half-sine impact of 100 ms at 10 s, lying: (n, 3) in g."""
    t = np.arange(int(seconds * rate_hz)) / rate_hz
    g = np.tile([0.0, 1.0, 0.0], (len(t), 1))
    g[(t >= 9.65) & (t < 9.95)] = [0.0, 0.2, 0.0]
    g[t >= 9.95] = [1.0, 0.0, 0.0]
    hit = (t >= 9.95) & (t <= 10.05)
    g[hit, 0] = 1 + (impact_g - 1) * np.sin(np.pi * (t[hit] - 9.95) / 0.1)
    return g


def walk(rate_hz: float, seconds: float = 20.0) -> np.ndarray:
    t = np.arange(int(seconds * rate_hz)) / rate_hz
    return np.column_stack([0.1 * np.sin(11 * t), 1 + 0.25 * np.sin(11.3 * t), 0.05 * np.cos(7 * t)])


def material(pieces: list[tuple[np.ndarray, bool]], rate_hz: float = 100.0, step_g: float = 0.0,
             lines: list[Timeline] | None = None) -> Material:
    """One recording a piece, whether it is a fall beside it; two people take turns."""
    rounded = [piece if not step_g else np.round(piece / step_g) * step_g for piece, _ in pieces]
    sources = tuple(TrialRecording(f"R{i}", g, 1.0, rate_hz, lines[i] if lines else even(len(g), rate_hz), "staged",
                                   i % 2)
                    for i, g in enumerate(rounded))
    falls = tuple(is_fall for _, is_fall in pieces)
    return Material(sources, tuple(range(len(pieces))), falls,
                    tuple(9.5 if is_fall else None for is_fall in falls),
                    tuple(11.0 if is_fall else None for is_fall in falls), 0.5, 1.0, 2, (True,) * len(pieces))

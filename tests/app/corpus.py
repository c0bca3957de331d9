"""Recordings made so that each setting, moved far enough alone, changes what becomes of them."""

from __future__ import annotations

from pathlib import Path

import numpy as np

RATE = 50
RECIPE = """
[files]
pattern = "{person}_{activity}_{trial}.csv"
[time]
stamps = "as-stamped"
rates_hz = [50]
[about]
placement = "waist"
setting = "staged"
"""
STORY_S = 20.0
IMPACT_S = 12.0
FAR_END = {
    "free_fall_g": "low", "free_fall_ms": "high", "impact_g": "high", "impact_within_ms": "low", "settle_ms": "low",
    "observe_ms": "high", "tilt_deg": "high", "baseline_ms": "high", "reclined_deg": "high", "still_g": "low",
    "guard_ms": "high", "active_band_g": "low", "active_window_ms": "high", "active_share_pct": "low",
    "hold_off_ms": "high",
}
"""To which end of its slider a setting goes to lose a fall of this corpus, with every check on."""


def fall_story() -> np.ndarray:
    """20 s with an impact at 12 s, (1000, 3) in g: vigorous, lying, upright, falling, bouncing, lying, getting up.

    Upright only shortly before the fall (baseline, guard), movement of ±0.35 g before it (active), five samples of
    1 g between low and impact (within), bounces for 0.8 s (settle), getting up 5 s later (observe).
    """
    t = np.arange(int(STORY_S * RATE)) / RATE - IMPACT_S
    along_x, along_y = np.zeros_like(t), np.zeros_like(t)
    flip = np.where(np.arange(len(t)) % 2 == 0, 1.0, -1.0)
    calm = 1 + 0.35 * np.sin(2 * np.pi * 1.3 * t)

    def during(start: float, end: float) -> np.ndarray:
        return (t >= start - 1e-9) & (t < end - 1e-9)

    def put(axis: np.ndarray, start: float, end: float, value: np.ndarray | float) -> None:
        where = during(start, end)
        axis[where] = value[where] if isinstance(value, np.ndarray) else value

    put(along_x, -12, -6.5, np.where(flip > 0, 1.5, 0.65))
    put(along_x, -6.5, -2.5, calm)
    put(along_y, -2.5, -0.4, calm)
    put(along_y, -0.4, -0.1, 0.3)
    put(along_y, -0.1, 0, 1.0)
    put(along_x, 0, 0.02, 3.0)
    put(along_x, 0.02, 0.8, 1 + 0.7 * flip)
    put(along_x, 0.8, 5, 1 + 0.05 * flip)
    put(along_x, 5, 7, 1 + 0.5 * flip)
    put(along_x, 7, 8, 1.0)
    return np.column_stack([along_x, along_y, np.zeros_like(t)])


def walk(seconds: float = 30.0) -> np.ndarray:
    t = np.arange(int(seconds * RATE)) / RATE
    y = 1 + 0.3 * np.sin(2 * np.pi * 1.8 * t)
    return np.column_stack([np.zeros_like(t), y, np.zeros_like(t)])


def write(folder: Path) -> Path:
    """Two recordings with two falls each, two of walking, one broken file, labels and a recipe."""
    folder.mkdir(parents=True, exist_ok=True)
    fall = np.vstack([fall_story(), fall_story()])
    for name, samples in (("W01_fall_1", fall), ("W02_fall_1", fall), ("W01_walk_1", walk()), ("W02_walk_1", walk())):
        write_csv(folder / f"{name}.csv", samples)
    (folder / "W03_fall_1.csv").write_text("t_s,ax_g,ay_g,az_g\n0.00,0,1,0\n0.02,0,abc,0\n0.04,0,1,0\n")
    rows = ["recording\tonset\tduration\ttrial_type"]
    for who in ("W01", "W02"):
        rows += [f"{who}_fall_1\t{start + IMPACT_S - 0.5}\t1.5\tfall" for start in (0.0, STORY_S)]
    (folder / "made_events.tsv").write_text("\n".join(rows) + "\n")
    (folder / "made.toml").write_text(RECIPE + '[labels]\nfalls = ["fall"]\n')
    return folder


def write_csv(path: Path, g: np.ndarray) -> None:
    lines = ["t_s,ax_g,ay_g,az_g"]
    lines += [f"{i / RATE:.2f},{x:.6f},{y:.6f},{z:.6f}" for i, (x, y, z) in enumerate(g)]
    path.write_text("\n".join(lines) + f"\n# {path.name}\n")  # the same samples, and no two files the same

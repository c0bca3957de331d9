"""Recordings made for tests: a wearer at rest who moves a little, so that gravity reads 1 g."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def wearer(samples: int, seed: int = 0) -> np.ndarray:
    """(n, 3) in g, rounded to a thousandth: upright along y, with a tremor of 20 mg and a bump in the middle."""
    rng = np.random.default_rng(seed)
    motion = rng.normal(0, 0.02, (samples, 3)) + np.array([0.0, 1.0, 0.0])
    middle = samples // 2
    motion[middle : middle + 5] += (0.5, 0.7, -0.4)
    return np.round(motion, 3)


def csv_text(
    header: str = "time_s,x_g,y_g,z_g",
    samples: np.ndarray | None = None,
    times: Sequence[float] | np.ndarray | None = None,
    delimiter: str = ",",
    decimal: str = ".",
    end: str = "\n",
) -> str:
    """A table as a logger writes it; 200 samples at 50 Hz where nothing else is said."""
    rows = wearer(200) if samples is None else samples
    stamps = np.arange(len(rows)) * 0.02 if times is None else times
    lines = [header] if header else []
    for t, row in zip(stamps, rows, strict=True):
        cells = [f"{t:.3f}", *(f"{v:.3f}" for v in row)]
        lines.append(delimiter.join(cell.replace(".", decimal) for cell in cells))
    return end.join(lines) + end


def burst_stamps(
    samples: int,
    rate_hz: float,
    pause_s: float = 0.1,
    start_s: float = 0.0,
    late: dict[int, float] | None = None,
    seed: int = 0,
) -> np.ndarray:
    """Stamps of a buffer that is emptied every `pause_s`: each sample gets the time of its reading, 2 ms apart.

    Sample i was taken at start_s + i / rate_hz. `late`: by how many seconds some readings (by number) were delayed.
    """
    rng = np.random.default_rng(seed)
    taken = start_s + np.arange(samples) / rate_hz
    readings = start_s + pause_s * np.arange(1, int(samples / rate_hz / pause_s) + 3)
    readings = readings + rng.uniform(0, 0.01, len(readings))
    for reading, delay in (late or {}).items():
        if reading < len(readings):
            readings[reading] += delay
    readings = np.maximum.accumulate(readings)
    which = np.searchsorted(readings, taken)
    stamps = readings[which]
    within = np.arange(samples) - np.searchsorted(which, which)
    return np.round(stamps + 0.002 * within, 3)

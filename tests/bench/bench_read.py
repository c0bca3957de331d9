"""Reading a large table into a checked recording, against pandas' bare read of the same file in the same run."""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from app.cli.read import with_options
from app.study.workers import workers_for
from data.recipe.recipe import Recipe
from data.recordings.batch import read_sources
from data.recordings.reading import read_recording
from tests.data.made import csv_text, wearer

BAR = 1.6
ROWS = 3_000_000
ROUNDS = 5
FILES, FILE_ROWS, FOLDER_BAR = 2000, 1500, 0.7


def write_table(path: Path, rows: int) -> None:
    """A day's walk of a calm wearer: time in s with 3 decimals, three axes in g with 4."""
    rng = np.random.default_rng(20)
    motion = rng.normal(0, 0.05, (rows, 3)) + np.array([0.0, 1.0, 0.0])
    table = pd.DataFrame(np.round(motion, 4), columns=["x_g", "y_g", "z_g"])
    table.insert(0, "time_s", np.round(np.arange(rows) * 0.02, 3))
    table.to_csv(path, index=False)


def seconds(work: Callable[[], object]) -> float:
    """Wall time of one call."""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


class Timed:
    """Wall and processor seconds of one call, both with all its threads."""

    def __init__(self, work: Callable[[], object]) -> None:
        begun = time.process_time()
        self.wall = seconds(work)
        self.processor = time.process_time() - begun


def measure(rows: int = ROWS, rounds: int = ROUNDS) -> dict[str, float]:
    """Median seconds of the bare read and of ours, and the median of the rounds' ratios, for each kind of stamps.

    "one": against the bare read on one core; else against it on all cores, as it reads by itself.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "walk.csv"
        write_table(path, rows)
        size = path.stat().st_size
        recipes = {kind: with_options(Recipe(), stamps=kind, rates_hz=[50]) for kind in ("as-stamped", "bursts")}
        times: dict[str, list[Timed]] = {"bare": [], "one": [], **{kind: [] for kind in recipes}}
        pd.read_csv(path)  # the disk's cache is warm for both
        for _ in range(rounds):
            times["bare"].append(Timed(lambda: pd.read_csv(path)))
            with pd.option_context("mode.max_threads", 1):
                times["one"].append(Timed(lambda: pd.read_csv(path)))
            for kind, recipe in recipes.items():
                times[kind].append(Timed(lambda recipe=recipe: read_recording(path.read_bytes(), "walk", recipe)))
    found = {"MB": size / 1e6} | {f"{kind} s": statistics.median(t.wall for t in some) for kind, some in times.items()}
    for kind in recipes:
        for bare in ("bare", "one"):
            pairs = list(zip(times[kind], times[bare], strict=True))
            found[f"{kind} / {bare}"] = statistics.median(ours.wall / theirs.wall for ours, theirs in pairs)
        found[f"{kind} processor"] = statistics.median(ours.processor / theirs.processor for ours, theirs in pairs)
    return found


def measure_folder(files: int = FILES, rows: int = FILE_ROWS, rounds: int = 3) -> float:
    """Seconds that a folder of many files takes with workers, over those that it takes without."""
    text = csv_text(samples=wearer(rows))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for i in range(files):
            (folder / f"{i}.csv").write_text(text)
        ratios = []
        for _ in range(rounds):
            alone = seconds(lambda: read_sources([folder], Recipe()))
            ratios.append(seconds(lambda: _together(folder)) / alone)
    return statistics.median(ratios)


def _together(folder: Path) -> None:
    with workers_for([folder]) as executor:
        read_sources([folder], Recipe(), executor=executor)


def main() -> bool:
    """Print the figures; whether they are within the bar."""
    found = measure()
    size = found["MB"]
    print(f"read {ROWS / 1e6:g} M rows, {size:.0f} MB: pandas alone {1000 * found['bare s'] / size:.1f} ms/MB, "
          f"on one core {1000 * found['one s'] / size:.1f}")
    good = True
    for kind in ("as-stamped", "bursts"):
        good = good and found[f"{kind} / bare"] <= BAR
        each = 1000 * found[f"{kind} s"] / size
        print(f"  checked recording, {kind}: {each:.1f} ms/MB, {found[f'{kind} / bare']:.2f} × (bar {BAR:g} ×); on one "
              f"core {found[f'{kind} / one']:.2f} ×, {found[f'{kind} processor']:.2f} × its processor time")
    ratio = measure_folder()
    print(f"read a folder of {FILES} files: with workers {ratio:.2f} × the time without (bar {FOLDER_BAR:g} ×)")
    return good and ratio <= FOLDER_BAR


if __name__ == "__main__":
    raise SystemExit(0 if main() else 1)

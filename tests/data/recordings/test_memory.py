"""What reading takes of memory, by the byte of the file: at most 40 at its height, whatever kind of table it is."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

MOST_BYTES_A_BYTE = 40
ROOT = Path(__file__).parents[3]

CHILD = r"""
import sys, threading, time
from dataclasses import replace
import numpy as np
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import Clock, RowChoice, SplitColumns
from data.recordings.reading import read_recordings
from tests.data.made import csv_text, wearer

def made(kind, count):
    walk = wearer(count)
    if kind == "dates":
        return "time,x_g,y_g,z_g\n" + "".join(
            f"2024-05-31T{10 + i // 180000:02}:{i // 3000 % 60:02}:{i // 50 % 60:02}.{i % 50 * 20:03},{x},{y},{z}\n"
            for i, (x, y, z) in enumerate(walk.tolist()))
    if kind == "long":
        return "time_s,x_g,y_g,z_g,run,sensor type\n" + "".join(
            f"{i // 2 * 0.02:.2f},{x},{y},{z},{i % 2},{kind}\n" for i, (x, y, z) in enumerate(walk.tolist())
            for kind in (0, 1))
    if kind == "short rows":
        return "t_s,x_g,y_g,z_g\n" + "".join(f"{i % 10},1,0,{i % 7}\n" for i in range(3 * count))
    text = csv_text(samples=walk)
    return text[:-10] + "abc\n" if kind == "a fault at its end" else text

RECIPES = {"long": Recipe(split=SplitColumns(trial="run"), rows=RowChoice("sensor type", ("0",))),
           "short rows": Recipe(clock=Clock("even", (50.0,)))}

def resident():
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * 4096

kind = sys.argv[1]
recipe = RECIPES.get(kind, Recipe())
try:
    read_recordings([made(kind, 500).encode()], "a", recipe)  # libraries are loaded
except Problem:
    pass
raw = made(kind, 200_000).encode()
before, peak, done = resident(), [0], threading.Event()

def watch():
    while not done.wait(0.002):
        peak[0] = max(peak[0], resident())

watcher = threading.Thread(target=watch)
watcher.start()
try:
    read_recordings([raw], "a", recipe)
except Problem:
    pass
done.set()
watcher.join()
print((peak[0] - before) / len(raw))
"""


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
@pytest.mark.parametrize("kind", ["plain", "dates", "long", "short rows", "a fault at its end"])
def test_no_table_takes_more_than_forty_bytes_a_byte(kind):
    done = subprocess.run([sys.executable, "-c", CHILD, kind], cwd=ROOT, capture_output=True,
                          text=True, timeout=120, check=True)
    assert float(done.stdout) <= MOST_BYTES_A_BYTE

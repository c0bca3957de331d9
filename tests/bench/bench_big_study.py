"""Reading and scoring a study of thousands of files: `python -m tests.bench.bench_big_study [--people FOLDER]`.

Nine integers a line and no times at 200 Hz, as loggers with three sensors write them: 4 505 files, 730 MB, 22 h. They
are made here; with --people they are the files of a folder (FOLDER/<person>/<activity>_<person>_R<trial>.txt), each so
often as it takes, turned, shifted in time and with noise on it: good for what it costs, and for no figure about falls.

Every number is of a process of its own: cold once, warm as the median of rounds. "Within" is the time from the
command's first line on, without the start of the interpreter; `plumbfall help` measures what any command takes.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from tests.bench.made import Maker

FILES, RATE_HZ, COUNTS_PER_G = 4505, 200, 256
READ_BAR_S, WARM_BAR_S, ROUNDS = 20.0, 2.0, 3
RECIPE = '''[files]
pattern = "{activity}_{person}_R{trial}.txt"
[columns]
x = 1
y = 2
z = 3
[units]
acceleration = "raw"
range_g = 16
[raw]
bits = 13
[time]
stamps = "even"
rates_hz = [200]
[labels]
falls = ["F*"]
whole_recordings = true
[front_end]
range_g = 16
bits = 13
rate_hz = 50
'''
TIMED = """
import sys, time
began = time.perf_counter(), time.process_time()
from app.__main__ import main
code = main(sys.argv[1:])
print(time.perf_counter() - began[0], time.process_time() - began[1], file=sys.stderr)
sys.exit(code)
"""


def made_people(rng: np.random.Generator) -> list[tuple[str, np.ndarray]]:
    """Names and (n, 9) counts: falls of 15 s, activities of 12, 25 and 100 s."""
    found = []
    for person in range(4):
        for activity, seconds in zip(("F01", "F02", "F03", "D01", "D02", "D03", "D04"), (15, 15, 15, 12, 25, 12, 100),
                                     strict=True):
            maker = Maker(rng, RATE_HZ)
            parts = [maker.fall() if activity[0] == "F" else maker.hard_landing()]
            while sum(map(len, parts)) < seconds * RATE_HZ:
                parts.append(maker.walk(seconds / 2) if rng.random() < 0.7 else maker.rest(seconds / 2))
            g = np.concatenate(parts)[: seconds * RATE_HZ]
            found.append((f"{activity}_P{person}", np.column_stack([g, g, g]) * COUNTS_PER_G))
    return found


def people_of(folder: Path) -> list[tuple[str, np.ndarray]]:
    found = []
    for path in sorted(folder.rglob("*.txt")):
        table = pd.read_csv(path, header=None, sep="[,;]", engine="python")
        found.append((path.stem.rpartition("_R")[0], table.iloc[:, :9].to_numpy()))
    return found


def write_files(folder: Path, people: list[tuple[str, np.ndarray]], files: int) -> float:
    """So many files; how many MB they are."""
    rng, size = np.random.default_rng(5), 0
    for number in range(files):
        name, counts = people[number % len(people)]
        activity, _, person = name.partition("_")
        turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
        moved = np.roll(counts, int(rng.integers(len(counts))), axis=0).reshape(-1, 3, 3) @ turn
        moved = np.rint(moved.reshape(-1, 9) + rng.normal(0, 2, counts.shape)).astype(int)
        text = "".join(",".join(f"{one:4}" for one in row) + ";\r\n" for row in moved.tolist())
        again = number // len(people)
        (folder / f"{activity}_{person}x{again}_R{number:04}.txt").write_text(text, newline="")
        size += len(text)
    return size / 1e6


class Timed:
    """One run of a command: seconds by the clock and of processors, of all its processes, and within."""

    def __init__(self, *words: str) -> None:
        before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        done = subprocess.run([sys.executable, "-c", TIMED, *words], capture_output=True, text=True)
        self.clock = time.perf_counter() - began
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        if done.returncode:
            raise SystemExit(done.stderr)
        self.processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        self.within, self.within_processor = map(float, done.stderr.splitlines()[-1].split())
        self.said = done.stdout

    def words(self) -> str:
        return f"{self.clock:.2f} s, {self.processor:.2f} s of processors; within {self.within:.2f} s"


def median(*words: str, rounds: int = ROUNDS) -> Timed:
    runs = sorted((Timed(*words) for _ in range(rounds)), key=lambda one: one.clock)
    return runs[len(runs) // 2]


def main() -> bool:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--people", type=Path, help="a folder of files to multiply")
    asked.add_argument("--files", type=int, default=FILES)
    asked.add_argument("--keep", type=Path, help="write the files there once, and find them there again")
    options = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        home = options.keep or Path(name)
        folder, study = home / "files", home / "study.json"
        os.environ["XDG_CACHE_HOME"] = str(home / "cache")
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # an installed program is compiled once
        os.environ["PYTHONPYCACHEPREFIX"] = str(home / "compiled")
        os.environ["PYTHONPATH"] = os.pathsep.join([str(Path(__file__).parents[2]), os.environ.get("PYTHONPATH", "")])
        if not folder.is_dir():
            folder.mkdir(parents=True)
            people = people_of(options.people) if options.people else made_people(np.random.default_rng(4))
            print(f"{options.files} files, {write_files(folder, people, options.files):.0f} MB")
        (home / "recipe.toml").write_text(RECIPE)
        study.unlink(missing_ok=True)
        read = Timed("read", str(folder), "--study", str(study), "--recipe", str(home / "recipe.toml"), "--json")
        first, warm = Timed("score", str(study)), median("score", str(study))
        Timed("help")
        start = statistics.median(Timed("help").clock for _ in range(ROUNDS))
    print(f"read: {read.words()} (bar {READ_BAR_S:g} s)")
    print(f"score, first: {first.words()}")
    print(f"score, warm:  {warm.words()} (bar {WARM_BAR_S:g} s); {start:.2f} s is a command's start")
    print(warm.said.splitlines()[0])
    return read.clock <= READ_BAR_S and warm.clock <= WARM_BAR_S


if __name__ == "__main__":
    raise SystemExit(0 if main() else 1)

"""Every reader takes any bytes: what comes is read or refused in a sentence, soon, never a traceback."""

from __future__ import annotations

import io
import os
import random
import time
import warnings
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from app.__main__ import main
from app.study.storage import study_files
from app.study.storage.study_files import settings_from
from data.labels.table import assign, read_label_table
from data.problem import Problem
from data.recipe.recipe import Recipe, recipe_from_toml, recipe_to_toml
from data.recipe.sections import Clock, LabelTable, SplitColumns
from data.recordings.reading import read_recording, read_recordings
from data.study.study_file import load
from detect.firmware.twins.dump import dump_of, records_of
from detect.firmware.twins.record import encoded
from detect.firmware.twins.ring import Flash
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.data.made import burst_stamps, csv_text, wearer
from tests.detect.firmware.device_made import alarm_record, filled_ring
from tests.fuzzed import mutated

FEW = 400
MANY = int(os.environ.get("PLUMBFALL_FUZZ", "100000"))
PER_MB_S, LEAST_S = 2.0, 2.0
"""Seconds of the processor for a megabyte, and for what is smaller."""

RECIPES = (Recipe(), Recipe(clock=Clock("even", (50.0,))), Recipe(clock=Clock("bursts", (50.0,))),
           Recipe(split=SplitColumns(trial="run")),
           replace(Recipe(), table=replace(Recipe().table, missing=("nan",))))

Reader = Callable[[bytes, random.Random], None]


def tables() -> list[bytes]:
    walk = wearer(60)
    array = io.BytesIO()
    np.save(array, np.column_stack([np.arange(60) * 0.02, walk]))
    dated = "time,x_g,y_g,z_g\n" + "".join(f"2024-05-31T14:03:{i // 50:02}.{i % 50 * 20:03},{x},{y},{z}\n"
                                           for i, (x, y, z) in enumerate(walk.tolist()))
    parted = "time_s,x_g,y_g,z_g,run,temp\n" + "".join(
        f"{i // 2 * 0.02:.2f},{x},{y},{z},{i % 2},{20 + i}\n" for i, (x, y, z) in enumerate(walk.tolist()))
    return [csv_text(samples=walk).encode(), csv_text(samples=walk, delimiter=";", decimal=",").encode(),
            csv_text(samples=walk, delimiter="\t").encode("utf-16"), csv_text(samples=walk, delimiter=" ").encode(),
            csv_text("", walk).encode(), csv_text(samples=walk, times=burst_stamps(60, 50.0)).encode(),
            ("# a comment\n" + csv_text("t,x,y,z\ns,g,g,g", walk)).encode(), dated.encode(), parted.encode(),
            array.getvalue()]


def read_table(raw: bytes, rng: random.Random) -> None:
    read_recordings([raw], "a", rng.choice(RECIPES))


SPEC = LabelTable(key="file", onset="start", end="end", name="what", falls=("fall",))
LABELS = [b"file,start,end,what\nwalk,0.1,0.5,fall\nwalk,1,2,sit\nother,3,4,x\n",
          b"onset\tduration\ttrial_type\trecording\tkind\textent\tcomment\tannotator\n0.1\t0.2\tfall\twalk\tfall\tinterval"
          b"\thm\tB\n0\t1\tsit\twalk\tother\trecording\t\t\n",
          "file;start;end;what\r\nwalk;2024-05-31T14:03:07;2024-05-31T14:03:08;stürzt\r\n".encode("latin-1")]
WALK = read_recording(csv_text(samples=wearer(200)).encode(), "walk", Recipe())[0]


def read_labels(raw: bytes, rng: random.Random) -> None:
    spec = replace(rng.choice((SPEC, LabelTable())), time=rng.choice(("", "s", "ms", "iso")))
    rows, _ = read_label_table(raw, "labels.csv", spec)
    assign(rows, [WALK], spec)


def recipes() -> list[bytes]:
    full = '''[files]
pattern = "{activity}/W{person}_{trial}.csv"
[columns]
time = "t"
x = 1
y = "b"
z = "c"
[split]
node = "n"
[nodes]
a = ["x", "y", "z"]
[part]
node = "1"
[table]
delimiter = ";"
missing = [-1, "nan"]
[units]
acceleration = "raw"
range_g = 4
[raw]
bits = 12
[volts]
nominal_v = 3.3
zero_g_v = 1.65
mv_per_g = 300
[own]
zero = [1, 2, 3]
per_g = [2]
[axes]
x = "y"
y = "z"
z = "x"
[time]
stamps = "bursts"
rates_hz = [40, 50]
[labels]
key = "file"
onset = "s"
falls = ["kerb"]
[front_end]
range_g = 4
bits = 12
rate_hz = 50
[about]
placement = "waist"
setting = "staged"
'''
    return [full.encode(), *(part.encode() for part in full.split("[volts]"))]


def read_a_recipe(raw: bytes, rng: random.Random) -> None:
    recipe = recipe_from_toml(raw.decode("utf-8", "replace"), "r.toml")
    assert recipe_from_toml(recipe_to_toml(recipe)) == recipe


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[bytes]]:
    """Files that the program itself wrote, and a place to put damaged ones."""
    folder = tmp_path_factory.mktemp("fuzz")
    (folder / "walk.csv").write_text(csv_text())
    (folder / "labels.csv").write_bytes(LABELS[0])
    (folder / "r.toml").write_text('[labels]\nkey = "file"\nonset = "start"\nend = "end"\nname = "what"\n')
    study = folder / "s.json"
    assert main(["read", str(folder / "walk.csv"), "--study", str(study), "--labels", str(folder / "labels.csv"),
                 "--recipe", str(folder / "r.toml")]) == 0
    assert main(["seal", str(study), "Bea"]) == 0
    assert main(["export", str(study), "--to", str(folder)]) == 0
    header = (folder / "plumbfall_params.h").read_bytes()
    return {"study": [study.read_bytes()], "header": [header],
            "settings": [study_text(), b'{"settings": {"impact_g": 2.5}}'], "folder": [os.fsencode(folder)]}


def study_text() -> bytes:
    return ('{"front_end": {"range_g": 4, "bits": 12, "rate_hz": 50}, "settings": '
            + str(DEFAULTS.plain()).replace("'", '"').replace("True", "true").replace("False", "false") + "}").encode()


def refused(raw: bytes, rng: random.Random, reader: Reader) -> Problem | None:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            reader(raw, rng)
    except Problem as problem:
        return problem
    return None


def read_dump(raw: bytes, rng: random.Random) -> None:
    dump_of(raw)
    records_of(raw)


def throw(seeds: Sequence[bytes], reader: Reader, times: int, seed: int) -> int:
    """So many damaged files; how many were read. Raises AssertionError with the one that did something else."""
    rng, taken = random.Random(seed), 0
    for number in range(times):
        raw = mutated(rng, seeds)
        began = time.process_time()
        try:
            refusal = refused(raw, rng, reader)
        except Exception as error:
            raise AssertionError(f"input {number}: {error!r} of {raw[:3000]!r}") from error
        taken += refusal is None
        assert refusal is None or 0 < len(refusal.sentence()) < 4000
        took = time.process_time() - began
        assert took < max(LEAST_S, PER_MB_S * len(raw) / 1e6), f"input {number} took {took:.1f} s: {raw[:3000]!r}"
    return taken


def from_file(path: Path, read: Callable[[Path], object]) -> Reader:
    def reader(raw: bytes, rng: random.Random) -> None:
        path.write_bytes(raw)
        read(path)

    return reader


KINDS = ("tables", "labels", "recipes", "study", "settings", "header", "dump")


def of_kind(kind: str, files: dict[str, list[bytes]], memory: list[bytes]) -> tuple[Sequence[bytes], Reader]:
    """Valid files of the kind, and what reads them."""
    path = Path(os.fsdecode(files["folder"][0])) / "damaged"
    if kind == "study":
        return files["study"], from_file(path, lambda there: study_files.from_file(load(there), "s"))
    if kind in ("settings", "header"):
        return files[kind], from_file(path, lambda there: settings_from(there, FrontEnd()))
    if kind == "dump":
        return memory, read_dump
    return {"tables": (tables(), read_table), "labels": (LABELS, read_labels),
            "recipes": (recipes(), read_a_recipe)}[kind]


@pytest.fixture(scope="module")
def memory() -> list[bytes]:
    ring = filled_ring(4, Flash(256, 4, 4))
    ring.set_outcome(2, "acknowledged")
    sent = [encoded(one.head, one.samples) for one in (alarm_record(1), alarm_record(2))]
    return [bytes(ring.flash.bytes), b"".join(sent)]


@pytest.mark.parametrize("kind", KINDS)
def test_damaged_files_are_read_or_refused_in_words(kind, files, memory):
    throw(*of_kind(kind, files, memory), times=FEW, seed=1)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_a_hundred_thousand_damaged_files_are_read_or_refused_in_words(kind, files, memory):
    throw(*of_kind(kind, files, memory), times=MANY, seed=2)

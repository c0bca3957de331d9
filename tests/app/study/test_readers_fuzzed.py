"""Every reader takes any bytes: what comes is read or refused in a sentence, soon, never a traceback."""

from __future__ import annotations

import os
import random
import time
import warnings
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from app.__main__ import main
from app.study.storage import study_files
from app.study.storage.study_files import settings_from
from data.labels.table import assign, read_label_table
from data.problem import Problem
from data.recipe.name_pattern import blanked, match
from data.recipe.recipe import Recipe, recipe_from_toml, recipe_to_toml
from data.recipe.sections import (
    STAMPS,
    Axes,
    Clock,
    ColumnNames,
    FrontEndSection,
    LabelTable,
    Node,
    Own,
    PreambleKeys,
    Raw,
    RowChoice,
    SplitColumns,
    TableLayout,
    Units,
    Volts,
)
from data.recordings.model import About
from data.recordings.reading import read_recording, read_recordings
from detect.firmware.twins.dump import attempt_in, dump_of, in_g, records_of
from detect.rule.front_end import FrontEnd
from tests.app.study import fuzz_seeds, fuzz_tables
from tests.data.made import csv_text, wearer
from tests.data.recipe.test_recipe import BAD_RECIPES
from tests.fuzzed import mutated

FEW = 400
MANY = int(os.environ.get("PLUMBFALL_FUZZ", "100000"))
PER_MB_S, LEAST_S = 2.0, 2.0
"""Seconds of the processor for a megabyte, and for what is smaller."""

PAIRS = fuzz_tables.pairs()

Reader = Callable[[bytes, random.Random], None]


def tables() -> list[bytes]:
    """Each behind two bytes that say which of the pairs it is: its own recipe is found by them while they last."""
    return [number.to_bytes(2, "big") + raw for number, (raw, _) in enumerate(PAIRS)]


SAID: dict[str, Sequence[object]] = {
    "columns": (ColumnNames(x=2, y=3, z=4), ColumnNames("time_s", "x_g", "y_g", "z_g"), ColumnNames(1, 2, 3, 4, 5, 6),
                ColumnNames(x="x", y="y", z="z"), ColumnNames(x=9, y=2, z=3)),
    "table": (TableLayout(missing=("nan",)), TableLayout(missing=(-1.0, 0.0)), TableLayout(header=True, skip_lines=1),
              TableLayout(header=False), TableLayout(delimiter=";", decimal=","), TableLayout(encoding="latin-1"),
              TableLayout(encoding="utf-16"), TableLayout(encoding="ascii", missing=())),
    "units": (*(Units(unit, time) for unit in ("g", "mg", "m/s2", "raw", "volts", "own", "counts", "")
                for time in ("", "s", "ms", "iso", "ticks", "samples")), Units("g", "s", 4.0), Units("raw", "", 16.0)),
    "raw": (Raw(12, 16, "left", "swapped", "offset binary", 0.1), Raw()),
    "volts": (Volts(3.3, 1.65, 300), Volts(3.3, 1.65, 300, False, 3.0, 4096)), "own": (Own(), Own((1, 2, 3), (2,))),
    "axes": (Axes("y", "-x", "z"), Axes(up="-y", forward="z")),
    "clock": (*(Clock(stamps, rates) for stamps in ("", *STAMPS) for rates in ((), (50.0,), (50.0, 40.0))),
              Clock(ticks_hz=1000.0, wrap=65536.0), Clock(repeats="drop"), Clock(rates_hz=(50.0,), drift_ppm=9.0)),
    "nodes": ((Node("a", "x_g", "y_g", "z_g"),), (Node("a", 2, 3, 4), Node("b", 4, 2, 3))),
    "split": (SplitColumns(trial="run"), SplitColumns(node="sensor id", person="run"), SplitColumns(trial="time_s")),
    "part": ((("trial", "1"),), (("node", "a"),), (("node", "9"),)), "one_recording": (True,),
    "rows": (RowChoice("sensor type", ("0",)), RowChoice(5, ("1", "9")), RowChoice("none", ("x",))),
    "names": ((("1", "ankle"),),), "front_end": (FrontEndSection(4, 12, 50), FrontEndSection(2, 16, 40)),
    "about": (About(person="W09", placement="hip"),),
    "preamble": (PreambleKeys("Subject", placement="Position", date="Start", rate="Rate"),),
}
"""What a recipe may say, by field: some of it is said at random."""


def some_recipe(own: Recipe, rng: random.Random) -> Recipe:
    if rng.random() < 0.6:
        return own
    if rng.random() < 0.3:
        return rng.choice(PAIRS)[1]
    said = {field: rng.choice(options) for field, options in SAID.items() if rng.random() < 0.2}
    return replace(rng.choice((Recipe(), own)), **said)  # type: ignore[arg-type]


def read_table(raw: bytes, rng: random.Random) -> None:
    whole, own = PAIRS[int.from_bytes(raw[:2], "big") % len(PAIRS)]
    raw, recipe = raw[2:], some_recipe(own, rng)
    if rng.random() < 0.15:
        read_recordings([raw, rng.choice((whole, whole, rng.choice(PAIRS)[0]))], "a", recipe, files=["a1", "a2"])
        return
    if rng.random() < 0.1:
        read_recording(raw, "a", recipe)
        return
    for piece in read_recordings([raw], "a", recipe):
        if not isinstance(piece.outcome, Problem):
            read_recordings([raw], "a", piece.outcome[1])  # its complete recipe reads it again


SPEC = LabelTable(key="file", onset="start", end="end", name="what", falls=("fall",))
LABELS = [b"file,start,end,what\nwalk,0.1,0.5,fall\nwalk,1,2,sit\nother,3,4,x\n",
          b"onset\tduration\ttrial_type\trecording\tkind\textent\tcomment\tannotator\n0.1\t0.2\tfall\twalk\tfall\tinterval"
          b"\thm\tB\n0\t1\tsit\twalk\tother\trecording\t\t\n",
          b"onset\tduration\ttrial_type\trecording\tkind\textent\tcomment\tproposed\n0.1\t0.2\tfall\twalk\tfall\tinterval\t\t"
          b"yes\n",
          b"file,start,end,what\nlab/W01_fall_1.csv,0.1,0.5,fall\nW01_fall_1,0.1,0.5,fall\nW02_sit_1,1,2,\nW02_fall_2,1,2,"
          b"x\nsit_1,3,90,fall\nx/lab/W02_sit_1.dat,3,4.1,fall\nlab/W02_sit_1,1,1.5,a\nlab/W02_sit_1,1.2,3,b\n"
          b"other/W02_sit_1,1700000001,1700000002,fall\nADL,1,2,c\nW02_sit_1.csv,2,1,fall\n",
          "file;start;end;what\r\nwalk;2024-05-31T14:03:07;2024-05-31T14:03:08;stürzt\r\n".encode("latin-1")]
WALK = read_recording(csv_text(samples=wearer(200)).encode(), "walk", Recipe())[0]


NODES = [replace(WALK, name=name, group="lab/W01_fall_1.csv", about=About("W01", "fall", trial="1", node=node))
         for name, node in (("lab/W01_fall_1:a", "a"), ("lab/W01_fall_1:b", "b"))]
OTHERS = [replace(WALK, name="lab/W02_sit_1", about=About("W02", "sit", properties=(("kind", "ADL"),))),
          replace(WALK, name="other/W02_sit_1", origin_s=1.7e9, about=About("W02", "fall", trial="2"))]


def read_labels(raw: bytes, rng: random.Random) -> None:
    spec = replace(rng.choice((SPEC, SPEC, LabelTable(), replace(SPEC, end="", duration="end"), replace(SPEC, end=""))),
                   time=rng.choice(("", "s", "ms", "iso")), falls=rng.choice(((), ("fall",), ("f*l", "*"), ("x*y",))),
                   key_pattern=rng.choice(("", "", "{person}_{activity}_{trial}", "{kind}")),
                   whole_recordings=rng.random() < 0.5, fall_field=rng.choice(("", "kind")))
    rows, _ = read_label_table(raw, "labels.csv", spec, rng.choice(("", "", "walk")))
    assign(rows, rng.choice(([WALK], NODES, [*NODES, *OTHERS], OTHERS)), spec)


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
[rows]
column = "k"
values = ["0", "acc"]
[names]
4 = "ankle"
[preamble]
person = "Subject"
rate = "Rate"
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
falls = ["kerb", "F*"]
fall_field = "kind"
whole_recordings = true
[front_end]
range_g = 4
bits = 12
rate_hz = 50
[about]
placement = "waist"
setting = "staged"
properties = {date = "2024", kind = "ADL"}
'''
    patterns = ("**/{activity}/*_p{part}.csv", "**.csv", "{date}/*W{person}*", "{a}_{a}", "{persn}", "{", "{1}",
                "x" * 70, "{setting}.csv", "**{person}", "*" * 70)
    said = [f'[files]\npattern = "{pattern}"\n' for pattern in patterns]
    said += ["[files]\none_recording = 3\n", "[labels]\nfalls = [1]\n", "[own]\nzero = ['a']\n", "[own]\nzero = 1\n",
             "[table]\nskip_lines = -1\n", "[table]\nskip_lines = 1.5\n", "[nodes]\na = ['x', 'x', 'y']\n",
             "[nodes]\n" + "".join(f"n{i} = [1, 2, 3]\n" for i in range(40)), "[raw]\nmg_per_count = -1\n",
             "[raw]\nbits = 40\n", "[volts]\nnominal_v = 3\nzero_g_v = 1\nmv_per_g = 3\ncodes = -1\n",
             "[volts]\nnominal_v = 3\nzero_g_v = 1\nmv_per_g = 0\n", "[time]\ndrift_ppm = 1e9\n",
             "[front_end]\nrange_g = 1e9\nbits = 12\nrate_hz = 50\n", "[table]\nmissing = 3\n",
             "[front_end]\nrange_g = 4\nbits = 12\nrate_hz = 50\ncounts_per_g = -1\n", "[table]\nmissing = [true]\n",
             "[front_end]\nrange_g = 4\nbits = 12\nrate_hz = 50\ncounts_per_g = 512\nlowest_counts = -9\n",
             "[about]\nperson = 'a\u00b5b'\n[names]\n\"a b\" = '1'\n", "a = " + "9" * 6000 + "\n",
             "[table]\ndecimal = ','\ndelimiter = ','\n", "about = [1]\n", "[labels]\nend = 'e'\n",
             "[about.properties]\na = 1\n"]
    return [full.encode(), *(part.encode() for part in full.split("[volts]")), *(one.encode() for one in said),
            *(text.encode() for text, _, _ in BAD_RECIPES)]


def read_a_recipe(raw: bytes, rng: random.Random) -> None:
    recipe = recipe_from_toml(raw.decode("utf-8", "replace"), "r.toml")
    assert recipe_from_toml(recipe_to_toml(recipe)) == recipe
    name = rng.choice(("fall/W01_1.csv", "a/b/fall/W1_p2.csv", "W01.csv", "x" * 5000, "fall/W01_"))
    match(recipe.pattern, name)
    blanked(recipe.pattern, name, "person")


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[bytes]]:
    """Files that the program itself wrote, and a place to put damaged ones."""
    folder = tmp_path_factory.mktemp("fuzz")
    (folder / "walk.csv").write_text(csv_text())
    (folder / "labels.csv").write_bytes(LABELS[0])
    (folder / "r.toml").write_text('[about.properties]\nkind = "ADL"\n[labels]\nkey = "file"\nonset = "start"\n'
                                   'end = "end"\nname = "what"\n')
    study = folder / "s.json"
    assert main(["read", str(folder / "walk.csv"), "--study", str(study), "--labels", str(folder / "labels.csv"),
                 "--recipe", str(folder / "r.toml")]) == 0
    assert main(["seal", str(study), "Bea"]) == 0
    assert main(["export", str(study), "--to", str(folder)]) == 0
    header = (folder / "plumbfall_params.h").read_bytes()
    return {"study": [study.read_bytes(), *fuzz_seeds.studies()], "header": [header, *fuzz_seeds.headers()],
            "settings": fuzz_seeds.settings(), "folder": [os.fsencode(folder)]}


def refused(raw: bytes, rng: random.Random, reader: Reader) -> Problem | None:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            reader(raw, rng)
    except Problem as problem:
        return problem
    return None


def read_dump(raw: bytes, rng: random.Random) -> None:
    for dump in (dump_of(raw), records_of(raw)):
        assert all(str(fault) for fault in dump.faults)
        assert dump.sound or dump.faults
        for one in dump.alarms:
            attempt_in(one.record)
            if one.record.head.counts_per_1000_g:
                in_g(one.record)


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
        return files["study"], from_file(path, study_files.opened)
    if kind in ("settings", "header"):
        return files[kind], from_file(path, lambda there: settings_from(there, FrontEnd()))
    if kind == "dump":
        return memory, read_dump
    return {"tables": (tables(), read_table), "labels": (LABELS, read_labels),
            "recipes": (recipes(), read_a_recipe)}[kind]


@pytest.fixture(scope="module")
def memory() -> list[bytes]:
    return fuzz_seeds.dumps()


@pytest.mark.parametrize("kind", KINDS)
def test_damaged_files_are_read_or_refused_in_words(kind, files, memory):
    throw(*of_kind(kind, files, memory), times=FEW, seed=1)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_a_hundred_thousand_damaged_files_are_read_or_refused_in_words(kind, files, memory):
    throw(*of_kind(kind, files, memory), times=MANY, seed=2)

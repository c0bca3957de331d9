"""Files of ill will: each ends in a sentence, soon, and nothing is written."""

from __future__ import annotations

import csv
import io
import json
import os
import time
from pathlib import Path

import numpy as np
import pytest

from app.__main__ import main
from app.formatting import csv_text as as_csv
from data.labels.table import read_label_table, write_events
from data.recipe.recipe import Recipe
from data.recipe.sections import LabelTable
from data.recordings.model import Label
from data.recordings.reading import read_recording
from tests.data.made import csv_text, wearer

DEEP, LONG = "[" * 100_000, "9" * 6000


@pytest.fixture
def walk(tmp_path: Path) -> Path:
    (tmp_path / "walk.csv").write_text(csv_text())
    return tmp_path / "walk.csv"


@pytest.fixture
def study(walk: Path) -> Path:
    path = walk.with_name("s.json")
    assert main(["read", str(walk), "--study", str(path)]) == 0
    return path


def refused(capsys: pytest.CaptureFixture[str], *words: str | Path, within_s: float = 5.0) -> str:
    """What was said; seconds are the processor's."""
    capsys.readouterr()
    began = time.process_time()
    assert main([str(word) for word in words]) == 2
    assert time.process_time() - began < within_s
    return capsys.readouterr().err


@pytest.mark.skipif(os.name != "posix", reason="needs pipes and devices")
@pytest.mark.parametrize("kind", ["pipe", "link to a pipe", "link to a device"])
def test_a_pipe_or_a_device_is_no_file_wherever_one_is_read(kind, study, walk, tmp_path, capsys):
    there = tmp_path / "odd.csv"
    os.mkfifo(tmp_path / "pipe")
    os.symlink("/dev/zero" if kind == "link to a device" else tmp_path / "pipe", there)
    if kind == "pipe":
        there = tmp_path / "pipe"
    new = tmp_path / "new.json"
    for words in (["read", there, "--study", new], ["read", walk, "--study", new, "--recipe", there], ["score", there],
                  ["score", study, "--settings", there], ["device", "decode", there, "--to", tmp_path / "out"]):
        assert "not an ordinary file" in refused(capsys, *words), words
    assert main(["read", str(walk), "--study", str(new), "--labels", str(there)]) == 0
    assert "not an ordinary file" in capsys.readouterr().err


@pytest.mark.parametrize("value", [DEEP, LONG, '{"a":' * 50_000], ids=["deep list", "digits", "deep table"])
def test_numbers_and_tables_beyond_all_measure_are_a_sentence(value, study, walk, tmp_path, capsys):
    texts = {"a.json": value, "b.json": f'{{"settings": {{"impact_g": {value}}}}}',
             "c.json": study.read_text().replace('"notes": ""', f'"notes": {value}')}
    for name, text in texts.items():
        (tmp_path / name).write_text(text)
        assert refused(capsys, "score", tmp_path / name)
        assert refused(capsys, "score", study, "--settings", tmp_path / name)
    (tmp_path / "r.toml").write_text(f"a = {value}")
    assert refused(capsys, "read", walk, "--study", tmp_path / "new.json", "--recipe", tmp_path / "r.toml")


@pytest.mark.parametrize("words", [["--rate", "9" * 5000], ["--columns", "9" * 5000 + ",2,3"], ["--unit=g\0"],
                                   ["--split", "node=" + "9" * 5000]])
def test_options_beyond_all_measure_are_a_short_sentence(words, walk, tmp_path, capsys):
    said = refused(capsys, "read", walk, "--study", tmp_path / "new.json", *words)
    assert len(said) < 6000


@pytest.mark.parametrize("encoding", ["utf-7", "idna", "punycode", "unicode_escape", "utf-32", "undefined", "base64",
                                      "hz"])
@pytest.mark.parametrize("raw", [csv_text().encode(), b"\xff\xfe\x00", csv_text().encode("utf-16")])
def test_odd_encodings_read_or_refuse(encoding, raw, tmp_path):
    (tmp_path / "a.csv").write_bytes(raw)
    (tmp_path / "r.toml").write_text(f'[table]\nencoding = "{encoding}"\n')
    assert main(["read", str(tmp_path / "a.csv"), "--study", str(tmp_path / "s.json"), "--recipe",
                 str(tmp_path / "r.toml")]) in (0, 2)


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_utf16_without_a_mark_is_read(encoding):
    recording, recipe = read_recording(csv_text().encode(encoding), "a", Recipe())
    assert np.array_equal(recording.samples, wearer(200))
    assert recipe.table.encoding == encoding


PATTERNS = ("{activity}*{person}*{trial}*{node}*{placement}*{part}*x", "**/**/**/**/**/**/x", "*a*a*a*a*a*a*a*a*a*a*b")


@pytest.mark.parametrize("pattern", PATTERNS)
def test_no_pattern_takes_for_ever(pattern, tmp_path, capsys):
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / ("a" * 200 + ".csv")).write_text(csv_text())
    (tmp_path / "r.toml").write_text(f'[files]\npattern = "{pattern}"\n')
    refused(capsys, "read", tmp_path / "in", "--study", tmp_path / "s.json", "--recipe", tmp_path / "r.toml")
    spec = LabelTable(key="k", onset="s", end="e", key_pattern=pattern)
    began = time.process_time()
    read_label_table(b"k,s,e\n" + b"a" * 100_000 + b",1,2\n", "l.csv", spec)
    assert time.process_time() - began < 2


@pytest.mark.parametrize("name", [" " * 30_000 + "x", "x" + "_" * 30_000 + "[g", "x" + "[ " * 15_000, "x y " * 8000,
                                  "sensor" + " " * 30_000 + "z"])
def test_no_header_takes_for_ever(name, tmp_path, capsys):
    (tmp_path / "a.csv").write_text(csv_text(f"time_s,{name},y_g,z_g"))
    assert len(refused(capsys, "read", tmp_path / "a.csv", "--study", tmp_path / "s.json", within_s=2)) < 2000


def test_twenty_thousand_labels_of_one_recording_take_seconds(tmp_path):
    rows = "".join(f"{i * 0.02:.2f},0.01,1,0.00{i % 7}\n" for i in range(500_000))
    (tmp_path / "long.csv").write_text("time_s,x_g,y_g,z_g\n" + rows)
    (tmp_path / "l.csv").write_text("recording,onset,duration,trial_type\n" + "".join(
        f"long,{i * 0.5},0.4,fall\n" for i in range(19_998)))
    began = time.process_time()
    assert main(["read", str(tmp_path / "long.csv"), "--study", str(tmp_path / "s.json"), "--labels",
                 str(tmp_path / "l.csv")]) == 0
    assert time.process_time() - began < 10
    assert len(json.loads((tmp_path / "s.json").read_text())["recordings"][0]["labels"]) == 19_998


def test_no_cell_that_is_exported_is_a_formula_and_tables_come_back():
    names = ["=1+1", "+SUM(A1)", "-2+3", "@x", "'=y", "-0.5", "plain", "'quoted'"]
    cells = [row[0] for row in csv.reader(io.StringIO(as_csv([[name] for name in names])))]
    assert cells == ["'=1+1", "'+SUM(A1)", "'-2+3", "'@x", "''=y", "-0.5", "plain", "'quoted'"]
    recording, _ = read_recording(csv_text().encode(), "=walk", Recipe())
    labels = tuple(Label("fall", name, 0.3 * i, 0.3 * i + 0.2, comment=name) for i, name in enumerate(names))
    text = write_events({"=walk": labels}, {"=walk": recording})
    assert not any(cell.startswith(("=", "+", "@")) for line in text.splitlines() for cell in line.split("\t"))
    rows, problems = read_label_table(text.encode(), "l.tsv", LabelTable())
    assert not problems
    assert [(row.key, row.name, row.comment) for row in rows] == [("=walk", name, name) for name in names]


def test_a_rate_that_asks_for_all_memory_is_refused(study, tmp_path, capsys):
    for front_end in ({"rate_hz": 1e12}, {"range_g": 1e-308}, {"rate_hz": 1e-12}, {"counts_per_g": 1e300}):
        plain = {"front_end": {"range_g": 4, "bits": 12, "rate_hz": 50} | front_end, "settings": {}}
        (tmp_path / "h.json").write_text(json.dumps(plain))
        assert "Write what the data sheet says" in refused(capsys, "score", study, "--settings", tmp_path / "h.json")


def test_a_study_whose_paths_hold_zero_bytes_says_so(study, capsys):
    study.write_text(study.read_text().replace("walk.csv", "wa\\u0000lk.csv"))
    assert main(["score", str(study)]) == 0
    assert "No file can have such a path" in capsys.readouterr().err

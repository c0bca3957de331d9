"""The study file: comes back as it was, whole or not at all, and refuses nonsense with its line."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from data import files
from data.parts.part_file import KINDS, PartFile, PartRange, RegisterField
from data.plain_values import line_of
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import Axes, FrontEndSection, Units
from data.recordings.model import About, Calibration, Label, Shift, Trim
from data.study.intended_use import IntendedUse
from data.study.study_file import (
    VERSION,
    Mark,
    RecordingEntry,
    StudyFile,
    from_json,
    load,
    recovery_path,
    save,
    to_json,
)
from data.study.tuned_record import PersonCounts, TunedRecord

TEXTS = st.text(st.characters(blacklist_categories=("Cs",)), max_size=12)
NUMBERS = st.floats(-1e6, 1e6)
SETTINGS = st.dictionaries(
    TEXTS, st.booleans() | st.integers(-(2**40), 2**40) | NUMBERS | TEXTS | st.lists(NUMBERS, max_size=3), max_size=4
)
FRONT_ENDS = st.none() | st.builds(FrontEndSection, st.floats(0.1, 100), st.integers(8, 16), st.floats(0.1, 1000))
INTERVALS = st.tuples(NUMBERS, st.floats(0, 100)).map(lambda p: (p[0], p[0] + p[1])) | st.just((None, None))
LABELS = st.builds(
    lambda kind, name, span, comment, annotator, proposed: Label(kind, name, *span, comment, annotator, proposed),
    st.sampled_from(["fall", "other"]),
    TEXTS,
    INTERVALS,
    TEXTS,
    TEXTS,
    st.booleans(),
)
ENTRIES = st.builds(
    RecordingEntry,
    name=TEXTS,
    path=st.sampled_from(["/walks/a.csv", "/studies/b c/d.csv", "/ü.csv"]).map(os.path.normpath),
    sha256=TEXTS,
    about=st.builds(About, person=TEXTS, activity=TEXTS, setting=st.sampled_from(["", "staged"]),
                    properties=st.dictionaries(TEXTS, TEXTS, max_size=2).map(lambda d: tuple(d.items()))),
    labels=st.lists(LABELS, max_size=3).map(tuple),
    left_out=TEXTS,
    recipe=st.sampled_from([Recipe(), Recipe(units=Units("mg", "ms")), Recipe(pattern="*.csv")]),
    rate_hz=st.none() | st.floats(0.1, 1000),
    trim=st.builds(Trim, st.floats(0, 1e5), st.floats(0, 1e5)),
    more=st.sampled_from([(), (os.path.normpath("/walks/a2.csv"), os.path.normpath("/b/a3.csv"))]),
    group=TEXTS,
    clock=st.builds(Shift, NUMBERS, st.floats(-9e5, 9e5)),
    calibration=st.none() | st.builds(Calibration, st.tuples(*[NUMBERS] * 3), st.tuples(*[st.floats(0.1, 3)] * 3),
                                      TEXTS, NUMBERS, NUMBERS, st.integers(0, 99), st.lists(TEXTS).map(tuple)),
    axes=st.sampled_from([None, Axes(), Axes(up="-x", forward="z"), Axes(rotation=(0, 0, 1, 1, 0, 0, 0, 1, 0))]),
)
COUNTS = st.tuples(*[st.integers(0, 99)] * 4)
RECORDS = st.builds(
    TunedRecord, SETTINGS, st.builds(FrontEndSection, st.floats(0.1, 100), st.integers(8, 16), st.floats(0.1, 1000)),
    st.lists(TEXTS, max_size=2).map(tuple), TEXTS, TEXTS, TEXTS, st.integers(0, 999),
    st.lists(st.builds(PersonCounts, TEXTS, COUNTS, st.none() | COUNTS, st.floats(0, 99),
                       st.tuples(st.integers(0, 9), st.integers(0, 9))), max_size=3).map(tuple),
    st.integers(0, 9), st.integers(0, 999), st.integers(0, 99),
    st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=3).map(tuple), SETTINGS)
CODED = st.lists(st.tuples(NUMBERS, st.integers(0, 255)), min_size=1, max_size=2).map(tuple)
REGISTERS = st.builds(RegisterField, TEXTS, st.just("FULL_SCALE"), CODED, st.just(0.0), st.just(0)) | st.builds(
    RegisterField, TEXTS, st.just("RATE"), st.just(()), st.floats(0.01, 9), st.integers(1, 255))
PARTS = st.builds(
    PartFile, TEXTS.filter(bool), st.sampled_from(KINDS), NUMBERS, NUMBERS, st.none() | NUMBERS, SETTINGS,
    st.lists(st.builds(PartRange, st.floats(0.1, 100), st.integers(8, 16), SETTINGS), min_size=1, max_size=3).map(
        tuple),
    st.lists(REGISTERS, max_size=2, unique_by=lambda one: one.key).map(tuple), TEXTS)
STUDIES = st.builds(
    StudyFile,
    front_end=FRONT_ENDS,
    settings=SETTINGS,
    score=SETTINGS,
    marks=st.lists(st.builds(Mark, TEXTS, SETTINGS, FRONT_ENDS, st.dictionaries(TEXTS, NUMBERS)), max_size=2).map(
        tuple
    ),
    sealed=st.lists(TEXTS, max_size=3).map(tuple),
    recordings=st.lists(ENTRIES, max_size=4, unique_by=lambda entry: entry.name).map(tuple),
    view=SETTINGS,
    notes=TEXTS,
    device=SETTINGS,
    tuned=st.lists(RECORDS, max_size=2).map(tuple),
    intended_use=st.builds(IntendedUse, *[TEXTS] * 7),
    parts=st.lists(PARTS, max_size=2, unique_by=lambda part: part.name).map(tuple),
)

STUDY = StudyFile(
    front_end=FrontEndSection(4, 12, 50),
    settings={"impact_g": 2.5, "active_on": False},
    recordings=tuple(
        RecordingEntry(f"W0{i}", f"/walks/{i}.csv", "0" * 64, labels=(Label("fall", "kerb", 1.0, 2.0),))
        for i in range(3)
    ),
)


@given(STUDIES)
def test_a_study_comes_back_as_it_was(study):
    assert from_json(to_json(study, Path("/studies")), Path("/studies")) == study


def test_a_study_and_its_recordings_move_together(tmp_path):
    here, there = tmp_path / "here", tmp_path / "there"
    here.mkdir()
    entry = RecordingEntry("W01", str(here / "walks" / "1.csv"), "")
    save(StudyFile(recordings=(entry,)), here / "porch.json")
    assert '"walks/1.csv"' in (here / "porch.json").read_text()
    here.rename(there)
    assert load(there / "porch.json").recordings[0].path == str(there / "walks" / "1.csv")


def test_recipes_that_many_recordings_share_are_written_once(tmp_path):
    assert to_json(STUDY, tmp_path).count('"recipes"') == 1
    assert len(json.loads(to_json(STUDY, tmp_path))["recipes"]) == 1


def edited(change) -> str:
    plain = json.loads(to_json(STUDY, Path("/")))
    change(plain)
    return json.dumps(plain, indent=1)


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (lambda s: s.update(settings=[1]), "settings"),
        (lambda s: s["settings"].update(impact_g=None), "settings.impact_g"),
        (lambda s: s["settings"].update(impact_g={"value": 2}), "settings.impact_g"),
        (lambda s: s["front_end"].update(bits=33), "front_end.bits"),
        (lambda s: s["front_end"].pop("range_g"), "front_end.range_g"),
        (lambda s: s["recordings"][1].pop("sha256"), "recordings[1].sha256"),
        (lambda s: s["recordings"][1].update(recipe=7), "recordings[1].recipe"),
        (lambda s: s["recordings"][1].update(rate_hz=0), "recordings[1].rate_hz"),
        (lambda s: s["recordings"][1].update(name=s["recordings"][0]["name"]), "recordings[1].name"),
        (lambda s: s["recordings"][1].update(colour="red"), "recordings[1].colour"),
        (lambda s: s["recordings"][2]["labels"][0].update(kind="slip"), "recordings[2].labels[0].kind"),
        (lambda s: s["recordings"][2]["labels"][0].update(end_s=0.5), "recordings[2].labels[0].end_s"),
        (lambda s: s["recordings"][2]["labels"][0].update(onset_s=None), "recordings[2].labels[0].end_s"),
        (lambda s: s["recordings"][2]["about"].update(setting="zoo"), "recordings[2].about.setting"),
        (lambda s: s.update(recordings="many"), "recordings"),
        (lambda s: s.update(sealed=[1]), "sealed"),
        (lambda s: s.update(extra=1), "extra"),
    ],
)
def test_a_study_edited_into_nonsense_is_refused_with_line_and_place(change, place):
    text = edited(change)
    with pytest.raises(Problem) as caught:
        from_json(text, Path("/"), "porch.json")
    problem = caught.value
    assert (problem.kind, problem.file, problem.column) == ("study_broken", "porch.json", place)
    key = place.rpartition(".")[2]
    line = text.split("\n")[problem.line - 1]
    missing = problem.remedy.startswith("It is missing")
    assert missing or key.endswith("]") or f'"{key}"' in line


def test_the_line_of_a_value_is_found():
    text = '{\n "a": [1,\n  {"b": "x\\ny", "c": 3}\n ],\n "d": 4\n}'
    assert [line_of(text, where) for where in ((), ("a",), ("a", 1, "c"), ("d",), ("a", 1, "none"), ("d", "e"))] == [
        1, 2, 3, 5, 3, 5,
    ]  # fmt: skip


@given(st.integers(0, 2000))
def test_a_study_cut_short_anywhere_is_refused_in_words(length):
    whole = to_json(STUDY, Path("/"))
    cut = whole[: min(length, len(whole) - 3)]
    with pytest.raises(Problem) as caught:
        from_json(cut, Path("/"), "porch.json")
    assert caught.value.line == cut.count("\n") + 1
    assert "recovery copy" in caught.value.remedy


def test_a_newer_study_is_refused_in_words_and_something_else_too():
    newer = edited(lambda s: s.update(plumbfall_study=VERSION + 1, quaternions=[]))
    with pytest.raises(Problem, match="newer version") as caught:
        from_json(newer, Path("/"))
    assert caught.value.kind == "study_newer"
    for text in ("[]", "{}", '{"plumbfall_study": "1"}', '{"plumbfall_study": true}', "3"):
        with pytest.raises(Problem, match="not a study"):
            from_json(text, Path("/"))


@pytest.mark.parametrize("text", ['{"plumbfall_study": 1, "view": {"a": NaN}}', '{"a": 1, "a": 2}', "[" * 100_000])
def test_json_that_could_mislead_is_refused(text):
    with pytest.raises(Problem) as caught:
        from_json(text, Path("/"))
    assert caught.value.kind == "study_broken"


def test_a_study_that_leaves_things_out_opens_with_defaults():
    assert from_json('{"plumbfall_study": 1}', Path("/")) == StudyFile()


def test_a_study_from_before_annotators_and_trimming_opens_and_a_trim_below_nought_is_refused():
    old = ('{"plumbfall_study": 1, "recipes": [{}], "recordings": [{"name": "a", "path": "a.csv", "sha256": "", '
           '"recipe": 0, "labels": [{"kind": "fall", "name": "", "onset_s": 1, "end_s": 2}]}]}')
    (entry,) = from_json(old, Path("/")).recordings
    assert (entry.labels[0].annotator, entry.trim) == ("", Trim())
    with pytest.raises(Problem) as caught:
        from_json(old.replace('"sha256": ""', '"sha256": "", "trim": {"end_s": -1}'), Path("/"))
    assert caught.value.column == "recordings[0].trim.end_s"


@given(st.binary(max_size=100))
def test_any_bytes_are_a_study_or_refused(raw):
    path = Path(os.environ.get("TMPDIR", "/tmp")) / f"plumbfall-any-{os.getpid()}.json"
    path.write_bytes(raw)
    try:
        with pytest.raises(Problem):
            load(path)
    finally:
        path.unlink()


@pytest.mark.parametrize("step", ["fsync", "replace", "chmod"])
def test_a_save_that_fails_leaves_the_old_study_and_no_litter(tmp_path, monkeypatch, step):
    path = tmp_path / "porch.json"
    save(STUDY, path)
    before = path.read_bytes()

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.os, step, refuse)
    with pytest.raises(Problem) as caught:
        save(StudyFile(notes="new"), path)
    assert caught.value.kind == "disk_full"
    assert path.read_bytes() == before
    assert os.listdir(tmp_path) == ["porch.json"]


def test_a_save_into_a_folder_that_is_gone_says_so(tmp_path):
    with pytest.raises(Problem, match="not there any more"):
        save(STUDY, tmp_path / "gone" / "porch.json")


def test_a_save_keeps_the_rights_of_the_file_and_follows_a_link(tmp_path):
    target, link = tmp_path / "kept" / "porch.json", tmp_path / "porch.json"
    target.parent.mkdir()
    target.write_text("old")
    target.chmod(0o640)
    link.symlink_to(target)
    save(STUDY, link)
    assert link.is_symlink()
    assert target.stat().st_mode & 0o777 == 0o640
    assert load(link) == STUDY


_SAVE_FOR_EVER = """
import sys
from pathlib import Path
from data.study.study_file import StudyFile, save
n = 0
while True:
    n += 1
    save(StudyFile(notes=str(n) * 20000), Path(sys.argv[1]))
    print(n, flush=True)
"""


def test_a_program_killed_while_saving_leaves_a_study_that_opens(tmp_path):
    path = tmp_path / "porch.json"
    for round_ in range(5):
        process = subprocess.Popen(
            [sys.executable, "-c", _SAVE_FOR_EVER, str(path)], stdout=subprocess.PIPE, cwd=Path(__file__).parents[3]
        )
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(0.003 * round_)
        process.send_signal(signal.SIGKILL)
        saved = process.stdout.read().split()
        process.stdout.close()
        process.wait()
        notes = load(path).notes
        number = notes[: len(notes) // 20000]
        assert notes == number * 20000
        assert int(number) >= int(saved[-1] if saved else 1)


def test_what_a_killed_program_left_is_cleared_away_by_a_later_save(tmp_path):
    for name, age in ((".porch.json.abc.part", 7200), (".porch.json.def.part", 0), (".other.json.x.part", 7200)):
        (tmp_path / name).write_text("half")
        os.utime(tmp_path / name, (time.time() - age,) * 2)
    save(STUDY, tmp_path / "porch.json")
    assert sorted(os.listdir(tmp_path)) == [".other.json.x.part", ".porch.json.def.part", "porch.json"]


def test_unsaved_changes_are_kept_beside_the_study_or_in_the_state_folder(tmp_path):
    assert recovery_path(tmp_path / "porch.json", Path("/state")) == tmp_path / "porch.json.recovery"
    assert recovery_path(None, tmp_path).parent == tmp_path

"""Nothing is lost: not to a killed program, a full or read-only disk, a vanished drive, a second window or nonsense."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.__main__ import main
from app.study import actions
from app.study.session import Session
from app.study.state import Item, Study
from app.study.storage import recovery, study_files, study_lock
from app.study.storage.study_files import settings_from
from data.problem import Problem
from data.recordings.model import Label
from data.study.study_file import from_json, to_json
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.app.killed import ITEMS
from tests.data.made import csv_text

ROOT = Path(__file__).parents[4]


def killed(folder: Path, rounds: int, seed: int) -> None:
    """So many rounds of label edits, each killed at a random moment; see tests/app/killed.py for what must hold."""
    done = subprocess.run([sys.executable, "-m", "tests.app.killed", str(folder), str(rounds), str(seed)], cwd=ROOT,
                          capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == str(rounds)


@pytest.mark.skipif(os.name != "posix", reason="needs fork and kill")
def test_a_program_killed_while_labels_are_edited_loses_nothing_that_was_kept(tmp_path):
    killed(tmp_path, 10, seed=1)


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="needs fork and kill")
def test_two_hundred_kills_lose_nothing(tmp_path):
    killed(tmp_path, int(os.environ.get("PLUMBFALL_KILLS", "200")), seed=2)


def killed_commands(folder: Path, kind: str, rounds: int, seed: int) -> None:
    """So many reads into a study, or exports, each killed; see tests/app/killed_commands.py for what must hold."""
    command = [sys.executable, "-m", "tests.app.killed_commands", str(folder), kind, str(rounds), str(seed)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == str(rounds)


@pytest.mark.skipif(os.name != "posix", reason="needs fork and kill")
@pytest.mark.parametrize("kind", ["read", "export"])
def test_a_command_killed_at_any_moment_loses_nothing_that_it_said_was_saved(tmp_path, kind):
    killed_commands(tmp_path, kind, 3, seed=1)


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="needs fork and kill")
@pytest.mark.parametrize("kind", ["read", "export"])
def test_hundreds_of_killed_commands_lose_nothing(tmp_path, kind):
    killed_commands(tmp_path, kind, int(os.environ.get("PLUMBFALL_KILLS", "200")), seed=2)


def test_the_recovery_copy_is_a_few_seconds_behind_at_most():
    assert recovery.SECONDS_BEHIND <= 5


IN_A_PLACE = """
import os, resource, sys
from pathlib import Path
from app.study import actions
from app.study.session import Session
from app.study.storage import study_files
from data.problem import Problem
path, other = Path(sys.argv[1]), Path(sys.argv[2])
session = Session(study_files.load(path), path)
session.act(actions.leave_out(session.study, [i.name for i in session.study.items], "x" * 2000), "leave out")
{there}
try:
    session.save(path)
except Problem as problem:
    print(problem.kind, problem.sentence(), sep="|")
assert session.dirty and session.study.items[0].left_out
{away}
session.save(other)
assert not session.dirty
"""


def refused_and_saved_elsewhere(tmp_path: Path, there: str, away: str, path: Path) -> tuple[str, str]:
    """What saving said, after which the same session saved in another place."""
    other = tmp_path / "other" / "porch.json"
    other.parent.mkdir()
    other.parent.chmod(0o777)
    tmp_path.chmod(0o777)
    script = IN_A_PLACE.format(there=there, away=away)
    done = subprocess.run([sys.executable, "-c", script, str(path), str(other)], cwd=ROOT, capture_output=True,
                          text=True)
    assert done.returncode == 0, done.stderr
    assert study_files.load(other).items[0].left_out
    kind, _, sentence = done.stdout.strip().partition("|")
    return kind, sentence


def test_a_full_disk_is_told_the_old_study_stays_and_another_place_takes_the_new_one(tmp_path):
    path = tmp_path / "porch.json"
    study_files.save(Study(items=ITEMS), path)
    before = path.read_bytes()
    kind, sentence = refused_and_saved_elsewhere(
        tmp_path, "resource.setrlimit(resource.RLIMIT_FSIZE, (8192, resource.RLIM_INFINITY))",
        "resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))", path)
    assert kind == "disk_full"
    assert "hoose another place" in sentence
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir() if p.is_file()] == ["porch.json"]


@pytest.fixture
def open_to_all() -> Iterator[Path]:
    """A folder that others than its owner reach too, unlike pytest's own."""
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


def test_a_read_only_folder_is_told_and_another_place_takes_the_study(open_to_all):
    folder = open_to_all / "locked"
    folder.mkdir()
    path = folder / "porch.json"
    study_files.save(Study(items=ITEMS), path)
    path.chmod(0o644)
    folder.chmod(0o555)
    # Root writes anywhere: be somebody else, where we are root.
    kind, sentence = refused_and_saved_elsewhere(open_to_all, "os.geteuid() == 0 and os.seteuid(65534)", "", path)
    folder.chmod(0o755)
    assert kind == "not_allowed"
    assert "hoose another place" in sentence


def test_a_drive_that_vanished_is_told_and_another_place_takes_the_study(tmp_path):
    (tmp_path / "drive").mkdir()
    path = tmp_path / "drive" / "porch.json"
    study_files.save(Study(items=ITEMS), path)
    kind, sentence = refused_and_saved_elsewhere(tmp_path, "import shutil; shutil.rmtree(path.parent)", "", path)
    assert kind == "vanished"
    assert "Nothing is lost while the window stays open" in sentence


def test_the_second_to_open_a_study_is_told_who_has_it_and_a_crash_leaves_no_lock(tmp_path):
    path = tmp_path / "porch.json"
    study_files.save(Study(items=ITEMS), path)
    first, second = study_lock.StudyLock(path), study_lock.StudyLock(path)
    assert first.take() is None
    holder = second.take()
    assert holder is not None
    assert str(os.getpid()) in holder.sentence()
    with pytest.raises(Problem, match="open elsewhere"), study_lock.alone(path):
        pass
    first.release()
    assert second.take() is None
    second.release()
    assert [p.name for p in tmp_path.iterdir()] == ["porch.json"]
    gone = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"], capture_output=True, text=True)
    plain = json.loads('{"machine": "", "process": 0, "since": 0}')
    for machine, process in (("here", int(gone.stdout)), ("here", os.getpid()), ("", 0)):
        first.path.write_text(json.dumps({**plain, "machine": machine and study_lock.socket.gethostname(),
                                          "process": process}))
        os.utime(first.path, (1, 1))
        assert first.take() is None
        first.release()
    first.path.write_text("cut sh")
    assert first.take() is None
    first.release()


def test_a_lease_is_never_held_twice_names_its_file_and_only_its_owner_removes_it(tmp_path):
    path = tmp_path / "porch.json"
    first, second = study_lock.StudyLock(path), study_lock.StudyLock(path)
    assert first.take() is None
    first.path.write_text("")  # torn by hand: the system's lock holds all the same
    assert second.take() is not None
    second.release()
    assert first.path.exists()
    first.path.unlink()
    assert second.take() is None  # whoever removes the file by hand opens the way
    first.release()
    assert second.path.exists()
    third = study_lock.StudyLock(path).take()
    assert third is not None
    assert "porch.json.open" in third.sentence()
    second.release()
    assert list(tmp_path.iterdir()) == []


TWO_WRITERS = """
import sys, time
from pathlib import Path
from dataclasses import replace
from app.study.storage import study_files, study_lock
from app.study.state import Item, Study
from data.problem import Problem
path, who, rounds = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
print("ready", flush=True)
sys.stdin.readline()
for i in range(rounds):
    while True:
        try:
            with study_lock.alone(path):
                study = study_files.load(path)
                added = Item(f"{who} {i}", f"/{i}.csv", "0" * 64)
                study_files.save(replace(study, items=(*study.items, added)), path)
                break
        except Problem:
            time.sleep(0.001)  # let the other one work
"""


def two_writers(folder: Path, rounds: int) -> None:
    """Two programs add recordings to one study, beside a lock that a killed one left."""
    path = folder / "porch.json"
    study_files.save(Study(), path)
    study_lock.StudyLock(path).path.write_text('{"machine": "", "process": 0, "since": 0}')
    writers = [subprocess.Popen([sys.executable, "-c", TWO_WRITERS, str(path), who, str(rounds)], cwd=ROOT,
                                stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) for who in "AB"]
    for writer in writers:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write("\n")
        writer.stdin.flush()
    for writer in writers:
        writer.communicate()
        assert writer.returncode == 0
    names = {item.name for item in study_files.load(path).items}
    assert len(names) == 2 * rounds
    assert [p.name for p in folder.iterdir()] == ["porch.json"]


def test_two_programs_that_write_at_once_lose_no_recording(tmp_path):
    two_writers(tmp_path, 20)


@pytest.mark.slow
def test_a_thousand_writes_of_two_programs_lose_no_recording(tmp_path):
    two_writers(tmp_path, int(os.environ.get("PLUMBFALL_WRITES", "500")))


def test_a_command_does_not_overwrite_what_another_saved_meanwhile(tmp_path):
    path = tmp_path / "porch.json"
    study_files.save(Study(items=ITEMS), path)
    slow = Session.opened(path)
    quick = Session.opened(path)
    quick.act(actions.leave_out(quick.study, ["walk 1"], "came loose"), "leave out")
    study_lock.save_alone(quick, path)
    slow.act(actions.leave_out(slow.study, ["walk 2"], "x"), "leave out")
    with pytest.raises(Problem, match="saved by another program"):
        study_lock.save_alone(slow, path)
    study_lock.save_alone(quick, path)
    assert study_files.load(path).items[1].left_out == "came loose"


def test_whether_a_recovery_copy_is_newer_no_clock_decides(tmp_path):
    path = tmp_path / "porch.json"
    study_files.save(Study(items=ITEMS), path)
    session = Session.opened(path)
    keeper = recovery.Keeper(session, tmp_path)
    session.act(actions.leave_out(session.study, ["walk 1"], "came loose"), "leave out")
    write = keeper.due()
    assert write is not None
    write()
    for copied, saved in ((1, 2), (2, 1)):
        os.utime(keeper.path, (copied, copied))
        os.utime(path, (saved, saved))
        found = recovery.find(path, tmp_path)
        assert found is not None
        assert (found.study.items[1].left_out, found.saved_since) == ("came loose", False)
    other = Session.opened(path)
    other.act(actions.leave_out(other.study, ["walk 2"], "another program"), "leave out")
    other.save(path)
    found = recovery.find(path, tmp_path)
    assert found is not None
    assert found.saved_since
    session.save(path)  # and a crash before the copy went
    assert recovery.find(path, tmp_path) is None


def test_a_lease_of_another_machine_holds_as_long_as_it_is_renewed(tmp_path):
    path = tmp_path / "porch.json"
    mine = study_lock.StudyLock(path)
    mine.path.write_text(json.dumps({"machine": "another", "process": 1, "since": time.time()}))
    assert mine.take() is not None
    os.utime(mine.path, (time.time() - 2 * study_lock.STALE_S,) * 2)
    assert mine.take() is None
    mine.renew()
    mine.release()


def test_a_command_does_not_write_into_a_study_that_is_open(tmp_path, capsys):
    (tmp_path / "walk.csv").write_text(csv_text())
    study = tmp_path / "s.json"
    assert main(["read", str(tmp_path / "walk.csv"), "--study", str(study)]) == 0
    before = study.read_bytes()
    window = study_lock.StudyLock(study)
    assert window.take() is None
    assert main(["read", str(tmp_path / "walk.csv"), "--study", str(study), "--rate", "50"]) == 2
    assert "open elsewhere" in capsys.readouterr().err
    assert study.read_bytes() == before
    window.release()
    assert main(["read", str(tmp_path / "walk.csv"), "--study", str(study)]) == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["s.json", "walk.csv"]


def test_a_place_where_no_lease_can_be_written_is_no_obstacle_to_looking(tmp_path):
    assert study_lock.StudyLock(tmp_path / "gone" / "porch.json").take() is None


STUDY_TEXT = to_json(study_files.to_file(Study(items=tuple(
    Item(f"walk {i}", f"/walks/{i}.csv", "0" * 64, labels=(Label("fall", "kerb", 1.0, 2.0),)) for i in range(3)))),
    Path("/"))
PIECES = st.sampled_from(["null", "1e999", "-1", '""', "[]", "{}", "NaN", "true", '"\\ud800"', "9" * 400, "{", "]"])


@given(st.lists(st.tuples(st.integers(0, len(STUDY_TEXT)), st.integers(0, 12), PIECES), min_size=1, max_size=4))
@settings(max_examples=150)
def test_any_edit_of_a_study_opens_or_is_refused_in_words(edits):
    text = STUDY_TEXT
    for at, length, piece in edits:
        text = text[:at] + piece + text[at + length:]
    study = opened_or_refused(text)
    assert study.sentence() if isinstance(study, Problem) else len(study.items) <= 3


def opened_or_refused(text: str) -> Study | Problem:
    try:
        return study_files.from_file(from_json(text, Path("/"), "porch.json"), "porch")
    except Problem as problem:
        return problem


@pytest.fixture(scope="module")
def header(tmp_path_factory) -> bytes:
    folder = tmp_path_factory.mktemp("header")
    (folder / "walk.csv").write_text(csv_text())
    assert main(["read", str(folder / "walk.csv"), "--study", str(folder / "s.json")]) == 0
    assert main(["export", str(folder / "s.json"), "--to", str(folder)]) == 0
    return (folder / "plumbfall_params.h").read_bytes()


@given(edits=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 8), st.binary(max_size=6)), min_size=1, max_size=5),
       kind=st.sampled_from(["header", "settings", "bytes"]))
@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_edit_of_a_header_or_a_settings_file_is_read_or_refused_in_words(header, tmp_path, edits, kind):
    plain = json.dumps({"front_end": {"range_g": 4, "bits": 12, "rate_hz": 50}, "settings": DEFAULTS.plain()})
    raw = {"header": header, "settings": plain.encode(), "bytes": b""}[kind]
    for share, length, piece in edits:
        at = int(share * len(raw))
        raw = raw[:at] + piece + raw[at + length:]
    path = tmp_path / "file"
    path.write_bytes(raw)
    refused = read_or_refused(path)
    assert refused is None or refused.sentence()


def read_or_refused(path: Path) -> Problem | None:
    try:
        settings_from(path, FrontEnd())
    except Problem as problem:
        return problem
    return None


READ_ONE = r"""
import re, sys, time
from pathlib import Path
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import Clock
from data.recordings.reading import read_recording
recipe, began = Recipe(clock=Clock("even", (50.0,))), time.process_time()
try:
    read_recording(Path(sys.argv[1]).read_bytes(), "a", recipe)
except Problem as problem:
    print(problem.line)
peak_kb = re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text())[1]  # getrusage counts the parent's too
print(time.process_time() - began, peak_kb)
"""


@pytest.mark.slow
@pytest.mark.parametrize(("times", "broken"), [(10_000, False), (10_000, True), (40_000, False), (40_000, True)])
def test_reading_stays_within_256_mb_and_twenty_times_the_file(tmp_path, times, broken):
    """Of 50 MB, and of 200 MB: the clock starts again all the time. Seconds of the processor, not of its neighbours."""
    rows = csv_text().split("\n", 1)[1] * times  # 200 rows each time, about 5 kB
    path = tmp_path / "long.csv"
    path.write_text("time_s,x_g,y_g,z_g\n" + rows + ("1,2,x,4\n" if broken else ""))
    done = subprocess.run([sys.executable, "-c", READ_ONE, str(path)], cwd=ROOT, capture_output=True, text=True)
    *line, took, peak_kb = done.stdout.split()
    assert line == ([str(200 * times + 2)] if broken else []), done.stderr
    assert float(peak_kb) * 1024 < 256e6 + 20 * path.stat().st_size
    assert float(took) < 10


def test_actions_after_a_refused_save_are_still_undone_one_by_one(tmp_path):
    session = Session(Study(items=ITEMS))
    session.act(actions.leave_out(session.study, ["walk 1"], "came loose"), "leave out")
    with pytest.raises(Problem):
        session.save(tmp_path / "gone" / "porch.json")
    assert session.undo().item("walk 1").left_out == ""
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY

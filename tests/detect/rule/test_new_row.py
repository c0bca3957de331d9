"""A row that the table does not have yet, put into a copy of the program: one row, its effect in the rule, and the rest
follows: panel, search, map, command line, header, and the C through the twin."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.detect.firmware.toolchain import needs

ROOT = Path(__file__).parents[3]
STUDY = ROOT / "tests" / "compat" / "files"

ROWS = '''    Parameter("nudge_on", "alarm", SWITCH, needs=ALWAYS, default=False, title="Nudge", spoken="nudge",
              sentence="An alarm is followed by a nudge.", integers=_flag("nudge_on")),
    Parameter("nudge_ms", "alarm", MS, needs="nudge_on", default=200, title="for", spoken="nudge for",
              sentence="The hold-off is longer by this.", integers=_window("nudge", "E"),
              low=20, high=2000, step=100, tuning=Tuning(50, 1000, ROOT, turn=6, off=OFF_LOWEST)),
'''
EFFECTS = {
    "detect/rule/parameters.py": ('    Parameter("hold_off_ms"', ROWS + '    Parameter("hold_off_ms"'),
    "detect/rule/reference.py": ("self.t + self.rule.hold_off",
                                 "self.t + self.rule.hold_off + self.rule.nudge * self.rule.nudge_on"),
    "detect/firmware/c/plumbfall_detector.c": (
        "state->now + s->hold_off_samples;",
        "state->now + s->hold_off_samples + (s->nudge_on ? s->nudge_samples : 0U);"),
}


@pytest.fixture(scope="module")
def copied(tmp_path_factory) -> Path:
    """The program with a switch and a number more, in the middle of the table, and what they do to the hold-off."""
    folder = tmp_path_factory.mktemp("copied")
    for name in ("app", "data", "detect"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    for path in ("tests/detect/rule/made_up_row.py",):
        (folder / path).parent.mkdir(parents=True)
        shutil.copyfile(ROOT / path, folder / path)
    shutil.copytree(STUDY, folder / "study")
    for name, (before, after) in EFFECTS.items():
        text = (folder / name).read_text(encoding="utf-8")
        assert text.count(before) == 1
        (folder / name).write_text(text.replace(before, after), encoding="utf-8")
    return folder


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    settings = {**os.environ, "PYTHONPATH": str(folder), "QT_QPA_PLATFORM": "offscreen", "HOME": str(folder)}
    return subprocess.run([sys.executable, *words], cwd=folder, env=settings, capture_output=True, text=True,
                          check=False)


@pytest.fixture(scope="module")
def found(copied) -> dict[str, dict[str, object]]:
    behind = run(copied, "-c", "import detect.rule.integers")
    assert "Rule and the table in detect/rule/parameters.py differ in nudge, nudge_on. " \
        "Run python -m detect.firmware.header.generated." in behind.stderr
    written = run(copied, "-m", "detect.firmware.header.generated")
    assert written.stdout.splitlines() == [
        f"detect/{name} is written anew." for name in ("rule/integers.py", "firmware/c/plumbfall_settings.h",
                                                       "firmware/c/plumbfall_settings.c")]
    done = run(copied, "-m", "tests.detect.rule.made_up_row", "study/study.json", ".")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


pytestmark = needs("cc")


def test_a_value_goes_through_the_twin_by_its_job_and_by_its_header(found):
    said = found["twin"]
    assert said["told"]
    assert said["built"]
    assert len(set(said["attempts"].values())) == 3, "a longer hold-off lets fewer attempts begin"


def test_it_comes_back_from_its_exported_header(found):
    said = found["header"]
    assert said["same"]
    assert said["remarks"] == 0
    assert said["lines"] == [
        "#define PLF_NUDGE_ON                       1U  /* nudge_on: requested on */",
        "#define PLF_NUDGE_SAMPLES                 17U  /* nudge_ms: requested 340 ms, actual 340 ms */",
        "PLF_CHECK(nudge_on, PLF_NUDGE_ON <= 1U);",
        "PLF_CHECK(nudge_samples, PLF_NUDGE_SAMPLES >= 1U && PLF_NUDGE_SAMPLES <= 4096U);"]
    assert "PLF_NUDGE_SAMPLES 4097U is outside 1 ... 4096." in said["refusal"]


def test_it_has_a_row_in_the_panel(found):
    assert found["panel"] == {"value": 340.0, "integer": "17", "spoken": "Nudge, for", "shown": True,
                              "hidden_while_off": True}


def test_a_search_may_try_it(found):
    said = found["search"]
    assert said["levels"][0] >= 50
    assert said["levels"][-1] <= 1000
    assert len(said["levels"]) > 5
    assert said["off_first"]
    assert said["choices"] == {"nudge_ms": ["nudge for", True, [50, 1000]]}


def test_a_map_may_be_drawn_of_it(found):
    assert found["map"] == {"mappable": True, "ends": [20.0, 2000.0], "title": "nudge for", "off": "Nudge"}


def test_the_command_line_takes_it(found):
    assert found["command_line"] == {"keys": [["nudge_ms", [100.0, 900.0]]], "setting": 340.0, "integer": 17}

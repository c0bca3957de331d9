"""What the window kept before keys were renamed is found in the person's folders, and a study opens with what only the
window shows of it. The files are those of test_old_files.py."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMessageBox

from app.ui.program import Program, dress
from tests.app.mouse import until_active

FILES = Path(__file__).parent / "files"


@pytest.fixture
def old(tmp_path, monkeypatch) -> Path:
    """The old files in a folder of their own; the recovery copies are newer than what they are of, as they were."""
    folder = tmp_path / "old"
    shutil.copytree(FILES, folder)
    os.utime(folder / "study.json", (1_000_000_000, 1_000_000_000))
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def program(qtbot, qapp, old) -> Iterator[Program]:
    """A window that finds the folder `home` in place of the person's own."""
    dress(qapp)
    made = Program(qapp, old / "home")
    made.show()
    until_active(made.window)
    yield made
    made.bench.session._saved = made.bench.session.study  # nothing unsaved: closing asks nothing
    made.window.close()
    made.window.deleteLater()


@pytest.fixture
def settled(qtbot, program) -> Callable[[], None]:
    def wait() -> None:
        qtbot.waitUntil(lambda: program.jobs.at_rest, timeout=20_000)
        QApplication.processEvents()

    return wait


def answer_yes() -> None:
    """To the question that comes up next."""
    def press() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        box.button(QMessageBox.StandardButton.Yes).click()

    QTimer.singleShot(200, press)


def today(settings: dict[str, Any]) -> dict[str, Any]:
    """Settings by the keys they have today."""
    return {key.replace("busy_", "active_"): value for key, value in settings.items()}


def held(path: Path) -> dict[str, Any]:
    return json.loads(path.read_text(encoding="utf-8"))


def test_appearance_and_annotator_are_those_that_were_chosen(program):
    assert program.appearance.choice == "dark"
    assert program.labelling.annotator == "second"


def test_the_last_study_opens_where_it_was_left_with_its_reference_other_side_and_kept_settings(
        program, old, settled):
    for copy in (old / "study.json.recovery", old / "home" / "unsaved.recovery"):
        copy.unlink()
    program.open([])
    settled()
    study, window = program.bench.session.study, program.window
    assert program.bench.session.path == Path("study.json")
    assert not program.bench.session.dirty
    assert (window.recordings.current, window.recordings.filter.text()) == ("W02_kerb_left_1", "fall")
    seen = window.trace.canvas.window_s
    assert (seen.start, seen.end) == (pytest.approx(3.0), pytest.approx(7.25))
    marks = {one["name"]: one for one in held(old / "study.json")["marks"]}
    assert study.side == "B"
    for settings, name in ((study.mark, "mark"), (study.other, "A")):
        assert today(settings.plain()) == today(marks[name]["settings"])
    assert [one.note for one in study.kept] == ["lax, all checks", "every axis, 25 Hz"]
    for one in study.kept:
        kept = marks[f"kept: {one.note}"]
        assert today(one.settings.plain()) == today(kept["settings"])
        assert list(one.counts) == [kept["score"][cell] for cell in ("tp", "fn", "fp", "tn")]
    assert study.kept[1].front_end.plain() == {"range_g": 8.0, "bits": 10, "rate_hz": 25.0}


def test_a_recovery_copy_beside_an_old_study_is_offered_and_brings_its_changes(program, old, settled):
    answer_yes()
    program.open([old / "study.json"])
    settled()
    session = program.bench.session
    assert today(session.study.settings.plain()) == today(held(old / "study.json.recovery")["settings"])
    assert session.study.item("W02_chair_drop_1").left_out == "not what it says"
    assert session.dirty


def test_a_study_that_was_never_saved_is_recovered(program, old, settled):
    answer_yes()
    program.open([])
    settled()
    session = program.bench.session
    assert session.path is None
    assert {item.name for item in session.study.items} == {
        "W01_jog_1", "W01_morning_1", "W01_porch_back_1", "W02_kerb_left_1"}
    assert session.refusals() == ()
    assert session.study.settings["impact_g"] == 2.45


def test_own_presets_are_in_their_menu_and_bring_their_settings(program, old):
    menu = program.window.settings.presets.menu()
    menu.aboutToShow.emit()
    own = next(action.menu() for action in menu.actions() if action.menu() is not None)
    own.aboutToShow.emit()
    preset = next(action for action in own.actions() if action.text() == "porch, busy")
    preset.trigger()
    study = program.bench.session.study
    assert today(study.settings.plain()) == today(held(old / "home/presets/porch, busy.json")["settings"])


@pytest.mark.parametrize(("file", "stamps", "unit"), [
    ("recipes/volts/W01_fall_1.csv", "as-stamped", "volts"), ("recordings/W01_jog_1.csv", "as-stamped", "g")])
def test_what_was_said_of_such_files_is_remembered_by_their_header(file, stamps, unit, program, old):
    dialog = program.files.reading.show([str(old / file)])
    recipe = dialog.recipe()
    assert dialog.memory.isVisible()
    assert recipe.units.acceleration == unit
    assert recipe.clock.stamps.replace(" ", "-") == stamps
    dialog.close()

"""The header exported from the window: beside it, cancelled or not, with the settings it was asked for."""

from __future__ import annotations

import time
from itertools import pairwise
from pathlib import Path

import pytest
from PySide6.QtCore import QTimer

from app.study import actions
from app.study.storage.study_files import settings_from
from app.ui.program import Program
from app.ui.widgets.problem_dialog import ProblemsDialog
from detect.firmware import export
from tests.app.mouse import click
from tests.app.study_made import made, session_of

LONGEST_WAIT_S = 0.25
"""Between two turns of the event loop; the whole export takes a second, most of it in one piece of work."""


@pytest.fixture
def scored(program, settled) -> Program:
    """No vectors have been computed so far, as after a start."""
    program.bench.take_session(session_of(made()[:-1]))
    settled()
    export._golden.cache_clear()
    return program


def longest_wait_s(program: Program, qtbot, folder: Path) -> float:
    """Of the event loop, from the call of an export that computes its vectors anew to its end."""
    export._golden.cache_clear()
    turns = [time.perf_counter()]
    clock = QTimer(program.window, interval=5)
    clock.timeout.connect(lambda: turns.append(time.perf_counter()))
    clock.start()
    program.files.export(folder)
    qtbot.waitUntil(lambda: program.jobs.at_rest, timeout=20_000)
    clock.stop()
    assert (folder / "plumbfall_params.h").exists()
    return max(after - before for before, after in pairwise(turns))


def test_the_event_loop_keeps_turning_while_a_header_is_written(scored, qtbot, tmp_path):
    # A virtual machine waits for its host at the first touch of memory, now and then half a second: our own work would
    # be in the way every time.
    waits = [longest_wait_s(scored, qtbot, tmp_path / str(number)) for number in range(3)]
    assert min(waits) < LONGEST_WAIT_S, waits
    assert scored.window.status.message.toolTip().startswith("Wrote plumbfall_params.h")


def exported_says(program: Program, qtbot, folder: Path) -> str:
    """Every sentence of the box that comes up when an export is done."""
    program.files.export(folder)
    qtbot.waitUntil(lambda: program.jobs.at_rest, timeout=20_000)
    (told,) = [one for one in program.window.findChildren(ProblemsDialog) if one.isVisible()]
    return "\n".join(told.sentences())


def test_an_export_keeps_the_reference_that_was_set_and_says_so(scored, qtbot, tmp_path):
    bench = scored.bench
    bench.act(actions.set_mark(bench.session.study), "set reference")
    reference = bench.session.study.mark
    bench.slide("impact_g", 3.5, "")
    fixed = bench.session.results().score.since_mark
    said = exported_says(scored, qtbot, tmp_path / "firmware 7")
    assert bench.session.study.mark == reference
    assert bench.session.results().score.since_mark == fixed != "0 fixed, 0 broken"
    assert "The reference stays as it was set" in said
    (kept,) = bench.session.study.kept
    assert (kept.note, kept.settings) == ("exported to firmware 7", bench.session.study.settings)


def test_without_a_reference_the_export_becomes_it_and_says_so(scored, qtbot, tmp_path):
    said = exported_says(scored, qtbot, tmp_path)
    assert scored.bench.session.study.mark == scored.bench.session.study.settings
    assert "the exported settings are the reference now" in said


def test_settings_kept_under_a_note_keep_it_when_they_are_exported(scored, qtbot, tmp_path):
    bench = scored.bench
    bench.act(actions.keep_settings(bench.session.study, "the best", (1, 2, 3, 4)), "keep")
    exported_says(scored, qtbot, tmp_path)
    assert [one.note for one in bench.session.study.kept] == ["the best"]


def test_what_was_exported_is_the_mark_even_if_a_slider_moved_meanwhile(scored, qtbot, tmp_path):
    asked = scored.bench.session.study.settings
    scored.files.export(tmp_path)
    scored.bench.slide("impact_g", 3.0, "")
    qtbot.waitUntil(lambda: scored.jobs.at_rest, timeout=20_000)
    study = scored.bench.session.study
    assert study.mark == asked
    assert study.settings["impact_g"] == 3.0
    assert settings_from(tmp_path / "plumbfall_params.h", study.front_end).settings == asked


def test_a_cancelled_export_writes_nothing(scored, qtbot, tmp_path):
    scored.files.export(tmp_path / "header")
    qtbot.waitUntil(scored.window.status.cancel.isVisible, timeout=3_000)
    click(scored.window.status.cancel)
    qtbot.waitUntil(lambda: scored.jobs.at_rest, timeout=20_000)
    assert not (tmp_path / "header").exists()
    assert scored.bench.session.study.mark is None

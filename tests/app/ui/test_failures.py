"""A fault in each background job: the person is told, the log has it, and nothing waits for ever."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from PySide6.QtWidgets import QApplication, QLabel, QWidget

from app.study import actions
from app.ui.capture.source_form import FILE
from app.ui.jobs import Jobs
from app.ui.program import Program
from app.ui.widgets.problem_dialog import ProblemsDialog
from data.problem import Problem
from data.recordings.model import Label
from tests.app.mouse import click, wait

Usable = Callable[[], bool]
"""Whether what was asked for can be asked for again."""


@pytest.fixture
def scored(two_people) -> Program:
    return two_people


# What makes the window start each job, and how one sees that nobody waits for it any more.

def prepare(program, tmp_path) -> Usable:
    program.bench.change_front_end("range_g", 8.0)
    return lambda: not program.bench.jobs.busy()


def open_study(program, tmp_path) -> Usable:
    program.files.open_demo()
    return program.window.empty.demo.isEnabled


def export(program, tmp_path) -> Usable:
    program.files.export(tmp_path / "header")
    return lambda: not (tmp_path / "header").exists()


def recovery_copy(program, tmp_path) -> Usable:
    program.bench.choose("impact_g", 3.0)
    program.files.copies.write()
    return lambda: not program.files.copies.path.exists()


def read(program, tmp_path) -> Usable:
    (tmp_path / "walk.csv").write_text("time_s,x_g,y_g,z_g\n0,0,1,0\n0.02,0,1,0\n")
    dialog = program.files.reading.show([str(tmp_path / "walk.csv")])
    dialog.decided.emit(dialog.paths, dialog.recipe())
    return lambda: dialog.read.isEnabled() and program.window.empty.open.isEnabled()


def find_recordings(program, tmp_path) -> Usable:
    program.files.elsewhere.look_in(tmp_path)
    return lambda: True


def chart(program, tmp_path) -> Usable:
    program.window.tabs.show_page(program.window.map_and_curve)
    return program.window.map_and_curve.again.isVisible


def takes(program, tmp_path) -> Usable:
    program.window.tabs.show_page(program.window.attempts_place)
    program.window.recordings.choose("W01 trip 1")
    return lambda: program.window.takes.aside.text() == "one setting at a time"


def onsets(program, tmp_path) -> Usable:
    study = program.bench.session.study
    items = tuple(replace(item, labels=(Label("fall", "", None, None),)) for item in study.items)
    program.bench.act(replace(study, items=items), "whole recordings")
    program.onsets.propose()
    return lambda: True


def labels(program, tmp_path) -> Usable:
    program.doubting.show()
    return program.doubting.dialog.isVisible


def quality(program, tmp_path) -> Usable:
    program.examining.show()
    return program.examining.dialog.isVisible


def calibration(program, tmp_path) -> Usable:
    program.calibrating.show()
    return program.calibrating.panel.names.isEnabled


def find_settings(program, tmp_path) -> Usable:
    program.finding.show()
    click(program.finding.dialog.start)
    return lambda: program.finding.dialog.start.isVisible() and program.finding.dialog.form.isEnabled()


def carry_over(program, tmp_path) -> Usable:
    program.carrying.show()
    return lambda: program.carrying.panel.add.isEnabled() and not program.carrying.panel.aside.text()


def seal(program, tmp_path) -> Usable:
    program.sealing.show()
    program.sealing.seal(["W02"])
    program.files.save()
    program.sealing.open()
    return lambda: program.sealing.dialog.open_seal.isEnabled() and program.sealing.dialog.opening is None


def open_line(program, tmp_path) -> Usable:
    (tmp_path / "board.txt").write_bytes(b"")
    program.capturing.show()
    dialog = program.capturing.dialog
    dialog.form.kind.setCurrentText(FILE)
    dialog.form.place.setCurrentText(str(tmp_path / "board.txt"))
    click(dialog.record)
    return dialog.record.isEnabled


def make_recordings(program, tmp_path) -> Usable:
    open_line(program, tmp_path)
    dialog = program.capturing.dialog
    for _ in range(1500):
        if not dialog.recording:
            wait(20)
    click(dialog.record)
    return lambda: dialog.record.isEnabled() and not dialog.recording


def topic(title: str) -> Callable[..., Usable]:
    """A run of a topic of the Device window."""
    def ask(program, tmp_path) -> Usable:
        program.device.show()
        program.device.beside.show_topic(title)
        QApplication.processEvents()
        shown = program.device.beside.topic
        shown.run_asked.emit()
        return lambda: not shown.working
    return ask


def falls_lost(program, tmp_path) -> Usable:
    """Counted by itself while the topic is shown and the device sleeps."""
    study = program.bench.session.study
    program.bench.act(actions.set_device_value(study, "current.sleeps", "until woken"), "sleeps")
    program.device.show()
    program.device.beside.show_topic("Battery and radio")
    return lambda: not program.device.budget.topic.working


def report(program, tmp_path) -> Usable:
    program.reporting.show()
    program.reporting.write(tmp_path / "r.html")
    return lambda: program.reporting.save.isEnabled() and not (tmp_path / "r.html").exists()


def pack(program, tmp_path) -> Usable:
    program.reporting.show()
    program.reporting.write_archive(tmp_path / "r.zip")
    return lambda: program.reporting.pack.isEnabled() and not (tmp_path / "r.zip").exists()


ASKED = {
    ("ReportController", "report"): report, ("ReportController", "archive"): pack,
    ("_Preparing", "prepare"): prepare, ("Files", "open"): open_study, ("Files", "export"): export,
    ("RecoveryCopies", "recovery copy"): recovery_copy, ("ImportController", "read"): read,
    ("MissingRecordings", "find"): find_recordings, ("ChartController", "chart"): chart,
    ("AnalysisController", "takes"): takes,
    ("CheckLabels", "doubts"): labels, ("OnsetController", "onsets"): onsets, ("QualityController", "quality"): quality,
    ("CalibrationController", "calibration"): calibration,
    ("FindSettings", "find settings"): find_settings, ("CarryOver", "carry over"): carry_over,
    ("SealController", "seal"): seal,
    ("CaptureController", "open line"): open_line, ("CaptureController", "make recordings"): make_recordings,
    ("WhatIfController", "what if"): topic("What if"), ("RangesController", "ranges"): topic("Range switching"),
    ("SleepController", "sleep"): topic("Sleep"), ("MountingController", "mounting"): topic("Mounting"),
    ("ToleranceController", "tolerance"): topic("Tolerance"), ("BudgetController", "awake"): topic("Battery and radio"),
    ("PartsController", "parts"): topic("Compare parts"), ("BudgetController", "lost"): falls_lost,
}


def test_every_background_job_of_the_register_is_made_to_fail_here(program):
    assert {(type(one).__name__, kind) for one, kind in program.controllers.background()} == set(ASKED)


def words(program) -> str:
    """Everything that can be read in the window and in its dialogs."""
    windows = [program.window, *([program.device.beside] if "beside" in program.device.__dict__ else [])]
    shown = [one for window in windows for one in window.findChildren(QWidget) if one.isVisible()]
    said = [f"{one.text()} {one.toolTip()}" for one in shown if isinstance(one, QLabel)]
    said += [sentence for one in shown if isinstance(one, ProblemsDialog)
             for sentence in (one.heading.text(), *one.sentences())]
    return "\n".join(said)


def failing(failure: Exception):
    def work(progress, cancelled):
        raise failure

    return work


@pytest.mark.parametrize("failure", [RuntimeError("the wheel came off"),
                                     Problem("wheel", "The wheel came off.", "Put it back.")],
                         ids=["fault", "problem"])
@pytest.mark.parametrize("job", list(ASKED), ids=lambda job: job[1])
def test_a_failing_job_is_told_and_logged_and_nobody_waits(qtbot, scored, tmp_path, monkeypatch, job, failure):
    start, broken = Jobs.start, []

    def start_broken(self, one):
        if one.kind == job[1]:
            one.work = failing(failure)
            broken.append(one)
        start(self, one)

    monkeypatch.setattr(Jobs, "start", start_broken)
    usable = ASKED[job](scored, tmp_path)
    (controller,) = [one for one, kind in scored.controllers.background() if (type(one).__name__, kind) == job]
    qtbot.waitUntil(lambda: bool(broken) and controller.jobs.at_rest and usable(), timeout=10_000)
    QApplication.processEvents()
    said, log = words(scored), scored.faults.path.read_text()
    assert "the wheel came off" in log.lower()
    if isinstance(failure, Problem):
        assert "The wheel came off. Put it back." in said
        assert "An unexpected error occurred." not in said
    else:
        assert "An unexpected error occurred." in said
        assert str(scored.faults.path) in said
    assert not scored.window.status.cancel.isVisible()
    assert scored.window.isEnabled()

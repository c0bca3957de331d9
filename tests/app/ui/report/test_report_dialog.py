"""Report and archive in the window: answers kept as one step, what is missing said, files written beside the window."""

from __future__ import annotations

import threading
import zipfile

import pytest
from PySide6.QtTest import QTest

from app.study.report import dossier, topics
from app.ui.program import Program


@pytest.fixture
def reporting(study, monkeypatch, tmp_path) -> Program:
    study.bench.session.save(tmp_path / "s.json")
    monkeypatch.setattr(dossier, "TOPICS", [one for one in topics.TOPICS if one.key in ("sleeping", "ranges")])
    study.reporting.workers = 1
    study.reporting.show()
    return study


def test_answers_are_one_step_that_undo_takes_back_and_the_study_keeps(reporting):
    own, bench = reporting.reporting, reporting.bench
    QTest.keyClicks(own.answers["product"], "Bob 2")
    QTest.keyClicks(own.answers["wearer"], "grown people")
    own.keep_answers()
    assert bench.session.study.intended_use.product == "Bob 2"
    assert bench.session.history.undoes == "intended use"
    own.keep_answers()
    bench.undo()
    assert bench.session.study.intended_use.wearer == ""
    bench.redo()
    assert bench.session.study.intended_use.wearer == "grown people"


def test_the_report_is_written_with_what_was_missing_computed(qtbot, reporting, tmp_path):
    own = reporting.reporting
    assert own.missing.text().startswith("Missing or stale: A sleeping processor, A range that is switched.")
    own.compute.setChecked(True)
    own.write(tmp_path / "r.html")
    qtbot.waitUntil(lambda: own.done.text().startswith("Wrote "), timeout=60_000)
    page = (tmp_path / "r.html").read_text()
    assert 'id="sleeping"' in page
    assert "Not computed for this study" not in page
    assert not own.compute.isVisible()
    assert own.missing.text() == ""


def test_a_study_without_a_file_is_told_to_be_saved_before_anything_is_computed(reporting):
    own, session = reporting.reporting, reporting.bench.session
    session.path = None
    own.look()
    assert "Save the study to compute and keep them." in own.missing.text()
    assert not own.compute.isVisible()


def test_the_archive_is_packed_beside_the_window(qtbot, reporting, tmp_path):
    own = reporting.reporting
    own.write_archive(tmp_path / "h.zip")
    qtbot.waitUntil(lambda: own.done.text().startswith("Wrote "), timeout=60_000)
    with zipfile.ZipFile(tmp_path / "h.zip") as opened:
        assert {"study.json", "report/report.html", "firmware/plumbfall_params.h"} <= set(opened.namelist())


def test_what_can_not_be_written_is_said_in_the_dialog(qtbot, reporting, tmp_path):
    own = reporting.reporting
    (tmp_path / "taken.tables").write_text("")
    own.write(tmp_path / "taken.html")
    qtbot.waitUntil(lambda: "taken.tables" in own.said.text(), timeout=60_000)


def test_while_a_report_is_computed_nothing_is_asked_anew_and_an_export_says_that_it_waits(
        qtbot, reporting, tmp_path, monkeypatch):
    own, go_on = reporting.reporting, threading.Event()
    monkeypatch.setattr(dossier, "compute_missing", lambda *_: go_on.wait(30))
    own.compute.setChecked(True)
    own.write(tmp_path / "r.html")
    assert (own.save.isEnabled(), own.pack.isEnabled()) == (False, False)
    reporting.files.export(tmp_path / "firmware")
    assert reporting.window.status.message.toolTip() == "The export waits until writing the report is done."
    go_on.set()
    qtbot.waitUntil(lambda: reporting.jobs.at_rest, timeout=60_000)
    assert (own.save.isEnabled(), own.pack.isEnabled()) == (True, True)
    assert (tmp_path / "firmware" / "plumbfall_params.h").exists()


def test_what_failed_or_was_cancelled_can_be_asked_again(qtbot, reporting, tmp_path):
    own = reporting.reporting
    (tmp_path / "taken.tables").write_text("")
    own.write(tmp_path / "taken.html")
    qtbot.waitUntil(lambda: own.said.text() != "", timeout=60_000)
    assert own.save.isEnabled()
    own.write(tmp_path / "r.html")
    reporting.jobs.cancel()
    qtbot.waitUntil(lambda: reporting.jobs.at_rest, timeout=60_000)
    assert own.save.isEnabled()

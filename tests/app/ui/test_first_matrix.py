"""Own folder to own matrix, as somebody who sees the window for the first time: counted in clicks."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QDialog, QMessageBox

from app.study.labels import tables
from app.ui.importing.dialog import ImportDialog
from app.ui.labels.table_dialog import LabelTableDialog
from data.demo.write import NOTES
from tests.app import corpus
from tests.app.conftest import drop
from tests.app.mouse import click
from tests.app.study_made import made, session_of

MOST_ACTIONS = 4


@pytest.fixture
def folder(tmp_path) -> Path:
    """What a logger left: recordings in m/s² two folders down, columns that name no unit, one table of falls whose keys
    lack the files' suffix, and a page of notes."""
    top = tmp_path / "campaign"
    noise = np.random.default_rng(1)
    for activity, story in (("A1", corpus.fall_story()), ("B1", corpus.walk())):
        for person in (1, 2, 3):
            file = top / "recordings" / activity / f"P{person:02d}_T01_acc.csv"
            file.parent.mkdir(parents=True, exist_ok=True)
            g = 9.80665 * (story + noise.normal(0, 0.003, story.shape))
            rows = [f"{i / corpus.RATE:.3f},{x:.3f},{y:.3f},{z:.3f}" for i, (x, y, z) in enumerate(g)]
            file.write_text("\n".join(["t,ax,ay,az", *rows]) + "\n")
    falls = [f"A1/P{person:02d}_T01,{corpus.IMPACT_S - 0.5},{corpus.IMPACT_S + 1}" for person in (1, 2, 3)]
    (top / "falls.csv").write_text("\ufeff" + "\r\n".join(["file,start_time,end_time", *falls]) + "\r\n")
    (top / "README.md").write_text("Nothing to read here.\n")
    return top


def front(program, kind: type[QDialog]):
    return next(one for one in program.window.findChildren(kind) if one.isVisible())


def choose_new_study() -> None:
    box = QApplication.activeModalWidget()
    assert isinstance(box, QMessageBox)
    click(next(one for one in box.buttons() if one.text().replace("&", "") == "New study"))


@pytest.mark.parametrize("over_demo", [False, True])
def test_a_dropped_folder_becomes_a_matrix_in_four_actions(program, folder, settled, over_demo):
    clicks = 1
    if over_demo:
        session = session_of(made())
        session.history.everywhere(lambda study: replace(study, notes=NOTES))
        session._saved = session.study
        program.bench.take_session(session)
        settled()
        QTimer.singleShot(0, choose_new_study)
        clicks += 1
    drop(program.window, folder)
    settled()
    reading = front(program, ImportDialog)
    assert reading.kind.text().startswith("Complete what the 6 files do not specify.")
    click(reading.take_and_read)
    clicks += 1
    settled()
    labels = front(program, LabelTableDialog)
    assert labels.summary.text().startswith("6 labels for 6 recordings, 3 of them falls; 0 rows in conflict.")
    click(labels.read)
    clicks += 1
    settled()
    QApplication.processEvents()
    assert [one for one in program.window.findChildren(QDialog) if one.isVisible()] == []
    assert program.bench.session.results().score.counts == {"tp": 3, "fn": 0, "fp": 0, "tn": 3}
    assert program.window.recordings.current in {item.name for item in program.bench.session.study.items}
    assert program.window.trace.item is not None, "something is shown"
    people = {item.about.person for item in program.bench.session.study.items}
    assert people == {"01", "02", "03"}
    assert clicks <= MOST_ACTIONS


def test_what_no_suggestion_settles_is_not_imported(program, folder, settled):
    for path in folder.glob("recordings/*/*.csv"):
        rows = path.read_text().split("\n")
        path.write_text("\n".join(row.partition(",")[2] for row in rows))  # no times, and nothing says the rate
    (folder / "falls.csv").unlink()
    drop(program.window, folder)
    settled()
    reading = front(program, ImportDialog)
    click(reading.take_and_read)
    settled()
    assert reading.isVisible()
    assert reading.read.text() == "Import"
    assert not any(item.about.person for item in program.bench.session.study.items)


def test_only_what_may_be_labels_is_looked_through_for_names(program, folder, settled, monkeypatch):
    """Hundreds of recordings that need options held the window up, each compared with the names of all."""
    looked = []
    itself = tables.names_recordings
    monkeypatch.setattr(tables, "names_recordings",
                        lambda path, recordings: (looked.append(path.name), itself(path, recordings))[1])
    one = folder / "recordings" / "A1" / "P01_T01_acc.csv"
    for trial in range(2, 14):
        one.with_name(f"P01_T{trial:02d}_acc.csv").write_bytes(one.read_bytes())
    drop(program.window, folder)
    settled()
    assert front(program, ImportDialog).isVisible()
    assert looked == ["falls.csv"]

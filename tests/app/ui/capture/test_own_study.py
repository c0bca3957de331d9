"""Boards recorded while the demo is open: asked where the recordings go, as opening files asks."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMessageBox

from app.study.state import Study
from app.ui.capture.controller import CaptureController
from app.ui.capture.source_form import FILE
from app.ui.program import Program
from data.demo.write import NOTES
from tests.app.mouse import click
from tests.app.study_made import made, session_of


@pytest.fixture
def capturing(program: Program, settled, tmp_path) -> CaptureController:
    """A small study that says that it is the demo, and a form that is filled in."""
    session = session_of(made()[:2])
    session.history.everywhere(lambda study: Study(**{**vars(study), "notes": NOTES}))
    session._saved = session.study
    program.bench.take_session(session)
    settled()
    program.capturing.show()
    form = program.capturing.dialog.form
    form.kind.setCurrentText(FILE)
    form.protocol.setCurrentText("columns")
    form.columns.setText("node,sequence,x,y,z")
    form.unit.setCurrentText("mg")
    form.rate.setText("50")
    path = tmp_path / "board.txt"
    path.write_text("".join(f"1,{at},0,1000,{at % 7}\n" for at in range(200)))
    form.place.setCurrentText(str(path))
    return program.capturing


def answer(words: str, asked: list[str]) -> None:
    def press() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        asked.append(box.text())
        click(next(one for one in box.buttons() if one.text().replace("&", "") == words))

    QTimer.singleShot(0, press)


def record(capturing: CaptureController, qtbot) -> None:
    dialog = capturing.dialog
    click(dialog.record)
    qtbot.waitUntil(lambda: dialog.recording and bool(dialog.strips.status), timeout=30_000)
    qtbot.waitUntil(lambda: dialog.strips.status[1].received == 200, timeout=30_000)
    click(dialog.record)
    qtbot.waitUntil(lambda: "recording added" in dialog.said.text(), timeout=30_000)


def names(program: Program) -> list[str]:
    return [item.name for item in program.bench.session.study.items]


def test_recordings_of_boards_go_into_a_new_study_or_the_demo_as_the_person_says(program, capturing, qtbot, settled):
    demo, asked = names(program), []
    answer("Cancel", asked)
    click(capturing.dialog.record)
    assert asked == ["The demo study is open. Where should these recordings go?"]
    assert not capturing.dialog.recording
    assert names(program) == demo
    answer("Add to the demo", asked)
    record(capturing, qtbot)
    settled()
    assert len(names(program)) == len(demo) + 1
    record(capturing, qtbot)
    assert len(asked) == 2, "asked once"


def test_a_new_study_holds_the_recordings_of_boards_alone(program, capturing, qtbot, settled):
    asked = []
    answer("New study", asked)
    record(capturing, qtbot)
    settled()
    assert len(names(program)) == 1
    assert len(asked) == 1


def test_a_raw_capture_that_is_recovered_asks_too(program, capturing):
    asked = []
    answer("Cancel", asked)
    capturing.intake.make_from(Path("left.plfraw"))
    assert len(asked) == 1
    assert capturing.jobs.at_rest


def test_the_second_field_is_called_what_it_is_of_each_source(capturing):
    form = capturing.dialog.form
    said = {}
    for at in range(form.kind.count()):
        form.kind.setCurrentIndex(at)
        said[form.kind.currentText()] = form._form.labelForField(form.place).text()
    assert said == {"Serial port": "Port", "TCP: connect to": "Address", "TCP: wait on port": "Port",
                    "Growing file": "File", "Simulated boards": "Recording"}
    assert form.place.accessibleName() == "Recording"

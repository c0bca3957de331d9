"""A person's recordings deleted in the window: asked, agreed to, gone from table, history, undo and memory."""

from PySide6.QtWidgets import QInputDialog, QMessageBox

from app.study.capture.study_intake import taken_in
from app.study.session import Session
from app.ui.capture.worn_table import remembered
from tests.app.mouse import answer
from tests.app.study.capture.sender import made
from tests.app.study.capture.test_recordings import played, raw_of
from tests.app.study.storage.test_person_deletion import WEARERS


def opened(program, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    session = Session()
    (tmp_path / "captures").mkdir()
    taken_in(session, raw_of(tmp_path / "captures" / "both.plfcap", played(made(2, 600, 50))), WEARERS)
    session.save(tmp_path / "study.json")
    program.bench.take_session(session)
    program.preferences.setValue("capture/worn/101", ["Q17", "waist"])
    monkeypatch.setattr(QInputDialog, "getItem", lambda *a: ("Q17", True))
    return session


def test_a_person_is_deleted_once_that_was_agreed_to(program, settled, tmp_path, monkeypatch):
    session = opened(program, tmp_path, monkeypatch)
    settled()
    asked = answer(QMessageBox.StandardButton.No)
    program.deleting.ask()
    assert "1 recording of Q17" in asked[0]
    assert len(session.study.items) == 2
    answer(QMessageBox.StandardButton.Yes)
    program.deleting.ask()
    settled()
    assert [item.about.person for item in session.study.items] == ["R23"]
    assert program.window.recordings.table.model().rowCount() == 1
    assert remembered(program.preferences, 101).person == ""
    program.bench.undo()
    assert all(item.about.person != "Q17" for item in session.study.items)
    assert not (tmp_path / "captures" / "both_node1_1.csv").exists()
    assert (tmp_path / "captures" / "both_node2_1.csv").exists()


def test_nothing_is_deleted_while_boards_are_recorded(program, settled, tmp_path, monkeypatch):
    session = opened(program, tmp_path, monkeypatch)
    settled()
    monkeypatch.setattr(program.deleting, "_busy", lambda: "Boards are being recorded.")
    shown = []
    monkeypatch.setattr(program.deleting, "show_problem", lambda heading, *problems: shown.append(heading))
    program.deleting.ask()
    assert shown == ["Nothing was deleted."]
    assert len(session.study.items) == 2

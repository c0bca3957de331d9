"""The first hour: own recordings beside the demo, one dialog for files and folders, what comes next."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QModelIndex, Qt, QTimer
from PySide6.QtGui import QDesktopServices
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialogButtonBox, QLineEdit, QListView, QMessageBox, QPushButton

from app.study.state import Study
from app.ui.files.file_dialogs import PlacesDialog
from app.ui.importing.dialog import ImportDialog
from app.ui.program import Program
from app.ui.widgets.problem_dialog import ProblemsDialog
from data.demo import NOTES
from tests.app import corpus
from tests.app.conftest import close_dialogs, drop
from tests.app.mouse import click, wait
from tests.app.study_made import made, session_of


@pytest.fixture
def demo(program, settled) -> Program:
    """A study that is the demo by its notes, as small as can be."""
    session = session_of(made())
    session.history.everywhere(lambda study: Study(**{**vars(study), "notes": NOTES}))
    session._saved = session.study
    program.bench.take_session(session)
    settled()
    return program


def answer(words: str, asked: list[str]) -> None:
    """Press a button of the next question; what it asked is appended."""
    def press() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        asked.append(box.text())
        assert next(one for one in box.buttons() if one is box.defaultButton()).text() == "New study"
        click(next(one for one in box.buttons() if one.text().replace("&", "") == words))

    QTimer.singleShot(0, press)


def in_dialog(act: Callable[[PlacesDialog], None]) -> None:
    """Do something in the next dialog of places; it never stays open."""
    def wait() -> None:
        dialog = QApplication.activeModalWidget()
        if not isinstance(dialog, PlacesDialog):
            QTimer.singleShot(20, wait)
            return
        try:
            act(dialog)
        finally:
            dialog.reject()

    QTimer.singleShot(0, wait)


def mark_and_open(name: str) -> Callable[[PlacesDialog], None]:
    def act(dialog: PlacesDialog) -> None:
        view = dialog.findChild(QListView, "listView")
        model = view.model()

        def places() -> list[QModelIndex]:
            rows = (model.index(at, 0, view.rootIndex()) for at in range(model.rowCount(view.rootIndex())))
            return [index for index in rows if index.data() == name]

        for _ in range(250):
            if not places():
                wait(20)
        view.scrollTo(places()[0])
        QTest.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=view.visualRect(places()[0]).center())
        click(dialog.buttons.button(QDialogButtonBox.StandardButton.Open))

    return act


def names(program: Program) -> set[str]:
    return {item.name for item in program.bench.session.study.items}


def test_own_recordings_over_the_demo_become_a_study_of_their_own(demo, recordings, settled):
    asked: list[str] = []
    answer("New study", asked)
    drop(demo.window, recordings, recordings / "made.toml", recordings / "made_events.tsv")
    settled()
    assert asked == ["The demo study is open. Where should these recordings go?"]
    assert names(demo) == {"W01_fall_1", "W02_fall_1", "W01_walk_1", "W02_walk_1", "W03_fall_1.csv"}
    assert demo.window.toolbar.title.text() == "New study"
    assert "Synthetic" not in demo.bench.session.study.notes


def test_cancel_leaves_the_demo_as_it_is(demo, recordings, settled):
    before, asked = demo.bench.session.study, []
    answer("Cancel", asked)
    drop(demo.window, recordings)
    settled()
    assert asked
    assert demo.bench.session.study is before


def test_added_to_the_demo_they_are_asked_about_once_and_one_undo_removes_them(demo, recordings, tmp_path, settled):
    before, asked = names(demo), []
    answer("Add to the demo", asked)
    drop(demo.window, recordings)
    settled()
    close_dialogs(demo.window)
    assert names(demo) > before
    drop(demo.window, corpus.write(tmp_path / "more"))
    settled()
    assert len(asked) == 1
    close_dialogs(demo.window)
    demo.bench.undo()
    demo.bench.undo()
    settled()
    assert names(demo) == before


def test_undo_takes_back_what_was_refused_first_and_read_with_options_then(program, tmp_path, settled):
    folder = tmp_path / "no units"
    folder.mkdir()
    for trial in (1, 2):
        rows = [f"{i / 50:.3f},{9.81 * x:.3f},{9.81 * y:.3f},{9.81 * z:.3f}"
                for i, (x, y, z) in enumerate(corpus.walk() * (1 + trial / 100))]
        (folder / f"P01_walk_{trial}.csv").write_text("\n".join(["t,ax,ay,az", *rows]) + "\n")
    drop(program.window, folder)
    settled()
    assert [bool(item.refused) for item in program.bench.session.study.items] == [True, True]
    dialog = next(one for one in program.window.findChildren(ImportDialog) if one.isVisible())
    for button in (dialog.take_all, dialog.read):
        click(button)
        settled()
    assert [item.refused for item in program.bench.session.study.items] == ["", ""]
    assert program.bench.session.history.undoes == "read 2 recordings"
    click(program.window.toolbar.undo)
    settled()
    assert program.bench.session.study.items == ()


def test_one_dialog_opens_a_folder_and_begins_there_the_next_time(program, tmp_path, settled):
    corpus.write(tmp_path / "walks")
    program.preferences.setValue("last_place", str(tmp_path))
    in_dialog(mark_and_open("walks"))
    click(program.window.toolbar.open)
    settled()
    close_dialogs(program.window)
    assert "W01_walk_1" in names(program)
    assert program.files.recent.paths() == [tmp_path / "walks"]
    assert program.files.recent.last_place == str(tmp_path)


def test_a_folder_of_the_command_line_is_recent_and_opens_from_the_menu(program, recordings, settled):
    program.open([recordings])
    settled()
    close_dialogs(program.window)
    program.bench.undo()
    assert names(program) == set()
    menu = next(one for one in program.window.toolbar.menu.menu().findChildren(type(program.label_menu.menu))
                if one.title() == "Open recent")
    menu.aboutToShow.emit()
    entry, = menu.actions()
    assert entry.text() == str(recordings)
    entry.trigger()
    settled()
    assert "W01_walk_1" in names(program)


def test_export_makes_its_folder_names_it_and_opens_it(study, tmp_path, settled, monkeypatch):
    program = study
    program.preferences.setValue("last_place", str(tmp_path))
    monkeypatch.setattr(program.files, "_despite", lambda warnings: True)

    def type_name(dialog: PlacesDialog) -> None:
        line = dialog.findChild(QLineEdit, "fileNameEdit")
        line.selectAll()
        QTest.keyClicks(line, "for the device")
        click(dialog.buttons.button(QDialogButtonBox.StandardButton.Save))

    in_dialog(type_name)
    click(program.window.toolbar.export)
    settled()
    made_here = tmp_path / "for the device"
    assert (made_here / "plumbfall_params.h").exists()
    told = next(one for one in program.window.findChildren(ProblemsDialog) if one.isVisible())
    assert str(made_here) in told.heading.text()
    assert any(f'plumbfall check "{made_here}"' in one for one in told.sentences())
    opened: list[Path] = []
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda url: opened.append(Path(url.toLocalFile())))
    click(next(one for one in told.findChildren(QPushButton) if one.text() == "Open folder"))
    assert opened == [made_here]


def test_where_nothing_is_labelled_the_next_step_stands_by_the_score(program, recordings, tmp_path, settled):
    for file in recordings.glob("W0[12]*.csv"):
        shutil.copy(file, tmp_path)
    drop(program.window, *tmp_path.glob("*.csv"))
    settled()
    close_dialogs(program.window)
    assert program.window.score.next.isVisible()
    assert "Next: read labels" in program.window.status.message.text()
    program.bench.choose("impact_g", 8.0)
    drop(program.window, recordings / "made_events.tsv")
    settled()
    QApplication.processEvents()
    assert not program.window.score.next.isVisible()
    assert program.window.recordings.current == "W01_fall_1"
    canvas = program.window.trace.canvas
    fall_s = corpus.IMPACT_S - 0.5
    assert canvas.recorded.trace.seconds.seconds(canvas.playhead) == pytest.approx(fall_s, abs=0.03)
    assert canvas.window_s.holds(fall_s)

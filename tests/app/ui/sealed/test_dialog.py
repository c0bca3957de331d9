"""The sealed set in the window: ticked and sealed, opened once the price is known, released, with real events."""

from __future__ import annotations

import json

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialogButtonBox, QLineEdit, QMessageBox, QTableView, QWidget

from app.study import actions
from app.study.results.breakdown import WAYS
from app.study.storage import study_files
from app.ui.sealed.controller import SealController
from app.ui.widgets.problem_dialog import ProblemsDialog
from data.study import study_file
from tests.app.mouse import click, wait
from tests.app.study_made import made, session_of


@pytest.fixture
def sealing(two_people) -> SealController:
    """The dialog open over a saved study of two people."""
    program = two_people
    QTest.keyClick(program.window, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier)
    assert program.sealing.dialog.isVisible()
    return program.sealing


@pytest.fixture
def sealed(sealing, settled) -> SealController:
    """W02 ticked and sealed."""
    tick(sealing, "W02")
    click(sealing.dialog.seal)
    settled()
    return sealing


def tick(sealing: SealController, person: str) -> None:
    """By the keyboard: the row, then space."""
    people = sealing.dialog.people
    row = next(row for row in range(people.rowCount()) if people.item(row, 0).text() == person)
    people.setCurrentCell(row, 0)
    people.setFocus()
    QTest.keyClick(people, Qt.Key.Key_Space)
    assert people.item(row, 0).checkState() is Qt.CheckState.Checked


def answer(said: str) -> list[str]:
    """Press a button of the question that is about to be asked; what it asks is put into the list."""
    asked: list[str] = []

    def press() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        asked.append(box.informativeText())
        click(next(button for button in box.buttons() if said in button.text().replace("&", "")))

    QTimer.singleShot(0, press)
    return asked


def open_seal(qtbot, sealing: SealController) -> list[str]:
    asked = answer("Open and count")
    click(sealing.dialog.open_seal)
    qtbot.waitUntil(lambda: sealing.jobs.at_rest, timeout=20_000)
    return asked


def words_of(widget: QWidget) -> str:
    """Everything that tables and labels below a widget hold, hidden pages too."""
    texts = []
    for table in widget.findChildren(QTableView):
        model = table.model()
        texts += [str(model.data(model.index(row, column))) for row in range(model.rowCount())
                  for column in range(model.columnCount())]
    texts += [getattr(one, "text", str)() for one in widget.findChildren(QWidget) if hasattr(one, "text")
              and callable(one.text)]
    return "\n".join(texts)


def test_who_is_sealed_is_in_no_list_of_the_window(sealed, settled, program):
    window, study = program.window, program.bench.session.study
    assert {item.about.person for item in study.items} == {"W01"}
    assert {row.name.split()[0] for row in window.recordings.shown} == {"W01"}
    assert window.score.counts() == {"tp": 1, "fn": 2, "fp": 1, "tn": 1}
    assert "1 person sealed, 4 recordings" in window.score.remarks.text()
    for page in (window.attempts_place, window.splits, window.beside, window.comparing, window.history,
                 window.map_and_curve):
        window.tabs.go_to(page)
        settled()
    for way in range(len(WAYS)):
        window.splits.by.setCurrentIndex(way)
        settled()
    program.doubting.show()
    program.examining.show()
    wait(100)
    said = words_of(window) + words_of(program.doubting.dialog) + words_of(program.examining.dialog)
    program.doubting.close()
    program.examining.close()
    assert "W01 trip 1" in said
    assert "W02" not in said


def test_what_was_sealed_is_said_to_have_been_in_the_score(sealed):
    dialog = sealed.dialog
    assert dialog.sealed.text() == "1 person sealed, 4 recordings"
    assert dialog.opened.text() == "The sealed set has not been opened."
    assert dialog.remarks.text().startswith("They were in the score before they were sealed")
    assert [dialog.people.item(row, 0).text() for row in range(dialog.people.rowCount())] == ["W01"]


def test_opening_says_its_price_and_then_shows_the_figures(qtbot, sealed, program, settled):
    path = program.bench.session.path
    program.files.save()
    asked = open_seal(qtbot, sealed)
    assert "has not been opened" in asked[0]
    assert "can't be prevented" in asked[0]
    dialog = sealed.dialog
    assert dialog.opening.number == 1
    assert dialog.said.text().startswith("Caught 1 of 3 · false alarms 0 of 1")
    texts = {row.texts[0]: row.texts[1:] for row in dialog.figures.rows_model.rows}
    assert texts["sensitivity"][0] == "33.3 %"
    assert "–" in texts["sensitivity"][1]
    assert [row.texts[2:4] for row in dialog.openings.rows_model.rows] == [("1 of 3", "0 of 1")]
    (entry,) = study_files.load(path).seal.openings
    assert entry.matrix == {"tp": 1, "fn": 2, "fp": 0, "tn": 1}
    assert not program.bench.session.dirty
    settled()
    assert "1 person sealed, 4 recordings, opened once" in program.window.score.remarks.text()
    click(dialog.copy)
    assert "sensitivity\t33.3 %" in QGuiApplication.clipboard().text()
    assert "W02" not in QGuiApplication.clipboard().text()


def test_an_opening_is_written_even_where_all_else_is_thrown_away(qtbot, sealed, program, settled):
    program.files.save()
    bench, path = program.bench, program.bench.session.path
    bench.act(actions.set_value(bench.session.study, "impact_g", 3.0), "impact")
    open_seal(qtbot, sealed)
    assert bench.session.dirty
    saved = study_files.load(path)
    assert len(saved.seal.openings) == 1
    assert saved.settings["impact_g"] != 3.0
    for _ in range(4):
        bench.undo()
    settled()
    assert len(bench.session.study.seal.openings) == 1
    assert {item.about.person for item in bench.session.study.items} == {"W01"}
    assert sealed.dialog.opened.text().startswith("The sealed set was opened once: 20")


def test_nothing_is_opened_where_the_price_is_too_high(sealed, program):
    program.files.save()
    before = program.bench.session.path.read_bytes()
    answer("Cancel")
    click(sealed.dialog.open_seal)
    assert sealed.jobs.at_rest
    assert sealed.dialog.opening is None
    assert program.bench.session.path.read_bytes() == before


def test_a_study_without_a_file_is_saved_first(program, settled):
    program.bench.take_session(session_of(made()[:-1]))
    settled()
    program.sealing.show()
    tick(program.sealing, "W02")
    click(program.sealing.dialog.seal)
    settled()
    click(program.sealing.dialog.open_seal)
    assert program.sealing.dialog.said.text().startswith("Save the study first")
    assert program.bench.session.study.seal.openings == ()


def release(sealing: SealController, person: str) -> None:
    """Through the small dialog that asks whom."""
    click(sealing.dialog.release)
    box = QApplication.activeModalWidget()
    QTest.keyClicks(box.findChild(QLineEdit), person)
    buttons = box.findChild(QDialogButtonBox)
    click(next(one for one in buttons.buttons() if one.text().replace("&", "") == "Release"))


def test_released_by_name_they_are_back_and_it_is_written(sealed, program, settled):
    program.files.save()
    release(sealed, "W09")
    assert sealed.dialog.said.text().startswith('Nobody named "W09" is sealed.')
    release(sealed, "W02")
    settled()
    assert {row.name.split()[0] for row in program.window.recordings.shown} == {"W01", "W02"}
    assert sealed.dialog.sealed.text() == "Nobody is sealed."
    assert not program.bench.session.dirty
    assert [one.act for one in study_files.load(program.bench.session.path).seal.entries] == ["sealed", "released"]


def test_nobody_ticked_is_refused_in_words(sealing, program):
    click(sealing.dialog.seal)
    assert sealing.dialog.said.text().startswith("Nobody is selected")
    assert program.bench.session.study.sealed == ()


def test_somebody_who_is_yet_to_be_read_is_sealed_ahead(sealing, program):
    QTest.keyClicks(sealing.dialog.ahead, "W07, W08")
    click(sealing.dialog.seal)
    assert program.bench.session.study.sealed == ("W07", "W08")
    assert "Of 2 sealed people no recording was read yet" in sealing.dialog.remarks.text()


def test_a_study_whose_record_was_cut_says_so_when_it_is_opened(qtbot, sealed, program, settled):
    program.files.save()
    open_seal(qtbot, sealed)
    path = program.bench.session.path
    plain = json.loads(path.read_text())
    del plain["seal"]["entries"][1]
    path.write_text(json.dumps(plain))
    assert len(study_file.load(path).seal.entries) == 1
    program.files.open_study(path)
    settled()
    said = [one for dialog in program.window.findChildren(ProblemsDialog) for one in dialog.sentences()]
    assert any("broken at its end" in one for one in said)
    assert "broken at its end" in sealed.dialog.broken.text()

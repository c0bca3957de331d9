"""Language of numbers and unit of acceleration, chosen by the keyboard: shown everywhere, typed, remembered, and never
in what leaves the window."""

from __future__ import annotations

import re

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QLabel

from app import number_style
from app.formatting import GAP, THIN
from app.number_style import OPEN, SI, SIGNS, use
from app.ui.preferences import SIGNS_KEY
from app.ui.program import Program, preferences_in
from detect.rule.settings import Settings
from tests.app.conftest import close_dialogs
from tests.app.mouse import press_copy, type_into
from tests.app.study_made import made, session_of


@pytest.fixture(autouse=True)
def _open_again():
    yield
    use(OPEN)


@pytest.fixture
def asked(program, settled):
    program.bench.take_session(session_of(made()))
    settled()
    QTest.keyClick(program.window, Qt.Key.Key_Comma, Qt.KeyboardModifier.ControlModifier)
    assert program.preferring.visible
    return program.preferring


def choose(box: QComboBox, wanted: object) -> None:
    """By the keyboard: down until it is the one."""
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Home)
    while box.currentData() != wanted:
        before = box.currentIndex()
        QTest.keyClick(box, Qt.Key.Key_Down)
        assert box.currentIndex() > before
    QApplication.processEvents()


def labels(program: Program) -> str:
    return "\n".join(one.text() for one in program.window.findChildren(QLabel) if one.isVisible())


def test_a_decimal_comma_is_shown_in_settings_figures_tables_and_trace(program, asked, settled):
    window = program.window
    assert window.settings.rows["impact_g"].box.text() == f"2.00{GAP}g"
    tables = window.attempts.table.rows_model
    window.recordings.choose_first()
    settled()
    before = [tables.data(tables.index(0, at)) for at in range(len(tables.columns))]
    assert any("." in cell for cell in before)
    choose(asked.numbers, "1.234,5")
    assert window.settings.rows["impact_g"].box.text() == f"2,00{GAP}g"
    assert [tables.data(tables.index(0, at)) for at in range(len(tables.columns))] == \
        [cell.replace(".", ",").replace(THIN, ".") for cell in before]
    assert "33,3 %" in labels(program), "2 of 6 falls"
    assert "33.3 %" not in labels(program)
    assert "0,00" in window.trace.readout.text()
    names = [row.texts[0] for row in window.recordings.table.rows_model.rows]
    shown = window.recordings.table.rows_model
    assert [shown.data(shown.index(at, 0)) for at in range(len(names))] == names, "a name is no figure"


def test_metres_per_second_squared_are_shown_and_typed(program, asked, settled):
    window = program.window
    choose(asked.acceleration, SI)
    box = window.settings.rows["impact_g"].box
    assert box.text() == f"19.6{GAP}m/s²"
    assert "m/s²" in window.trace.readout.text() or window.trace.item is None
    before = program.bench.session.study.settings
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Return)
    assert program.bench.session.study.settings == before, "what is shown is rounded; nobody typed"
    type_into(box, "25")
    assert program.bench.session.study.settings.number("impact_g") == pytest.approx(25 / 9.80665)
    type_into(box, "3 g")
    assert program.bench.session.study.settings.number("impact_g") == 3
    choose(asked.acceleration, "g")
    assert box.text() == f"3.00{GAP}g"
    type_into(box, "19.6133 m/s2")
    assert program.bench.session.study.settings.number("impact_g") == pytest.approx(2.0)


def test_tips_have_the_signs_and_the_unit_chosen_and_go_back(program, asked, settled):
    window = program.window
    seen = [window.toolbar.undo, window.settings.rows["upright"], window.score._figures[0][0]]
    program.bench.choose("impact_g", 2.25)
    settled()
    before = [widget.toolTip() for widget in seen]
    assert f"2.25{GAP}g" in before[0]
    choose(asked.numbers, "1.234,5")
    choose(asked.acceleration, SI)
    assert f"22,1{GAP}m/s²" in seen[0].toolTip()
    assert seen[1].toolTip() == before[1].replace(THIN, ".")
    assert seen[2].toolTip() == re.sub(r"(\d)\.(\d)", r"\1,\2", before[2]) != before[2]
    program.bench.choose("impact_g", 3.0)
    settled()
    assert f"29,4{GAP}m/s²" in seen[0].toolTip(), "and what is said from now on"
    for box, choice in ((asked.numbers, next(iter(SIGNS))), (asked.acceleration, "g")):
        choose(box, choice)
    program.bench.undo()
    settled()
    assert [widget.toolTip() for widget in seen] == before


def test_a_thousandth_of_a_g_is_shown_and_typed_in_the_unit_chosen(program, asked):
    program.device.show()
    program.device.beside.show_topic("Tolerance")
    QApplication.processEvents()
    box = program.device.tolerance.topic.form.fields["spread.offset_mg"]
    assert box.text() == f"50{GAP}mg"
    choose(asked.acceleration, SI)
    assert box.text() == f"0.49{GAP}m/s²"
    for typed, mg in (("0.980665", 100.0), ("80 mg", 80.0), ("0.03 g", 30.0)):
        type_into(box, typed)
        assert program.bench.session.study.device.number("spread.offset_mg") == pytest.approx(mg)
    choose(asked.acceleration, "g")
    type_into(box, "60")
    assert program.bench.session.study.device.number("spread.offset_mg") == 60.0


def test_the_search_asks_for_its_bounds_in_the_unit_chosen(program, asked):
    choose(asked.acceleration, SI)
    form = program.finding.dialog.form
    row = next(at for at in range(form.settings.rowCount()) if form.settings.item(at, 0).text() == "impact at least")
    assert form.settings.item(row, 3).text() == SI
    assert form.wanted().bounds["impact_g"] is None, "untouched they are the usual ones"
    form.settings.item(row, 1).setText("19.6133")
    assert form.wanted().bounds["impact_g"] == (pytest.approx(2.0), 16.0)


def test_what_leaves_the_window_keeps_the_open_form(program, asked, settled, tmp_path):
    window = program.window
    window.recordings.choose_first()
    settled()
    table = window.attempts.table
    asked.dialog.close()
    press_copy(table)
    before = QGuiApplication.clipboard().text()
    assert "." in before
    program.files.export(tmp_path / "open")
    settled()
    score = window.score.as_text()
    close_dialogs(window)
    asked.show()
    choose(asked.numbers, "1 234,5")
    choose(asked.acceleration, SI)
    asked.dialog.close()
    press_copy(table)
    assert QGuiApplication.clipboard().text() == before
    assert window.score.as_text() == score
    program.files.export(tmp_path / "comma")
    settled()
    for name in ("plumbfall_params.h", "plumbfall_params.json"):
        assert "m/s²" not in (tmp_path / "comma" / name).read_text()
    assert _settings(tmp_path / "comma") == _settings(tmp_path / "open")


def test_it_is_remembered_from_one_start_to_the_next(program, asked, qapp):
    choose(asked.numbers, "1 234,5")
    choose(asked.acceleration, SI)
    program.preferences.sync()
    use(OPEN)
    again = Program(qapp, program.files.state_folder)
    assert again.window.settings.rows["impact_g"].box.text() == f"19,6{GAP}m/s²"
    assert number_style.style().acceleration == SI
    assert preferences_in(program.files.state_folder).value(SIGNS_KEY) == "1 234,5"
    again.controllers.close()
    again.window.deleteLater()


def heights(program: Program) -> list[str]:
    """Words of the ticks beside the magnitude."""
    axis = program.window.trace.canvas.plots._axes[0]
    return axis.tickStrings([], 1.0, 1.0)


def test_the_trace_has_ticks_that_are_round_in_the_unit_chosen(program, asked, settled, qtbot):
    window = program.window
    window.recordings.choose_first()
    settled()
    asked.dialog.close()
    qtbot.waitUntil(lambda: window.trace.canvas.plots is not None, timeout=10_000)
    assert all(float(word) <= 8 for word in heights(program))
    choose(asked.numbers, "1 234,5")
    choose(asked.acceleration, SI)
    QApplication.processEvents()
    assert max(map(float, heights(program))) >= 10
    assert all(float(word) % 5 == 0 for word in heights(program))
    assert "m/s²" in window.trace.readout.text()


def _settings(folder) -> Settings:
    from app.study.storage.study_files import settings_from
    from detect.rule.front_end import FrontEnd

    return settings_from(folder / "plumbfall_params.h", FrontEnd()).settings

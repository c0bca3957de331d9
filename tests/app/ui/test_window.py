"""The window as a user meets it: everything dropped, dragged, clicked and typed."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication, QStyleHints
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QInputDialog, QLineEdit, QWidget

from app.ui.about import AboutDialog
from app.ui.theme.colours import DARK, LIGHT
from app.ui.widgets.problem_dialog import ProblemsDialog
from app.ui.widgets.quantity_form import CutLabel
from tests.app.conftest import close_dialogs
from tests.app.mouse import click, until_active, wait
from tests.app.ui.corpus_shown import AT_FIRST, click_menu, counts, dialogs, outcomes, shown

CONTROL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier


# Recordings

def test_a_recording_is_left_out_with_a_reason_and_taken_back(study, qtbot):
    window = study.window
    window.recordings.choose("W01_fall_1")
    QTest.keyClick(window.recordings.table, Qt.Key.Key_L, CONTROL)
    line = window.findChild(QInputDialog).findChild(QLineEdit)
    QTest.keyClicks(line, "strap came loose")
    QTest.keyClick(line, Qt.Key.Key_Return)
    until_active(window)
    assert counts(study)["tp"] == 2
    assert "1 left out" in window.score.remarks.text()
    assert window.recordings.reason.text() == "left out: strap came loose"
    QTest.keyClick(window.recordings.table, Qt.Key.Key_L, CONTROL | SHIFT)
    assert counts(study) == AT_FIRST


def test_a_recording_is_removed_and_undo_brings_it_back(study, settled):
    window = study.window
    window.recordings.choose("W02_fall_1")
    window.recordings.table.setFocus()
    QTest.keyClick(window.recordings.table, Qt.Key.Key_Delete)
    settled()
    assert counts(study)["tp"] == 2
    assert "W02_fall_1" not in outcomes(study)
    click(window.toolbar.undo)
    settled()
    assert counts(study) == AT_FIRST


# Looks and words

def test_light_and_dark_by_menu_and_remembered(study):
    from PySide6.QtGui import QPalette
    for words, theme in (("Dark", DARK), ("Light", LIGHT)):
        click_menu(study, words)
        assert study.appearance.theme is theme
        assert QApplication.palette().color(QPalette.ColorRole.Window).name() == theme.panel
        assert study.window.grab().toImage().pixelColor(4, 20).name() == theme.ground
    assert study.preferences.value("appearance") == "light"


def test_the_systems_light_and_dark_are_followed_unless_one_is_chosen(program, qapp, monkeypatch):
    hints = qapp.styleHints()

    def turn(scheme: Qt.ColorScheme) -> None:
        # There is no desktop to turn dark here, so its answer and its word of the change are given in its place.
        monkeypatch.setattr(QStyleHints, "colorScheme", lambda _: scheme)
        hints.colorSchemeChanged.emit(scheme)
        shown()

    for scheme, theme in ((Qt.ColorScheme.Dark, DARK), (Qt.ColorScheme.Light, LIGHT)):
        turn(scheme)
        assert program.appearance.theme is theme
        assert program.window.grab().toImage().pixelColor(4, 20).name() == theme.ground
    click_menu(program, "Light")
    turn(Qt.ColorScheme.Dark)
    assert program.appearance.theme is LIGHT
    assert program.window.grab().toImage().pixelColor(4, 20).name() == LIGHT.ground


def test_about_has_cautions_and_licences(program):
    click_menu(program, "About Plumbfall")
    dialog, = dialogs(program, AboutDialog)
    for said in ("not a medical device", "certifies nothing", "licensed practice", "young volunteers flatter",
                 "faults.log"):
        assert said in dialog.cautions.text()
    assert "Plumbfall" in dialog.texts
    assert len(dialog.texts) >= 3
    dialog.which.setCurrentIndex(dialog.which.count() - 1)
    assert len(dialog.text.toPlainText()) > 200
    dialog.close()


def test_every_command_of_the_menu_has_a_key_of_its_own(program):
    menu = program.window.toolbar.menu.menu()
    every = [*menu.actions(), *(a for sub in menu.actions() if sub.menu() for a in sub.menu().actions())]
    actions = [a for a in every if not a.menu() and not a.isSeparator()]  # a menu below changes with the recording
    assert len(actions) > 20
    keys = [a.shortcut().toString() for a in actions]
    assert all(keys), [a.text() for a in actions if not a.shortcut().toString()]
    assert len(set(keys)) == len(keys)


def test_everything_that_takes_the_focus_has_an_accessible_name(study):
    QApplication.processEvents()
    nameless = [widget for widget in study.window.findChildren(QWidget)
                if widget.isVisible() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus
                and not widget.accessibleName() and not getattr(widget, "text", str)()]
    assert nameless == []


def test_tab_goes_through_the_whole_window_and_comes_back(study):
    window = study.window
    window.recordings.filter.setFocus()
    seen = []
    for _ in range(200):
        QTest.keyClick(window, Qt.Key.Key_Tab)
        if QApplication.focusWidget() is window.recordings.filter:
            break
        seen.append(QApplication.focusWidget())
    assert window.recordings.table in seen
    assert window.settings.rows["impact_g"].slider in seen
    assert window.settings.rows["impact_g"].box in seen
    assert all(cell in seen for cell in window.score.cells.values())
    assert window.toolbar.export in seen


def test_a_fault_goes_to_the_log_and_its_place_is_shown(program):
    try:
        raise RuntimeError("seven")
    except RuntimeError as fault:
        program.faults.write(fault)
    program.faults.write(RuntimeError("again"))
    dialog, = dialogs(program, ProblemsDialog)
    assert str(program.faults.path) in dialog.sentences()[0]
    assert "Traceback" not in dialog.sentences()[0]
    assert "RuntimeError: seven" in program.faults.path.read_text()


@pytest.mark.parametrize("size", [(1280, 800), (1920, 1080)])
def test_nothing_is_clipped(study, size, qtbot):
    from PySide6.QtWidgets import QAbstractButton, QLabel
    study.window.resize(*size)
    study.window.recordings.choose("W01_fall_1")
    wait(50)
    clipped = []
    for widget in study.window.findChildren(QLabel) + study.window.findChildren(QAbstractButton):
        if not widget.isVisible() or widget.visibleRegion().isEmpty() or not widget.text():
            continue
        if isinstance(widget, QLabel) and widget.wordWrap():
            short = widget.heightForWidth(widget.width()) > widget.height() + 1
        else:
            short = widget.sizeHint().width() > widget.width() + 1
        if isinstance(widget, CutLabel):  # gives way, and what it says is under the mouse
            short = short and widget.toolTip() != widget.text()
        whole = widget.visibleRegion().boundingRect() == widget.rect()
        if short or not whole:
            clipped.append((type(widget).__name__, widget.text(), widget.size(), widget.sizeHint()))
    assert clipped == [], "\n".join(map(str, clipped))


def test_copied_tables_are_text(study):
    click_menu(study, "Copy score as text")
    assert "fall\t4\t0" in QGuiApplication.clipboard().text()
    close_dialogs(study.window)

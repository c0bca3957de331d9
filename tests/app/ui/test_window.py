"""The window as a user meets it: everything dropped, dragged, clicked and typed."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtGui import QGuiApplication, QStyleHints
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialog, QInputDialog, QLineEdit, QMessageBox, QPushButton, QWidget

from app.study import actions
from app.study.presets import preset
from app.study.state import Widening
from app.study.storage.study_files import settings_from
from app.ui.about import AboutDialog
from app.ui.main_window import SENTENCES
from app.ui.theme.colours import DARK, LIGHT
from app.ui.widgets.problem_dialog import ProblemsDialog
from app.ui.widgets.quantity_form import CutLabel
from detect.rule.settings import DEFAULTS, PARAMETERS, Unit
from tests.app.conftest import close_dialogs, drop
from tests.app.corpus import FAR_END, walk, write_csv
from tests.app.mouse import click, drag, type_into, until_active
from tests.app.ui.trace.trace_hand import drag as drag_line

CONTROL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
NUMBERS = [p.key for p in PARAMETERS if p.unit in (Unit.G, Unit.MS, Unit.DEGREE, Unit.PERCENT)]
AT_FIRST = {"tp": 4, "fn": 0, "fp": 0, "tn": 2}


def drag_slider(program, key: str, end: str) -> None:
    slider = program.window.settings.rows[key].slider
    y = slider.height() // 2
    drag(slider, QPoint(slider.width() // 2, y), QPoint(0 if end == "low" else slider.width(), y))


def dialogs(program, kind: type[QDialog]) -> list:
    return [dialog for dialog in program.window.findChildren(kind) if dialog.isVisible()]


def shown() -> None:
    """The score may wait until no event does, and the lists until it is painted."""
    for _ in range(3):
        QApplication.processEvents()


def counts(program) -> dict[str, int] | None:
    """What the matrix shows once no event waits."""
    shown()
    return program.window.score.counts()


def outcomes(program) -> dict[str, str]:
    shown()
    return {row.name: row.outcome for row in program.window.recordings.shown}


# Coming in

def test_a_dropped_folder_with_recipe_and_labels_is_read_and_scored(program, recordings, settled):
    assert drop(program.window, recordings, recordings / "made.toml", recordings / "made_events.tsv")
    settled()
    assert counts(program) == AT_FIRST
    assert outcomes(program) == {"W01_fall_1": "caught", "W02_fall_1": "caught", "W01_walk_1": "quiet",
                                 "W02_walk_1": "quiet", "W03_fall_1.csv": "refused"}
    assert program.window.toolbar.headline.text().startswith("Caught <b>4</b> of 4")
    assert program.window.status.scored.text().startswith("scored ")


def test_a_broken_file_is_named_with_line_and_value_and_the_rest_goes_on(program, recordings, settled):
    drop(program.window, recordings, recordings / "made.toml", recordings / "made_events.tsv")
    settled()
    dialog, = dialogs(program, ProblemsDialog)
    assert not dialog.isModal()
    sentence, = [s for s in dialog.sentences() if "W03_fall_1" in s]
    assert "line 3" in sentence
    assert '"abc"' in sentence
    assert counts(program) == AT_FIRST


def test_a_batch_of_nothing_but_broken_files_is_listed(program, tmp_path, settled):
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "words.csv").write_text("this is\nnot a table\n")
    drop(program.window, tmp_path / "empty.csv", tmp_path / "words.csv")
    settled()
    assert set(outcomes(program).values()) == {"refused"}
    assert counts(program) == {"tp": 0, "fn": 0, "fp": 0, "tn": 0}
    assert "no data" in program.window.score.as_text()
    dialog, = dialogs(program, ProblemsDialog)
    assert len(dialog.sentences()) == 2


def test_what_is_no_file_is_not_taken(program):
    from PySide6.QtCore import QMimeData
    from PySide6.QtGui import QDragEnterEvent
    data = QMimeData()
    data.setText("hello")
    event = QDragEnterEvent(QPoint(10, 10), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton,
                            Qt.KeyboardModifier.NoModifier)
    event.ignore()
    QApplication.sendEvent(program.window, event)
    assert not event.isAccepted()


def test_a_label_table_dropped_later_labels_the_recordings_at_hand(program, recordings, settled, tmp_path):
    drop(program.window, recordings, recordings / "made.toml")
    settled()
    close_dialogs(program.window)
    study = program.bench.session.study
    for item in study.items:
        study = actions.set_labels(study, item.name, ())
    program.bench.act(study, "no labels")
    assert counts(program)["tp"] == 0
    later = tmp_path / "later_events.tsv"
    later.write_text((recordings / "made_events.tsv").read_text() + "W09_fall_1\t1\t1\tfall\n")
    drop(program.window, later)
    settled()
    assert counts(program) == AT_FIRST
    dialog, = dialogs(program, ProblemsDialog)
    assert "W09_fall_1" in dialog.sentences()[0]


def test_boxes_leave_dropped_files_to_the_window(study):
    for widget in (study.window.recordings.filter, study.window.settings.rows["impact_g"].box.lineEdit()):
        assert not widget.acceptDrops()


def test_reading_can_be_cancelled_and_leaves_the_study_as_it_was(program, qtbot, tmp_path, settled):
    many = tmp_path / "many"
    many.mkdir()
    for i in range(40):
        write_csv(many / f"W01_walk_{i}.csv", walk(60))
    drop(program.window, many)
    assert program.window.status.cancel.isVisible()
    click(program.window.status.cancel)
    settled()
    assert len(program.bench.session.study.items) < 40
    assert not program.window.status.cancel.isVisible()


def test_the_empty_window_has_three_sentences_and_two_buttons(program):
    empty = program.window.empty
    assert empty.isVisible()
    assert [label.text() for label in empty.sentences] == list(SENTENCES)
    assert len(SENTENCES) == 3
    assert len([b for b in empty.findChildren(QPushButton) if b.isVisible()]) == 2
    assert counts(program) is None


def test_the_demo_opens_from_its_button(program, qtbot, settled):
    click(program.window.empty.demo)
    qtbot.waitUntil(lambda: bool(program.bench.session.study.items), timeout=60_000)
    settled()
    window = program.window
    assert "synthetic" in window.toolbar.title.toolTip().lower()
    assert counts(program)["fn"] > 0
    assert counts(program)["fp"] > 0
    assert window.recordings.current
    assert window.trace.isVisible()
    assert not program.bench.session.dirty


# Settings and score

def test_the_far_ends_are_told_for_every_number():
    assert set(FAR_END) == set(NUMBERS)


@pytest.mark.parametrize("key", NUMBERS)
def test_each_slider_changes_the_score(study, key, settled):
    for switch in ("reclined_on", "active_on"):
        click(study.window.settings.rows[switch].switch)
    assert counts(study) == AT_FIRST
    drag_slider(study, key, FAR_END[key])
    settled()
    assert counts(study) != AT_FIRST
    study.bench.undo()
    assert counts(study) == AT_FIRST


def test_dragging_a_slider_moves_number_integer_line_lane_and_matrix_and_is_one_step(study, qtbot):
    window = study.window
    window.recordings.choose("W01_fall_1")
    before = window.trace.grab().toImage()
    drag_slider(study, "impact_g", "high")
    row = window.settings.rows["impact_g"]
    assert row.box.value() == study.bench.session.study.settings["impact_g"] == 16.0
    assert row.integer.text() == "8\u202f192"
    assert counts(study)["fn"] == 4
    assert outcomes(study)["W01_fall_1"] == "missed"
    assert {row.ended for row in window.attempts.rows} == {"no impact"}
    QApplication.processEvents()
    assert window.trace.grab().toImage() != before
    assert window.toolbar.edited.text() == "edited"
    QTest.keyClick(window, Qt.Key.Key_Z, CONTROL)
    assert counts(study) == AT_FIRST
    assert row.box.value() == 2.0
    QTest.keyClick(window, Qt.Key.Key_Z, CONTROL | SHIFT)
    assert counts(study)["fn"] == 4


def test_a_threshold_dragged_on_the_trace_moves_slider_number_and_matrix(study, qtbot):
    window = study.window
    window.recordings.choose("W01_fall_1")
    QApplication.processEvents()
    start = window.trace.line_position("impact_g")
    drag_line(window.trace, start, *(start - QPoint(0, y) for y in range(4, 120, 4)))
    value = study.bench.session.study.settings["impact_g"]
    assert value > 3.0
    assert window.settings.rows["impact_g"].box.value() == value
    assert counts(study)["fn"] == 4
    study.bench.undo()
    assert study.bench.session.study.settings["impact_g"] == 2.0


def test_a_slider_stops_where_low_would_meet_impact_and_says_why(study):
    type_into(study.window.settings.rows["impact_g"].box, "1")
    drag_slider(study, "impact_g", "low")
    drag_slider(study, "free_fall_g", "high")
    assert study.bench.session.study.settings["free_fall_g"] == 1.0
    type_into(study.window.settings.rows["free_fall_g"].box, "0.9")
    study.window.settings.slid.emit("impact_g", 0.5, "gesture")
    assert study.bench.session.study.settings["impact_g"] == pytest.approx(0.9, abs=0.01)
    said = study.window.settings.rows["impact_g"].refusal
    assert said.isVisible()
    assert said.text().startswith("Stops at 0.90\u00a0g")
    assert "free fall and impact at once" in said.text()


def test_a_number_that_the_rule_cannot_run_with_is_refused_in_words(study):
    row = study.window.settings.rows["free_fall_g"]
    type_into(row.box, "9")
    assert study.bench.session.study.settings["free_fall_g"] == 0.6
    assert row.box.value() == 0.6
    assert "free fall and impact at once" in row.refusal.text()
    type_into(row.box, "0.5")
    assert study.bench.session.study.settings["free_fall_g"] == 0.5
    assert not row.refusal.isVisible()


def test_a_switch_takes_a_stage_out(study):
    type_into(study.window.settings.rows["tilt_deg"].box, "180")
    assert counts(study)["fn"] == 4
    click(study.window.settings.rows["tilt_on"].switch)
    assert counts(study) == AT_FIRST


def test_a_change_of_front_end_prepares_anew_and_scores(study, settled):
    box = study.window.settings._front["range_g"]
    type_into(box, "16")
    settled()
    assert study.window.settings.rows["impact_g"].integer.text() == "256"
    assert study.window.status.front_end.text() == "sensor ±16\u00a0g · 12\u00a0bits · 50\u00a0Hz"
    assert counts(study) == AT_FIRST
    assert not study.window.score.stale.isVisible()
    type_into(study.window.settings._front["bits"], "40")
    assert study.bench.session.study.front_end.bits == 12
    assert study.window.settings.front_end_refusal.isVisible()


def test_a_preset_is_taken_from_its_menu_and_undone(study):
    action = next(a for a in study.window.settings.presets.menu().actions() if a.text().startswith("Wrist"))
    assert "recalled, no source" in action.text()
    action.trigger()
    assert study.bench.session.study.settings == preset("Wrist").settings
    assert not study.window.settings.rows["free_fall_g"].isVisible()
    study.bench.undo()
    assert study.bench.session.study.settings == DEFAULTS


def test_what_changed_since_the_mark_is_told(study):
    click(study.window.settings.mark)
    drag_slider(study, "impact_g", "high")
    assert counts(study)["fn"] == 4
    assert "broken" in study.window.score.as_text()
    assert study.window.score._view.broken


def test_how_far_a_fall_reaches_is_a_setting_of_the_score(study):
    name = "W01_fall_1"
    labels = tuple(replace(label, onset_s=label.onset_s - 6, end_s=label.end_s - 6)
                   for label in study.bench.session.study.item(name).labels)
    study.bench.act(actions.set_labels(study.bench.session.study, name, labels), "labels too early")
    assert counts(study)["fn"] == 2
    type_into(study.window.score.after, "6.5")
    assert counts(study)["fn"] == 0
    type_into(study.window.score.before, "-1")
    assert study.bench.session.study.widening == Widening(0.5, 6.5)
    assert study.window.score.before.value() == 0.5


def test_a_click_on_a_cell_filters_the_recordings_and_typing_marks_the_cell(study):
    window = study.window
    click(window.score.cells["tn"])
    assert set(outcomes(study)) == {"W01_walk_1", "W02_walk_1"}
    assert window.recordings.filter.text() == "quiet"
    click(window.score.cells["tn"])
    assert len(outcomes(study)) == 5
    QTest.keyClick(window, Qt.Key.Key_F, CONTROL)
    QTest.keyClicks(window.recordings.filter, "caught")
    assert window.score.cells["tp"].isChecked()
    assert set(outcomes(study)) == {"W01_fall_1", "W02_fall_1"}


def test_a_click_on_an_attempt_moves_the_playhead(study):
    window = study.window
    window.recordings.choose("W01_fall_1")
    table, model = window.attempts.table, window.attempts.table.rows_model
    at = next(i for i, row in enumerate(window.attempts.rows) if row.ended == "alarm")
    click(table.viewport(), table.visualRect(model.index(at, 0)).center())
    assert window.trace.playhead == window.attempts.rows[at].attempt.impact


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


# To and from the disk

def test_a_saved_study_opens_as_it_was(study, tmp_path, settled):
    drag_slider(study, "still_g", "high")
    found, settings = counts(study), study.bench.session.study.settings
    path = tmp_path / "porch.json"
    assert study.files._save(path)
    assert study.window.toolbar.title.text() == "porch"
    assert study.window.toolbar.edited.text() == ""
    click_menu(study, "New study")
    assert study.window.empty.isVisible()
    drop(study.window, path)
    settled()
    assert counts(study) == found
    assert study.bench.session.study.settings == settings


def click_menu(program, words: str) -> None:
    action = next(a for a in program.window.actions() if a.text().startswith(words))
    action.trigger()
    QApplication.processEvents()


def test_an_exported_header_dropped_back_restores_its_settings(study, tmp_path, settled):
    drag_slider(study, "impact_g", "high")
    asked = study.bench.session.study.settings
    study.files.export(tmp_path)
    settled()
    header = tmp_path / "plumbfall_params.h"
    assert study.bench.session.study.mark == asked
    type_into(study.window.settings.rows["impact_g"].box, "2.5")
    drop(study.window, header)
    settled()
    assert study.bench.session.study.settings["impact_g"] == pytest.approx(asked["impact_g"])
    assert settings_from(header, study.bench.session.study.front_end).settings["impact_g"] == asked["impact_g"]


def test_a_header_edited_into_nonsense_is_refused_with_its_line(study, tmp_path, settled):
    study.files.export(tmp_path)
    settled()
    close_dialogs(study.window)
    header = tmp_path / "plumbfall_params.h"
    lines = header.read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("#define PLF_IMPACT"))
    lines[at] = re.sub(r"\b\d+U", "lotsU", lines[at])
    header.write_text("\n".join(lines) + "\n")
    before = study.bench.session.study
    drop(study.window, header)
    dialog, = dialogs(study, ProblemsDialog)
    assert f"line {at + 1}" in dialog.sentences()[0]
    assert study.bench.session.study is before


def test_unsaved_work_is_recovered_after_a_crash(study, tmp_path, qtbot, settled):
    path = tmp_path / "porch.json"
    study.files._save(path)
    drag_slider(study, "impact_g", "high")
    copy = path.with_name("porch.json.recovery")
    qtbot.waitUntil(copy.exists, timeout=5_000)
    asked = study.bench.session.study.settings
    from app.study.session import Session
    study.bench.take_session(Session())  # as after a crash: nothing open, the copy on the disk
    QTimer.singleShot(200, lambda: answer(study, QMessageBox.StandardButton.Yes))
    drop(study.window, path)
    settled()
    assert study.bench.session.study.settings == asked
    assert study.bench.session.dirty


def answer(program, button: QMessageBox.StandardButton) -> None:
    box = QApplication.activeModalWidget()
    assert isinstance(box, QMessageBox)
    click(box.button(button))


def test_a_study_from_a_newer_version_is_refused_and_the_open_one_stays(study, tmp_path):
    newer = tmp_path / "newer.json"
    newer.write_text('{"plumbfall_study": 999}')
    study.bench.session._saved = study.bench.session.study  # nothing unsaved: no question
    drop(study.window, newer)
    QTest.qWait(50)
    close = dialogs(study, ProblemsDialog)
    while not close:
        QTest.qWait(20)
        close = dialogs(study, ProblemsDialog)
    assert "newer version" in close[0].sentences()[0]
    assert counts(study) == AT_FIRST


@pytest.mark.parametrize(("button", "closes"), [
    (QMessageBox.StandardButton.Cancel, False), (QMessageBox.StandardButton.Discard, True)])
def test_quitting_with_unsaved_edits_asks(study, button, closes):
    QTimer.singleShot(200, lambda: answer(study, button))
    assert study.window.close() is closes
    assert study.window.isVisible() is not closes


def test_what_cannot_be_saved_is_said_and_nothing_is_lost(study, tmp_path):
    assert not study.files._save(tmp_path / "nowhere" / "porch.json")
    dialog, = dialogs(study, ProblemsDialog)
    assert "not there any more" in dialog.sentences()[0]
    assert study.bench.session.dirty


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
    QTest.qWait(50)
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

"""The label lane under real mouse and key events: by itself, and in the whole window with the score beside it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QAccessible, QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QInputDialog, QMenu

from app.ui.charts.scale import TimeWindow
from app.ui.labels.controller import LabelController
from app.ui.trace.label_lane import COMMANDS, fill_label_menu
from data.recordings.model import Label
from tests.app.ui.trace.trace_hand import LEFT, NONE, Heard, drag, hold_key, move, opened, x_of
from tests.app.ui.trace.trace_made import item, trace

CTRL, ALT, SHIFT = (Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.AltModifier,
                    Qt.KeyboardModifier.ShiftModifier)


# By itself: what it asks.


@pytest.fixture
def panel(qtbot):
    return opened(qtbot)


def spot(panel, seconds: float, row: int = 0) -> QPoint:
    """A place in the lane, in the panel's pixels."""
    canvas = panel.canvas
    return canvas.mapTo(panel, QPoint(round(x_of(panel, seconds)), canvas.at.label_row(row).center().y() + 2))


def test_a_drag_on_the_empty_lane_asks_for_a_label_there(panel):
    heard = Heard(panel.label_lane.made)
    drag(panel, spot(panel, 2.0), spot(panel, 3.0), spot(panel, 4.0))
    assert [pair[:2] for pair in heard] == [(pytest.approx(2.0, abs=0.03), pytest.approx(3.0, abs=0.03))]
    assert panel.label_lane.chosen == -1, "nobody made it, so nothing is chosen and the drag is over"


def test_a_label_is_chosen_by_a_click_and_let_go_by_one_beside_it_which_scrubs(panel):
    QTest.mouseClick(panel.label_lane, LEFT, NONE, panel.label_lane.mapFrom(panel, spot(panel, 8.0)))
    assert panel.label_lane.chosen == 0
    assert panel.label_lane.accessibleName() == "Label 1 of 1: fall, backward, 7.20 to 8.70\u00a0s"
    heard = Heard(panel.playhead_moved)
    QTest.mouseClick(panel.label_lane, LEFT, NONE, panel.label_lane.mapFrom(panel, spot(panel, 3.0)))
    assert panel.label_lane.chosen == -1
    assert [sample / 50 for sample in heard] == pytest.approx([3.0], abs=0.03)


def test_a_label_dragged_in_its_middle_moves_and_at_its_ends_stretches(panel):
    moved, spanned = Heard(panel.label_lane.moved), Heard(panel.label_lane.spanned)
    drag(panel, spot(panel, 8.0), spot(panel, 8.5), spot(panel, 9.0))
    assert [onset for onset, _ in moved] == pytest.approx([7.7, 8.2], abs=0.03)
    assert len({gesture for _, gesture in moved}) == 1
    drag(panel, spot(panel, 8.7), spot(panel, 9.2))
    assert spanned[0][:2] == (7.2, pytest.approx(9.2, abs=0.03))
    drag(panel, spot(panel, 7.2), spot(panel, 6.5))
    assert spanned[1][:2] == (8.7, pytest.approx(6.5, abs=0.03))
    assert spanned[0][2] != spanned[1][2]


def test_escape_takes_back_the_drag_under_way(panel):
    lane = panel.label_lane
    heard = Heard(lane.cancelled)
    here = lane.mapFrom(panel, spot(panel, 8.0))
    QTest.mousePress(lane, LEFT, NONE, here)
    drag_gesture = Heard(lane.moved)
    move(lane, here + QPoint(30, 0))
    QTest.keyClick(lane, Qt.Key.Key_Escape)
    move(lane, here + QPoint(60, 0))
    QTest.mouseRelease(lane, LEFT, NONE, here)
    assert heard == [drag_gesture[0][1]]
    assert len(drag_gesture) == 1


def test_every_command_has_keys_that_work_in_the_lane_and_a_place_in_the_menu(panel):
    heard = Heard(panel.label_lane.commanded)
    panel.label_lane.setFocus()
    menu = QMenu(panel)
    fill_label_menu(menu, panel.label_lane)
    every = [one for above in menu.actions() for one in (above.menu().actions() if above.menu() else [above])]
    for command in COMMANDS:
        QTest.keySequence(panel.label_lane, QKeySequence(command.keys))
        (action,) = [one for one in every if one.text() == f"{command.words}\t{command.keys}"]
        action.trigger()
        assert [name for name, _ in heard] == [command.name] * 2
        heard.clear()


def test_a_key_held_down_is_one_gesture_and_repeats_only_what_moves(panel):
    heard = Heard(panel.label_lane.commanded)
    hold_key(panel.label_lane, Qt.Key.Key_Right, repeats=3)
    hold_key(panel.label_lane, Qt.Key.Key_S, repeats=3)
    assert [name for name, _ in heard] == ["later"] * 4 + ["split"]
    assert len({gesture for _, gesture in heard}) == 2


def test_labels_of_several_annotators_have_a_row_each(panel):
    made = trace()
    labels = (Label("fall", "backward", 7.2, 8.7, annotator="AB"), Label("other", "sit", 7.5, 9.5, annotator="CD"))
    panel.show_trace(replace(made, item=replace(item(), labels=labels)))
    assert panel.canvas.at.label_rows == 2
    for row, at in ((0, 0), (1, 1)):
        place = panel.label_lane.mapFrom(panel, spot(panel, 8.0, row))
        QTest.mouseClick(panel.label_lane, LEFT, NONE, place)
        assert panel.label_lane.chosen == at
    tip = panel.canvas.words_at(QPoint(round(x_of(panel, 8.0)), panel.canvas.at.label_row(1).center().y()))
    assert tip == "sit, 7.50 to 9.50\u00a0s, by CD"


def test_the_lane_tells_assistive_programs_what_can_be_done(panel):
    found = QAccessible.queryAccessibleInterface(panel.label_lane)
    assert found.text(QAccessible.Text.Name) == "Labels: 1, none chosen"
    assert "S: split at playhead" in found.text(QAccessible.Text.Description)


# In the window: what becomes of the study.


@pytest.fixture
def labelled(study, settled):
    """The corpus with the first person's fall in the trace."""
    study.window.recordings.choose("W01_fall_1")
    settled()
    return study


def labels(program) -> tuple[Label, ...]:
    return program.bench.session.study.item("W01_fall_1").labels


def lane_drag(program, start: float, end: float) -> None:
    panel = program.window.trace
    drag(panel, spot(panel, start), spot(panel, (start + end) / 2), spot(panel, end))


def counts(program) -> dict[str, int]:
    return dict(program.bench.session.results().score.counts)


def test_a_drawn_label_is_scored_and_one_undo_takes_it_back(labelled, settled):
    before, scored = labels(labelled), counts(labelled)
    lane_drag(labelled, 2.0, 4.0)
    assert len(labels(labelled)) == len(before) + 1
    new = labels(labelled)[0]
    assert (new.kind, new.onset_s, new.end_s) == ("fall", pytest.approx(2, abs=0.05), pytest.approx(4, abs=0.05))
    assert labelled.window.trace.label_lane.chosen == 0
    settled()
    assert counts(labelled)["fn"] == scored["fn"] + 1
    assert labelled.bench.session.history.undoes == "new label"
    labelled.bench.undo()
    assert labels(labelled) == before
    assert labelled.window.trace.item.labels == before


def test_a_fall_moved_off_its_alarm_is_missed_and_the_alarm_a_unlabelled(labelled, settled):
    scored = counts(labelled)
    onset = labels(labelled)[0].onset_s
    middle = (onset + labels(labelled)[0].end_s) / 2
    lane_drag(labelled, middle, middle - 6)
    settled()
    assert labels(labelled)[0].onset_s == pytest.approx(onset - 6, abs=0.05)
    assert counts(labelled)["tp"] == scored["tp"] - 1
    labelled.bench.undo()
    assert labels(labelled)[0].onset_s == onset
    settled()
    assert counts(labelled) == scored


def test_escape_leaves_no_trace_of_a_drag(labelled):
    before = labels(labelled)
    panel, lane = labelled.window.trace, labelled.window.trace.label_lane
    here = lane.mapFrom(panel, spot(panel, 2.0))
    QTest.mousePress(lane, LEFT, NONE, here)
    for by in (20, 40):
        move(lane, here + QPoint(by, 0))
    assert len(labels(labelled)) == len(before) + 1
    QTest.keyClick(lane, Qt.Key.Key_Escape)
    QTest.mouseRelease(lane, LEFT, NONE, here + QPoint(40, 0))
    assert labels(labelled) == before


def test_the_score_is_made_once_for_a_drag_of_many_steps(labelled, settled):
    scored: list[int] = []
    labelled.bench.edited.connect(lambda: scored.append(1))
    panel, lane = labelled.window.trace, labelled.window.trace.label_lane
    here = lane.mapFrom(panel, spot(panel, 12.2))
    QTest.mousePress(lane, LEFT, NONE, here)
    for by in range(5, 45, 4):
        before = labels(labelled)[0].onset_s
        move(lane, here - QPoint(by, 0))
        assert labels(labelled)[0].onset_s != before
        assert panel.item.labels == labels(labelled), "shown at once"
    QTest.mouseRelease(lane, LEFT, NONE, here - QPoint(41, 0))
    assert len(scored) <= 3
    settled()
    assert labelled.bench.session.study.items == labelled.bench.session.evaluated()[1].items


def test_everything_is_done_without_a_mouse(labelled, settled):
    lane, panel = labelled.window.trace.label_lane, labelled.window.trace
    lane.setFocus()
    before = labels(labelled)
    panel.set_playhead(100)
    QTest.keyClick(lane, Qt.Key.Key_Insert)
    assert (labels(labelled)[0].onset_s, labels(labelled)[0].end_s) == (2.0, pytest.approx(3.0))
    QTest.keyClick(lane, Qt.Key.Key_O)
    assert labels(labelled)[0].kind == "other"
    QTest.keyClick(lane, Qt.Key.Key_Right, SHIFT)
    QTest.keyClick(lane, Qt.Key.Key_Left, CTRL)
    QTest.keyClick(lane, Qt.Key.Key_Right, ALT)
    assert (labels(labelled)[0].onset_s, labels(labelled)[0].end_s) == pytest.approx((2.18, 3.22))
    panel.set_playhead(130)
    QTest.keyClick(lane, Qt.Key.Key_S)
    assert [one.onset_s for one in labels(labelled)[:2]] == pytest.approx([2.18, 2.6])
    assert lane.chosen == 1
    QTest.keyClick(lane, Qt.Key.Key_Up)
    QTest.keyClick(lane, Qt.Key.Key_J)
    assert (labels(labelled)[0].onset_s, labels(labelled)[0].end_s) == pytest.approx((2.18, 3.22))
    panel.set_playhead(105)
    QTest.keyClick(lane, Qt.Key.Key_BracketLeft)
    panel.set_playhead(170)
    QTest.keyClick(lane, Qt.Key.Key_BracketRight)
    assert (labels(labelled)[0].onset_s, labels(labelled)[0].end_s) == pytest.approx((2.1, 3.4))
    QTest.keyClick(lane, Qt.Key.Key_Down)
    assert lane.chosen == 1
    assert panel.playhead / 50 == pytest.approx(labels(labelled)[1].onset_s, abs=0.02)
    QTest.keyClick(lane, Qt.Key.Key_Up)
    QTest.keyClick(lane, Qt.Key.Key_Delete)
    assert labels(labelled) == before


def answer(qtbot, text: str) -> None:
    """Type into the question that is open."""
    dialogs = [one for one in QApplication.topLevelWidgets() if isinstance(one, QInputDialog) and one.isVisible()]
    (dialog,) = dialogs
    dialog.setTextValue(text)
    dialog.accept()


def test_name_comment_and_annotator_are_asked_and_kept(qtbot, labelled):
    lane = labelled.window.trace.label_lane
    lane.setFocus()
    QTest.keyClick(lane, Qt.Key.Key_Down)
    for key, text in ((Qt.Key.Key_N, "trip on a kerb"), (Qt.Key.Key_C, "hands first"), (Qt.Key.Key_A, "AB")):
        QTest.keyClick(lane, key)
        answer(qtbot, text)
    label = labels(labelled)[0]
    assert (label.name, label.comment, label.annotator) == ("trip on a kerb", "hands first", "AB")
    assert lane.hasFocus()


def test_a_digit_gives_an_activity_in_use(labelled):
    lane = labelled.window.trace.label_lane
    lane.setFocus()
    QTest.keyClick(lane, Qt.Key.Key_Down)
    assert lane.classes[0] == "fall"
    assert len(lane.classes) >= 2, "walks are one event from end to end"
    QTest.keyClick(lane, Qt.Key.Key_2)
    assert (labels(labelled)[0].kind, labels(labelled)[0].name) == ("other", lane.classes[1])


def test_new_labels_are_by_whoever_said_so_and_the_program_remembers_it(qtbot, labelled):
    lane = labelled.window.trace.label_lane
    lane.setFocus()
    QTest.keyClick(lane, Qt.Key.Key_A, SHIFT)
    answer(qtbot, "CD")
    lane_drag(labelled, 2.0, 4.0)
    assert labels(labelled)[0].annotator == "CD"
    assert LabelController(labelled.bench, labelled.preferences).annotator == "CD"


def test_what_cannot_be_done_is_said_and_changes_nothing(labelled):
    study, lane, window = labelled.bench.session.study, labelled.window.trace.label_lane, labelled.window
    lane.setFocus()
    QTest.keyClick(lane, Qt.Key.Key_Delete)
    assert window.status.message.text().startswith("No label is selected")
    QTest.keyClick(lane, Qt.Key.Key_W)
    assert "other labels" in window.status.message.text()
    assert labelled.bench.session.study is study


def test_a_step_to_the_next_label_of_a_long_recording_shows_its_seconds(labelled):
    panel, lane = labelled.window.trace, labelled.window.trace.label_lane
    lane.setFocus()
    panel.canvas.fit()
    QTest.keyClick(lane, Qt.Key.Key_Down)
    assert panel.canvas.window_s.width == pytest.approx(14)
    assert isinstance(panel.canvas.window_s, TimeWindow)
    assert panel.canvas.window_s.holds(labels(labelled)[lane.chosen].onset_s)

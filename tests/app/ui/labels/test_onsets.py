"""Falls without times in the window: whole recordings as events by one switch, onsets proposed, confirmed or corrected;
each step undone."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QInputDialog

from app.study.results.standing_warnings import PROPOSE
from data.labels.onsets import AFTER_S, BEFORE_S
from data.recordings.model import Label
from tests.app import corpus
from tests.app.conftest import close_dialogs, drop
from tests.app.mouse import until_active

CTRL_ALT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier


@pytest.fixture
def unlabelled(program, tmp_path, settled):
    """Two falls without a time, two of walking."""
    folder = tmp_path / "made"
    folder.mkdir()
    for name, samples in (("W01_trip_1", corpus.fall_story()), ("W02_trip_1", corpus.fall_story()),
                          ("W01_walk_1", corpus.walk()), ("W02_walk_1", corpus.walk())):
        corpus.write_csv(folder / f"{name}.csv", samples)
    (folder / "made.toml").write_text(corpus.RECIPE)
    drop(program.window, folder, folder / "made.toml")
    settled()
    close_dialogs(program.window)
    until_active(program.window)
    program.window.recordings.choose("W01_trip_1")
    settled()
    return program


def press(program, settled, key: Qt.Key) -> None:
    QTest.keyClick(program.window, key, CTRL_ALT)
    settled()


def whole(program, settled, falls: str = "trip") -> None:
    press(program, settled, Qt.Key.Key_E)
    (dialog,) = program.window.findChildren(QInputDialog)
    assert "4 recordings without a label: trip (2), walk (2)." in dialog.labelText()
    dialog.setTextValue(falls)
    dialog.accept()
    settled()
    until_active(program.window)


def labels(program) -> dict[str, tuple[Label, ...]]:
    return {item.name: item.labels for item in program.bench.session.study.items}


def warned(program) -> list[str]:
    return [one.key for one in program.bench.session.results().score.warnings]


def test_one_switch_and_the_score_says_what_it_is_worth(unlabelled, settled):
    program = unlabelled
    assert not any(labels(program).values())
    whole(program, settled)
    assert labels(program)["W01_trip_1"] == (Label("fall", "trip", None, None),)
    assert labels(program)["W02_walk_1"] == (Label("other", "walk", None, None),)
    assert "4 recordings labelled from end to end, 2 of them falls." in program.window.status.message.text()
    score = program.bench.session.results().score
    assert (score.falls, score.others) == (2, 2)
    (said,) = [one for one in score.warnings if one.key == "no_onset"]
    assert said.sentence.startswith("Of 2 of 2 falls nobody knows when they were: the whole recording is the event")
    assert said.action == PROPOSE
    assert said.recordings == ("W01_trip_1", "W02_trip_1")
    QTest.keyClick(program.window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    settled()
    assert not any(labels(program).values())


def test_onsets_are_proposed_and_confirmed_or_corrected_in_the_lane(unlabelled, settled):
    program = unlabelled
    whole(program, settled)
    program.window.score.warnings.action_asked.emit(PROPOSE)
    settled()
    at = corpus.IMPACT_S
    proposed = Label("fall", "trip", pytest.approx(at - BEFORE_S), pytest.approx(at + AFTER_S), proposed=True)
    assert labels(program)["W01_trip_1"] == (proposed,) == labels(program)["W02_trip_1"]
    assert "no_onset" not in warned(program)
    assert "proposed_onset" in warned(program)

    lane = program.window.trace.label_lane
    program.window.recordings.choose("W01_trip_1")
    settled()
    lane.setFocus()
    QTest.keyClick(lane, Qt.Key.Key_Down)
    assert "proposed" in lane.accessibleName()
    QTest.keyClick(lane, Qt.Key.Key_Return)
    settled()
    assert not labels(program)["W01_trip_1"][0].proposed
    QTest.keyClick(lane, Qt.Key.Key_Return)
    assert "are not proposed" in program.window.status.message.text()

    program.window.recordings.choose("W02_trip_1")
    settled()
    lane.setFocus()
    QTest.keyClick(lane, Qt.Key.Key_Down)
    QTest.keyClick(lane, Qt.Key.Key_Left)
    settled()
    (corrected,) = labels(program)["W02_trip_1"]
    assert (corrected.onset_s, corrected.proposed) == (pytest.approx(at - BEFORE_S - 0.02), False)
    assert "proposed_onset" not in warned(program)
    for _ in range(2):
        QTest.keyClick(program.window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
        settled()
    assert labels(program)["W01_trip_1"][0].proposed
    assert labels(program)["W02_trip_1"][0].proposed
    QTest.keyClick(program.window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    settled()
    assert labels(program)["W01_trip_1"] == (Label("fall", "trip", None, None),)


def test_a_latency_since_an_onset_that_nobody_knows_is_no_figure(unlabelled, settled):
    program = unlabelled
    whole(program, settled)
    from app.study.results.views import Views
    found = Views(program.bench.session).latencies()
    assert [row.since_onset_s for row in found.rows] == [None, None]
    assert found.quantiles[0][1] > 0
    assert found.quantiles[1] is None
    press(program, settled, Qt.Key.Key_P)
    assert Views(program.bench.session).latencies().quantiles[1] is None


def test_a_proposed_label_is_drawn_unlike_a_confirmed_one(unlabelled, settled):
    program = unlabelled
    whole(program, settled)
    press(program, settled, Qt.Key.Key_P)
    program.window.recordings.choose("W01_trip_1")
    settled()
    canvas = program.window.trace.canvas
    canvas.show_chosen_label(0)
    before = canvas.grab().toImage()
    QTest.keyClick(program.window.trace.label_lane, Qt.Key.Key_Return)
    settled()
    QApplication.processEvents()
    assert canvas.grab().toImage() != before


def test_nothing_to_propose_is_said(unlabelled, settled):
    program = unlabelled
    press(program, settled, Qt.Key.Key_P)
    assert program.window.status.message.text() == "Every fall has an onset."

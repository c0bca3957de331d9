"""Files dropped on the window: read, refused with line and value, or left to it by the boxes."""

from __future__ import annotations

from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QPushButton

from app.study import actions
from app.ui.main_window import SENTENCES
from app.ui.widgets.problem_dialog import ProblemsDialog
from tests.app.conftest import close_dialogs, drop
from tests.app.corpus import walk, write_csv
from tests.app.mouse import click
from tests.app.ui.corpus_shown import AT_FIRST, counts, dialogs, outcomes


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

"""The labels' clock: drawn in the lane, set in numbers, fitted and taken by hand; visible, and undone in one step."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.study import actions
from app.study.labels import time_offset
from app.study.state import Item, Study
from data.problem import Problem
from data.recordings.model import About, Label, Shift
from detect.rule.timeline import even
from tests.app import corpus
from tests.app.conftest import close_dialogs, drop
from tests.app.mouse import LEFT, click, type_into, until_active
from tests.app.ui.trace.trace_hand import move, x_of

LINE = even(3000, 50.0)
CTRL_ALT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
SHIFT, CTRL_SHIFT = Qt.KeyboardModifier.ShiftModifier, (Qt.KeyboardModifier.ControlModifier
                                                       | Qt.KeyboardModifier.ShiftModifier)
CLOCKS = st.builds(Shift, st.floats(-100, 100), st.floats(-20_000, 20_000))


def item(*spans: tuple[float, float], node: str = "", clock: Shift = Shift()) -> Item:  # noqa: B008 - frozen
    labels = tuple(Label("fall", "", start, end) for start, end in spans)
    return Item(f"a{node}", "/a.csv", labels=labels, clock=clock, about=About(node=node), group="a" if node else "")


def onsets(study: Study, at: int = 0) -> list[float]:
    return [label.onset_s for label in study.items[at].labels]


@given(CLOCKS, CLOCKS, st.floats(-1000, 1000))
def test_clocks_follow_one_another_and_lead_back(one, other, time_s):
    assert one.after(other).here(time_s) == pytest.approx(one.here(other.here(time_s)), abs=1e-6)
    assert one.inverse().here(one.here(time_s)) == pytest.approx(time_s, abs=1e-6)


def test_all_labels_move_alike_and_stay_in_the_recording():
    there = item((10, 11), (50, 52))
    assert time_offset.dragged(there, LINE, 2.0004) == Shift(2.0)
    moved = time_offset.set_for_recording(Study(items=(there,)), "a", Shift(2.0))
    assert onsets(moved) == [12, 52]
    assert time_offset.dragged(there, LINE, 99).offset_s == pytest.approx(59.98 - 52)
    assert time_offset.dragged(there, LINE, -99).offset_s == -10
    with pytest.raises(Problem, match="have no times to shift"):
        time_offset.dragged(Item("a", "/a.csv", labels=(Label("other", "walk", None, None),)), LINE, 1.0)


def test_spread_labels_leave_the_first_where_it_is_or_the_last_where_the_first_is_drawn():
    there = item((10, 11), (50, 52))
    spread = time_offset.set_for_recording(Study(items=(there,)), "a", time_offset.stretched(there, 1, 51, 51.041))
    assert onsets(spread) == pytest.approx([10, 50.04], abs=1e-4)
    back = time_offset.set_for_recording(Study(items=(there,)), "a", time_offset.stretched(there, 0, 10, 9.96))
    assert onsets(back) == pytest.approx([9.96, 50], abs=1e-4)
    assert time_offset.stretched(there, 1, 51, 60).drift_ppm == pytest.approx(time_offset.MOST_DRIFT_PPM)
    with pytest.raises(Problem, match="needs two labels"):
        time_offset.stretched(item((10, 11)), 0, 10, 11)


def test_labels_of_all_nodes_move_and_the_nodes_stay_as_they_are_to_each_other():
    study = Study(items=(item((10, 11), node="x"), item((17, 18), node="y", clock=Shift(7.0))))
    together = time_offset.set_for_recording(study, "ax", Shift(0.5, 100))
    assert onsets(together) == pytest.approx([10.501])
    assert onsets(together, 1) == pytest.approx([17.501])
    assert together.items[1].clock.after(together.items[0].clock.inverse()).offset_s == pytest.approx(7.0)
    alone = actions.set_clock(study, ["ay"], Shift(8.0))
    assert (onsets(alone), onsets(alone, 1)) == ([10], [18])


def test_a_clock_is_told_with_a_doubt_where_no_quartz_is_so_far_off():
    assert time_offset.in_words(Shift()) == ""
    assert time_offset.in_words(Shift(-0.35, 12)) == "label time offset \u22120.350 s, +12 ppm"
    assert "quartz" not in time_offset.told(item((1, 2)), Shift(3.0, 400))
    assert "differ by less than 500 ppm" in time_offset.told(item((1, 2)), Shift(3.0, 600))


# In the window: the falls of W01 lie at 12 and 32 s, and their labels 4 s early.


@pytest.fixture
def late(program, tmp_path, settled):
    folder = corpus.write(tmp_path / "made")
    table = folder / "made_events.tsv"
    lines = table.read_text().splitlines()
    cells = [line.split("\t") for line in lines[1:]]
    rows = ["\t".join([name, f"{float(onset) - 4:.2f}", *rest]) for name, onset, *rest in cells]
    table.write_text("\n".join([lines[0], *rows]) + "\n")
    drop(program.window, folder, folder / "made.toml", table)
    settled()
    close_dialogs(program.window)
    until_active(program.window)
    program.window.recordings.choose("W01_fall_1")
    settled()
    program.window.trace.canvas.fit()  # the first miss is in view since the labels were read
    return program


def draw(program, start_s: float, end_s: float, held: Qt.KeyboardModifier) -> None:
    panel = program.window.trace
    lane = panel.label_lane

    def spot(seconds: float) -> QPoint:
        at = QPoint(round(x_of(panel, seconds)), panel.canvas.at.label_row(0).center().y() + 2)
        return lane.mapFrom(panel.canvas, at)

    QTest.mousePress(lane, LEFT, held, spot(start_s))
    for step in (0.5, 1.0):
        move(lane, spot(start_s + step * (end_s - start_s)))
    QTest.mouseRelease(lane, LEFT, held, spot(end_s))


def labelled(program, name: str = "W01_fall_1") -> list[float]:
    return [label.onset_s for label in program.bench.session.study.item(name).labels]


def test_a_label_drawn_with_shift_takes_all_along_visibly_and_undo_takes_it_back(late, settled):
    assert labelled(late) == pytest.approx([7.5, 27.5])
    assert late.bench.session.results().score.counts["tp"] == 0
    draw(late, 8.2, 12.2, SHIFT)
    settled()
    assert labelled(late) == pytest.approx([11.5, 31.5], abs=0.1)
    assert labelled(late)[1] - labelled(late)[0] == pytest.approx(20)
    assert labelled(late, "W02_fall_1") == pytest.approx([7.5, 27.5]), "the others stay"
    assert late.bench.session.results().score.counts["tp"] == 2
    offset = late.bench.session.study.item("W01_fall_1").clock.offset_s
    assert f"label time offset +{offset:.3f} s" in late.window.trace.title.accessibleName()
    assert late.bench.session.history.undoes == "label time offset"
    late.bench.undo()
    assert labelled(late) == pytest.approx([7.5, 27.5])
    assert late.bench.session.study.item("W01_fall_1").clock == Shift()


def test_with_control_and_shift_the_first_stays_and_the_others_are_spread(late, settled):
    draw(late, 28.2, 28.5, CTRL_SHIFT)
    settled()
    first, second = labelled(late)
    assert first == pytest.approx(7.5, abs=1e-3)
    assert 27.6 < second < 27.95
    assert late.bench.session.study.item("W01_fall_1").clock.drift_ppm > 1000
    lane = late.window.trace.label_lane
    assert "all but the first are spread" in lane.accessibleDescription()


def test_a_fit_is_proposed_and_taken_only_by_a_click(late, settled):
    QTest.keyClick(late.window, Qt.Key.Key_C, CTRL_ALT)
    panel = late.clocking.panel
    assert panel.heading.text() == "W01_fall_1"
    before = late.bench.session.study
    click(panel.fit)
    assert "2 of 2 falls lie on an impact; without it 0 do" in panel.found.text()
    assert late.bench.session.study is before
    click(panel.take)
    settled()
    assert labelled(late) == pytest.approx([11.5, 31.5], abs=0.7)
    assert [row.texts[0] for row in panel.table.rows_model.rows] == ["W01_fall_1"]
    click(panel.fit)
    assert panel.found.text().startswith("No time offset fits clearly better")
    assert not panel.take.isVisible()


def test_numbers_are_set_for_the_recordings_marked_or_refused_in_words(late, settled):
    late.window.recordings.filter.setText("fall")
    late.window.recordings.table.selectAll()
    late.label_menu.actions[-1].trigger()
    panel = late.clocking.panel
    type_into(panel.offset, "soon")
    assert panel.fault.text().startswith("Offset, seconds: a number")
    panel.whose.setCurrentIndex(panel.whose.count() - 1)
    assert panel.whose.currentText().startswith("the labels of the")
    type_into(panel.offset, "4,0")
    settled()
    assert labelled(late) == pytest.approx([11.5, 31.5])
    assert labelled(late, "W02_fall_1") == pytest.approx([11.5, 31.5])
    assert "Undo reverts it." in late.window.status.message.toolTip()
    late.bench.undo()
    assert labelled(late, "W02_fall_1") == pytest.approx([7.5, 27.5])
    QApplication.processEvents()


def test_the_lane_opens_the_numbers_by_key(late):
    late.window.trace.label_lane.setFocus()
    QTest.keyClick(late.window.trace.label_lane, Qt.Key.Key_K)
    assert late.clocking.dialog.isVisible()

"""Names in the list without what all have in common; whole under the mouse, in the filter and as text."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QStyleOptionViewItem

from app.ui.widgets.table import common_in
from tests.app.study_made import made, session_of


@pytest.mark.parametrize(("names", "left"), [
    (["field/A1/P01_T01_acc", "field/A1/P02_T01_acc", "field/B2/P01_T02_acc"],
     ["A1/P01_T01", "A1/P02_T01", "B2/P01_T02"]),
    (["P01/F01_P01_R1", "P01/F02_P01_R1", "P02/F01_P02_R1"], ["F01_P01", "F02_P01", "F01_P02"]),
    (["P01/walk", "P02/walk"], ["P01", "P02"]),
    (["one/", "two/"], ["one", "two"]),
    (["A/1_A", "B/1_C"], ["A/1_A", "B/1_C"]),
    (["A/1_A", "B/1_A"], ["A", "B"]),
    (["W01 trip 1", "W02 walk 1"], ["W01 trip", "W02 walk"]),
    (["walk_1", "walk_12"], ["1", "12"]),
    (["a", "b"], ["a", "b"]),
    (["only one"], ["only one"]),
    (["x_x", "x_x_x"], ["x", "x_x"]),
    ([], []),
])
def test_whole_words_in_common_are_left_out_and_something_stays(names, left):
    assert [*map(common_in(names).of, names)] == left


def test_the_list_paints_what_tells_names_apart_and_keeps_the_whole(program, settled):
    program.bench.take_session(session_of(made()))
    settled()
    table = program.window.recordings.table
    model = table.rows_model
    at = model.place_of("W01 trip 1")
    option = QStyleOptionViewItem()
    table.names.initStyleOption(option, model.index(at, 0))
    assert option.text == "W01 trip"
    assert str(model.index(at, 0).data(Qt.ItemDataRole.ToolTipRole)).startswith("W01 trip 1")
    assert "W01 trip 1" in model.as_text()
    program.window.recordings.filter.setText("trip 1")
    assert len(program.window.recordings.shown) == 2

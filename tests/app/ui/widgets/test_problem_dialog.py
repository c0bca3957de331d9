"""What went wrong many times is one row that unfolds."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest

from app.ui.widgets.problem_dialog import ProblemsDialog


def test_a_row_that_stands_for_many_unfolds_by_click_and_key_and_copies_whole(qtbot):
    dialog = ProblemsDialog("Some labels need a look.", ["one", "3 times: lost", "two"], None,
                            {1: ["lost a", "lost b", "lost c"]})
    qtbot.addWidget(dialog)
    dialog.show()
    assert dialog.sentences() == ["one", "▸ 3 times: lost", "two"]
    place = dialog.list.visualItemRect(dialog.list.item(1)).center()
    QTest.mouseClick(dialog.list.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert dialog.sentences() == ["one", "▾ 3 times: lost", "    lost a", "    lost b", "    lost c", "two"]
    dialog.copy_text()
    unfolded = QGuiApplication.clipboard().text()
    dialog.list.setCurrentRow(1)
    QTest.keyClick(dialog.list, Qt.Key.Key_Return)
    assert dialog.sentences() == ["one", "▸ 3 times: lost", "two"]
    dialog.copy_text()
    assert QGuiApplication.clipboard().text() == unfolded == "one\nlost a\nlost b\nlost c\ntwo\n"

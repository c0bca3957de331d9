"""The Device window: opened by its key, topics by keyboard, nothing cut that is a number, remembered and hidden."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from app.study import actions
from app.ui.device.window import DeviceWindow
from app.ui.theme.colours import DARK, LIGHT
from app.ui.widgets.controls import NumberBox
from app.ui.widgets.table import CELL_MARGIN, RowsTable
from tests.app import study_made

TOPICS = ["Part", "Compare parts", "What if", "Range switching", "Sleep", "Mounting", "Self-test", "Tolerance",
          "Battery and radio"]
CONTROL_SHIFT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def opened(program, settled) -> DeviceWindow:
    """By its key, on a scored study."""
    program.bench.take_session(study_made.session_of(study_made.made()[:-1]))
    settled()
    assert "beside" not in program.device.__dict__, "built when it is first asked for"
    QTest.keyClick(program.window, Qt.Key.Key_D, CONTROL_SHIFT)
    QApplication.processEvents()
    window = program.device.beside
    window.resize(1280, 760)
    QApplication.processEvents()
    return window


def test_its_key_opens_it_and_the_arrow_keys_go_from_topic_to_topic(opened):
    assert opened.isVisible()
    assert opened.windowModality() is Qt.WindowModality.NonModal
    assert opened.list.hasFocus()
    seen = [opened.topic.title]
    while len(seen) < len(TOPICS):
        QTest.keyClick(opened.list, Qt.Key.Key_Down)
        assert opened.topic.isVisible()
        assert opened.topic.accessibleName() == opened.topic.title
        seen.append(opened.topic.title)
    assert seen == TOPICS


def test_a_topic_has_one_row_of_places_and_its_key_copies_it(opened):
    for title in TOPICS:
        opened.show_topic(title)
        QApplication.processEvents()
        assert len({button.y() for button in opened.topic.buttons.values() if button.isVisible()}) <= 1
        QGuiApplication.clipboard().clear()
        QTest.keyClick(opened, Qt.Key.Key_P, CONTROL_SHIFT)
        assert QGuiApplication.clipboard().text() == opened.topic.as_text()
        assert "\t" in QGuiApplication.clipboard().text()


def test_undo_works_in_it_and_escape_hides_it_with_its_size(program, opened, qtbot):
    opened.topic.asked.emit("digital.noise_ug", 200.0)
    assert program.bench.session.study.device.number("digital.noise_ug") == 200
    QTest.keyClick(opened, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert program.bench.session.study.device.number("digital.noise_ug") == 150
    opened.resize(1100, 640)
    QTest.keyClick(opened, Qt.Key.Key_Escape)
    assert not opened.isVisible()
    other = DeviceWindow([], [])
    qtbot.addWidget(other)
    assert other.restoreGeometry(program.preferences.value("device_window"))
    assert other.height() == 640


def test_no_number_is_cut(program, opened, qtbot):
    study = program.bench.session.study
    for key, value in (("spread.devices", 20.0), ("spread.alone", 2.0), ("mounting.sweep_step_deg", 45.0),
                       ("processor.clock_mhz", 1234.5)):
        if key in study.device:
            study = actions.set_device_value(study, key, value)
    program.bench.act(study, "quick")
    for size in ((1280, 760), (1120, 560)):
        opened.resize(*size)
        for controller in program.device.controllers_in_order:
            topic = controller.topic
            opened.show_topic(topic.title)
            QApplication.processEvents()
            if topic.view is None and controller.background and topic.title != "What if":
                topic.run_asked.emit()
                qtbot.waitUntil(lambda topic=topic: not topic.working, timeout=30_000)
            for place in topic.buttons:
                topic.show_place(place)
                QApplication.processEvents()
                assert topic.said.height() >= topic.said.heightForWidth(topic.said.width())
                _fits(topic)


def _in_further_lines(table: RowsTable, column: int) -> bool:
    """Whether every row is high enough for the words that don't fit the column's width."""
    room, words = table.columnWidth(column) - CELL_MARGIN, table.fontMetrics()
    heights = [words.boundingRect(0, 0, room, 10_000, Qt.TextFlag.TextWordWrap, row.texts[column]).height()
               for row in table.rows_model.rows]
    return all(table.rowHeight(at) >= height for at, height in enumerate(heights))


def _fits(topic) -> None:
    for table in topic.findChildren(RowsTable):
        for at, column in enumerate(table.rows_model.columns if table.isVisible() else ()):
            last = at == len(table.rows_model.columns) - 1
            if not table.isColumnHidden(at) and (column.number or not last):
                said, width = (topic.title, column.title), table.columnWidth(at)
                assert width >= table.horizontalHeader().sectionSizeHint(at), said
                if column.number or column.name:
                    assert width >= table.sizeHintForColumn(at), said
                elif width < table.sizeHintForColumn(at):
                    assert _in_further_lines(table, at), said
    for box in topic.findChildren(NumberBox):
        if box.isVisible():
            line = box.findChild(QLineEdit)
            assert line.width() >= line.fontMetrics().horizontalAdvance(box.text()), (topic.title, box.text())
    for button in topic.buttons.values():
        if button.isVisible():
            assert button.width() >= button.fontMetrics().horizontalAdvance(button.text()), button.text()


def test_a_hidden_topic_is_filled_when_it_is_shown(program, opened):
    opened.show_topic("Battery and radio")
    QApplication.processEvents()
    before = opened.topic.said.text()
    opened.show_topic("Part")
    QApplication.processEvents()
    study = program.bench.session.study
    program.bench.act(actions.set_device_value(study, "current.running_ua", 999.0), "more")
    QApplication.processEvents()
    budget = program.device.budget.topic
    assert budget.said.text() == before, "nobody looks"
    opened.show_topic("Battery and radio")
    QApplication.processEvents()
    assert budget.said.text() != before


def test_light_and_dark_dress_every_chart(program, opened):
    for theme in (LIGHT, DARK):
        program.appearance.choose(theme.name)
        for topic in opened.topics:
            assert not topic.grab().isNull()


def test_words_beside_a_figure_are_shown_whole(opened):
    """Each wrapped remark has the height that its words need in its column, at the window's smallest width too."""
    opened.resize(opened.minimumSize())
    opened.show_topic("Part")
    QApplication.processEvents()
    (table,) = (one for one in opened.topic.findChildren(RowsTable) if one.isVisible())
    last, metrics = len(table.rows_model.columns) - 1, table.fontMetrics()
    wrapped = 0
    for at, row in enumerate(table.rows_model.rows):
        room = table.columnWidth(last) - CELL_MARGIN
        needed = metrics.boundingRect(0, 0, room, 10_000, Qt.TextFlag.TextWordWrap, row.texts[last]).height()
        assert table.rowHeight(at) >= needed
        wrapped += needed > 2 * metrics.height() - 4
    assert wrapped >= 3

"""What is seen at 1280 × 800 on the demo: room for the sliders, whole numbers, one row of tabs, menus of a length."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

import pytest
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QLabel,
    QMenu,
    QScrollArea,
    QStyle,
    QStyleOptionViewItem,
    QTabBar,
    QWidget,
)

from app.ui.main_window import MainWindow
from app.ui.program import Program
from app.ui.widgets.table import RowsTable
from tests.app.conftest import settle
from tests.app.mouse import until

USUAL, LARGE = (1280, 800), (1920, 1080)
MOST_ENTRIES = 15
DIGIT = re.compile(r"\d")


@pytest.fixture
def demo(program) -> Program:
    """The demo's first recording in front."""
    program.files.open_demo()
    until(lambda: program.bench.session.study.items, 60_000)
    settle(program)
    program.window.recordings.choose_first()
    until(lambda: program.window.attempts.rows)
    return program


def resized(window: MainWindow, size: tuple[int, int]) -> MainWindow:
    window.resize(*size)
    for _ in range(4):
        QApplication.processEvents()
    return window


def visible(window: QWidget, kind: type) -> list:
    return [one for one in window.findChildren(kind) if one.isVisible()]


def inside(area: QScrollArea, widget: QWidget) -> bool:
    """Whether a widget can be seen whole without scrolling."""
    port = area.viewport()
    return port.rect().contains(QRect(widget.mapTo(port, QPoint()), widget.size()))


def test_every_slider_is_long_enough_to_aim_with(demo):
    for key, row in demo.window.settings.rows.items():
        if key.endswith("_on"):
            demo.bench.choose(key, True)
            assert row.switch.isChecked()
    rows = [row for row in resized(demo.window, USUAL).settings.rows.values() if hasattr(row, "slider")]
    assert len(rows) > 10
    assert {row.parameter.key: row.slider.track for row in rows if row.slider.track < 140} == {}


def test_value_and_integer_have_a_heading_above_their_columns(demo):
    window = resized(demo.window, USUAL)
    row = window.settings.rows["impact_g"]
    for text, below in (("value", row.box), ("integer", row.integer)):
        head, = [one for one in visible(window.settings, QLabel) if one.text() == text]
        assert head.mapToGlobal(head.rect().topRight()).x() == below.mapToGlobal(below.rect().topRight()).x()
        assert head.mapToGlobal(QPoint()).y() < below.mapToGlobal(QPoint()).y()


@pytest.mark.parametrize("size", [USUAL, LARGE], ids=str)
def test_tabs_stand_in_one_row_without_arrows(demo, size):
    bars = visible(resized(demo.window, size).tabs, QTabBar)
    assert sum(bar.count() for bar in bars) >= 6
    for bar in bars:
        assert all(bar.rect().contains(bar.tabRect(i)) for i in range(bar.count()))
        assert [one for one in bar.findChildren(QAbstractButton) if one.isVisible()] == []


def test_the_figures_are_seen_without_scrolling(demo):
    score = resized(demo.window, USUAL).score
    area, = score.findChildren(QScrollArea)
    figures = [label for labels in score._figures for label in labels]
    assert len(figures) >= 6 * 4
    assert all(inside(area, one) for one in (*figures, *score.cells.values(), score.since))


def cut_texts(window: MainWindow) -> Iterator[str]:
    """Every text with a figure in it that is not seen whole where it stands. Names may lose their middle."""
    for label in visible(window, QLabel):
        room = label.heightForWidth(label.width()) if label.wordWrap() else label.sizeHint().height()
        if DIGIT.search(label.text()) and (room > label.height() or (not label.wordWrap()
                                           and label.sizeHint().width() > label.width())):
            yield f"label {label.text()}"
    for box in visible(window, QAbstractSpinBox):
        line = box.lineEdit()
        if line.fontMetrics().horizontalAdvance(box.text()) > line.width():
            yield f"box {box.text()}"
    for combo in visible(window, QComboBox):
        arrow = combo.style().pixelMetric(QStyle.PixelMetric.PM_ScrollBarExtent)
        if DIGIT.search(combo.currentText()) and \
                combo.fontMetrics().horizontalAdvance(combo.currentText()) > combo.width() - arrow:
            yield f"choice {combo.currentText()}"
    for button in visible(window, QAbstractButton):
        if DIGIT.search(button.text()) and button.sizeHint().width() > button.width():
            yield f"button {button.text()}"
    for table in visible(window, RowsTable):
        for at, column in enumerate(table.rows_model.columns):
            if table.isColumnHidden(at) or column.name:
                continue
            for row in range(len(table.rows_model.rows)):
                index = table.rows_model.index(row, at)
                if DIGIT.search(index.data()) and table.sizeHintForIndex(index).width() > table.columnWidth(at):
                    yield f"cell {column.title}: {index.data()}"


def pages(window: MainWindow) -> Iterator[str]:
    """Each page of every place with tabs in front, in turn; of the breakdown, each of its kinds."""
    for place in (window.tabs.first, window.tabs.second):
        for at in range(place.count()):
            place.setCurrentIndex(at)
            kinds = range(window.splits.by.count()) if place.currentWidget() is window.splits else (0,)
            for kind in kinds:
                if len(kinds) > 1:
                    window.splits.by.setCurrentIndex(kind)
                for _ in range(4):
                    QApplication.processEvents()
                yield place.tabText(at)


@pytest.mark.parametrize("size", [USUAL, LARGE], ids=str)
def test_no_number_is_cut(demo, size):
    window = resized(demo.window, size)
    table = window.attempts.table
    table.selectRow(0)
    cut: dict[str, list[str]] = {}
    for title in pages(window):
        settle(demo)
        cut.setdefault(title, []).extend(cut_texts(window))
    assert len(cut) >= 6
    assert {title: texts for title, texts in cut.items() if texts} == {}


def test_a_number_that_is_cut_would_be_found(demo):
    window = resized(demo.window, USUAL)
    window.attempts.table.setColumnWidth(1, 20)
    window.toolbar.headline.setFixedWidth(40)
    assert {text.split()[0] for text in cut_texts(window)} == {"cell", "label"}


def test_numbers_are_written_alike_everywhere(demo):
    window = resized(demo.window, USUAL)
    for _title in pages(window):
        settle(demo)
        texts = [one.text() for kind in (QLabel, QAbstractSpinBox) for one in visible(window, kind)]
        texts += [text for table in visible(window, RowsTable) for row in table.rows_model.rows
                  for text, column in zip(row.texts, table.rows_model.columns, strict=True) if not column.name]
        assert [text for text in texts if re.search(r"\d\sbit\b", text)] == []
        assert [text for text in texts if re.search(r"(?<![.\d])\d{4,}", text)] == [], "digits in threes"


def levels(menu: QMenu) -> Iterator[tuple[str, list[str]]]:
    """Titles of the entries on every level; a menu that is filled when shown is filled first."""
    menu.aboutToShow.emit()
    entries = [one for one in menu.actions() if not one.isSeparator()]
    yield menu.title(), [one.text().partition("\t")[0].replace("&", "") for one in entries]
    for one in entries:
        below = one.menu()
        if below is not None:
            yield from levels(below)


def test_menus_are_short_and_say_nothing_twice(demo):
    every = dict(levels(demo.window.toolbar.menu.menu()))
    assert len(every) > 8
    assert {title: len(entries) for title, entries in every.items() if len(entries) > MOST_ENTRIES} == {}
    commands = Counter(entry for title, entries in every.items() for entry in entries
                       if title not in ("&Go to", "Score labels of"))
    assert [entry for entry, count in commands.items() if count > 1] == []
    assert Counter(entry for entries in every.values() for entry in entries)["Label time offset…"] == 1


def test_names_lose_their_middle(demo):
    table, shown = demo.window.recordings.table, QStyleOptionViewItem()
    table.itemDelegateForColumn(0).initStyleOption(shown, table.rows_model.index(0, 0))
    assert shown.textElideMode is Qt.TextElideMode.ElideMiddle

"""Checked things show a tick, and what can be pressed looks like it, in light and dark."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import (
    QApplication,
    QCheckBox,
    QListWidget,
    QListWidgetItem,
    QMenu,
    QTableWidget,
    QTableWidgetItem,
    QToolButton,
    QTreeWidget,
    QTreeWidgetItem,
    QWidget,
)

from app.ui.theme.colours import DARK, LIGHT, Theme
from app.ui.theme.stylesheet import palette, stylesheet

CHECKED, UNCHECKED = Qt.CheckState.Checked, Qt.CheckState.Unchecked


@pytest.fixture(scope="module", params=[LIGHT, DARK], ids=lambda theme: theme.name)
def theme(request, qapp) -> Iterator[Theme]:
    before = qapp.palette(), qapp.styleSheet()
    qapp.setPalette(palette(request.param))
    qapp.setStyleSheet(stylesheet(request.param))
    yield request.param
    qapp.setPalette(before[0])
    qapp.setStyleSheet(before[1])


def box(state: Qt.CheckState) -> QWidget:
    made = QCheckBox()
    made.setCheckState(state)
    return made


def listed(state: Qt.CheckState) -> QWidget:
    made = QListWidget()
    QListWidgetItem("", made).setCheckState(state)
    return made


def tabled(state: Qt.CheckState) -> QWidget:
    made, item = QTableWidget(1, 1), QTableWidgetItem()
    item.setCheckState(state)
    made.setItem(0, 0, item)
    return made


def branched(state: Qt.CheckState) -> QWidget:
    made = QTreeWidget()
    QTreeWidgetItem(made, [""]).setCheckState(0, state)
    return made


def in_menu(state: Qt.CheckState) -> QWidget:
    made = QMenu()
    action = made.addAction("")
    action.setCheckable(True)
    action.setChecked(state is CHECKED)
    return made


def picture(qtbot, widget: QWidget) -> QImage:
    qtbot.addWidget(widget)
    widget.resize(200, 80)
    widget.show()
    QApplication.processEvents()
    return widget.grab().toImage()


def places(image: QImage, colour: str) -> list[tuple[int, int]]:
    wanted = QColor(colour).rgb()
    return [(x, y) for x in range(image.width()) for y in range(image.height()) if image.pixel(x, y) == wanted]


@pytest.mark.parametrize("kind", [box, listed, tabled, branched, in_menu])
def test_a_checked_box_shows_a_tick_and_an_empty_one_does_not(qtbot, theme, kind):
    image = picture(qtbot, kind(CHECKED))
    filled = places(image, theme.touch)
    assert len(filled) > 40, "the box is filled"
    left, right = min(x for x, _ in filled), max(x for x, _ in filled)
    top, bottom = min(y for _, y in filled), max(y for _, y in filled)
    tick = [(x, y) for x, y in places(image, theme.touch_ink) if left < x < right and top < y < bottom]
    assert 4 <= len(tick) < len(filled), "a tick in the box, not all of it"
    assert places(picture(qtbot, kind(UNCHECKED)), theme.touch) == []


def test_a_tool_button_has_an_edge_and_a_ground(qtbot, theme):
    around = QWidget()
    button = QToolButton(around)
    button.setText("Presets…")
    button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    button.move(90, 40)  # away from where the mouse may be
    image = picture(qtbot, around)
    assert len(places(image, theme.hairline)) > 2 * (button.width() - 20), "an edge above and below"
    assert places(image, theme.ink), "words in ink, not grey"

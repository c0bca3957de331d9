"""Buttons in a line of which one is down, each for what it brings in front."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QToolButton, QWidget


def place_buttons(line: QHBoxLayout, owner: QWidget, name: str, titles: Iterable[str],
                  show: Callable[[str], object]) -> dict[str, QToolButton]:
    """A button at the line's end for each title, by title; a click calls `show` with it. `name`: spoken before each."""
    group = QButtonGroup(owner)
    buttons = {}
    for title in titles:
        button = QToolButton()
        button.setText(title)
        button.setAccessibleName(f"{name}: {title}")
        button.setCheckable(True)
        button.clicked.connect(lambda _=False, title=title: show(title))
        group.addButton(button)
        line.addWidget(button)
        buttons[title] = button
    return buttons

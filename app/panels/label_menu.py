"""What can be done to labels, as a menu: the lane's commands with their keys, and the activities in use."""

from __future__ import annotations

from PySide6.QtWidgets import QMenu

from app.plot.label_lane import CLASS_KEYS, COMMANDS, LabelLane

PARTED_BEFORE = ("next", "fall", "start here", "remove", "later", "start later", "end later", "playhead back")
"""Commands that begin a new part of the menu."""


def fill_label_menu(menu: QMenu, lane: LabelLane) -> None:
    """The keys are only told here: they work while the lane has them."""
    menu.clear()
    for command in COMMANDS:
        if command.name in PARTED_BEFORE:
            menu.addSeparator()
        _add(menu, lane, command.words, command.keys, command.name)
        if command.name == "other":
            for key, words in zip(CLASS_KEYS, lane.classes, strict=False):
                _add(menu, lane, f"It is: {words}", key, f"class {key}")


def _add(menu: QMenu, lane: LabelLane, words: str, keys: str, name: str) -> None:
    # A tab parts the words from the keys, which so are shown and not taken: they would be heard in the whole window.
    action = menu.addAction(f"{words}\t{keys}")
    action.triggered.connect(lambda: lane.commanded.emit(name, ""))

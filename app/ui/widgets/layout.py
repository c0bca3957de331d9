"""Labels with a role of the style sheet, rows and columns without margins, places of which one is seen: a line each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLayout,
    QScrollArea,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from app.number_style import shown

Margins = tuple[int, int, int, int]
"""Left, top, right, bottom, pixels."""
Part = QWidget | QLayout | tuple[QWidget | QLayout, int] | int | None
"""What is put in, or that and its share of the room; a number is a space in pixels, None takes what room is left."""

Box = TypeVar("Box", bound=QBoxLayout)

NONE: Margins = (0, 0, 0, 0)


class Words(QLabel):
    """Shows the figures in its text as the person wants to read them."""

    _said = ""

    def __init__(self, text: str = "", wrap: bool = False) -> None:
        super().__init__(wordWrap=wrap)
        self.setText(text)

    def setText(self, text: str) -> None:
        self._said = text
        super().setText(shown(text))

    def show_name(self, name: str) -> None:
        """A text in which digits are part of a name."""
        self._said = ""
        super().setText(name)

    def said(self) -> str:
        """As it was set, figures in the open form."""
        return self._said

    def clear(self) -> None:
        self.setText("")

    def show_figures_anew(self) -> None:
        if self._said:
            super().setText(shown(self._said))


class LinkedWords(Words):
    """Words with links in them, by mouse and keys. A link keeps the colour it was written in: in another theme they are
    written anew."""

    def __init__(self, wrap: bool = False) -> None:
        super().__init__(wrap=wrap)
        self.setTextFormat(Qt.TextFormat.RichText)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.TextBrowserInteraction)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() is QEvent.Type.PaletteChange and self.said():
            said = self.said()
            self.clear()
            self.setText(said)


def words(text: str = "", role: str = "", wrap: bool = False, margins: Margins = NONE,
          buddy: QWidget | None = None) -> Words:
    """`role`: one of the style sheet's for labels. `buddy`: what it names."""
    label = Words(text, wrap)
    label.setProperty("role", role)
    label.setContentsMargins(*margins)
    if buddy is not None:
        label.setBuddy(buddy)
    return label


def say(label: Words, text: str) -> None:
    """A label without words takes no room; one that says the same is not laid out anew."""
    if text != label.said():
        label.setText(text)
    label.setVisible(bool(text))


def row(*parts: Part, margins: Margins = NONE, spacing: int = 6, of: QWidget | None = None) -> QHBoxLayout:
    """`of`: the widget whose layout this is."""
    return _filled(QHBoxLayout(of) if of else QHBoxLayout(), parts, margins, spacing)


def column(*parts: Part, margins: Margins = NONE, spacing: int = 0, of: QWidget | None = None) -> QVBoxLayout:
    """`of`: the widget whose layout this is."""
    return _filled(QVBoxLayout(of) if of else QVBoxLayout(), parts, margins, spacing)


def _filled(box: Box, parts: tuple[Part, ...], margins: Margins, spacing: int) -> Box:
    box.setContentsMargins(*margins)
    box.setSpacing(spacing)
    for part in parts:
        if part is None:
            box.addStretch(1)
        elif isinstance(part, int):
            box.addSpacing(part)
        else:
            inside, share = part if isinstance(part, tuple) else (part, 0)
            if isinstance(inside, QLayout):
                box.addLayout(inside, share)
            else:
                box.addWidget(inside, share)
    return box


def scrolled(inside: QWidget | QLayout) -> QScrollArea:
    """Scrolled up and down alone, without a frame, and no stop of the keyboard."""
    if isinstance(inside, QLayout):
        panel = QWidget()
        panel.setObjectName("panel")
        panel.setLayout(inside)
        inside = panel
    area = QScrollArea(widgetResizable=True)
    area.setWidget(inside)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    return area


def grid(rows: Iterable[Sequence[QWidget | None]], across: int = -1, down: int = -1, margins: Margins = NONE,
         of: QWidget | None = None) -> QGridLayout:
    """`rows`: a widget a cell, None for an empty one. `across`, `down`: pixels between, the style's if negative."""
    made = QGridLayout(of) if of else QGridLayout()
    made.setContentsMargins(*margins)
    made.setHorizontalSpacing(across)
    made.setVerticalSpacing(down)
    for line, parts in enumerate(rows):
        for place, part in enumerate(parts):
            if part is not None:
                made.addWidget(part, line, place)
    return made


def in_rows(cells: Sequence[QWidget], count: int) -> list[Sequence[QWidget]]:
    """So many a row, for a grid."""
    return [cells[at : at + count] for at in range(0, len(cells), count)]


def holding(layout: QLayout) -> QWidget:
    """A widget of which this is the layout."""
    widget = QWidget()
    widget.setLayout(layout)
    return widget


def stack(*places: QWidget) -> QStackedWidget:
    made = QStackedWidget()
    for place in places:
        made.addWidget(place)
    return made


HANDLE = 5
"""Wide enough to be seen and taken hold of."""


def split(orientation: Qt.Orientation, *widgets: QWidget) -> QSplitter:
    made = QSplitter(orientation)
    made.setHandleWidth(HANDLE)
    made.setChildrenCollapsible(False)
    for widget in widgets:
        made.addWidget(widget)
    return made

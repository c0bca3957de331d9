"""Buttons, boxes, switches and fields, each with its name for assistive programs; numbers that are written."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping

from PySide6.QtCore import QPointF, QRectF, QSignalBlocker, QSize, Qt, Signal, SignalInstance
from PySide6.QtGui import QAction, QKeySequence, QPainter, QPaintEvent, QPalette, QPen, QValidator, QWheelEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSpinBox,
    QButtonGroup,
    QComboBox,
    QDoubleSpinBox,
    QHBoxLayout,
    QLineEdit,
    QMenu,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QWidget,
)

from app.formatting import GAP, plainly
from app.number_style import SI, G, opened, shown, style
from data.recordings.model import STANDARD_GRAVITY

Entries = Iterable[tuple[str, object]]
"""Of a box: words and what they stand for."""


def button(text: str, done: object, role: str = "", tip: str = "") -> QPushButton:
    """`done`: a function or a signal. In a dialog Enter doesn't press it: that belongs to rows and fields."""
    made = QPushButton(text, autoDefault=False)
    made.setProperty("role", role)
    made.setToolTip(tip)
    made.clicked.connect(done)
    return made


def tool(text: str, name: str, tip: str = "", checkable: bool = False, menu: QMenu | None = None) -> QToolButton:
    made = QToolButton()
    made.setText(text)
    made.setAccessibleName(name)
    made.setToolTip(tip)
    made.setCheckable(checkable)
    if menu is not None:
        made.setMenu(menu)
        made.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
    return made


def action(owner: QWidget, words: str, keys: str | QKeySequence.StandardKey, done: Callable[[], object],
           here: Qt.ShortcutContext = Qt.ShortcutContext.WindowShortcut) -> QAction:
    """Added to the owner. `here`: where its keys work."""
    made = QAction(words, owner, shortcut=QKeySequence(keys), shortcutContext=here)
    made.triggered.connect(lambda: done())
    owner.addAction(made)
    return made


def kinds_menu(parent: QWidget, kinds: Mapping[str, str], asked: SignalInstance) -> QMenu:
    """`kinds`: words by what is asked for with them."""
    menu = QMenu(parent)
    for kind, words in kinds.items():
        menu.addAction(words).triggered.connect(lambda _=False, kind=kind: asked.emit(kind))
    return menu


def line_edit(name: str, example: str = "", text: str = "", drops: bool = True) -> QLineEdit:
    """Without `drops` a file let go over it is meant for the window."""
    line = QLineEdit(text, placeholderText=example)
    line.setAccessibleName(name)
    line.setAcceptDrops(drops)
    return line


def choice(name: str, entries: Entries = (), chosen: object = "", least: int = 0) -> QComboBox:
    """`least`: as wide as so many letters where space is short, however long the entries are."""
    box = QComboBox()
    box.setAccessibleName(name)
    if least:
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        box.setMinimumContentsLength(least)
    refill(box, entries, chosen)
    return box


def refill(box: QComboBox, entries: Entries, chosen: object = "") -> None:
    """Other entries, without a signal; the one that stands for `chosen` is shown, else the first."""
    with QSignalBlocker(box):
        box.clear()
        for words, data in entries:
            box.addItem(words, data)
        show_choice(box, chosen)


def show_choice(box: QComboBox, chosen: object) -> None:
    """What stands for `chosen`, else the first."""
    box.setCurrentIndex(next((i for i in range(box.count()) if box.itemData(i) == chosen), 0))


def show_unless_written(line: QLineEdit, text: str, reads: Callable[[str], object], value: object) -> None:
    """The text for a value, unless what is written reads as it already: that may be half typed, and other text would
    move the cursor to its end."""
    try:
        if reads(line.text()) == value:
            return
    except ValueError:
        pass
    line.setText(text)


def show_figure(line: QLineEdit, value: float, unsaid: float = 0.0) -> None:
    """As `show_unless_written`; nothing for 0. `unsaid`: what an empty field stands for."""
    show_unless_written(line, f"{value:.15g}" if value else "",
                        lambda text: number_in(text, unsaid, math.isfinite, ""), value)


def number_in(text: str, unsaid: float, fits: Callable[[float], bool], sentence: str) -> float:
    """`unsaid` where nothing is written. ValueError with the sentence where it is not a number that fits."""
    if not text.strip():
        return unsaid
    try:
        value = float(plainly(opened(text)))
    except ValueError:
        value = math.nan
    if not fits(value):
        raise ValueError(sentence)
    return value


def place_buttons(line: QHBoxLayout, owner: QWidget, name: str, titles: Iterable[str],
                  show: Callable[[str], object]) -> dict[str, QToolButton]:
    """A button at the line's end for each title, by title, of which one is down; a click calls `show` with it. `name`:
    spoken before each."""
    group = QButtonGroup(owner)
    buttons = {title: tool(title, f"{name}: {title}", checkable=True) for title in titles}
    for title, made in buttons.items():
        made.clicked.connect(lambda _=False, title=title: show(title))
        group.addButton(made)
        line.addWidget(made)
    return buttons


WIDTH, HEIGHT = 26, 14


class Switch(QAbstractButton):
    """On or off. Space or a click turns it. `clicked` comes from the user alone, `toggled` from anyone."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setCheckable(True)
        self.setAccessibleName(name)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def sizeHint(self) -> QSize:
        return QSize(WIDTH + 4, HEIGHT + 4)

    def paintEvent(self, event: QPaintEvent) -> None:
        colours = self.palette()
        on = self.isChecked()
        track = colours.color(QPalette.ColorRole.Highlight if on else QPalette.ColorRole.Dark)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(2, (self.height() - HEIGHT) / 2, WIDTH, HEIGHT)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(track)
        painter.drawRoundedRect(box, HEIGHT / 2, HEIGHT / 2)
        painter.setBrush(colours.color(QPalette.ColorRole.Base))
        x = box.right() - HEIGHT / 2 if on else box.left() + HEIGHT / 2
        painter.drawEllipse(QPointF(x, box.center().y()), HEIGHT / 2 - 2.5, HEIGHT / 2 - 2.5)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(colours.color(QPalette.ColorRole.Highlight), 1))
            painter.drawRoundedRect(box.adjusted(-1.5, -1.5, 1.5, 1.5), HEIGHT / 2 + 1.5, HEIGHT / 2 + 1.5)


_NUMBER = re.compile(r"[xyz±]?(?P<number>[-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?)(?P<unit>m/s2|[^\d.]*)")
PER_G = {G: 1.0, "mg": 1000.0, SI: STANDARD_GRAVITY, "m/s2": STANDARD_GRAVITY}

FAR = 1e9
"""No limit of the box itself: what is out of bounds is refused in words, never clamped."""


class NumberBox(QDoubleSpinBox):
    """Enter, leaving, arrows and the focused wheel give `typed(value)`; showing a value gives nothing.

    `text_of` writes a value with its unit; read back, "1.2", "1,2" and "1 200" are numbers, a unit may follow,
    seconds are taken for a box in milliseconds, and g, mg or m/s² for one of an acceleration.
    """

    typed = Signal(float)

    def __init__(self, name: str, text_of: Callable[[float], str], step: float, parent: QWidget | None = None) -> None:
        self._text_of = text_of
        self._showing = True
        super().__init__(parent)
        self.setButtonSymbols(QAbstractSpinBox.ButtonSymbols.NoButtons)
        self.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.setAccessibleName(name)
        self.setDecimals(6)
        self.setRange(-FAR, FAR)
        self.setSingleStep(step)
        self.setKeyboardTracking(False)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCorrectionMode(QAbstractSpinBox.CorrectionMode.CorrectToPreviousValue)
        self.setFixedHeight(20)
        self.setAcceptDrops(False)
        self.lineEdit().setAcceptDrops(False)  # a file let go here is meant for the window
        self.valueChanged.connect(self._changed)
        self._showing = False

    def show_value(self, value: float) -> None:
        self._showing = True
        self.setValue(value)
        # An unfinished or refused text gives way to the value in force.
        text = self.textFromValue(value)
        if self.text() != text and (not self.hasFocus() or self._number(self.text()) != value):
            self.lineEdit().setText(text)
        self._showing = False

    def _changed(self, value: float) -> None:
        if not self._showing:
            self.typed.emit(value)

    def textFromValue(self, value: float) -> str:
        return shown(self._text_of(value))

    def show_figures_anew(self) -> None:
        self.lineEdit().setText(self.textFromValue(self.value()))

    def valueFromText(self, text: str) -> float:
        if text == self.textFromValue(self.value()):
            return self.value()  # what is shown may be rounded; nobody has typed
        number = self._number(text)
        return self.value() if number is None else number

    def validate(self, text: str, position: int) -> tuple[QValidator.State, str, int]:
        known = self._number(text) is not None
        return (QValidator.State.Acceptable if known else QValidator.State.Intermediate), text, position

    def _number(self, text: str) -> float | None:
        found = _NUMBER.fullmatch(plainly(opened(text)))
        if found is None:
            return None
        value, unit, own = float(found["number"]), found["unit"], self._text_of(1.0)
        of = own.rpartition(GAP)[2]
        if of in (G, "mg"):
            said = unit or (SI if style().acceleration == SI else of)
            return value * PER_G[of] / PER_G.get(said, PER_G[of])
        return value * (1000 if unit == "s" and own.endswith("ms") else 1)

    def sizeHint(self) -> QSize:
        return QSize(68, 20)

    def minimumSizeHint(self) -> QSize:
        return QSize(48, 20)

    def wheelEvent(self, event: QWheelEvent) -> None:
        if not self.hasFocus():
            event.ignore()
            return
        super().wheelEvent(event)

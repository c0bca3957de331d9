"""The label lane as something to work on: labels are drawn, moved and stretched, by mouse and by keys."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum, auto
from itertools import count

from PySide6.QtCore import QEvent, QKeyCombination, QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QContextMenuEvent,
    QKeyEvent,
    QKeySequence,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QWheelEvent,
)
from PySide6.QtWidgets import QMenu, QWidget

from app.ui.charts.scale import Scale
from app.ui.theme.stylesheet import theme_of
from app.ui.trace.events import Band, Labels
from app.ui.trace.geometry import Geometry

EDGE = 5
"""Pixels on either side of a label's ends that take hold of them."""

STILL = 3
"""A press that moves no further than this is a click."""


@dataclass(frozen=True)
class Command:
    """Something that can be done to labels: a word for programs, words for people, keys of the lane."""

    name: str
    words: str
    keys: str


COMMANDS = (
    Command("new", "New label at playhead", "Ins"),
    Command("whole", "Label whole recording", "W"),
    Command("next", "Next label", "Down"),
    Command("previous", "Previous label", "Up"),
    Command("fall", "Label as fall", "F"),
    Command("other", "Label as other activity", "O"),
    Command("name", "Name activity…", "N"),
    Command("comment", "Comment…", "C"),
    Command("annotator", "Annotator…", "A"),
    Command("label as", "Annotator of new labels…", "Shift+A"),
    Command("start here", "Start at playhead", "["),
    Command("end here", "End at playhead", "]"),
    Command("split", "Split at playhead", "S"),
    Command("join", "Join with next", "J"),
    Command("confirm", "Confirm proposed onset", "Return"),
    Command("remove", "Remove label", "Del"),
    Command("later", "Move one sample later", "Right"),
    Command("earlier", "Move one sample earlier", "Left"),
    Command("later 10", "Move ten samples later", "Shift+Right"),
    Command("earlier 10", "Move ten samples earlier", "Shift+Left"),
    Command("start later", "Start one sample later", "Ctrl+Right"),
    Command("start earlier", "Start one sample earlier", "Ctrl+Left"),
    Command("start later 10", "Start ten samples later", "Ctrl+Shift+Right"),
    Command("start earlier 10", "Start ten samples earlier", "Ctrl+Shift+Left"),
    Command("end later", "End one sample later", "Alt+Right"),
    Command("end earlier", "End one sample earlier", "Alt+Left"),
    Command("end later 10", "End ten samples later", "Alt+Shift+Right"),
    Command("end earlier 10", "End ten samples earlier", "Alt+Shift+Left"),
    Command("clock", "Label time offset…", "K"),
    Command("playhead back", "Playhead one sample back", ","),
    Command("playhead on", "Playhead one sample forward", "."),
)
CLASS_KEYS = tuple(str(digit) for digit in range(1, 10))
"""The activities in use, the first nine of them; such a command is called "class 3"."""

_BY_KEYS = {one.keys: one.name for one in COMMANDS} | {key: f"class {key}" for key in CLASS_KEYS}
_REPEATED = ("later", "earlier", "playhead")
"""Words of the commands that a key held down does again and again."""

_gestures = count(1)


class _Hold(Enum):
    NOTHING = auto()
    NEW = auto()
    WHOLE = auto()
    START = auto()
    END = auto()
    ALL = auto()
    """Every label of the recording, as another clock has them: by Shift."""
    SPREAD = auto()
    """Every label but the first, as a clock of another speed has them: by Ctrl and Shift."""


class LabelLane(QWidget):
    """Lies over the lane that the scene paints and adds the frame of the chosen label.

    It changes nothing by itself: its signals ask, and `show_labels` and `show_chosen` say what became of it. All
    moves of one drag, or of one key held down, carry the same gesture.
    """

    made = Signal(float, float, str)
    """Draw a new label: where it was pressed, where the mouse is, gesture."""
    spanned = Signal(float, float, str)
    """Let the chosen label hold from one time to another."""
    moved = Signal(float, str)
    """Let the chosen label begin at a time."""
    all_moved = Signal(float, str)
    """Let all labels of the recording lie so many seconds from where they lay when the gesture began."""
    all_spread = Signal(float, float, str)
    """Let what lay at one time when the gesture began lie at another, the first label where it is."""
    cancelled = Signal(str)
    """Escape: take back what this gesture did."""
    chosen_by_hand = Signal(int)
    """−1 for none."""
    released = Signal()
    """The mouse or the key: what the gesture did is done."""
    commanded = Signal(str, str)
    """One of COMMANDS or "class …", gesture."""
    clicked = Signal(float)
    """On no label, at this pixel of the parent."""

    def __init__(self, places: Callable[[], tuple[Geometry, Scale] | None], parent: QWidget) -> None:
        """`places`: where things stand in the parent now; None while nothing is shown."""
        super().__init__(parent)
        self._places = places
        self.labels: Labels | None = None
        self.chosen = -1
        self._hold, self._dragging, self._gesture = _Hold.NOTHING, False, ""
        self._press = QPointF()
        self._anchor_s = self._grip_s = 0.0
        self.classes: tuple[str, ...] = ()
        """The activities that the digits stand for, in words."""
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAttribute(Qt.WidgetAttribute.WA_NoSystemBackground)
        keys = "; ".join(f"{one.keys}: {one.words.lower()}" for one in COMMANDS)
        self.setAccessibleDescription(f"{keys}; a label drawn with Shift takes all labels along, with Control and "
                                      "Shift all but the first are spread")
        self._say()

    # What is shown.

    def show_labels(self, labels: Labels | None) -> None:
        self.labels = labels
        if self.chosen >= len(labels or ()):
            self.chosen = -1
        self._say()
        self.update()

    def show_chosen(self, at: int) -> None:
        """The place of the chosen one among the recording's labels, −1 for none."""
        self.chosen = at if self.labels is not None and 0 <= at < len(self.labels) else -1
        self._say()
        self.update()

    def band(self, at: int) -> QRect | None:
        """Where a label shows, in the lane's pixels."""
        places = self._places()
        band = None if places is None or self.labels is None else self.labels.band(at, places[1])
        if band is None or places is None:
            return None
        row = places[0].label_row(band.row)
        return QRect(band.start - self.x(), row.top() - self.y(), band.end - band.start, row.height())

    def _say(self) -> None:
        """The chosen label in words, for assistive programs."""
        if not self.labels:
            words = "Labels: none"
        elif self.chosen < 0:
            words = f"Labels: {len(self.labels)}, none chosen"
        else:
            words = f"Label {self.chosen + 1} of {len(self.labels)}: {self.labels.words(self.chosen)}"
        if words != self.accessibleName():
            self.setAccessibleName(words)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        touch = QColor(theme_of(self.palette()).touch)
        box = self.band(self.chosen)
        if box is not None:
            painter.setPen(QPen(touch, 1.6))
            painter.drawRect(QRectF(box).adjusted(0.8, 0.8, -0.8, -0.8))
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(touch)
            for x in (box.left(), box.right() - 2):
                painter.drawRoundedRect(QRectF(x, box.center().y() - 4.5, 4, 10), 1.5, 1.5)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(touch, 1, Qt.PenStyle.DotLine))
            painter.drawRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5))

    # Mouse.

    def mousePressEvent(self, event: QMouseEvent) -> None:
        places = self._places()
        if event.button() is not Qt.MouseButton.LeftButton or places is None:
            event.ignore()
            return
        self._press, self._dragging = event.position(), False
        self._gesture = f"label {next(_gestures)}"
        here_s = self._seconds(event.position())
        band, self._hold = self._under(event.position())
        if band is None:
            self._hold, self._anchor_s = _Hold.NEW, here_s
            return
        self._choose(band.at)
        held = event.modifiers()
        if held & Qt.KeyboardModifier.ShiftModifier:
            self._hold = _Hold.SPREAD if held & Qt.KeyboardModifier.ControlModifier else _Hold.ALL
            self._anchor_s = here_s
            return
        assert self.labels is not None
        onset, end = self.labels.times(band.at)
        self._anchor_s = end if self._hold is _Hold.START else onset
        self._grip_s = here_s - onset

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._hold is _Hold.NOTHING:
            self._show_cursor(event.position())
            return
        if not self._dragging and (event.position() - self._press).manhattanLength() <= STILL:
            return
        here_s = self._seconds(event.position())
        if self._hold is _Hold.NEW and not self._dragging:
            self._choose(-1)
            self.made.emit(self._anchor_s, here_s, self._gesture)
            self._dragging = self.chosen >= 0
            if not self._dragging:  # refused
                self._hold = _Hold.NOTHING
            return
        self._dragging = True
        if self._hold is _Hold.WHOLE:
            self.moved.emit(here_s - self._grip_s, self._gesture)
        elif self._hold is _Hold.ALL:
            self.all_moved.emit(here_s - self._anchor_s, self._gesture)
        elif self._hold is _Hold.SPREAD:
            self.all_spread.emit(self._anchor_s, here_s, self._gesture)
        else:
            self.spanned.emit(self._anchor_s, here_s, self._gesture)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() is not Qt.MouseButton.LeftButton:
            return
        if self._hold is _Hold.NEW and not self._dragging:
            self._choose(-1)
            self.clicked.emit(float(self.mapToParent(event.position()).x()))
        self._hold, self._dragging = _Hold.NOTHING, False
        self._show_cursor(event.position())
        self.released.emit()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        band, _ = self._under(event.position())
        if band is None:
            event.ignore()
        else:
            self._choose(band.at)
            self.commanded.emit("comment", "")

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """What is under the mouse is chosen; the menu is the panel's."""
        band, _ = self._under(QPointF(event.pos()))
        if band is not None:
            self._choose(band.at)
        event.ignore()

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()

    def _choose(self, at: int) -> None:
        if at != self.chosen:
            self.show_chosen(at)
            self.chosen_by_hand.emit(at)

    def _seconds(self, here: QPointF) -> float:
        places = self._places()
        assert places is not None
        at, time = places
        return time.value(min(max(self.mapToParent(here).x(), at.left), at.right))

    def _under(self, here: QPointF) -> tuple[Band | None, _Hold]:
        """The label under a place and which part of it; the chosen one before others, ends before middles."""
        places = self._places()
        if places is None or self.labels is None:
            return None, _Hold.NOTHING
        at, time = places
        spot = self.mapToParent(here)
        row = next((i for i in range(at.label_rows) if spot.y() <= at.label_row(i).bottom()), at.label_rows - 1)
        bands = [band for band in self.labels.bands(time) if band.row == row]
        bands.sort(key=lambda band: band.at != self.chosen)
        for band in bands:
            inside = EDGE if band.end - band.start >= 4 * EDGE else 0
            if band.start - EDGE <= spot.x() <= band.start + inside:
                return band, _Hold.START
            if band.end - inside <= spot.x() <= band.end + EDGE:
                return band, _Hold.END
        held = (band for band in bands if band.start <= spot.x() < band.end)
        band_here = next(held, None)
        return band_here, _Hold.WHOLE if band_here is not None else _Hold.NOTHING

    def _show_cursor(self, here: QPointF) -> None:
        _, part = self._under(here)
        shapes = {_Hold.START: Qt.CursorShape.SizeHorCursor, _Hold.END: Qt.CursorShape.SizeHorCursor,
                  _Hold.WHOLE: Qt.CursorShape.SizeAllCursor}
        self.setCursor(shapes.get(part, Qt.CursorShape.CrossCursor))

    # Keys.

    def event(self, event: QEvent) -> bool:
        # The lane's letters come before the window's own shortcuts while the lane has the keys.
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.ShortcutOverride and self._meant(event):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        name = self._meant(event)
        if event.key() == Qt.Key.Key_Escape:
            self._escape(event)
        elif name is None:
            super().keyPressEvent(event)
        elif not event.isAutoRepeat() or name.split()[0] in _REPEATED or name.split()[-1] in _REPEATED:
            if not event.isAutoRepeat():
                self._gesture = f"label {next(_gestures)}"
            self.commanded.emit(name, self._gesture)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        if event.isAutoRepeat():
            return
        self.released.emit()
        super().keyReleaseEvent(event)

    def _escape(self, event: QKeyEvent) -> None:
        if self._dragging:
            self._hold, self._dragging = _Hold.NOTHING, False
            self.cancelled.emit(self._gesture)
        elif self.chosen >= 0:
            self._choose(-1)
        else:
            event.ignore()

    def _meant(self, event: QKeyEvent) -> str | None:
        held = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        key = Qt.Key(event.key())
        if key in (Qt.Key.Key_BracketLeft, Qt.Key.Key_BracketRight):
            held = Qt.KeyboardModifier.NoModifier  # on many keyboards brackets need AltGr
        return _BY_KEYS.get(QKeySequence(QKeyCombination(held, key)).toString())


ON_TOP = ("new", "whole", "label as", "clock")
PARTS: Mapping[str, tuple[str, ...]] = {
    "Set activity": ("fall", "other", "name"),
    "Edit label": ("comment", "annotator", "start here", "end here", "split", "join", "confirm", "remove"),
    "Move label": tuple(one.name for one in COMMANDS if "later" in one.name or "earlier" in one.name),
    "Step through": ("next", "previous", "playhead back", "playhead on"),
}
"""Menus below this one, with their commands."""


def fill_label_menu(menu: QMenu, lane: LabelLane, without: tuple[str, ...] = ()) -> None:
    """The keys are only shown here: they work while the lane has them. `without`: commands left out."""
    for below in menu.findChildren(QMenu, options=Qt.FindChildOption.FindDirectChildrenOnly):
        below.deleteLater()
    menu.clear()
    for name in ON_TOP[:2]:
        _add(menu, lane, name)
    for title, names in PARTS.items():
        below = menu.addMenu(title)
        for name in names:
            _add(below, lane, name)
        if "fall" in names:
            below.addSeparator()
            for key, words in zip(CLASS_KEYS, lane.classes, strict=False):
                _put(below, lane, f"Set activity: {words}", key, f"class {key}")
    for name in ON_TOP[2:]:
        if name not in without:
            _add(menu, lane, name)


_BY_NAME = {command.name: command for command in COMMANDS}


def _add(menu: QMenu, lane: LabelLane, name: str) -> None:
    _put(menu, lane, _BY_NAME[name].words, _BY_NAME[name].keys, name)


def _put(menu: QMenu, lane: LabelLane, words: str, keys: str, name: str) -> None:
    # A tab parts the words from the keys, which so are shown and not taken: they would work in the whole window.
    menu.addAction(f"{words}\t{keys}", lambda: lane.commanded.emit(name, ""))

"""The settings, group by group as the table of parameters has them: nothing here knows a single setting by name."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QWidget

from app.formatting import GAP, decimal
from app.ui.settings.rows import BOX_WIDTH, GAP_WIDTH, INTEGER_WIDTH, ROW_HEIGHT, SettingRow, SwitchRow, row_for
from app.ui.theme.stylesheet import theme_of
from app.ui.widgets.controls import NumberBox, button, kinds_menu, tool
from app.ui.widgets.layout import column, grid, row, say, scrolled, words
from app.ui.widgets.quantity_form import CutLabel
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, integers_of
from detect.rule.settings import PARAMETERS, Parameter, Settings, Unit

SIDE = 9


class Swatch(QWidget):
    """A small square of a colour of the theme."""

    def __init__(self, colour: str) -> None:
        super().__init__()
        self._colour = colour
        self.setFixedSize(SIDE, SIDE)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, colour = QPainter(self), QColor(getattr(theme_of(self.palette()), self._colour))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(colour)
        painter.setBrush(colour)
        painter.drawRoundedRect(self.rect().adjusted(0, 0, -1, -1), 1.5, 1.5)


GROUPS = (
    ("free_fall", "Free fall", "free_fall_line"),
    ("impact", "Impact", "impact_line"),
    ("afterwards", "Afterwards", "observe"),
    ("before", "Before", ""),
    ("alarm", "Alarm", ""),
    ("front_end", "Sensor", ""),
)
"""Stage of the table, its heading, the theme's colour of it where the stage has one."""

WIDTH, LEAST_WIDTH = 386, 290
"""Usual and least, pixels: the usual one gives every slider 140 pixels to aim on, beside a scroll bar too."""

AS_INTEGER = "What the firmware compares with: counts for g, samples for ms; a tilt as a share of 16 384."
INTEGERS = "integer: g in counts, ms in samples"


class SettingsPanel(QWidget):
    """Sliders, boxes and switches for every row of the table, and the sensor."""

    slid = Signal(str, float, str)
    """Key, value, gesture: a slider is being moved."""
    typed = Signal(str, float)
    chosen = Signal(str, object)
    """A switch turned, a choice made, a vector written."""
    front_end_asked = Signal(str, object)
    """range_g, bits, rate_hz or counts_per_g, and its value."""
    preset_asked = Signal(str)
    own_presets_wanted = Signal()
    """The menu of own presets is about to be seen: `show_own_presets` fills it."""
    own_preset_asked = Signal(str)
    mark_asked = Signal()
    find_asked = Signal()
    side_asked = Signal()
    """The other side is to be the current one."""

    def __init__(self, presets: Sequence[tuple[str, str]] = ()) -> None:
        """`presets`: title and origin of each."""
        super().__init__()
        self.setAccessibleName("Settings")
        self.rows: dict[str, SettingRow] = {}
        self._switched: dict[str, list[QWidget]] = {}
        self._front: dict[str, NumberBox] = {}
        self._front_end = FrontEnd()
        self.front_end_refusal = words(role="wrong", wrap=True)
        self.front_end_refusal.hide()
        groups = [self._group(stage, heading, colour) for stage, heading, colour in GROUPS]
        inside = column(_column_heads(), *groups, self._buttons(), None)
        column(self._header(presets), (scrolled(inside), 1), of=self)
        self.setMinimumWidth(LEAST_WIDTH)

    def show_settings(self, settings: Settings, rule: Rule, front_end: FrontEnd, mark: Settings | None) -> None:
        """The study's settings with the integers they become; `mark`: those of the last export."""
        integers = _integers(rule)
        for key, one in self.rows.items():
            one.show_setting(settings, integers.get(key, ""), None if mark is None else mark[key])
            one.show_refusal("")
        for key, widgets in self._switched.items():
            for widget in widgets:
                if widget.isHidden() == bool(settings[key]):
                    widget.setVisible(bool(settings[key]))
        if front_end != self._front_end:
            self._front_end = front_end
            for one in self.rows.values():
                one.show_front_end(front_end)
        for name, box in self._front.items():
            box.show_value(front_end.k if name == "counts_per_g" else getattr(front_end, name))
        self.front_end_refusal.hide()

    def show_side(self, side: str, compared: bool) -> None:
        """Which of A and B is current, and whether there is another one to switch to."""
        for name, made in self.sides.items():
            made.setChecked(name == side)
            made.setToolTip(f"Side {name} is current" if name == side else f"Switch to side {name} (Ctrl+B)"
                              if compared else f"Keep these settings as side {side} and go on with {name} (Ctrl+B)")

    def show_refusal(self, key: str, sentence: str) -> None:
        """Why a value was not taken, under its row."""
        if key in self.rows:
            self.rows[key].show_refusal(sentence)
        else:
            say(self.front_end_refusal, sentence)

    def show_own_presets(self, titles: Sequence[str]) -> None:
        """Settings files kept as presets; the menu says so where there is none."""
        self._own_presets.clear()
        for title in titles:
            action = self._own_presets.addAction(title)
            action.triggered.connect(lambda _=False, title=title: self.own_preset_asked.emit(title))
        if not titles:
            self._own_presets.addAction("No own preset yet: save one under History").setEnabled(False)

    def take_focus(self) -> None:
        """Into the first row, for the keyboard."""
        buddy = next(iter(self.rows.values())).title.buddy()
        assert buddy is not None
        buddy.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _header(self, presets: Sequence[tuple[str, str]]) -> QHBoxLayout:
        title = words("Settings", "title")
        title.setFixedHeight(24)
        self.sides = {side: tool(side, f"Side {side}", checkable=True) for side in ("A", "B")}
        for side, made in self.sides.items():
            made.clicked.connect(lambda _, side=side: self._side_clicked(side))
        menu = kinds_menu(self, {name: f"{name} – {origin}" for name, origin in presets}, self.preset_asked)
        menu.setToolTipsVisible(True)
        self.presets = tool("Presets…", "Presets", menu=menu)
        self._own_presets = menu.addMenu("Own presets")
        self._own_presets.aboutToShow.connect(self.own_presets_wanted)
        self.presets.setVisible(bool(presets))
        return row(title, 8, *self.sides.values(), None, self.presets, margins=(12, 6, 12, 2), spacing=2)

    def _side_clicked(self, side: str) -> None:
        other = next(made for name, made in self.sides.items() if name != side)
        taken = not other.isChecked()
        self.sides[side].setChecked(taken)  # until it is current
        if not taken:
            self.side_asked.emit()

    def _group(self, stage: str, heading: str, colour: str) -> QWidget:
        group = QFrame()
        group.setProperty("role", "group")
        inside = column(margins=(12, 4, 12, 5), of=group)
        parameters = [p for p in PARAMETERS if p.group == stage]
        # A switch that opens a stage stands in its heading; one within it begins a part of its own.
        opening = bool(parameters) and parameters[0].title == heading
        if not opening:
            inside.addLayout(self._heading(heading, colour, stage == "front_end"))
        if stage == "front_end":
            inside.addLayout(self._front_end_line())
            inside.addWidget(self.front_end_refusal)
        for parameter in parameters:
            # A row is shown with its switch where that is in sight, in the same group.
            owner = parameter.needs if any(p.key == parameter.needs for p in parameters) else ""
            made = self._row(parameter, heading, owner)
            inside.addWidget(made)
            if isinstance(made, SwitchRow):
                self._switched[parameter.key] = []
                if opening and parameter is parameters[0]:
                    made.grid.addLayout(row(Swatch(colour), made.title, spacing=7), 0, 0)
            elif owner:
                self._switched[owner].append(made)
        return group

    def _row(self, parameter: Parameter, heading: str, owner: str) -> SettingRow:
        part = self.rows[owner].parameter.title if owner else heading
        spoken = parameter.title if parameter.title == part else f"{part}, {parameter.title}"
        made = row_for(parameter, spoken)
        made.slid.connect(self.slid)
        made.typed.connect(self.typed)
        made.chosen.connect(self.chosen)
        self.rows[parameter.key] = made
        return made

    def _heading(self, heading: str, colour: str, scale: bool) -> QHBoxLayout:
        title = words(heading, "strong")
        title.setMinimumHeight(ROW_HEIGHT)
        line = row(*([Swatch(colour)] if colour else []), title, None, spacing=7)
        if scale:
            box = self._front_box("counts_per_g", "Counts per g", lambda v: f"{decimal(v)}{GAP}counts{GAP}/{GAP}g")
            box.setFixedWidth(118)
            box.setToolTip("From range and resolution; write it for a part whose scale is not a power of two.")
            line.addWidget(box)
        return line

    def _front_end_line(self) -> QGridLayout:
        titles, boxes = [], []
        for field, title, spoken, text_of in (
            ("range_g", "range", "Full-scale range, ± g", lambda v: f"±{decimal(v)}{GAP}g"),
            ("bits", "resolution", "Resolution, bits", lambda v: f"{decimal(v)}{GAP}bits"),
            ("rate_hz", "rate", "Output data rate, Hz", lambda v: f"{decimal(v)}{GAP}Hz"),
        ):
            boxes.append(self._front_box(field, spoken, text_of))
            titles.append(words(title, "aside", buddy=boxes[-1]))
        return grid((titles, boxes), GAP_WIDTH, 0, (0, 0, 0, 2))

    def _front_box(self, field: str, spoken: str, text_of: Callable[[float], str]) -> NumberBox:
        box = NumberBox(spoken, text_of, 1)
        box.setToolTip(spoken)
        box.typed.connect(lambda v: self.front_end_asked.emit(field, int(v) if field == "bits" and v == int(v) else v))
        self._front[field] = box
        return box

    def _buttons(self) -> QHBoxLayout:
        self.mark = button("Set reference", self.mark_asked, tip=(
            "Remember these settings: the score is compared with theirs from now on. (Ctrl+M)"))
        self.find_settings = button("Find settings…", self.find_asked, tip=(
            "Search settings, and see how they do on people left out. (Ctrl+Shift+F)"))
        return row(self.mark, self.find_settings, None, margins=(12, 8, 12, 8), spacing=8)


def _column_heads() -> QHBoxLayout:
    """Over the numbers of the rows below."""
    heads = []
    for title, width, tip in (("value", BOX_WIDTH, ""), ("integer", INTEGER_WIDTH, AS_INTEGER)):
        head = words(title, "aside")
        head.setAlignment(Qt.AlignmentFlag.AlignRight)
        head.setFixedWidth(width)
        head.setToolTip(tip)
        heads.append(head)
    hint = CutLabel(INTEGERS, Qt.TextElideMode.ElideRight)  # gives way where the panel is narrow
    hint.setProperty("role", "aside")
    return row((hint, 1), *heads, margins=(12, 0, 12, 0), spacing=GAP_WIDTH)


def _integers(rule: Rule) -> dict[str, str]:
    """What stands beside each number: its integer, or both where it becomes two; of a vector its three."""
    shown = {}
    for parameter in PARAMETERS:
        if parameter.is_number or parameter.unit is Unit.VECTOR:
            texts = [decimal(integer) for integer in integers_of(parameter.key, rule)]
            shown[parameter.key] = ("\n" if len(texts) == 2 else ", ").join(texts)
    return shown

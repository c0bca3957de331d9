"""The settings, group by group as the table of parameters has them: nothing here knows a single setting by name."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QScrollArea,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.controls.number_box import NumberBox
from app.controls.swatch import Swatch
from app.panels.setting_rows import BOX_WIDTH, ROW_HEIGHT, Row, SwitchRow, row_for
from app.theme import LIGHT, Theme
from app.words import GAP, decimal
from detect.frontend import FrontEnd
from detect.rule import BOUNDS, Rule
from detect.settings import PARAMETERS, Parameter, Settings

GROUPS = (
    ("free_fall", "Free fall", "free_fall_line"),
    ("impact", "Impact", "impact_line"),
    ("afterwards", "Afterwards", "observe"),
    ("before", "Before", ""),
    ("alarm", "Alarm", ""),
    ("front_end", "Front end", ""),
)
"""Stage of the table, its heading, the theme's colour of it where the stage has one."""

WIDTH = 292


class SettingsPanel(QWidget):
    """Sliders, boxes and switches for every row of the table, and the front end."""

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
    """The side that is not in hand is to be."""

    def __init__(self, presets: Sequence[tuple[str, str]] = ()) -> None:
        """`presets`: title and origin of each."""
        super().__init__()
        self.setAccessibleName("Settings")
        self.rows: dict[str, Row] = {}
        self._switched: dict[str, list[QWidget]] = {}
        self._swatches: list[tuple[Swatch, str]] = []
        self._front: dict[str, NumberBox] = {}
        self._front_end = FrontEnd()
        self.front_end_refusal = QLabel(wordWrap=True)
        self.front_end_refusal.setProperty("role", "wrong")
        self.front_end_refusal.hide()
        self._boxes = QVBoxLayout()
        self._boxes.setContentsMargins(0, 0, 0, 0)
        self._boxes.setSpacing(0)
        for stage, heading, colour in GROUPS:
            self._boxes.addWidget(self._group(stage, heading, colour))
        self._boxes.addLayout(self._buttons())
        self._boxes.addStretch(1)
        inside = QWidget()
        inside.setObjectName("panel")
        inside.setLayout(self._boxes)
        scroll = QScrollArea()
        scroll.setWidget(inside)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(self._header(presets))
        whole.addWidget(scroll, 1)
        self.setMinimumWidth(WIDTH)
        self.set_theme(LIGHT)

    def show_settings(self, settings: Settings, rule: Rule, front_end: FrontEnd, mark: Settings | None) -> None:
        """The study's settings with the integers they become; `mark`: those of the last export."""
        integers = _integers(rule)
        for key, row in self.rows.items():
            row.show_setting(settings, integers.get(key, ""), None if mark is None else mark[key])
            row.show_refusal("")
        for key, widgets in self._switched.items():
            for widget in widgets:
                if widget.isHidden() == bool(settings[key]):
                    widget.setVisible(bool(settings[key]))
        if front_end != self._front_end:
            self._front_end = front_end
            for row in self.rows.values():
                row.show_front_end(front_end)
        for name, box in self._front.items():
            box.show_value(front_end.k if name == "counts_per_g" else getattr(front_end, name))
        self.front_end_refusal.hide()

    def show_side(self, side: str, compared: bool) -> None:
        """Which of A and B is in hand, and whether there is another one to take."""
        for name, button in self.sides.items():
            button.setChecked(name == side)
            button.setToolTip(f"Side {name} is in hand" if name == side else f"Take side {name} in hand (Ctrl+B)"
                              if compared else f"Keep these settings as side {side} and go on with {name} (Ctrl+B)")

    def show_refusal(self, key: str, sentence: str) -> None:
        """Why a value was not taken, under its row."""
        if key in self.rows:
            self.rows[key].show_refusal(sentence)
            return
        self.front_end_refusal.setText(sentence)
        self.front_end_refusal.setVisible(bool(sentence))

    def show_own_presets(self, titles: Sequence[str]) -> None:
        """Settings files kept as presets; the menu says so where there is none."""
        self._own_presets.clear()
        for title in titles:
            action = self._own_presets.addAction(title)
            action.triggered.connect(lambda _=False, title=title: self.own_preset_asked.emit(title))
        if not titles:
            self._own_presets.addAction("None yet: save one in the history").setEnabled(False)

    def take_focus(self) -> None:
        """Into the first row, for the keyboard."""
        row = next(iter(self.rows.values()))
        buddy = row.title.buddy()
        assert buddy is not None
        buddy.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def set_theme(self, theme: Theme) -> None:
        for swatch, colour in self._swatches:
            swatch.set_colour(getattr(theme, colour))

    def _header(self, presets: Sequence[tuple[str, str]]) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setContentsMargins(12, 6, 8, 2)
        title = QLabel("Settings")
        title.setProperty("role", "title")
        title.setFixedHeight(24)
        line.addWidget(title)
        line.addSpacing(8)
        line.setSpacing(2)
        self.sides = {side: QToolButton() for side in ("A", "B")}
        for side, button in self.sides.items():
            button.setText(side)
            button.setCheckable(True)
            button.setAccessibleName(f"Side {side} in hand")
            button.clicked.connect(lambda _, side=side: self._side_clicked(side))
            line.addWidget(button)
        line.addStretch(1)
        self.presets = QToolButton()
        self.presets.setText("Presets…")
        self.presets.setAccessibleName("Presets")
        self.presets.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(self.presets)
        menu.setToolTipsVisible(True)
        for name, origin in presets:
            action = menu.addAction(f"{name} – {origin}")
            action.triggered.connect(lambda _=False, name=name: self.preset_asked.emit(name))
        self.presets.setMenu(menu)
        self._own_presets = menu.addMenu("Own presets")
        self._own_presets.aboutToShow.connect(self.own_presets_wanted)
        self.presets.setVisible(bool(presets))
        line.addWidget(self.presets)
        return line

    def _side_clicked(self, side: str) -> None:
        other = next(button for name, button in self.sides.items() if name != side)
        taken = not other.isChecked()
        self.sides[side].setChecked(taken)  # until it is in hand
        if not taken:
            self.side_asked.emit()

    def _group(self, stage: str, heading: str, colour: str) -> QWidget:
        group = QFrame()
        group.setProperty("role", "group")
        column = QVBoxLayout(group)
        column.setContentsMargins(12, 4, 12, 5)
        column.setSpacing(0)
        parameters = [p for p in PARAMETERS if p.stage == stage]
        # A switch that opens a stage stands in its heading; one within it begins a part of its own.
        opening = bool(parameters) and parameters[0].title == heading
        if not opening:
            column.addLayout(self._heading(heading, colour, stage == "front_end"))
        if stage == "front_end":
            column.addLayout(self._front_end_line())
            column.addWidget(self.front_end_refusal)
        owner = ""
        for parameter in parameters:
            row = self._row(parameter, heading, owner)
            column.addWidget(row)
            if isinstance(row, SwitchRow):
                owner = parameter.key
                self._switched[owner] = []
                if opening and parameter is parameters[0]:
                    self._put_swatch(row, colour)
            elif owner:
                self._switched[owner].append(row)
        return group

    def _row(self, parameter: Parameter, heading: str, owner: str) -> Row:
        part = self.rows[owner].parameter.title if owner else heading
        spoken = parameter.title if parameter.title == part else f"{part}, {parameter.title}"
        row = row_for(parameter, spoken)
        row.slid.connect(self.slid)
        row.typed.connect(self.typed)
        row.chosen.connect(self.chosen)
        self.rows[parameter.key] = row
        return row

    def _heading(self, heading: str, colour: str, scale: bool) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(7)
        if colour:
            swatch = Swatch()
            self._swatches.append((swatch, colour))
            line.addWidget(swatch)
        title = QLabel(heading)
        title.setProperty("role", "strong")
        title.setMinimumHeight(ROW_HEIGHT)
        line.addWidget(title)
        line.addStretch(1)
        if scale:
            box = self._front_box("counts_per_g", "Counts per g", lambda v: f"{decimal(v)}{GAP}counts{GAP}/{GAP}g")
            box.setFixedWidth(118)
            box.setToolTip("From range and width; write it for a part whose scale is not a power of two.")
            line.addWidget(box)
        return line

    def _put_swatch(self, row: Row, colour: str) -> None:
        swatch = Swatch()
        self._swatches.append((swatch, colour))
        line = QHBoxLayout()
        line.setSpacing(7)
        line.addWidget(swatch)
        line.addWidget(row.title)
        row.grid.addLayout(line, 0, 0)

    def _front_end_line(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setContentsMargins(0, 1, 0, 1)
        line.setSpacing(6)
        name = QLabel("sensor")
        name.setProperty("role", "muted")
        name.setToolTip("Full scale, width and rate of the device the settings are for.")
        line.addWidget(name, 1)
        for field, spoken, text_of in (
            ("range_g", "Full-scale range, ± g", lambda v: f"±{decimal(v)}{GAP}g"),
            ("bits", "Width, bits", lambda v: f"{decimal(v)}{GAP}bit"),
            ("rate_hz", "Output data rate, Hz", lambda v: f"{decimal(v)}{GAP}Hz"),
        ):
            box = self._front_box(field, spoken, text_of)
            box.setFixedWidth(BOX_WIDTH - 2)
            line.addWidget(box)
        return line

    def _front_box(self, field: str, spoken: str, text_of: Callable[[float], str]) -> NumberBox:
        box = NumberBox(spoken, text_of, 1)
        box.setToolTip(spoken)
        box.typed.connect(lambda v: self.front_end_asked.emit(field, int(v) if field == "bits" and v == int(v) else v))
        self._front[field] = box
        return box

    def _buttons(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setContentsMargins(12, 8, 12, 8)
        line.setSpacing(8)
        self.mark = QPushButton("Set mark")
        self.mark.setToolTip("Remember the settings in hand: the score then says what changes from here.")
        self.mark.clicked.connect(self.mark_asked)
        line.addWidget(self.mark)
        self.find_settings = QPushButton("Find settings…")
        self.find_settings.setToolTip("Search settings, and see what they are worth on people left out.")
        self.find_settings.clicked.connect(self.find_asked)
        line.addWidget(self.find_settings)
        line.addStretch(1)
        return line


def _integers(rule: Rule) -> dict[str, str]:
    """What stands beside each setting: its integer, or both where it becomes two."""
    found: dict[str, list[str]] = {}
    for field, key, _, _ in BOUNDS:
        found.setdefault(key, []).append(decimal(getattr(rule, field)))
    found["upright"] = [decimal(c) for c in rule.upright]
    return {key: ("\n" if len(texts) == 2 else ", ").join(texts) for key, texts in found.items()}

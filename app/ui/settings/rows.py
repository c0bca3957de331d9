"""One row of the settings panel for each kind of parameter: number, switch, choice, vector."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QComboBox, QSizePolicy, QWidget

from app.formatting import decimal, with_unit
from app.ui.widgets.controls import NumberBox, Switch, refill
from app.ui.widgets.layout import grid, row, say, words
from app.ui.widgets.slider import Slider, grid_step
from app.ui.widgets.tips import show_tip
from detect.rule.front_end import FrontEnd
from detect.rule.settings import Parameter, Settings, Unit, Value

LABEL_WIDTH, BOX_WIDTH, INTEGER_WIDTH, ROW_HEIGHT, GAP_WIDTH = 65, 70, 47, 22, 6
STEPS_A_PAGE = 5
"""A parameter's own step is the page of its slider; an arrow key moves a fifth of it."""


class SettingRow(QWidget):
    """Name at the left, the row's own widgets at the right, below it the sentence when a value was refused."""

    slid = Signal(str, float, str)
    typed = Signal(str, float)
    chosen = Signal(str, object)

    role = "muted"
    """Of its name."""

    def __init__(self, parameter: Parameter, spoken: str) -> None:
        super().__init__()
        self.parameter = parameter
        self.spoken = spoken
        show_tip(self, parameter.sentence)
        self.setAccessibleName(spoken)
        self.title = words(parameter.title, self.role)
        if self.role == "muted":
            self.title.setFixedWidth(LABEL_WIDTH)
        self.title.setMinimumHeight(ROW_HEIGHT)
        self.refusal = words(role="wrong", wrap=True)
        self.refusal.hide()
        self.grid = grid(((self.title,),), GAP_WIDTH, 1, of=self)
        self.grid.addWidget(self.refusal, 1, 0, 1, 4)

    def show_setting(self, settings: Settings, integer: str, mark: Value | None) -> None:
        raise NotImplementedError

    def show_front_end(self, front_end: FrontEnd) -> None:
        """The grid of a slider depends on what one count and one sample are."""

    def show_refusal(self, sentence: str) -> None:
        say(self.refusal, sentence)


class NumberRow(SettingRow):
    """Slider, box in the physical unit, the rule's integer."""

    def __init__(self, parameter: Parameter, spoken: str) -> None:
        super().__init__(parameter, spoken)
        unit = parameter.unit
        self._shown: tuple[object, ...] = ()
        self.slider = Slider(spoken)
        self.box = NumberBox(spoken, lambda value: with_unit(value, unit), parameter.step)
        self.box.setFixedWidth(BOX_WIDTH)
        self.title.setBuddy(self.box)
        self.integer = words(role="muted")
        self.integer.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.integer.setFixedWidth(INTEGER_WIDTH)
        self.integer.setAccessibleName(f"{spoken}, as the firmware has it")
        for column, widget in enumerate((self.slider, self.box, self.integer), 1):
            self.grid.addWidget(widget, 0, column)
        self.show_front_end(FrontEnd())
        self.slider.slid.connect(lambda value, gesture: self.slid.emit(parameter.key, value, gesture))
        self.box.typed.connect(lambda value: self.typed.emit(parameter.key, value))

    def show_front_end(self, front_end: FrontEnd) -> None:
        one = self.parameter
        finest = {Unit.G: front_end.g(1), Unit.MS: front_end.ms(1)}.get(one.unit, 0.0)
        assert isinstance(one.default, int | float)
        in_the_low_quarter = (one.default - one.low) / (one.high - one.low) < 0.25
        self.slider.set_scale(one.low, one.high, grid_step(one.step / STEPS_A_PAGE, finest), one.step,
                              in_the_low_quarter)

    def show_setting(self, settings: Settings, integer: str, mark: Value | None) -> None:
        value = settings.number(self.parameter.key)
        if self._shown == (value, integer, mark) and self.box.value() == value and self.slider.stands_at(value):
            return
        self._shown = (value, integer, mark)
        self.slider.show_value(value)
        self.slider.show_mark(float(mark) if isinstance(mark, int | float) else None)
        self.slider.setAccessibleDescription(f"{with_unit(value, self.parameter.unit)}, {integer}. "
                                             f"{self.parameter.sentence}")
        self.box.show_value(value)
        self.integer.setText(integer)
        if "\n" in integer and self.integer.property("role") != "pair":
            self.integer.setProperty("role", "pair")
            self.integer.style().polish(self.integer)


class SwitchRow(SettingRow):
    """A check or a whole stage, on or off. Its name is a heading: what follows belongs to it."""

    role = "strong"

    def __init__(self, parameter: Parameter, spoken: str) -> None:
        super().__init__(parameter, spoken)
        self.switch = Switch(spoken)
        self.switch.setAccessibleDescription(parameter.sentence)
        self.title.setBuddy(self.switch)
        self.grid.setColumnStretch(1, 1)
        self.grid.addWidget(self.switch, 0, 3, Qt.AlignmentFlag.AlignRight)
        self.switch.clicked.connect(lambda on: self.chosen.emit(parameter.key, on))

    def show_setting(self, settings: Settings, integer: str, mark: Value | None) -> None:
        self.switch.setChecked(bool(settings[self.parameter.key]))


class ChoiceRow(SettingRow):
    def __init__(self, parameter: Parameter, spoken: str) -> None:
        super().__init__(parameter, spoken)
        self.box = QuietComboBox()
        self.box.setAccessibleName(spoken)
        self.box.setAccessibleDescription(parameter.sentence)
        self.title.setBuddy(self.box)
        refill(self.box, ((_choice_in_words(choice), choice) for choice in parameter.choices))
        self.grid.addWidget(self.box, 0, 1, 1, 3)
        self.box.activated.connect(lambda at: self.chosen.emit(parameter.key, self.box.itemData(at)))

    def show_setting(self, settings: Settings, integer: str, mark: Value | None) -> None:
        with QSignalBlocker(self.box):
            self.box.setCurrentIndex(self.parameter.choices.index(settings[self.parameter.key]))


class VectorRow(SettingRow):
    """Three numbers, x y z in g."""

    def __init__(self, parameter: Parameter, spoken: str) -> None:
        super().__init__(parameter, spoken)
        self.boxes = [NumberBox(f"{spoken}, {axis}", partial(_component, axis), parameter.step) for axis in "xyz"]
        for box in self.boxes:
            box.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
            box.typed.connect(self._typed)
        self.title.setBuddy(self.boxes[0])
        self.grid.addLayout(row(*((box, 1) for box in self.boxes)), 0, 1, 1, 3)

    def _typed(self) -> None:
        self.chosen.emit(self.parameter.key, tuple(box.value() for box in self.boxes))

    def show_setting(self, settings: Settings, integer: str, mark: Value | None) -> None:
        vector = settings[self.parameter.key]
        assert isinstance(vector, tuple)
        for box, component in zip(self.boxes, vector, strict=True):
            box.show_value(component)
        show_tip(self, f"{self.parameter.sentence} In counts: {integer}.")


class QuietComboBox(QComboBox):
    """A combo box that a passing wheel does not change."""

    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setMinimumContentsLength(4)

    def wheelEvent(self, event: QWheelEvent) -> None:
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()


_KINDS: Mapping[Unit, type[SettingRow]] = {Unit.SWITCH: SwitchRow, Unit.CHOICE: ChoiceRow, Unit.VECTOR: VectorRow}


def row_for(parameter: Parameter, spoken: str) -> SettingRow:
    """The widgets of one line of the table; `spoken` is its full name for screen readers."""
    return _KINDS.get(parameter.unit, NumberRow)(parameter, spoken)


def _component(axis: str, value: float) -> str:
    return f"{axis} {decimal(value, 2)}"


def _choice_in_words(choice: Value) -> str:
    if isinstance(choice, int):
        return "none" if choice == 1 else f"mean of {choice}"
    return str(choice).replace("_", " ")

"""Questions of an import that need several fields: an unusual unit's scale, the sensor's orientation, and several
recordings in one file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit, QWidget

from app.formatting import decimal, plainly
from app.study.recordings.orientation import UprightStretch, spoken, stood
from app.ui.recordings.orientation_figure import AxesFigure, sides_box, two_axes
from app.ui.widgets.controls import (
    button,
    choice,
    line_edit,
    number_in,
    refill,
    show_choice,
    show_figure,
    show_unless_written,
)
from app.ui.widgets.layout import column, grid, holding, in_rows, row, say, words
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import BYTES, CODINGS, JUSTIFIED, Axes, Column, FrontEndSection, Own, Raw, Volts
from data.recipe.structure import KEYS, named

KINDS = ("raw", "volts", "own", "counts")


class ScaleFields(QWidget):
    """Shown only for the units that need it, a page for each of `KINDS`."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._pages: list[QWidget] = []
        self.bits = self._line("Bits of the converter", "16")
        self.field_bits = self._line("Bits of the field", "16")
        self.mg = self._line("Milli-g a count", "0.244")
        self.justified = self._choice("Justified", JUSTIFIED)
        self.bytes = self._choice("Bytes", BYTES)
        self.coding = self._choice("Coding", CODINGS)
        self.nominal = self._line("Supply that the data sheet names, V", "3.0")
        self.zero_v = self._line("Reading at 0 g, V", "1.5")
        self.mv = self._line("Millivolts a g", "300")
        self.ratiometric = QCheckBox("ratiometric")
        self.ratiometric.toggled.connect(self.changed)
        self.zero = self._line("Reading at 0 g", "0  or  x, y, z")
        self.per_g = self._line("Reading for one g more", "9.80665  or  x, y, z")
        self._page(("bits", self.bits), ("in a field of", self.field_bits), ("justified", self.justified),
                   ("bytes", self.bytes), ("coding", self.coding), ("mg a count", self.mg))
        self._page(("V nominal", self.nominal), ("V at 0 g", self.zero_v), ("mV a g", self.mv), ("", self.ratiometric))
        self.range_g = self._line("Sensor range, ±g", "4")
        self.front_bits = self._line("Sensor resolution, bits", "12")
        self._page(("at 0 g", self.zero), ("for 1 g", self.per_g))
        self._page(("sensor range ±g", self.range_g), ("bits", self.front_bits))
        column(*self._pages, of=self)
        self.hide()

    def show_recipe(self, recipe: Recipe) -> None:
        kind = recipe.units.acceleration
        self.setVisible(kind in KINDS)
        for name, page in zip(KINDS, self._pages, strict=True):
            page.setVisible(name == kind)
        raw, own = recipe.raw or Raw(), recipe.own or Own()
        blocked = QSignalBlocker(self)
        for line, value, unsaid in ((self.bits, raw.bits, 16.0), (self.field_bits, raw.width, 16.0),
                                    (self.mg, raw.mg_per_count, 0.0)):
            show_figure(line, value, unsaid)
        for box, chosen in ((self.justified, raw.justified), (self.bytes, raw.bytes), (self.coding, raw.coding)):
            box.setCurrentText(chosen)
        # A recipe has these whole or not at all: what is written of them so far stays.
        if not _says(self._volts, recipe, recipe.volts):
            self._show_volts(recipe.volts or Volts())
        if not _says(self._front_end, recipe, recipe.front_end):
            front = recipe.front_end
            self.range_g.setText("" if front is None else f"{front.range_g:.15g}")
            self.front_bits.setText("" if front is None else str(front.bits))
        for line, values, unsaid in ((self.zero, own.zero, 0.0), (self.per_g, own.per_g, 1.0)):
            show_unless_written(line, ", ".join(f"{value:.15g}" for value in values), partial(_read, unsaid=unsaid),
                                values)
        blocked.unblock()

    def _show_volts(self, volts: Volts) -> None:
        for line, value in ((self.nominal, volts.nominal_v), (self.zero_v, volts.zero_g_v), (self.mv, volts.mv_per_g)):
            show_figure(line, value)
        self.ratiometric.setChecked(volts.ratiometric)

    def onto(self, recipe: Recipe) -> Recipe:
        """The recipe with what was said here. ValueError, a sentence, where it makes no sense."""
        kind = recipe.units.acceleration
        if kind == "raw":
            bits, width = int(_number(self.bits, 16)), int(_number(self.field_bits, 16))
            if width not in (8, 16, 24, 32) or not 2 <= bits <= width:
                raise ValueError("A field has 8, 16, 24 or 32 bits, and the converter at most as many.")
            raw = Raw(bits, width, self.justified.currentText(), self.bytes.currentText(), self.coding.currentText(),
                      _number(self.mg, 0.0))
            return replace(recipe, raw=raw)
        if kind == "volts":
            return replace(recipe, volts=self._volts(recipe))
        if kind == "own":
            return replace(recipe, own=Own(_numbers(self.zero, 0.0), _numbers(self.per_g, 1.0)))
        if kind == "counts":
            return replace(recipe, front_end=self._front_end(recipe))
        return recipe

    def _volts(self, recipe: Recipe) -> Volts | None:
        """None until all of it is said."""
        volts = replace(recipe.volts or Volts(), nominal_v=_number(self.nominal, 0.0),
                        zero_g_v=_number(self.zero_v, 0.0), mv_per_g=_number(self.mv, 0.0),
                        ratiometric=self.ratiometric.isChecked())
        return volts if volts.nominal_v and volts.zero_g_v and volts.mv_per_g else None

    def _front_end(self, recipe: Recipe) -> FrontEndSection | None:
        """The study's own, None until all of it is said; its rate is the nominal one."""
        range_g, bits = _number(self.range_g, 0.0), int(_number(self.front_bits, 0.0))
        before, rates = recipe.front_end, recipe.clock.rates_hz
        if before is not None and (before.range_g, before.bits) == (range_g, bits):
            return replace(before, rate_hz=rates[0]) if rates else before
        if not range_g or not bits or not rates:
            return None
        if not 8 <= bits <= 16:
            raise ValueError("The sensor's resolution is 8 to 16 bits.")
        return FrontEndSection(range_g, bits, rates[0])

    def _page(self, *fields: tuple[str, QWidget]) -> None:
        cells: list[QWidget] = [cell for words_, widget in fields for cell in (words(words_, "aside"), widget)]
        self._pages.append(holding(grid(in_rows(cells, 4), margins=(0, 0, 0, 4))))

    def _line(self, name: str, example: str) -> QLineEdit:
        line = line_edit(name, example)
        line.textEdited.connect(self.changed)
        return line

    def _choice(self, name: str, choices: tuple[str, ...]) -> QComboBox:
        box = choice(name, zip(choices, choices, strict=True), least=2)
        box.currentIndexChanged.connect(self.changed)
        return box


def _says(answer: Callable[[Recipe], object], recipe: Recipe, value: object) -> bool:
    """Whether fields, over a recipe, say this."""
    try:
        return answer(recipe) == value
    except ValueError:
        return False


def _number(line: QLineEdit, unsaid: float) -> float:
    return number_in(line.text(), unsaid, lambda value: 0 < value < float("inf"),
                     f"{line.accessibleName()}: a number above 0.")


def _numbers(line: QLineEdit, unsaid: float) -> tuple[float, ...]:
    try:
        values = _read(line.text(), unsaid)
    except ValueError:
        values = ()
    if len(values) not in (1, 3) or (unsaid and 0.0 in values):
        raise ValueError(f"{line.accessibleName()}: one number, or three with commas between.")
    return values


def _read(text: str, unsaid: float) -> tuple[float, ...]:
    """ValueError where one is not a number."""
    parts = [part for part in text.replace(";", ",").split(",") if part.strip()]
    return tuple(float(plainly(part)) for part in parts) or (unsaid,)


UNSAID = "not specified"
TURNED = "turned"
"""The answer that keeps a rotation which was told already."""


NARROWEST = 60
"""Words that may hold a long name: else it would make the form wider than its pane. Pixels."""
FIGURE_WIDTH = 150
"""At least, pixels: the words at its axes are still whole."""


class AxesFields(QWidget):
    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.up = sides_box("Axis of the sensor that points up", UNSAID)
        self.forward = sides_box("Axis of the sensor that points forward", UNSAID)
        self.rest = choice("Stretch in which the wearer stands upright and still", least=2)
        boxes = {"up": self.up, "forward": self.forward, "or upright in": self.rest}
        for box in boxes.values():
            box.currentIndexChanged.connect(self.changed)
        self.figure, self.words = AxesFigure(), words(role="aside", wrap=True)
        self.figure.setMinimumWidth(FIGURE_WIDTH)
        fields = grid([(words(title, buddy=box), box) for title, box in boxes.items()], 8, of=self)
        fields.addWidget(self.words, 3, 0, 1, 2)
        fields.addWidget(self.figure, 0, 2, 4, 1)
        fields.setColumnStretch(1, 1)

    def show_axes(self, axes: Axes, stands: Sequence[UprightStretch]) -> None:
        """`stands`: the still stretches of the file that is looked at."""
        with QSignalBlocker(self):
            show_choice(self.up, axes.up)
            show_choice(self.forward, axes.forward)
            told = [("rotation as in the recipe", TURNED)] if axes.rotation else []
            refill(self.rest, [(UNSAID, ""), *told, *((_in_words(stand), stand) for stand in stands)],
                   TURNED if told else "")
        self.figure.show_axes(axes)
        self.words.setText(spoken(axes))

    def axes(self, base: Axes) -> Axes:
        """What is said, over what was said before. ValueError, a sentence, where that makes no sense."""
        up, forward, rest = self.up.currentData(), self.forward.currentData(), self.rest.currentData()
        if isinstance(rest, UprightStretch):
            if up:
                raise ValueError("Choose the axis that points up or an upright stretch, not both.")
            try:
                return stood(rest, forward)
            except Problem as problem:
                raise ValueError(problem.sentence()) from None
        if not up and not forward:
            return replace(base, up="", forward="", rotation=base.rotation if rest == TURNED else ())
        if not two_axes(up, forward):
            raise ValueError("Choose two different axes for up and forward, or leave both open; forward alone needs an "
                             "upright stretch.")
        return Axes(up=up, forward=forward)


def _in_words(stand: UprightStretch) -> str:
    start_s = round(stand.start_s, 1) + 0.0  # no minus before a nought
    return f"{decimal(start_s, 1)} to {decimal(round(stand.end_s, 1), 1)} s: leans by {stand.lean_deg:.0f}°"


class PartsFields(QWidget):
    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._single = False
        self.columns = {key: choice(f"Column that says which {key}", least=2) for key in KEYS}
        self.nodes = words(role="aside", wrap=True)
        self.nodes.setMinimumWidth(NARROWEST)
        self.single = button("Read one sensor only", self._one, "small")
        self.whole = QCheckBox("All rows are one recording, whatever such columns hold")
        self.whole.toggled.connect(self.changed)
        cells: list[QWidget] = [cell for key, box in self.columns.items() for cell in (words(key, buddy=box), box)]
        fields = grid(in_rows(cells, 4), 4, of=self)
        fields.addLayout(row((self.nodes, 1), self.single), 3, 0, 1, 4)
        fields.addWidget(self.whole, 4, 0, 1, 4)
        for at in (1, 3):
            fields.setColumnStretch(at, 1)
        for box in self.columns.values():
            box.currentIndexChanged.connect(self.changed)

    def show_recipe(self, recipe: Recipe, items: Sequence[tuple[str, Column]]) -> None:
        """`items`: the columns to choose from, in words and as a recipe names them."""
        self._single = False
        for key, box in self.columns.items():
            refill(box, [("–", ""), *items], getattr(recipe.split, key))
        with QSignalBlocker(self.whole):
            self.whole.setChecked(recipe.one_recording)
        say(self.nodes, f"Nodes side by side: {named(recipe.nodes)}" if recipe.nodes else "")
        self.single.setVisible(bool(recipe.nodes))

    def onto(self, recipe: Recipe) -> Recipe:
        """What is said, over a recipe. ValueError, a sentence, where it makes no sense."""
        said = {key: box.currentData() for key, box in self.columns.items()}
        columns = [column for column in said.values() if column != ""]
        if len(set(columns)) < len(columns):
            raise ValueError("Choose each column once: it can say only one thing about a row's recording.")
        nodes = () if self._single else recipe.nodes
        if nodes and said["node"]:
            raise ValueError("The nodes are side by side in columns, so no column can name a row's node.")
        return replace(recipe, split=replace(recipe.split, **said), nodes=nodes, one_recording=self.whole.isChecked())

    def _one(self) -> None:
        self._single = True
        self.changed.emit()

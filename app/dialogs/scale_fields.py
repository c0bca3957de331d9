"""What a number is worth, where its unit is none of the usual: integers of a converter, volts, a scale of its own."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QGridLayout, QLabel, QLineEdit, QStackedWidget, QWidget

from app.words import plainly
from data.recipe import FrontEnd, Own, Raw, Recipe, Volts
from data.told import BYTES, CODINGS, JUSTIFIED

KINDS = ("raw", "volts", "own", "counts")


class ScaleFields(QStackedWidget):
    """Shown only for the units that need it."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
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
        self.range_g = self._line("Range of the front end, ±g", "4")
        self.front_bits = self._line("Bits of the front end", "12")
        self._page(("at 0 g", self.zero), ("for 1 g", self.per_g))
        self._page(("front end ±g", self.range_g), ("bits", self.front_bits))
        self.hide()

    def show_recipe(self, recipe: Recipe) -> None:
        kind = recipe.units.acceleration
        self.setVisible(kind in KINDS)
        if kind in KINDS:
            self.setCurrentIndex(KINDS.index(kind))
        raw, volts, own = recipe.raw or Raw(), recipe.volts or Volts(), recipe.own or Own()
        self.blockSignals(True)
        for line, value in ((self.bits, raw.bits), (self.field_bits, raw.width), (self.mg, raw.mg_per_count),
                            (self.nominal, volts.nominal_v), (self.zero_v, volts.zero_g_v), (self.mv, volts.mv_per_g)):
            line.setText(f"{value:.15g}" if value else "")
        front = recipe.front_end
        self.range_g.setText("" if front is None else f"{front.range_g:g}")
        self.front_bits.setText("" if front is None else str(front.bits))
        for box, chosen in ((self.justified, raw.justified), (self.bytes, raw.bytes), (self.coding, raw.coding)):
            box.setCurrentText(chosen)
        self.ratiometric.setChecked(volts.ratiometric)
        self.zero.setText(", ".join(f"{value:g}" for value in own.zero))
        self.per_g.setText(", ".join(f"{value:g}" for value in own.per_g))
        self.blockSignals(False)

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
            volts = replace(recipe.volts or Volts(), nominal_v=_number(self.nominal, 0.0),
                            zero_g_v=_number(self.zero_v, 0.0), mv_per_g=_number(self.mv, 0.0),
                            ratiometric=self.ratiometric.isChecked())
            return replace(recipe, volts=volts if volts.nominal_v and volts.zero_g_v and volts.mv_per_g else None)
        if kind == "own":
            return replace(recipe, own=Own(_numbers(self.zero, 0.0), _numbers(self.per_g, 1.0)))
        if kind == "counts":
            return replace(recipe, front_end=self._front_end(recipe))
        return recipe

    def _front_end(self, recipe: Recipe) -> FrontEnd | None:
        """The study's own, as far as it is said; its rate is the nominal one."""
        range_g, bits = _number(self.range_g, 0.0), int(_number(self.front_bits, 0.0))
        if not range_g or not bits or not recipe.clock.rates_hz:
            return None
        if not 8 <= bits <= 16:
            raise ValueError("A front end has 8 to 16 bits.")
        return FrontEnd(range_g, bits, recipe.clock.rates_hz[0])

    def _page(self, *fields: tuple[str, QWidget]) -> None:
        page = QWidget()
        grid = QGridLayout(page)
        grid.setContentsMargins(0, 0, 0, 4)
        for i, (words, widget) in enumerate(fields):
            label = QLabel(words)
            label.setProperty("role", "aside")
            grid.addWidget(label, i // 3, 2 * (i % 3))
            grid.addWidget(widget, i // 3, 2 * (i % 3) + 1)
        self.addWidget(page)

    def _line(self, name: str, example: str) -> QLineEdit:
        line = QLineEdit()
        line.setAccessibleName(name)
        line.setPlaceholderText(example)
        line.textEdited.connect(self.changed)
        return line

    def _choice(self, name: str, choices: tuple[str, ...]) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(name)
        box.addItems(list(choices))
        box.currentIndexChanged.connect(self.changed)
        return box


def _number(line: QLineEdit, unsaid: float) -> float:
    text = line.text().strip()
    if not text:
        return unsaid
    try:
        value = float(plainly(text))
    except ValueError:
        value = 0.0
    if not 0 < value < float("inf"):
        raise ValueError(f"{line.accessibleName()}: a number above 0.")
    return value


def _numbers(line: QLineEdit, unsaid: float) -> tuple[float, ...]:
    parts = [part for part in line.text().replace(";", ",").split(",") if part.strip()]
    try:
        values = tuple(float(plainly(part)) for part in parts) or (unsaid,)
    except ValueError:
        values = ()
    if len(values) not in (1, 3) or (unsaid and 0.0 in values):
        raise ValueError(f"{line.accessibleName()}: one number, or three with commas between.")
    return values

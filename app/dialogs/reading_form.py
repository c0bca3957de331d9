"""The questions of an import, each with what fits, why, and what every answer does to the data."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence
from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QLabel, QLineEdit, QPushButton, QSpinBox, QWidget

from app.dialogs.axes_fields import AxesFields
from app.dialogs.parts_fields import PartsFields
from app.dialogs.scale_fields import ScaleFields
from app.study.seating import Stand
from app.study.suggesting import Suggestion
from app.words import plainly
from data.file_names import pattern_fault
from data.recipe import (
    ACCELERATION_UNITS,
    DELIMITERS,
    SETTINGS_OF_USE,
    STAMPS,
    TIME_UNITS,
    Column,
    Recipe,
    Table,
)

UNSAID = "as the file says"
SPOKEN = {"m/s2": "m/s²", "us": "µs", "iso": "date and time", "as stamped": "those of each sample",
          "bursts": "those of a buffer's read-outs", "even": "worth nothing: ignore them", "counts": "counts of the "
          "study's front end", "raw": "integers of another converter", "own": "a scale of its own",
          "samples": "sample numbers", ",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", " ": "space",
          ".": "point"}
AXES = ("time", "x", "y", "z")


class ReadingForm(QWidget):
    """`changed` when something was said; `taken` with a suggestion."""

    changed = Signal()
    taken = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self._showing = False
        self._base = Recipe()
        self._names: tuple[str, ...] = ()
        self._rows = 0
        self._asides: dict[str, tuple[QLabel, QPushButton]] = {}
        self._suggested: dict[str, Suggestion] = {}
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 8, 0)
        self._grid.setHorizontalSpacing(10)
        self._grid.setVerticalSpacing(3)
        self._grid.setColumnStretch(1, 1)
        self.columns = {axis: self._choice(f"Column of {axis}", ()) for axis in AXES}
        self.acceleration = self._choice("Unit of acceleration", ACCELERATION_UNITS)
        self.scale = ScaleFields()
        self.scale.changed.connect(self._said)
        self.time = self._choice("Unit of time", TIME_UNITS)
        self.ticks = self._line("Ticks a second", "ticks a second")
        self.wrap = self._line("The counter starts again after", "starts again after")
        self.stamps = self._choice("What the times are worth", STAMPS)
        self.rates = self._line("Nominal rates in Hz", "50  or  40, 50")
        self.missing = self._line("Values that mean no sample", "-32768  or  nan for empty cells")
        self.delimiter = self._choice("Delimiter", DELIMITERS, "found")
        self.decimal = self._choice("Decimal sign", (".", ","), "found")
        self.skip = QSpinBox(maximum=10_000)
        self.skip.setAccessibleName("Lines to skip")
        self.skip.valueChanged.connect(self._said)
        self.axes = AxesFields()
        self.axes.changed.connect(self._said)
        self.parts = PartsFields()
        self.parts.changed.connect(self._said)
        self.pattern = self._line("Pattern of the names", "{activity}/U{person}_R{trial}.csv")
        self.placement = self._line("Placement of all", "wrist, waist, …")
        self.setting = self._choice("Setting of all", SETTINGS_OF_USE, "not said")
        self._lay_out()

    def _lay_out(self) -> None:
        self._add("columns", "Columns", *(widget for axis in AXES for widget in (QLabel(axis[0]), self.columns[axis])))
        self._add("parts", "Several in one", self.parts)
        self._add("acceleration", "Acceleration in", self.acceleration)
        self._grid.addWidget(self.scale, self._next(), 1)
        self._add("time", "Time in", self.time, self.ticks, self.wrap)
        self._add("stamps", "Times are", self.stamps)
        self._add("rates", "Nominal rates, Hz", self.rates)
        self._add("missing", "No sample is", self.missing)
        self._add("table", "Parted by", self.delimiter, QLabel("decimal"), self.decimal, QLabel("skip lines"),
                  self.skip)
        self._add("axes", "Sensor’s axis", self.axes)
        self._add("pattern", "Names are like", self.pattern)
        self._add("about", "All of them", self.placement, self.setting)
        self._grid.setRowStretch(self._next(), 1)

    # What is shown.

    def show_recipe(self, recipe: Recipe, names: Sequence[str], numbered: bool, stands: Sequence[Stand] = ()) -> None:
        """The answers so far. `names`: of the columns; `numbered`: they have none but their numbers; `stands`: the
        shown file's still stretches."""
        self._showing = True
        self._base, self._names = recipe, tuple(names)
        items: list[tuple[str, Column]] = [(name, i + 1 if numbered or names.count(name) > 1 else name)
                                           for i, name in enumerate(names)]
        self.parts.show_recipe(recipe, items)
        for axis, box in self.columns.items():
            _fill(box, "–", items, getattr(recipe.columns, axis))
        _choose(self.acceleration, recipe.units.acceleration)
        self.scale.show_recipe(recipe)
        _choose(self.time, recipe.units.time)
        self.ticks.setText(_figure(recipe.clock.ticks_hz))
        self.wrap.setText(_figure(recipe.clock.wrap))
        _choose(self.stamps, recipe.clock.stamps)
        self.rates.setText(", ".join(f"{rate:g}" for rate in recipe.clock.rates_hz))
        self.missing.setText("" if recipe.table.missing is None else ", ".join(
            value if isinstance(value, str) else f"{value:g}" for value in recipe.table.missing))
        _choose(self.delimiter, recipe.table.delimiter)
        _choose(self.decimal, recipe.table.decimal)
        self.skip.setValue(recipe.table.skip_lines)
        self.axes.show_axes(recipe.axes, stands)
        self.pattern.setText(recipe.pattern)
        self.placement.setText(recipe.about.placement)
        _choose(self.setting, recipe.about.setting)
        counted = recipe.units.time == "ticks" or bool(recipe.clock.wrap)
        self.ticks.setVisible(counted)
        self.wrap.setVisible(counted)
        self._showing = False

    def show_effects(self, effects: Mapping[str, Mapping[str, str]]) -> None:
        """What every answer would do: by field, by answer."""
        self._showing = True
        for field, box in (("acceleration", self.acceleration), ("time", self.time), ("stamps", self.stamps)):
            for i in range(1, box.count()):
                answer = str(box.itemData(i))
                does = effects.get(field, {}).get(answer, "")
                said = SPOKEN.get(answer, answer)
                box.setItemText(i, f"{said}  –  {does}" if does else said)
        self._showing = False

    def show_suggestions(self, found: Sequence[Suggestion], said: Mapping[str, str]) -> None:
        """One below each field it is about; `said`: other words for there, such as what a pattern gives."""
        self._suggested = {one.field: one for one in found}
        for field, (words, take) in self._asides.items():
            one = self._suggested.get(field)
            text = html.escape(said.get(field, ""))
            if one is not None:
                text = f"<b>{html.escape(SPOKEN.get(one.words, one.words))}</b>: {html.escape(one.reason)}"
            words.setText(text)
            words.setVisible(bool(text))
            take.setVisible(one is not None)

    @property
    def suggested(self) -> tuple[Suggestion, ...]:
        return tuple(self._suggested.values())

    # What was said.

    def recipe(self) -> Recipe:
        """The answers over the recipe that was shown. ValueError, a sentence, where one makes no sense."""
        base = self._base
        fault = pattern_fault(self.pattern.text().strip())
        if fault:
            raise ValueError(f"The pattern of the names must be {fault}.")
        columns = replace(base.columns, **{axis: self.columns[axis].currentData() for axis in AXES})
        named = [column for column in (columns.time, columns.x, columns.y, columns.z) if column != ""]
        if len(set(named)) < len(named):
            raise ValueError("Time, x, y and z are four different columns.")
        units = replace(base.units, acceleration=self.acceleration.currentData(), time=self.time.currentData())
        clock = replace(base.clock, rates_hz=_rates(self.rates.text()), stamps=self.stamps.currentData(),
                        ticks_hz=_number(self.ticks.text(), "Ticks a second"),
                        wrap=_number(self.wrap.text(), "The count after which the counter starts again"))
        about = replace(base.about, placement=self.placement.text().strip(), setting=self.setting.currentData())
        return self.scale.onto(replace(self.parts.onto(base), columns=columns, units=units, clock=clock, about=about,
                                       table=self._table(base.table), axes=self.axes.axes(base.axes),
                                       pattern=self.pattern.text().strip()))

    def _table(self, base: Table) -> Table:
        return replace(base, delimiter=self.delimiter.currentData(), decimal=self.decimal.currentData(),
                       skip_lines=self.skip.value(), missing=_missing(self.missing.text(), base.missing))

    def _said(self) -> None:
        if not self._showing:
            self.changed.emit()

    # Making.

    def _next(self) -> int:
        self._rows += 1
        return self._rows

    def _add(self, field: str, title: str, *widgets: QWidget) -> None:
        row = self._next()
        label = QLabel(title)
        label.setBuddy(next(w for w in widgets if not isinstance(w, QLabel)))
        line = QHBoxLayout()
        line.setSpacing(4)
        for widget in widgets:
            line.addWidget(widget, 0 if isinstance(widget, QLabel | QSpinBox) else 1)
        self._grid.addWidget(label, row, 0, Qt.AlignmentFlag.AlignVCenter)
        self._grid.addLayout(line, row, 1)
        words = QLabel(wordWrap=True)
        words.setTextFormat(Qt.TextFormat.RichText)
        words.setProperty("role", "aside")
        take = QPushButton("Take")
        take.setProperty("role", "small")
        take.setAutoDefault(False)
        take.setAccessibleName(f"Take the suggestion: {title}")
        take.clicked.connect(lambda: self.taken.emit(self._suggested[field]))
        below = QHBoxLayout()
        below.setContentsMargins(0, 0, 0, 6)
        below.addWidget(words, 1)
        below.addWidget(take, 0, Qt.AlignmentFlag.AlignTop)
        self._grid.addLayout(below, self._next(), 1)
        self._asides[field] = (words, take)
        words.hide()
        take.hide()

    def _choice(self, name: str, choices: Sequence[str], unsaid: str = UNSAID) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(name)
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        box.setMinimumContentsLength(2)
        _fill(box, unsaid, [(SPOKEN.get(c, c), c) for c in choices], "")
        box.currentIndexChanged.connect(self._said)
        return box

    def _line(self, name: str, example: str) -> QLineEdit:
        line = QLineEdit()
        line.setAccessibleName(name)
        line.setPlaceholderText(example)
        line.setMinimumWidth(60)
        line.textEdited.connect(self._said)
        return line


def _fill(box: QComboBox, unsaid: str, items: Sequence[tuple[str, Column]], chosen: Column) -> None:
    box.blockSignals(True)
    box.clear()
    box.addItem(unsaid, "")
    for words, answer in items:
        box.addItem(words, answer)
    _choose(box, chosen)
    box.blockSignals(False)


def _choose(box: QComboBox, answer: Column) -> None:
    at = next((i for i in range(box.count()) if box.itemData(i) == answer), 0)
    box.setCurrentIndex(at)


def _figure(value: float) -> str:
    return f"{value:.15g}" if value else ""


def _number(text: str, what: str) -> float:
    if not text.strip():
        return 0.0
    try:
        value = float(plainly(text))
    except ValueError:
        value = -1.0
    if not 0 < value < float("inf"):
        raise ValueError(f"{what}: a number above 0.")
    return value


def _rates(text: str) -> tuple[float, ...]:
    parts = [part for part in text.replace(";", ",").split(",") if part.strip()]
    return tuple(_number(part, "A nominal rate in Hz, as 50 or 40, 50") for part in parts)


def _missing(text: str, before: tuple[float | str, ...] | None) -> tuple[float | str, ...] | None:
    parts = [part.strip() for part in text.replace(";", ",").split(",") if part.strip()]
    if not parts:
        return None if before is None or before else before
    values: list[float | str] = []
    for part in parts:
        try:
            values.append("nan" if part.lower() == "nan" else float(plainly(part)))
        except ValueError:
            raise ValueError("Values that mean no sample are numbers, or nan for empty cells.") from None
    return tuple(values)

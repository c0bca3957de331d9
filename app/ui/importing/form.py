"""The questions of an import, each with what fits, why, and what every answer does to the data."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence
from dataclasses import replace

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QLabel, QLineEdit, QPushButton, QSpinBox, QWidget

from app.formatting import plainly
from app.study.recordings.orientation import UprightStretch
from app.ui.importing.fields import NARROWEST, AxesFields, PartsFields, ScaleFields
from app.ui.importing.row_fields import PreambleFields, RowFields
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
from app.ui.widgets.layout import Words, grid, row, say, words
from data.recipe.name_pattern import pattern_fault
from data.recipe.recipe import Recipe
from data.recipe.sections import (
    ACCELERATION_UNITS,
    DELIMITERS,
    SETTINGS_OF_USE,
    STAMPS,
    TIME_UNITS,
    Column,
    TableLayout,
)
from data.recipe.structure import Suggestion

UNSAID, AUTO = "as the file specifies", "detect"
SPOKEN = {"m/s2": "m/s²", "us": "µs", "iso": "date and time", "as-stamped": "one per sample",
          "bursts": "read-out times of a buffer", "even": "ignore them: samples are evenly spaced",
          "counts": "counts of the study's sensor", "raw": "integers of another converter", "own": "own zero and gain",
          "samples": "sample numbers", ",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", " ": "space",
          ".": "point"}
NARROW = QLabel | QSpinBox | QCheckBox
AXES = ("time", "x", "y", "z")
TITLES = {"columns": "Columns", "units.acceleration": "Unit of acceleration", "units.time": "Unit of time",
          "time.stamps": "Time stamps", "time.rates_hz": "Nominal rates, Hz", "split": "Split by column",
          "front_end": "Sensor range ±g, bits and Nominal rates, Hz", **dict.fromkeys(("raw", "volts", "own"),
          "the fields below Unit of acceleration"), "rows": "Rows of acceleration", "preamble": "Lines above the table"}
CONTROLS = {field: f"{title}, in Import with options…" for field, title in TITLES.items()}
"""Where a person at the window says what a Problem's field is about."""


class ImportForm(QWidget):
    """`changed` when something was said; `taken` with a suggestion."""

    changed = Signal()
    taken = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self._base = Recipe()
        self._rows = 0
        self._asides: dict[str, tuple[Words, QPushButton]] = {}
        self._suggested: dict[str, Suggestion] = {}
        self._grid = grid((), 10, 3, (0, 0, 8, 0), of=self)
        self._grid.setColumnStretch(1, 1)
        self.columns = {axis: self._choice(f"Column of {axis}", ()) for axis in AXES}
        self.acceleration = self._choice("Unit of acceleration", ACCELERATION_UNITS)
        self.scale, self.axes, self.parts, self.rows = ScaleFields(), AxesFields(), PartsFields(), RowFields()
        self.preamble = PreambleFields()
        self.time = self._choice("Unit of time", TIME_UNITS)
        self.ticks = self._line("Ticks a second", "ticks a second")
        self.wrap = self._line("The counter rolls over at", "rolls over at")
        self.stamps = self._choice("Time stamps", STAMPS)
        self.rates = self._line("Nominal rates in Hz", "50  or  40, 50")
        self.missing = self._line("Missing-value codes", "-32768  or  nan for empty cells")
        self.delimiter = self._choice("Delimiter", DELIMITERS, AUTO)
        self.decimal = self._choice("Decimal sign", (".", ","), AUTO)
        self.skip = QSpinBox(maximum=10_000)
        self.skip.setAccessibleName("Lines to skip")
        self.skip.valueChanged.connect(self.changed)
        for fields in (self.scale, self.axes, self.parts, self.rows, self.preamble):
            fields.changed.connect(self.changed)
        self.pattern = self._line("File-name pattern", "{activity}/U{person}_R{trial}.csv")
        self.placement = self._line("Placement of all", "wrist, waist, …")
        self.setting = self._choice("Recorded in", SETTINGS_OF_USE, "recorded in: not known")
        self.falls = self._line("Activities that are falls", "F*  or  trip, slip")
        self.fall_by = line_edit("Part of the file name that says so", "kind; else the activity")
        self.fall_by.textEdited.connect(self.changed)
        self.whole = QCheckBox("whole recordings are events")
        self.whole.setToolTip("A recording without labels is one event from end to end, by its activity")
        self.whole.toggled.connect(self.changed)
        self._lay_out()

    def _lay_out(self) -> None:
        self._add("columns", TITLES["columns"],
                  *(widget for axis in AXES for widget in (QLabel(axis[0]), self.columns[axis])))
        self._add("preamble", TITLES["preamble"], self.preamble)
        self._add("rows", TITLES["rows"], self.rows)
        self._add("parts", TITLES["split"], self.parts)
        self._add("acceleration", TITLES["units.acceleration"], self.acceleration)
        self._grid.addWidget(self.scale, self._next(), 1)
        self._add("time", TITLES["units.time"], self.time, self.ticks, self.wrap)
        self._add("stamps", TITLES["time.stamps"], self.stamps)
        self._add("rates", TITLES["time.rates_hz"], self.rates)
        self._add("missing", "Missing-value codes", self.missing)
        self._add("table", "Delimiter", self.delimiter, QLabel("decimal"), self.decimal, QLabel("skip lines"),
                  self.skip)
        self._add("axes", "Sensor orientation", self.axes)
        self._add("pattern", "File-name pattern", self.pattern)
        self._add("labels", "Falls are", self.falls, QLabel("by"), self.fall_by, self.whole)
        self._add("about", "All files", self.placement, self.setting)
        self._grid.setRowStretch(self._next(), 1)

    # What is shown.

    def show_recipe(self, recipe: Recipe, names: Sequence[str], numbered: bool,
                    stands: Sequence[UprightStretch] = (), preamble: Sequence[tuple[str, str]] = ()) -> None:
        """The answers so far. `names`: of the columns; `numbered`: they have none but their numbers; `stands`: the
        shown file's still stretches; `preamble`: what stands above its table."""
        self._base = recipe
        items: list[tuple[str, Column]] = [(name, i + 1 if numbered or names.count(name) > 1 else name)
                                           for i, name in enumerate(names)]
        blocked = QSignalBlocker(self)
        self.parts.show_recipe(recipe, items)
        self.rows.show_recipe(recipe, items)
        self.preamble.show_recipe(recipe, preamble)
        for axis, box in self.columns.items():
            refill(box, [("–", ""), *items], getattr(recipe.columns, axis))
        show_choice(self.acceleration, recipe.units.acceleration)
        self.scale.show_recipe(recipe)
        show_choice(self.time, recipe.units.time)
        show_figure(self.ticks, recipe.clock.ticks_hz)
        show_figure(self.wrap, recipe.clock.wrap)
        show_choice(self.stamps, recipe.clock.stamps)
        rates, missing = recipe.clock.rates_hz, recipe.table.missing
        show_unless_written(self.rates, ", ".join(f"{rate:.15g}" for rate in rates), _rates, rates)
        show_unless_written(self.missing, ", ".join(
            value if isinstance(value, str) else f"{value:.15g}" for value in missing or ()),
            lambda text: _missing(text, missing), missing)
        show_choice(self.delimiter, recipe.table.delimiter)
        show_choice(self.decimal, recipe.table.decimal)
        self.skip.setValue(recipe.table.skip_lines)
        self.axes.show_axes(recipe.axes, stands)
        show_unless_written(self.pattern, recipe.pattern, str.strip, recipe.pattern)
        show_unless_written(self.falls, ", ".join(recipe.labels.falls), _names, recipe.labels.falls)
        show_unless_written(self.fall_by, recipe.labels.fall_field, str.strip, recipe.labels.fall_field)
        self.whole.setChecked(recipe.labels.whole_recordings)
        show_unless_written(self.placement, recipe.about.placement, str.strip, recipe.about.placement)
        show_choice(self.setting, recipe.about.setting)
        counted = recipe.units.time == "ticks" or bool(recipe.clock.wrap)
        self.ticks.setVisible(counted)
        self.wrap.setVisible(counted)
        blocked.unblock()

    def show_effects(self, effects: Mapping[str, Mapping[str, str]]) -> None:
        """What every answer would do: by field, by answer."""
        for field, box in (("acceleration", self.acceleration), ("time", self.time), ("stamps", self.stamps)):
            for i in range(1, box.count()):
                answer = str(box.itemData(i))
                does = effects.get(field, {}).get(answer, "")
                said = SPOKEN.get(answer, answer)
                box.setItemText(i, f"{said}  –  {does}" if does else said)

    def show_suggestions(self, found: Sequence[Suggestion], said: Mapping[str, str]) -> None:
        """One below each field it is about; `said`: other words for there, such as what a pattern gives."""
        self._suggested = {one.field: one for one in found}
        for field, (why, take) in self._asides.items():
            one = self._suggested.get(field)
            text = html.escape(said.get(field, ""))
            if one is not None:
                text = f"<b>{html.escape(SPOKEN.get(one.words, one.words))}</b>: {html.escape(one.reason)}"
            say(why, text)
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
            raise ValueError(f"The file-name pattern must be {fault}.")
        columns = replace(base.columns, **{axis: self.columns[axis].currentData() for axis in AXES})
        named = [column for column in (columns.time, columns.x, columns.y, columns.z) if column != ""]
        if len(set(named)) < len(named):
            raise ValueError("Choose four different columns for time, x, y and z.")
        units = replace(base.units, acceleration=self.acceleration.currentData(), time=self.time.currentData())
        clock = replace(base.clock, rates_hz=_rates(self.rates.text()), stamps=self.stamps.currentData(),
                        ticks_hz=_number(self.ticks.text(), "Ticks a second"),
                        wrap=_number(self.wrap.text(), "The count at which the counter rolls over"))
        about = replace(base.about, placement=self.placement.text().strip(), setting=self.setting.currentData())
        labels = replace(base.labels, falls=_names(self.falls.text()), fall_field=self.fall_by.text().strip(),
                         whole_recordings=self.whole.isChecked())
        base = self.preamble.onto(self.rows.onto(self.parts.onto(base)))
        return self.scale.onto(replace(base, labels=labels, columns=columns, units=units, clock=clock, about=about,
                                       table=self._table(base.table), axes=self.axes.axes(base.axes),
                                       pattern=self.pattern.text().strip()))

    def _table(self, base: TableLayout) -> TableLayout:
        return replace(base, delimiter=self.delimiter.currentData(), decimal=self.decimal.currentData(),
                       skip_lines=self.skip.value(), missing=_missing(self.missing.text(), base.missing))

    # Making.

    def _next(self) -> int:
        self._rows += 1
        return self._rows

    def _add(self, field: str, title: str, *widgets: QWidget) -> None:
        line = self._next()
        label = words(title, buddy=next(w for w in widgets if not isinstance(w, QLabel)))
        self._grid.addWidget(label, line, 0, Qt.AlignmentFlag.AlignVCenter)
        self._grid.addLayout(row(*((widget, 0 if isinstance(widget, NARROW) else 1) for widget in widgets), spacing=4),
                             line, 1)
        why = words(role="aside", wrap=True)
        why.setMinimumWidth(NARROWEST)
        why.setTextFormat(Qt.TextFormat.RichText)
        take = button("Accept", lambda: self.taken.emit(self._suggested[field]), "small")
        take.setAccessibleName(f"Accept the suggestion: {title}")
        below = row((why, 1), take, margins=(0, 0, 0, 6), spacing=3)
        below.setAlignment(take, Qt.AlignmentFlag.AlignTop)
        self._grid.addLayout(below, self._next(), 1)
        self._asides[field] = (why, take)
        why.hide()
        take.hide()

    def _choice(self, name: str, choices: Sequence[str], unsaid: str = UNSAID) -> QComboBox:
        box = choice(name, [(unsaid, ""), *((SPOKEN.get(one, one), one) for one in choices)], least=2)
        box.currentIndexChanged.connect(self.changed)
        return box

    def _line(self, name: str, example: str) -> QLineEdit:
        line = line_edit(name, example)
        line.setMinimumWidth(NARROWEST)
        line.textEdited.connect(self.changed)
        return line


def _number(text: str, what: str) -> float:
    return number_in(text, 0.0, lambda value: 0 < value < float("inf"), f"{what}: a number above 0.")


def _names(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(",") if part.strip())


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
            raise ValueError("Missing-value codes are numbers, or nan for empty cells.") from None
    return tuple(values)

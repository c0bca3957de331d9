"""How files are to be read, where neither their header nor a recipe says it. Nothing is guessed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QDialog, QDialogButtonBox, QFormLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from app.words import plainly
from data.recipe import ACCELERATION_UNITS, STAMPS, TIME_UNITS, Columns, Recipe

UNSAID = "as the file says"

SPOKEN = {"m/s2": "m/s²", "us": "µs", "iso": "date and time", "as stamped": "those of each sample",
          "bursts": "those of a buffer's read-outs", "even": "worth nothing: ignore them"}


class ReadingDialog(QDialog):
    """Units, rates, columns and name pattern; `decided(paths, recipe)` when it is accepted."""

    decided = Signal(list, object)

    def __init__(self, paths: Sequence[str], recipe: Recipe, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("How to read these files")
        self.setModal(False)
        self._paths, self._recipe = list(paths), recipe
        self.acceleration = self._choice("Unit of acceleration", ACCELERATION_UNITS, recipe.units.acceleration)
        self.time = self._choice("Unit of time", TIME_UNITS, recipe.units.time)
        self.stamps = self._choice("What the times are worth", STAMPS, recipe.clock.stamps)
        self.rates = self._line("Nominal rates in Hz", ", ".join(f"{rate:g}" for rate in recipe.clock.rates_hz),
                                "50  or  40, 50")
        columns = recipe.columns
        named = [str(c) for c in (columns.time, columns.x, columns.y, columns.z)]
        self.columns = self._line("Columns: time, x, y, z", ", ".join(named) if any(named) else "",
                                  "t, ax, ay, az  or  1, 2, 3, 4")
        self.pattern = self._line("Pattern of the names", recipe.pattern, "{activity}/U{person}_R{trial}.csv")
        form = QFormLayout()
        form.setLabelAlignment(Qt.AlignmentFlag.AlignLeft)
        for words, widget in (("Acceleration in", self.acceleration), ("Time in", self.time),
                              ("Times are", self.stamps), ("Nominal rates, Hz", self.rates),
                              ("Columns t, x, y, z", self.columns), ("Names are like", self.pattern)):
            form.addRow(words, widget)
        self.fault = QLabel(wordWrap=True)
        self.fault.setProperty("role", "wrong")
        self.fault.hide()
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.read = buttons.addButton("Read", QDialogButtonBox.ButtonRole.AcceptRole)
        buttons.accepted.connect(self._decide)
        buttons.rejected.connect(self.close)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 16, 18, 14)
        column.addWidget(QLabel("Say what the files don't say themselves; what is left open stays as they have it.",
                                wordWrap=True))
        column.addLayout(form)
        column.addWidget(self.fault)
        column.addWidget(buttons)
        self.resize(480, 280)

    def recipe(self) -> Recipe:
        """What was said, over the recipe the dialog began with. ValueError where it makes no sense."""
        units = replace(self._recipe.units, acceleration=self.acceleration.currentData(), time=self.time.currentData())
        rates = tuple(float(plainly(part)) for part in self.rates.text().replace(";", ",").split(",") if part.strip())
        if any(not 0 < rate < float("inf") for rate in rates):
            raise ValueError("A nominal rate is a number of Hz above 0.")
        clock = replace(self._recipe.clock, rates_hz=rates, stamps=self.stamps.currentData())
        return replace(self._recipe, units=units, clock=clock, columns=self._columns(),
                       pattern=self.pattern.text().strip())

    def _columns(self) -> Columns:
        parts = [part.strip() for part in self.columns.text().split(",")]
        if parts == [""]:
            return Columns()
        if len(parts) == 3:
            parts = ["", *parts]
        if len(parts) != 4:
            raise ValueError("Columns are four names or numbers with commas between: time, x, y, z.")
        return Columns(*(int(part) if part.isdigit() else part for part in parts))

    def _decide(self) -> None:
        try:
            recipe = self.recipe()
        except ValueError as error:
            said = str(error)
            self.fault.setText(said if said.endswith(".") else "A nominal rate is a number of Hz, as 50 or 40, 50.")
            self.fault.show()
            return
        self.decided.emit(self._paths, recipe)
        self.close()

    def _choice(self, name: str, choices: Sequence[str], chosen: str) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(name)
        box.addItem(UNSAID, "")
        for choice in choices:
            box.addItem(SPOKEN.get(choice, choice), choice)
        box.setCurrentIndex(max(box.findData(chosen), 0))
        return box

    def _line(self, name: str, text: str, example: str) -> QLineEdit:
        line = QLineEdit(text)
        line.setAccessibleName(name)
        line.setPlaceholderText(example)
        return line

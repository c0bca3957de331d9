"""The device's numbers as a form: title, value with unit, origin; the sentence of the row in hand below."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QObject, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QComboBox, QGridLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from app.controls.cut_label import CutLabel
from app.controls.number_box import NumberBox
from app.controls.switch import Switch
from app.words import GAP, decimal
from detect.device.values import Plain, Quantity, Values

BOX_WIDTH, TITLE_WIDTH = 104, 132

Field = NumberBox | QComboBox | Switch


class QuantityForm(QWidget):
    """Rows of the device's table under headings. A refused value is said under the form, and the old one stays."""

    asked = Signal(str, object)
    """Key and the value that was typed, chosen or switched."""

    def __init__(self, name: str, parts: Sequence[tuple[str, Sequence[Quantity]]]) -> None:
        """`parts`: a heading and its rows, each."""
        super().__init__()
        self.setAccessibleName(name)
        self.rows = {row.key: row for _, rows in parts for row in rows}
        self.values: Values | None = None
        self._parts, self._fields = tuple(parts), dict[str, Field]()
        self._of_widget: dict[QObject, Quantity] = {}
        self._of_part: dict[str, list[QWidget]] = {}
        self._out_of_use: set[str] = set()
        self._scroll = scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.sentence = QLabel(wordWrap=True)
        self.sentence.setProperty("role", "aside")
        self.sentence.setContentsMargins(12, 3, 12, 3)
        self.refusal = QLabel(wordWrap=True)
        self.refusal.setProperty("role", "wrong")
        self.refusal.setContentsMargins(12, 3, 12, 3)
        self.refusal.hide()
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addWidget(scroll, 1)
        whole.addWidget(self.refusal)
        whole.addWidget(self.sentence)

    @property
    def fields(self) -> dict[str, Field]:
        """By key. Made when first shown or asked for: the device has some hundred numbers, and the window, which opens
        far more often than they are looked at, waits for none of them."""
        if self._scroll.widget() is None:
            self._make()
        return self._fields

    def show_values(self, values: Values) -> None:
        """The values in force."""
        self.values = values
        for key, field in self._fields.items():
            with QSignalBlocker(field):
                if isinstance(field, NumberBox):
                    field.show_value(values.number(key))
                elif isinstance(field, QComboBox):
                    field.setCurrentText(values.text(key))
                else:
                    field.setChecked(values.on(key))
        self.show_refusal("")

    def showEvent(self, event: QShowEvent) -> None:
        if self._scroll.widget() is None:
            self._make()
        super().showEvent(event)

    def show_refusal(self, sentence: str) -> None:
        """Why a value was not taken."""
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))

    def show_part(self, heading: str, visible: bool) -> None:
        """Whether a heading and its rows are of use at the moment."""
        (self._out_of_use.discard if visible else self._out_of_use.add)(heading)
        for widget in self._of_part.get(heading, ()):
            widget.setVisible(visible)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() in (QEvent.Type.FocusIn, QEvent.Type.Enter) and watched in self._of_widget:
            row = self._of_widget[watched]
            self.sentence.setText(f"{row.sentence} {starting_value(row)}")
        return super().eventFilter(watched, event)

    def _make(self) -> None:
        inside = QWidget()
        inside.setObjectName("panel")
        grid = QGridLayout(inside)
        grid.setContentsMargins(12, 4, 12, 4)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(2)
        grid.setColumnStretch(2, 1)
        for heading, rows in self._parts:
            title = QLabel(heading)
            title.setProperty("role", "strong")
            grid.addWidget(title, grid.rowCount(), 0, 1, 3)
            self._of_part[heading] = [title]
            for row in rows:
                self._of_part[heading] += self._add(grid, row)
            self.show_part(heading, heading not in self._out_of_use)
        grid.setRowStretch(grid.rowCount(), 1)
        self._scroll.setWidget(inside)
        said = self.refusal.text()
        if self.values is not None:
            self.show_values(self.values)
        self.show_refusal(said)

    def _add(self, grid: QGridLayout, row: Quantity) -> list[QWidget]:
        line = grid.rowCount()
        title = QLabel(row.title)
        title.setProperty("role", "muted")
        title.setMinimumWidth(TITLE_WIDTH)
        origin = CutLabel(row.origin)  # the first to give way; the sentence says it again
        origin.setProperty("role", "muted")
        field = self._field(row)
        field.setAccessibleDescription(f"{row.sentence} {starting_value(row)}")
        title.setBuddy(field)
        for column, widget in enumerate((title, field, origin)):
            widget.setToolTip(f"{row.sentence} {starting_value(row)}")
            widget.installEventFilter(self)
            self._of_widget[widget] = row
            grid.addWidget(widget, line, column)
        self._fields[row.key] = field
        return [title, field, origin]

    def _field(self, row: Quantity) -> Field:
        if isinstance(row.default, bool):
            switch = Switch(row.title)
            switch.clicked.connect(lambda on: self.asked.emit(row.key, on))
            return switch
        if row.choices:
            box = QComboBox()
            box.setAccessibleName(row.title)
            box.addItems(row.choices)
            box.setFixedWidth(max(BOX_WIDTH, box.sizeHint().width()))
            box.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            box.activated.connect(lambda at: self.asked.emit(row.key, row.choices[at]))
            return box
        number = NumberBox(row.title, lambda value: with_its_unit(value, row.unit), _step(row))
        number.setFixedWidth(BOX_WIDTH)
        number.typed.connect(lambda value: self.asked.emit(row.key, value))
        return number


def with_its_unit(value: Plain, unit: str) -> str:
    """A value as the form and the tables write it."""
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, str):
        return value
    return decimal(value) + (GAP + unit if unit else "")


def values_as_text(form: QuantityForm) -> str:
    """The rows of a form with their values, tab-separated, under a heading."""
    lines = [("number", "value", "unit", "starts at", "origin")]
    for key, row in form.rows.items():
        value = row.default if form.values is None else form.values[key]
        lines.append((row.title, _plainly(value), row.unit, _plainly(row.default), row.origin))
    return "".join("\t".join(line) + "\n" for line in lines)


def starting_value(row: Quantity) -> str:
    """Where the row's starting value comes from, in words."""
    return f"Starts at {with_its_unit(row.default, row.unit)}: {row.origin}."


def _plainly(value: Plain) -> str:
    return with_its_unit(value, "") if isinstance(value, bool | str) else f"{value:.10g}"


def _step(row: Quantity) -> float:
    """A hundredth of the range, rounded down to a power of ten; at least what the box can show."""
    step = 1.0
    while step * 100 > row.high - row.low and step > 1e-3:
        step /= 10
    return step

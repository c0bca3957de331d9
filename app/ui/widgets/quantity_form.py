"""The device's numbers as a form: title, value with unit, origin; the sentence of the current row below.

A label that says with an ellipsis that it is cut; the whole text stands in its tooltip.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QObject, QSignalBlocker, QSize, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QShowEvent
from PySide6.QtWidgets import QComboBox, QGridLayout, QWidget

from app.formatting import GAP, decimal, of_unit
from app.ui.widgets.controls import NumberBox, Switch, choice
from app.ui.widgets.layout import Words, column, grid, holding, say, scrolled, words
from app.ui.widgets.tips import show_tip
from detect.device.quantities import Plain, Quantity, Values


class CutLabel(Words):
    """One line of plain text that gives way before its neighbours do; a sentence loses its end, a name its middle. The
    whole is under the mouse."""

    def __init__(self, text: str = "", cut: Qt.TextElideMode = Qt.TextElideMode.ElideMiddle) -> None:
        self._cut = cut
        super().__init__(text)

    def setText(self, text: str) -> None:
        super().setText(text)
        show_tip(self, text)

    def show_name(self, name: str) -> None:
        super().show_name(name)
        show_tip(self, "")
        self.setToolTip(name)

    def minimumSizeHint(self) -> QSize:
        return QSize(10, super().minimumSizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        room = self.contentsRect()
        text = self.fontMetrics().elidedText(self.text(), self._cut, room.width())
        painter = QPainter(self)
        self.style().drawItemText(painter, room, int(self.alignment()), self.palette(), self.isEnabled(), text,
                                  self.foregroundRole())


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
        self._scroll = scrolled(QWidget())
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        self.sentence = words(role="aside", wrap=True, margins=(12, 3, 12, 3))
        self.refusal = words(role="wrong", wrap=True, margins=(12, 3, 12, 3))
        self.refusal.hide()
        column((self._scroll, 1), self.refusal, self.sentence, of=self)

    @property
    def fields(self) -> dict[str, Field]:
        """By key. Made when first shown or asked for: the device has some hundred numbers, and the window, which opens
        far more often than they are looked at, waits for none of them."""
        self._make()
        return self._fields

    def show_values(self, values: Values) -> None:
        """The values in force."""
        self.values = values
        for key, field in self._fields.items():
            with QSignalBlocker(field):
                if isinstance(field, NumberBox):
                    field.show_value(values.number(key))
                    self._widen(field)
                elif isinstance(field, QComboBox):
                    field.setCurrentText(values.text(key))
                else:
                    field.setChecked(values.on(key))
        self.show_refusal("")

    def _widen(self, field: NumberBox) -> None:
        field.setFixedWidth(max(BOX_WIDTH, field.fontMetrics().horizontalAdvance(field.text()) + 20))

    def show_figures_anew(self) -> None:
        for field in self._fields.values():
            if isinstance(field, NumberBox):
                field.show_figures_anew()
                self._widen(field)

    def showEvent(self, event: QShowEvent) -> None:
        self._make()
        super().showEvent(event)

    def unit(self, row: Quantity) -> str:
        """As it is now: some follow a choice."""
        return row.unit if self.values is None else self.values.unit(row.key)

    def show_refusal(self, sentence: str) -> None:
        """Why a value was not taken."""
        say(self.refusal, sentence)

    def show_part(self, heading: str, visible: bool) -> None:
        """Whether a heading and its rows are of use at the moment."""
        (self._out_of_use.discard if visible else self._out_of_use.add)(heading)
        for widget in self._of_part.get(heading, ()):
            widget.setVisible(visible)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() in (QEvent.Type.FocusIn, QEvent.Type.Enter) and watched in self._of_widget:
            row = self._of_widget[watched]
            self.sentence.setText(said_of(row))
        return super().eventFilter(watched, event)

    def _make(self) -> None:
        if self._fields:
            return
        rows = grid((), 8, 2, (12, 4, 12, 4))
        rows.setColumnStretch(2, 1)
        for heading, quantities in self._parts:
            title = words(heading, "strong")
            rows.addWidget(title, rows.rowCount(), 0, 1, 3)
            self._of_part[heading] = [title]
            for row in quantities:
                self._of_part[heading] += self._add(rows, row)
            self.show_part(heading, heading not in self._out_of_use)
        rows.setRowStretch(rows.rowCount(), 1)
        inside = holding(rows)
        inside.setObjectName("panel")
        self._scroll.setWidget(inside)
        said = self.refusal.text()
        if self.values is not None:
            self.show_values(self.values)
        self.show_refusal(said)

    def _add(self, rows: QGridLayout, row: Quantity) -> list[QWidget]:
        line = rows.rowCount()
        field, said = self._field(row), said_of(row)
        field.setAccessibleDescription(said)
        title = words(row.title, "muted", buddy=field)
        title.setMinimumWidth(TITLE_WIDTH)
        origin = CutLabel(row.origin)  # the first to give way; the sentence says it again
        origin.setProperty("role", "muted")
        for place, widget in enumerate((title, field, origin)):
            show_tip(widget, said)
            widget.installEventFilter(self)
            self._of_widget[widget] = row
            rows.addWidget(widget, line, place)
        self._fields[row.key] = field
        return [title, field, origin]

    def _field(self, row: Quantity) -> Field:
        if isinstance(row.default, bool):
            switch = Switch(row.title)
            switch.clicked.connect(lambda on: self.asked.emit(row.key, on))
            return switch
        if row.choices:
            box = choice(row.title, zip(row.read_as or row.choices, row.choices, strict=True))
            box.setFixedWidth(max(BOX_WIDTH, box.sizeHint().width()))
            box.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            box.activated.connect(lambda at: self.asked.emit(row.key, row.choices[at]))
            return box
        number = NumberBox(row.title, lambda value: with_its_unit(value, self.unit(row)), _step(row))
        number.typed.connect(lambda value: self.asked.emit(row.key, value))
        return number


def with_its_unit(value: Plain, unit: str) -> str:
    """A value as the form and the tables write it."""
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, str):
        return value
    return decimal(value) + (GAP + of_unit(value, unit) if unit else "")


def values_as_text(form: QuantityForm) -> str:
    """The rows of a form with their values, tab-separated, under a heading."""
    lines = [("number", "value", "unit", "starts at", "origin")]
    for key, row in form.rows.items():
        value = row.default if form.values is None else form.values[key]
        lines.append((row.title, _plainly(value), form.unit(row), _plainly(row.default), row.origin))
    return "".join("\t".join(line) + "\n" for line in lines)


def said_of(row: Quantity) -> str:
    """The row's title, what it is, and where its starting value comes from."""
    return f"{row.title[:1].upper()}{row.title[1:]}: {row.sentence} {starting_value(row)}"


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

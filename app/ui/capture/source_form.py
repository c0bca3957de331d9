"""Where to record from, and how it speaks: a form that remembers what was chosen last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QSettings, QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QDoubleSpinBox, QFormLayout, QLabel, QLineEdit, QSpinBox, QWidget

from app.study.capture.capacity import Load, load
from app.study.capture.faults import faults_of
from app.study.capture.messages import PROTOCOLS, decoder_for
from app.study.capture.raw_file import Header
from app.study.capture.simulator import Simulator, simulated
from app.study.capture.sources import GrowingFile, SerialPort, Source, TcpServer, serial_ports, tcp_address
from app.study.session import Session
from data.problem import Problem
from data.recordings.units import PER_G

SERIAL, CONNECT, LISTEN, FILE, PLAY = KINDS = (
    "Serial port", "TCP: connect to", "TCP: wait on port", "Growing file", "Simulated boards")
_OLD_NAMES = {"Play this study's recording": PLAY}
HINTS = {SERIAL: "a serial port, listed or not", CONNECT: "host:port", LISTEN: "a port number",
         FILE: "path of the file", PLAY: "one to play; empty for the first"}
PLACES = {SERIAL: "Port", CONNECT: "Address", LISTEN: "Port", FILE: "File", PLAY: "Recording"}
"""What the second field is of each source."""
SPEEDS = (1, 2, 5, 10, 20, 50, 100)
FAULTS = ("none", "loss 2", "loss 2, duplicate 2, reorder 2, garbage 2, damage 2")
"""To choose from; others can be written."""

BAUDS = (115_200, 230_400, 460_800, 921_600, 1_000_000, 2_000_000)
_KEY = "capture"


@dataclass(frozen=True)
class Chosen:
    source: Source
    header: Header
    person: str
    rate_hz: float
    taps: bool
    """Whether all nodes are tapped together, so that their clocks can be shifted by that."""


class SourceForm(QWidget):
    """`changed`: anything of it but the limit, which is the study's."""

    changed = Signal()
    limit_chosen = Signal(float)
    """Share of a node's samples that may be lost."""
    entered = Signal()
    """Return in the place: begin."""

    def __init__(self, preferences: QSettings) -> None:
        super().__init__()
        self._preferences = preferences
        self.kind, self.place = QComboBox(), QComboBox(editable=True)
        self.kind.addItems(KINDS)
        self.baud = QComboBox(editable=True)
        self.baud.addItems([str(baud) for baud in BAUDS])
        self.speed, self.faults = QComboBox(), QComboBox(editable=True)
        self.speed.addItems([f"{speed} ×" for speed in SPEEDS])
        self.faults.addItems(FAULTS)
        self.faults.setToolTip("What goes wrong on the line, in percent of its messages")
        self.protocol = QComboBox()
        self.protocol.addItems(PROTOCOLS)
        self.columns = QLineEdit(placeholderText="sequence,-,x,y,z")
        self.unit = QComboBox()
        self.unit.addItems(("counts", *PER_G))
        self.rate = QLineEdit(placeholderText="where boards don't say it")
        self.nodes = QSpinBox(minimum=1, maximum=16)
        self.person = QLineEdit(placeholderText="a pseudonym")
        self.taps = QCheckBox("tap all boards together, three times")
        self.limit = QDoubleSpinBox(minimum=0.0, maximum=100.0, singleStep=0.5, decimals=1, suffix=" %")
        self.limit.setKeyboardTracking(False)
        self.limit.setToolTip("A node that lost more of its samples is shown in red; kept in the study")
        self.limit.valueChanged.connect(lambda percent: self.limit_chosen.emit(percent / 100))
        form = QFormLayout(self)
        form.setContentsMargins(0, 0, 0, 0)
        for name, widget in (("Source", self.kind), ("Place", self.place), ("Baud", self.baud), ("Speed", self.speed),
                             ("Faults, %", self.faults), ("Protocol", self.protocol), ("Columns", self.columns),
                             ("Unit", self.unit), ("Rate, Hz", self.rate), ("Nodes", self.nodes),
                             ("Worn by", self.person), ("Clocks", self.taps), ("Loss limit", self.limit)):
            widget.setAccessibleName(name)
            form.addRow(name, widget)
        self._form = form
        # A long name widens neither the form nor cuts its labels; it is whole in the list and under the mouse.
        self.place.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.place.view().setTextElideMode(Qt.TextElideMode.ElideMiddle)
        self.place.currentTextChanged.connect(self.place.setToolTip)
        self.place.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        written = self.place.lineEdit()
        assert written is not None
        written.returnPressed.connect(self.entered)
        self._names: tuple[str, ...] = ()
        self._places: dict[str, str] = {}
        """What was written for each kind of source."""
        self._restore()
        self._shown = self.kind.currentText()
        self.kind.currentTextChanged.connect(lambda _: self._change_kind())
        for combo in (self.place, self.baud, self.speed, self.faults, self.protocol, self.unit):
            combo.currentTextChanged.connect(lambda _: self._react())
        for line in (self.columns, self.rate, self.person):
            line.textChanged.connect(lambda _: self._react())
        self.nodes.valueChanged.connect(lambda _: self._react())
        self._react()

    def list_places(self, names: Sequence[str]) -> None:
        """The ports that the system knows of now, or recordings of the study by their `names`; what was typed stays."""
        self._names = tuple(names)
        self._fill(self.place.currentText())

    def _change_kind(self) -> None:
        self._places[self._shown] = self.place.currentText()
        self._shown = self.kind.currentText()
        self._fill(self._places.get(self._shown, ""))
        self._react()

    def _fill(self, text: str) -> None:
        kind = self.kind.currentText()
        with QSignalBlocker(self.place):
            self.place.clear()
            self.place.addItems(self._names if kind == PLAY else [one.port for one in serial_ports()]
                                if kind == SERIAL else ())
            self.place.setCurrentText(text)

    def load(self, usual_hz: float) -> Load:
        """Whether it fits on the line. `usual_hz`: the study's rate, where none is typed."""
        serial = self.kind.currentText() == SERIAL
        return load(self.protocol.currentText(), self.nodes.value(), self._rate(quiet=True) or usual_hz,
                    _number(self.baud.currentText()) if serial else None)

    def chosen(self, session: Session) -> Chosen:
        """What to record, and remembered for the next time. Problem where something is missing or makes no sense."""
        protocol, rate = self.protocol.currentText(), self._rate()
        columns = tuple(part.strip() for part in self.columns.text().split(",")) if protocol == "columns" else ()
        decoder_for(protocol, columns)
        source = self._source(session)
        unit = self.unit.currentText() if protocol == "columns" else "counts"
        speed = 1.0
        if isinstance(source, Simulator):
            rate, speed = rate or source.rate_hz, source.speed
        self._remember()
        header = Header(source.name, protocol, columns, unit, rate, speed=speed)
        return Chosen(source, header, self.person.text().strip(), rate, self.taps.isChecked())

    def _source(self, session: Session) -> Source:
        kind, place = self.kind.currentText(), self.place.currentText().strip()
        if kind == PLAY:
            return self._simulated(session, place)
        if not place:
            raise Problem("option", f"{kind}: the {PLACES[kind].lower()} is missing.", f"Enter {HINTS[kind]}.")
        if kind == SERIAL:
            return SerialPort(place, _number(self.baud.currentText()) or BAUDS[0])
        if kind == CONNECT:
            return tcp_address(place)
        if kind == FILE:
            return GrowingFile(Path(place))
        port = _number(place)
        if port is None or not 0 < port < 65536:
            raise Problem("option", f'"{place}" is not a port number.', "Enter a number from 1 to 65535.")
        return TcpServer(port)

    def _simulated(self, session: Session, place: str) -> Source:
        """The recording and those after it, the first following the last, as many as there are nodes."""
        names = session.names_there
        begin = names.index(place) if place in names else 0
        played = [*names[begin:], *names[:begin]][:self.nodes.value()] if place in names or not place else [place]
        written = self.faults.currentText().strip()
        faults = faults_of("" if written == FAULTS[0] else written)
        return simulated(session, played, self.protocol.currentText(), self._speed(), faults)

    def _speed(self) -> float:
        return float(SPEEDS[self.speed.currentIndex()])

    def show_limit(self, share: float) -> None:
        """Of a node's samples that may be lost, as the study has it."""
        with QSignalBlocker(self.limit):
            self.limit.setValue(100 * share)

    def typed_rate(self) -> float:
        """0 where none is typed, or what is makes no sense."""
        return self._rate(quiet=True)

    def _rate(self, quiet: bool = False) -> float:
        text = self.rate.text().strip().replace(",", ".")
        if not text:
            return 0.0
        try:
            rate = float(text)
        except ValueError:
            rate = -1.0
        if not 0 < rate < 1e6:
            if quiet:
                return 0.0
            raise Problem("option", f'The rate "{text}" is not a number of Hz above 0.', "Correct it.")
        return rate

    def _react(self) -> None:
        kind, protocol = self.kind.currentText(), self.protocol.currentText()
        line = self.place.lineEdit()
        if line is not None:
            line.setPlaceholderText(HINTS[kind])
        self._name_place(PLACES[kind])
        self._form.setRowVisible(self.baud, kind == SERIAL)
        for box in (self.speed, self.faults):
            self._form.setRowVisible(box, kind == PLAY)
        for widget in (self.columns, self.unit):
            self._form.setRowVisible(widget, protocol == "columns")
        self.changed.emit()

    def _name_place(self, name: str) -> None:
        label = self._form.labelForField(self.place)
        assert isinstance(label, QLabel)
        label.setText(name)
        self.place.setAccessibleName(name)

    def _remember(self) -> None:
        for name, text in (("kind", self.kind.currentText()), ("place", self.place.currentText()),
                           ("baud", self.baud.currentText()), ("protocol", self.protocol.currentText()),
                           ("columns", self.columns.text()), ("unit", self.unit.currentText()),
                           ("speed", self.speed.currentText()), ("faults", self.faults.currentText()),
                           ("rate", self.rate.text()), ("nodes", str(self.nodes.value()))):
            self._preferences.setValue(f"{_KEY}/{name}", text)

    def _restore(self) -> None:
        for name, combo in (("kind", self.kind), ("place", self.place), ("baud", self.baud),
                            ("speed", self.speed), ("faults", self.faults), ("protocol", self.protocol),
                            ("unit", self.unit)):
            text = str(self._preferences.value(f"{_KEY}/{name}", combo.currentText()))
            combo.setCurrentText(_OLD_NAMES.get(text, text))
        self.columns.setText(str(self._preferences.value(f"{_KEY}/columns", "")))
        self.rate.setText(str(self._preferences.value(f"{_KEY}/rate", "")))
        self.nodes.setValue(_number(str(self._preferences.value(f"{_KEY}/nodes", "1"))) or 1)


def _number(text: str) -> int | None:
    return int(text) if text.strip().isascii() and text.strip().isdigit() else None

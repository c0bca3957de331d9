"""The window beside the window in which boards are recorded."""

from __future__ import annotations

from PySide6.QtCore import QSettings, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QComboBox, QDialog, QPushButton, QWidget

from app.ui.capture.source_form import SourceForm
from app.ui.capture.strips import Strips
from app.ui.capture.volunteer_panel import VolunteerPanel
from app.ui.capture.worn_table import WornTable
from app.ui.widgets.layout import column, row, scrolled, words

SIDE_WIDTH = 340
"""The name of a new recording has room in it."""


class CaptureDialog(QDialog):
    """Changes nothing itself."""

    record_asked = Signal()
    stop_asked = Signal()
    close_asked = Signal()
    """Escape, or closed, while it records: whoever listens hides it."""
    label_asked = Signal(str, str)
    """Begin a label: its kind, "fall" or "other", and its name."""
    label_ended = Signal()
    undo_asked = Signal()
    script_asked = Signal()
    """Open a script of trials."""
    recover_asked = Signal()
    """Make recordings of a raw capture that is there."""

    def __init__(self, preferences: QSettings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Record from boards")
        self.setModal(False)
        self.recording = self._of_form = False
        self.form, self.strips = SourceForm(preferences), Strips()
        self.fits, self.said, self.counted = words(wrap=True), words(wrap=True), words(role="title")
        self.record, self.fall, self.other = (QPushButton(text) for text in ("Record", "Start fall", "Start activity"))
        self.end_label, self.undo = QPushButton("End label"), QPushButton("Undo label")
        self.name = QComboBox(editable=True)
        self.name.setAccessibleName("Activity")
        self.record.setProperty("role", "main")
        self.script, self.volunteers = QPushButton("Open script of trials…"), VolunteerPanel()
        self.recover = QPushButton("Recover raw capture…")
        self.worn, self.preview = WornTable(preferences), words(role="aside", wrap=True)
        self.alike = words(role="wrong", wrap=True)
        self.alike.hide()
        self.preview.hide()
        self.volunteers.hide()
        self.recover.clicked.connect(lambda _: self.recover_asked.emit())
        self.script.clicked.connect(lambda _: self.script_asked.emit())
        left = column(self.form, 8, self.fits, 8, self.record, 8, self.said, 8, self.alike, (self.worn, 3), None,
                      self.script, 6, self.recover)
        side = QWidget()
        side.setLayout(left)
        side.setFixedWidth(SIDE_WIDTH)
        labels = row(words("Label"), (self.name, 1), self.fall, self.other, self.end_label, self.undo)
        right = column(self.volunteers, self.counted, (scrolled(self.strips), 1), self.preview, labels, spacing=8)
        column(row(side, (right, 1), spacing=18), margins=(16, 14, 16, 12), of=self)
        self.record.clicked.connect(lambda _: (self.stop_asked if self.recording else self.record_asked).emit())
        self.form.entered.connect(self.record.click)
        self.form.changed.connect(self._let_go)
        self.fall.clicked.connect(lambda _: self.label_asked.emit("fall", self.name.currentText().strip() or "fall"))
        self.other.clicked.connect(
            lambda _: self.label_asked.emit("other", self.name.currentText().strip() or "activity"))
        self.end_label.clicked.connect(lambda _: self.label_ended.emit())
        self.undo.clicked.connect(lambda _: self.undo_asked.emit())
        for button in self._buttons:
            button.setAutoDefault(False)
        for button, key in ((self.fall, "F5"), (self.other, "F6"), (self.end_label, "F7"), (self.undo, "F8")):
            button.setToolTip(f"{button.text()} ({key})")
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.activated.connect(button.click)
        self.show_recording(False)
        self.resize(1120, 700)

    @property
    def _buttons(self) -> tuple[QPushButton, ...]:
        return self.record, self.fall, self.other, self.end_label, self.undo, self.script, self.recover

    def show_recording(self, on: bool, waiting: bool = False) -> None:
        """`waiting`: the line is being opened, or the recordings are being made."""
        self.recording = on
        self.record.setText("Stop" if on else "Record")
        self.record.setEnabled(not waiting)
        self.form.setEnabled(not (on or waiting))
        self.recover.setEnabled(not (on or waiting))
        for button in (self.fall, self.other, self.undo):
            button.setEnabled(on and not waiting)
        self.end_label.setEnabled(False)
        self.name.setEnabled(on)

    def show_label(self, open_one: str) -> None:
        """The label that has begun; empty for none."""
        self.fall.setEnabled(self.recording and not open_one)
        self.other.setEnabled(self.recording and not open_one)
        self.end_label.setEnabled(bool(open_one))
        self.end_label.setText(f"End {open_one}" if open_one else "End label")

    def say(self, sentence: str, wrong: bool = False) -> None:
        self.said.setText(sentence)
        self.said.setProperty("role", "wrong" if wrong else "")
        self.said.style().unpolish(self.said)
        self.said.style().polish(self.said)
        self._of_form = False

    def refuse(self, sentence: str) -> None:
        """What is wrong with the form, until that is changed."""
        self.say(sentence, wrong=True)
        self._of_form = True

    def _let_go(self) -> None:
        if self._of_form:
            self.say("")

    def show_fits(self, sentence: str, wrong: bool) -> None:
        """Whether the samples fit on the line."""
        self.fits.setText(sentence)
        self.fits.setProperty("role", "wrong" if wrong else "aside")
        self.fits.style().unpolish(self.fits)
        self.fits.style().polish(self.fits)

    def reject(self) -> None:
        """Qt calls it for Escape and for closing alike."""
        if self.recording:
            self.close_asked.emit()
        else:
            super().reject()

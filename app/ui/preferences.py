"""Preferences: appearance, size, numbers and units, sound, where dialogs begin; the layout, kept between starts."""

from __future__ import annotations

import os
from functools import cached_property
from pathlib import Path

from PySide6.QtCore import QByteArray, QEvent, QLocale, QSettings
from PySide6.QtWidgets import QApplication, QFileDialog, QFormLayout, QSplitter, QWidget

from app import number_style
from app.formatting import THIN
from app.number_style import OPEN, SI, SIGNS, G, NumberStyle
from app.ui.controller import SideDialog
from app.ui.files.window_state import FOLDER
from app.ui.main_window import MainWindow
from app.ui.theme.stylesheet import APPEARANCES, Appearance
from app.ui.widgets.controls import Switch, button, choice, line_edit
from app.ui.widgets.layout import holding, row, words
from app.ui.widgets.tips import show_tip_anew
from app.ui.workbench import Workbench

SIZE, SOUND, LAYOUT = "size_percent", "sound", "layout"
SIGNS_KEY, ACCELERATION = "numbers", "acceleration"
SYSTEM = "as the system has it"
SIZES = (100, 110, 125, 150, 175, 200)
SCALE_VARIABLE = "QT_SCALE_FACTOR"


def scale_by(preferences: QSettings) -> None:
    """The size chosen last time: Qt takes it once, before there is an application. What the environment says holds."""
    percent = _whole(preferences.value(SIZE, SIZES[0]))
    if percent in SIZES[1:]:
        os.environ.setdefault(SCALE_VARIABLE, str(percent / 100))


def style_of(preferences: QSettings) -> NumberStyle:
    """How figures were to be shown last time."""
    chosen, acceleration = str(preferences.value(SIGNS_KEY, "")), str(preferences.value(ACCELERATION, G))
    point, group = SIGNS.get(chosen, (OPEN.decimal, OPEN.group))
    if chosen == SYSTEM:
        system = QLocale.system()
        point, group = system.decimalPoint(), _narrow(system.groupSeparator())
    return NumberStyle(point, group, acceleration if acceleration in (G, SI) else G)


def _narrow(group: str) -> str:
    """A blank between thousands is as narrow as our own."""
    return THIN if group.isspace() else group


def show_figures(preferences: QSettings) -> None:
    """All that is open shows its figures as the preferences say now."""
    number_style.use(style_of(preferences))
    for widget in QApplication.allWidgets():
        anew = getattr(widget, "show_figures_anew", None)
        if anew is not None:
            anew()
        show_tip_anew(widget)
        QApplication.sendEvent(widget, QEvent(QEvent.Type.PaletteChange))  # what is painted is painted anew
        widget.update()


def beep(preferences: QSettings) -> None:
    """A tone, unless the person wants none."""
    if str(preferences.value(SOUND, True)).casefold() == "true":
        QApplication.beep()


def keep_layout(window: MainWindow, preferences: QSettings) -> None:
    for name, state in (("window", window.saveGeometry()), *((name, one.saveState()) for name, one in _parts(window))):
        preferences.setValue(f"{LAYOUT}/{name}", state)


def restore_layout(window: MainWindow, preferences: QSettings) -> None:
    """As it was left, where it was left."""
    for name, restore in (("window", window.restoreGeometry),
                          *((name, one.restoreState) for name, one in _parts(window))):
        state = preferences.value(f"{LAYOUT}/{name}")
        if isinstance(state, QByteArray):
            restore(state)


def _parts(window: MainWindow) -> tuple[tuple[str, QSplitter], ...]:
    return ("whole", window.whole), ("left", window.left), ("above", window.above), ("below", window.below)


def _whole(value: object) -> int:
    return int(str(value)) if str(value).isdigit() else SIZES[0]


class Preferences(SideDialog):
    title = "Preferences"
    size = (560, 340)

    def __init__(self, bench: Workbench, preferences: QSettings, appearance: Appearance) -> None:
        super().__init__(bench)
        self._preferences, self._appearance = preferences, appearance

    @cached_property
    def panel(self) -> QWidget:
        preferences = self._preferences
        self.theme = choice("Appearance", ((said, key) for key, said in APPEARANCES.items()), self._appearance.choice)
        self.theme.currentIndexChanged.connect(lambda _: self._appearance.choose(self.theme.currentData()))
        self.percent = choice("Size of text and controls", ((f"{one} %", one) for one in SIZES),
                              _whole(preferences.value(SIZE, SIZES[0])))
        self.percent.currentIndexChanged.connect(lambda _: preferences.setValue(SIZE, self.percent.currentData()))
        self.sound = Switch("Tone at alarms and countdowns while recording")
        self.sound.setChecked(str(preferences.value(SOUND, True)).casefold() == "true")
        self.sound.toggled.connect(lambda on: preferences.setValue(SOUND, on))
        self.folder = line_edit("Folder in which dialogs begin", "the last one used",
                                str(preferences.value(FOLDER, "")))
        self.folder.editingFinished.connect(lambda: preferences.setValue(FOLDER, self.folder.text().strip()))
        self.layout_again = button("Usual layout", self._usual_layout)
        self.numbers = choice("Numbers", ((one, one) for one in (*SIGNS, SYSTEM)),
                              str(preferences.value(SIGNS_KEY, next(iter(SIGNS)))))
        self.acceleration = choice("Unit of acceleration", ((one, one) for one in (G, SI)),
                                   str(preferences.value(ACCELERATION, G)))
        for box, key in ((self.numbers, SIGNS_KEY), (self.acceleration, ACCELERATION)):
            box.currentIndexChanged.connect(lambda _, box=box, key=key: self._show(key, box.currentData()))
        form = QFormLayout()
        form.addRow("Appearance", self.theme)
        form.addRow("Size of text and controls", row((self.percent, 1), words("from the next start", "aside")))
        form.addRow("Numbers", row((self.numbers, 1), words("files and reports keep a point", "aside")))
        form.addRow("Unit of acceleration", row((self.acceleration, 1), words("files and reports keep g", "aside")))
        form.addRow("Tone while recording", self.sound)
        form.addRow("Dialogs begin in", row((self.folder, 1), button("Choose…", self._choose_folder)))
        form.addRow("Window and splitters", row(self.layout_again, None))
        return holding(form)

    def show(self) -> None:
        self.bring()

    def _show(self, key: str, value: str) -> None:
        self._preferences.setValue(key, value)
        show_figures(self._preferences)

    def _choose_folder(self) -> None:
        name = QFileDialog.getExistingDirectory(self.dialog, "Folder in which dialogs begin", self.folder.text())
        if name:
            self.folder.setText(str(Path(name)))
            self._preferences.setValue(FOLDER, name)

    def _usual_layout(self) -> None:
        self._preferences.remove(LAYOUT)
        self.window.usual_layout()

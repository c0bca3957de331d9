"""Preferences: appearance, size, sound, where dialogs begin; the window's layout, kept from one start to the next."""

from __future__ import annotations

import os
from functools import cached_property
from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings
from PySide6.QtWidgets import QApplication, QFileDialog, QFormLayout, QSplitter, QWidget

from app.ui.controller import SideDialog
from app.ui.files.recent_places import FOLDER
from app.ui.main_window import MainWindow
from app.ui.theme.stylesheet import APPEARANCES, Appearance
from app.ui.widgets.controls import Switch, button, choice, line_edit
from app.ui.widgets.layout import holding, row, words
from app.ui.workbench import Workbench

SIZE, SOUND, LAYOUT = "size_percent", "sound", "layout"
SIZES = (100, 110, 125, 150, 175, 200)
SCALE_VARIABLE = "QT_SCALE_FACTOR"


def scale_by(preferences: QSettings) -> None:
    """The size chosen last time: Qt takes it once, before there is an application. What the environment says holds."""
    percent = _whole(preferences.value(SIZE, SIZES[0]))
    if percent in SIZES[1:]:
        os.environ.setdefault(SCALE_VARIABLE, str(percent / 100))


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
    size = (520, 300)

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
        form = QFormLayout()
        form.addRow("Appearance", self.theme)
        form.addRow("Size of text and controls", row((self.percent, 1), words("from the next start", "aside")))
        form.addRow("Tone while recording", self.sound)
        form.addRow("Dialogs begin in", row((self.folder, 1), button("Choose…", self._choose_folder)))
        form.addRow("Window and splitters", row(self.layout_again, None))
        return holding(form)

    def show(self) -> None:
        self.bring()

    def _choose_folder(self) -> None:
        name = QFileDialog.getExistingDirectory(self.dialog, "Folder in which dialogs begin", self.folder.text())
        if name:
            self.folder.setText(str(Path(name)))
            self._preferences.setValue(FOLDER, name)

    def _usual_layout(self) -> None:
        self._preferences.remove(LAYOUT)
        self.window.usual_layout()

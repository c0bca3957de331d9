"""Light or dark: as the system has it, or as the user said, remembered."""

from __future__ import annotations

from PySide6.QtCore import QObject, QSettings, Qt, Signal
from PySide6.QtWidgets import QApplication

from app.stylesheet import palette, stylesheet
from app.theme import DARK, LIGHT, Theme

CHOICES = ("system", "light", "dark")
KEY = "appearance"


class Appearance(QObject):
    """Keeps the application in one theme and says when it changes."""

    changed = Signal(object)

    def __init__(self, application: QApplication, preferences: QSettings, parent: QObject) -> None:
        super().__init__(parent)
        self._application, self._preferences = application, preferences
        kept = preferences.value(KEY, "system")
        self.choice = kept if kept in CHOICES else "system"
        application.styleHints().colorSchemeChanged.connect(self._system_changed)
        self._apply()

    @property
    def theme(self) -> Theme:
        scheme = self._application.styleHints().colorScheme()
        dark = self.choice == "dark" or (self.choice == "system" and scheme is Qt.ColorScheme.Dark)
        return DARK if dark else LIGHT

    def choose(self, choice: str) -> None:
        """One of CHOICES."""
        self.choice = choice
        self._preferences.setValue(KEY, choice)
        self._apply()

    def _system_changed(self) -> None:
        if self.choice == "system":
            self._apply()

    def _apply(self) -> None:
        theme = self.theme
        self._application.setPalette(palette(theme))
        sheet = stylesheet(theme)
        if self._application.styleSheet() != sheet:  # setting one dresses every widget anew, the same one too
            self._application.setStyleSheet(sheet)
        self.changed.emit(theme)

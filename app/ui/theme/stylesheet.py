"""How ordinary widgets look under a theme: palette and style sheet.

Light or dark: as the system, or as the user chose, remembered.
"""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from string import Template

from PySide6.QtCore import QSettings, Qt
from PySide6.QtGui import QColor, QFont, QPalette
from PySide6.QtWidgets import QApplication

from app.ui.theme.colours import DARK, LIGHT, Theme

BODY_PX = 13
SMALL_PX = 12
ICONS = Path(__file__).parent / "icons"


def small_font(like: QFont | None = None) -> QFont:
    font = QFont() if like is None else QFont(like)
    font.setPixelSize(SMALL_PX)
    return font


def palette(theme: Theme) -> QPalette:
    """The theme as Qt's roles; what we paint ourselves takes its colours from these."""
    role = QPalette.ColorRole
    colours = {
        role.Window: theme.panel,
        role.Base: theme.panel,
        role.AlternateBase: theme.ground,
        role.Button: theme.panel,
        role.ToolTipBase: theme.panel,
        role.WindowText: theme.ink,
        role.Text: theme.ink,
        role.ButtonText: theme.ink,
        role.ToolTipText: theme.ink,
        role.BrightText: theme.wrong,
        role.PlaceholderText: theme.muted_deep,
        role.Highlight: theme.touch,
        role.HighlightedText: theme.touch_ink,
        role.Link: theme.touch,
        role.LinkVisited: theme.touch,
        role.Accent: theme.touch,
        role.Light: theme.panel,
        role.Midlight: theme.sunk,
        role.Mid: theme.hairline,
        role.Dark: theme.frame,
        role.Shadow: theme.hairline,
    }
    made = QPalette()
    for where, colour in colours.items():
        made.setColor(where, QColor(colour))
    for where in (role.Text, role.ButtonText, role.WindowText):
        made.setColor(QPalette.ColorGroup.Disabled, where, QColor(theme.frame))
    return made


def theme_of(worn: QPalette) -> Theme:
    """Of a widget's palette: what paints itself follows the application by it."""
    return DARK if worn.window().color().lightness() < 128 else LIGHT


def stylesheet(theme: Theme) -> str:
    colours = {field.name: getattr(theme, field.name) for field in fields(theme)}
    return _SHEET.substitute(colours, body=BODY_PX, small=SMALL_PX, icons=ICONS.as_posix())


_SHEET = Template("""
QWidget { color: $ink; font-size: ${body}px; }
QMainWindow, QDialog, #panel, QScrollArea { background: $panel; }
#toolbar, #status { background: $ground; }
#toolbar { border-bottom: 1px solid $hairline; }
#status { border-top: 1px solid $hairline; }
QLabel { background: transparent; }
#status QLabel { color: $muted_deep; font-size: ${small}px; }
QLabel[role="title"] { font-weight: 600; }
QLabel[role="study"] { font-weight: 600; font-size: 15px; }
QLabel[role="strong"] { font-weight: 600; }
QLabel[role="muted"] { color: $muted; }
QLabel[role="aside"] { color: $muted; font-size: ${small}px; }
QLabel[role="lead"] { font-size: 17px; font-weight: 600; }
QLabel[role="far"] { font-size: 30px; font-weight: 600; }
QLabel[role="aside_deep"] { color: $muted_deep; }
QLabel[role="pair"] { color: $muted; font-size: 10px; }
QLabel[role="caution"] { font-size: ${small}px; }
QLabel[role="wrong"] { color: $wrong; font-size: ${small}px; }
QFrame[role="group"] { border: none; border-bottom: 1px solid $hairline; }
QToolTip { color: $ink; background: $panel; border: 1px solid $frame; padding: 4px; font-size: ${small}px; }

QPushButton { background: $panel; border: 1px solid $hairline; border-radius: 5px; padding: 4px 11px; }
QPushButton:hover { border-color: $touch; }
QPushButton:pressed { background: $selection; }
QPushButton:focus { border-color: $touch; }
QPushButton:disabled { color: $frame; }
QPushButton[role="main"] { background: $touch; color: $touch_ink; border-color: $touch; font-weight: 600; }
QPushButton[role="warning"] { color: $wrong; font-size: ${small}px; padding: 2px 8px; }
QPushButton[role="main"]:hover, QPushButton[role="main"]:focus { border-color: $ink; }
QPushButton[role="main"]:disabled { background: $sunk; color: $frame; border-color: $hairline; }
QPushButton[role="wrong"] { color: $wrong; font-size: ${small}px; text-align: left; padding: 1px 11px; }
QPushButton[role="wrong"]:checked { background: $selection; }
QPushButton[role="small"] { padding: 1px 8px; font-size: ${small}px; }
QToolButton { background: $panel; border: 1px solid $hairline; border-radius: 5px; padding: 2px 8px;
    font-size: ${small}px; }
QToolButton:hover, QToolButton:focus { border-color: $touch; }
QToolButton:pressed { background: $selection; }
QToolButton:disabled { color: $frame; }
QToolButton:checked { background: $selection; border-color: $selection; font-weight: 600; }
QToolButton:checked:focus { border-color: $touch; }
QToolButton[role="menu"] { background: transparent; border-color: transparent; padding: 4px 6px; }
QLineEdit QToolButton { background: transparent; border: none; padding: 0; }
QToolButton::menu-indicator { image: none; width: 0; }

QLineEdit, QAbstractSpinBox, QPlainTextEdit, QTextEdit, QTextBrowser {
    background: $ground; border: 1px solid $hairline; border-radius: 4px; padding: 1px 5px;
    selection-background-color: $touch; selection-color: $touch_ink; }
QLineEdit { padding: 4px 7px; placeholder-text-color: $muted_deep; }
QAbstractSpinBox { padding: 0 3px; }
QAbstractSpinBox::up-button, QAbstractSpinBox::down-button { subcontrol-origin: border; width: 0px; }
QAbstractSpinBox QLineEdit { padding: 0; border: none; background: transparent; }
QLineEdit:focus, QAbstractSpinBox:focus, QPlainTextEdit:focus, QTextBrowser:focus { border-color: $touch; }
QComboBox { background: $ground; border: 1px solid $hairline; border-radius: 4px; padding: 1px 6px; }
QComboBox:focus, QComboBox:hover { border-color: $touch; }
QComboBox::drop-down { border: none; width: 18px; }
QComboBox::down-arrow { image: url("$icons/down-$name.svg"); width: 9px; height: 9px; }
QComboBox QAbstractItemView, QMenu { background: $panel; border: 1px solid $hairline; }
QComboBox QAbstractItemView { selection-background-color: $selection; selection-color: $ink; }
QMenu { padding: 4px; }
QMenu::item { padding: 5px 22px 5px 14px; border-radius: 4px; }
QMenu::item:selected { background: $selection; color: $ink; }
QMenu::item:disabled { color: $frame; }
QMenu::separator { height: 1px; background: $hairline; margin: 4px 8px; }

QCheckBox::indicator, QAbstractItemView::indicator, QGroupBox::indicator, QMenu::indicator, QRadioButton::indicator {
    width: 12px; height: 12px; background: $ground; border: 1px solid $frame; border-radius: 3px; }
QRadioButton::indicator { border-radius: 7px; }
QCheckBox::indicator:checked, QAbstractItemView::indicator:checked, QGroupBox::indicator:checked,
QMenu::indicator:checked { background: $touch; border-color: $touch; image: url("$icons/check-$name.svg"); }
QMenu::indicator { margin-left: 5px; }
QRadioButton::indicator:checked { background: $touch; border: 3px solid $selection; width: 8px; height: 8px; }
QCheckBox:focus, QRadioButton:focus { color: $touch; }
QListWidget { background: $panel; border: 1px solid $hairline; border-radius: 4px; outline: none;
    selection-background-color: $selection; selection-color: $ink; }
#topics { background: $ground; border: none; border-right: 1px solid $hairline; border-radius: 0; padding: 10px 6px; }
#topics::item { padding: 6px 10px; border-radius: 5px; }
#topics::item:selected { background: $selection; color: $ink; }

QTableView { background: $panel; border: none; gridline-color: transparent;
    selection-background-color: $selection; selection-color: $ink; outline: none; }
QTableView::item { padding: 0 3px; border: none; }
QTableView::item:selected { background: $selection; color: $ink; }
QHeaderView, QHeaderView::section { background: $panel; }
QHeaderView::section { color: $muted; border: none; border-bottom: 1px solid $hairline; padding: 2px 6px;
    font-size: ${small}px; font-weight: 400; }
QHeaderView::section:hover { color: $touch; }
QTableCornerButton::section { background: $panel; border: none; }

QTabBar { qproperty-drawBase: 0; }
QTabBar::tab { background: transparent; color: $muted; border: 1px solid transparent; border-radius: 5px;
    padding: 3px 8px; margin-right: 2px; }
QTabBar::tab:selected { background: $selection; color: $ink; font-weight: 600; }
QTabBar::tab:hover, QTabBar::tab:focus { border-color: $touch; }
QTabBar::tear { width: 0; image: none; }
QTabBar::scroller { width: 34px; }
QTabBar QToolButton { background: $panel; border: none; padding: 0; }
QTabBar QToolButton::left-arrow { image: url("$icons/left-$name.svg"); width: 9px; height: 9px; }
QTabBar QToolButton::right-arrow { image: url("$icons/right-$name.svg"); width: 9px; height: 9px; }
QTabWidget::pane { border: none; margin-top: 8px; }
QDialogButtonBox { dialogbuttonbox-buttons-have-icons: 0; }
QTabWidget::tab-bar { left: 12px; top: 7px; }

QProgressBar { background: $sunk; border: 1px solid $hairline; border-radius: 4px; height: 8px; text-align: center; }
QProgressBar::chunk { background: $touch; border-radius: 3px; }
QSplitter::handle { background: $ground; }
QSplitter::handle:horizontal { border-left: 1px solid $hairline; border-right: 1px solid $hairline; }
QSplitter::handle:vertical { border-top: 1px solid $hairline; border-bottom: 1px solid $hairline; }
QSplitter::handle:hover { background: $touch; }
QScrollBar:vertical { background: transparent; width: 10px; margin: 0; }
QScrollBar:horizontal { background: transparent; height: 10px; margin: 0; }
QScrollBar::handle { background: $handle; border-radius: 3px; margin: 2px; }
QScrollBar::handle:vertical { min-height: 28px; }
QScrollBar::handle:horizontal { min-width: 28px; }
QScrollBar::handle:hover { background: $touch; }
QAbstractScrollArea::corner { background: transparent; border: none; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0; height: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
""")

APPEARANCES = {"system": "Follow system", "light": "Light", "dark": "Dark"}
CHOICES = tuple(APPEARANCES)
KEY = "appearance"


class Appearance:
    """Keeps the application in one theme; its widgets follow by their palette."""

    def __init__(self, application: QApplication, preferences: QSettings) -> None:
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

    def stop(self) -> None:
        """The program closes: the system's changes are none of its business any more."""
        self._application.styleHints().colorSchemeChanged.disconnect(self._system_changed)

    def _system_changed(self) -> None:
        if self.choice == "system":
            self._apply()

    def _apply(self) -> None:
        theme = self.theme
        self._application.setPalette(palette(theme))
        sheet = stylesheet(theme)
        if self._application.styleSheet() != sheet:  # setting one dresses every widget anew, the same one too
            self._application.setStyleSheet(sheet)

"""Every command of the window with its key, in one menu; keys work wherever the focus is."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QWidget

from app.number_style import shown
from app.ui.files.open_save import Files
from app.ui.main_window import MainWindow
from app.ui.theme.stylesheet import APPEARANCES, CHOICES, Appearance
from app.ui.widgets.controls import action
from app.ui.workbench import Workbench

Keys = QKeySequence.StandardKey
Entry = tuple[str, str, Callable[[], object]]
"""Words, keys, what is done."""


class MenuBar:
    """Builds the menu once and keeps the words of undo and redo up to date."""

    def __init__(self, window: MainWindow, bench: Workbench, files: Files, appearance: Appearance,
                 about: Callable[[], None], device: Callable[[], None], report: Callable[[], None],
                 preferences: Callable[[], None], help_pages: Callable[[], None], carry_over: Callable[[], None],
                 recordings: Sequence[Entry],
                 labels: QMenu, nodes: QMenu) -> None:
        """`recordings`: further commands for them."""
        self._window, self._bench = window, bench
        menu = window.toolbar.menu.menu()
        menu.setAccessibleName("Menu")
        self._study_part(menu.addMenu("&Study"), files, report)
        self._edit_part(menu.addMenu("&Edit"), bench, carry_over)
        self._recordings_part(menu.addMenu("&Recordings"), window, recordings, nodes)
        menu.addMenu(labels)
        self._go_part(menu.addMenu("&Go to"), window, device)
        self._view_part(menu.addMenu("&View"), appearance)
        menu.addSeparator()
        self._add(menu, "Preferences…", "Ctrl+,", preferences)
        self._add(menu, "Help", "F1", help_pages)
        self._add(menu, "About Plumbfall…", "Shift+F1", about)
        self._add(menu, "Quit", "Ctrl+Q", window.close)
        action(window, "Menu", "F10", window.toolbar.menu.showMenu)
        toolbar = window.toolbar
        toolbar.open.clicked.connect(files.ask)
        toolbar.undo.clicked.connect(bench.undo)
        toolbar.redo.clicked.connect(bench.redo)
        toolbar.export.clicked.connect(files.ask_header)
        toolbar.open.setToolTip("Open recordings, folders, labels or a study (Ctrl+O)")
        toolbar.export.setToolTip("Write plumbfall_params.h for the firmware (Ctrl+E)")
        bench.edited.connect(self._say_steps)
        self._say_steps()

    def _study_part(self, menu: QMenu, files: Files, report: Callable[[], None]) -> None:
        self._add(menu, "Open…", Keys.Open, files.ask)
        recent = menu.addMenu("Open recent")
        recent.aboutToShow.connect(lambda: _fill_recent(recent, files))
        self._add(menu, "Import with options…", "Ctrl+Alt+O", files.ask_import)
        menu.addSeparator()
        self._add(menu, "New study", Keys.New, files.new_study)
        self._add(menu, "Open demo", "Ctrl+D", files.open_demo)
        self._add(menu, "Save study", Keys.Save, files.save)
        self._add(menu, "Save study as…", "Ctrl+Shift+S", files.save_as)
        menu.addSeparator()
        self._add(menu, "Export header…", "Ctrl+E", files.ask_header)
        self._add(menu, "Report and archive…", "Ctrl+Alt+R", report)

    def _edit_part(self, menu: QMenu, bench: Workbench, carry_over: Callable[[], None]) -> None:
        self.undo = self._add(menu, "Undo", Keys.Undo, bench.undo)
        self.redo = self._add(menu, "Redo", "Ctrl+Shift+Z", bench.redo)
        self.redo.setShortcuts([QKeySequence("Ctrl+Shift+Z"), QKeySequence("Ctrl+Y")])
        menu.addSeparator()
        self._add(menu, "Set reference", "Ctrl+M", self._window.settings.mark.click)
        self._add(menu, "Switch between A and B", "Ctrl+B", self._window.comparing.take_other_side)
        self._add(menu, "Find settings…", "Ctrl+Shift+F", self._window.settings.find_settings.click)
        self._add(menu, "Carry over…", "Ctrl+Alt+Y", carry_over)
        self._add(menu, "Score again", "F5", bench.refresh)
        menu.addSeparator()
        self._add(menu, "Copy score as text", "Ctrl+Shift+M", self._window.score.copy_text)
        self._add(menu, "Copy attempts as text", "Ctrl+Shift+A", bench.copy_attempts)
        self._add(menu, "Copy current tab as text", "Ctrl+Shift+P", self._window.tabs.copy_text)
        self._add(menu, "Copy map or curve as text", "Ctrl+Alt+M", self._window.map_and_curve.copy_text)

    def _recordings_part(self, menu: QMenu, window: MainWindow, further: Sequence[Entry], nodes: QMenu) -> None:
        menu.addActions(window.recordings.actions_in_order)
        menu.addSeparator()
        for entry in further:
            self._add(menu, *entry)
        menu.addMenu(nodes)

    def _go_part(self, menu: QMenu, window: MainWindow, device: Callable[[], None]) -> None:
        self._add(menu, "Filter", Keys.Find, lambda: _focus(window.recordings.filter))
        self._add(menu, "Recordings", "Ctrl+1", lambda: _focus(window.recordings.table))
        self._add(menu, "Next recording", "Alt+Down", lambda: window.recordings.step(1))
        self._add(menu, "Previous recording", "Alt+Up", lambda: window.recordings.step(-1))
        self._add(menu, "Trace", "Ctrl+2", lambda: _focus(window.trace.canvas))
        self._add(menu, "Settings", "Ctrl+3", lambda: window.settings.take_focus())
        self._add(menu, "Score", "Ctrl+4", lambda: _focus(window.score.cells["tp"]))
        for keys, page, title in (("Ctrl+5", window.attempts_place, "Attempts"),
                                  ("Ctrl+6", window.splits, "Breakdown"), ("Ctrl+7", window.beside, "Side by side"),
                                  ("Ctrl+8", window.comparing, "A and B"), ("Ctrl+9", window.history, "History"),
                                  ("Ctrl+0", window.map_and_curve, "Map and curve")):
            self._add(menu, title, keys, lambda page=page: window.tabs.go_to(page))
        self._add(menu, "Device…", "Ctrl+Shift+D", device)
        self._add(menu, "Messages…", "Ctrl+Alt+J", window.status.show_messages)

    def _view_part(self, menu: QMenu, appearance: Appearance) -> None:
        group = QActionGroup(menu)
        for choice, keys in zip(CHOICES, ("Ctrl+Alt+0", "Ctrl+Alt+1", "Ctrl+Alt+2"), strict=True):
            made = self._add(menu, APPEARANCES[choice], keys, lambda choice=choice: appearance.choose(choice))
            made.setCheckable(True)
            made.setChecked(appearance.choice == choice)
            group.addAction(made)

    def _say_steps(self) -> None:
        history = self._bench.session.history
        for made, word, done in ((self.undo, "Undo", history.undoes), (self.redo, "Redo", history.redoes)):
            made.setText(shown(f"{word}: {done}") if done else word)
            made.setEnabled(done is not None)

    def _add(self, menu: QMenu, words: str, keys: str | QKeySequence.StandardKey,
             done: Callable[..., object]) -> QAction:
        made = action(self._window, words, keys, done)
        menu.addAction(made)
        return made


def _fill_recent(menu: QMenu, files: Files) -> None:
    menu.clear()
    for path in files.recent.paths():
        menu.addAction(str(path)).triggered.connect(lambda _=False, path=path: files.take([path]))
    if menu.isEmpty():
        menu.addAction("Nothing opened so far").setEnabled(False)


def _focus(widget: QWidget) -> None:
    widget.setFocus(Qt.FocusReason.ShortcutFocusReason)

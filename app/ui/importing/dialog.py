"""How files are to be read, where neither their header nor a recipe says it. Nothing is guessed in silence.

Beside it a page says what a recipe can say, key by key.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QSize, Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QFileDialog, QTextBrowser, QWidget

from app.formatting import plural
from app.study.importing.sources import RecipeMemory, Remembered
from app.study.recordings.orientation import upright_stretches
from app.ui.files.file_dialogs import ask_place
from app.ui.importing.form import TITLES, ImportForm
from app.ui.importing.preview import PreviewPane
from app.ui.widgets.controls import button, choice, refill
from app.ui.widgets.layout import column, row, say, scrolled, words
from data.problem import Problem
from data.recipe import suggestions as suggesting
from data.recipe.draft import PAGE
from data.recipe.name_pattern import match
from data.recipe.preview import OPEN_KINDS, FileHead, Preview, head_of, kinds_of, preview
from data.recipe.recipe import Recipe, read_recipe, write_recipe
from data.recordings.batch import Batch


class RecipePage(QDialog):
    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("What a recipe can say")
        self.text = QTextBrowser()
        self.text.setAccessibleName("What a recipe can say")
        self.text.setMarkdown(PAGE.read_text(encoding="utf-8"))
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.close)
        column((self.text, 1), buttons, margins=(14, 12, 14, 10), spacing=6, of=self)
        self.resize(760, 620)


RECIPES = "Recipes (*.toml)"
SIZE, FRAME = QSize(1040, 700), QSize(20, 60)
"""Of the dialog where the screen is large enough, and what its frame takes, pixels."""
OTHERS = 6
"""So many files beside the shown one are looked at for their rates."""

WAIT_MS = 120
"""After a key is pressed; the preview follows what was said, not every letter of it."""


class ImportDialog(QDialog):
    """Asks for one kind of file after the other; `decided(paths, recipe)` asks to read those at hand.

    It stays open until `show_outcome` tells that all were read, or it is closed.
    """

    decided = Signal(list, object)
    turned = Signal(list)
    """To the next kind of files."""

    def __init__(self, paths: Sequence[str], recipe: Recipe, remembered: Remembered,
                 parent: QWidget | None = None, base: str = "") -> None:
        """`base`: the folder that was dropped; names are seen from there."""
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Import with options")
        self._base = base
        self._remembered = remembered
        self._first, self._recipe = recipe, recipe
        self._memory: RecipeMemory | None = None
        self._kinds = kinds_of(paths)
        self._paths: list[str] = []
        self._others: list[FileHead] = []
        self._reading = False
        self.shown: Preview | None = None
        self.which = choice("File shown in the preview", least=30)
        self.which.currentIndexChanged.connect(self._look)
        self.kind, self.memory, self.fault = (words(role=role, wrap=True) for role in ("", "aside", "wrong"))
        self._wait = QTimer(self, singleShot=True, interval=WAIT_MS)
        self._wait.timeout.connect(self._follow)
        self.form, self.pane = ImportForm(), PreviewPane()
        self.form.changed.connect(self._wait.start)
        self.form.taken.connect(lambda one: self._take(one.recipe))
        self.fault.setAccessibleName("What went wrong")
        self.fault.hide()
        self._lay_out()
        self._show_kind()
        self.resize(SIZE.boundedTo(self.screen().availableSize() - FRAME))

    def _lay_out(self) -> None:
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        role = QDialogButtonBox.ButtonRole
        self.take_all = buttons.addButton("Accept all suggestions", role.ActionRole)
        self.take_and_read = buttons.addButton("Accept all and import", role.ActionRole)
        self.read = buttons.addButton("Import", role.AcceptRole)
        self.read.setProperty("role", "main")
        self.take_all.clicked.connect(self._take_all)
        self.take_and_read.clicked.connect(self._take_all_and_read)
        self.load = button("Load recipe…", self._ask_recipe)
        self.save = button("Save recipe…", self._ask_where)
        self.page = button("What a recipe can say", lambda: RecipePage(self).show())
        self.leave = buttons.button(QDialogButtonBox.StandardButton.Cancel)
        for other in (self.take_all, self.take_and_read, self.leave):
            other.setAutoDefault(False)  # Enter in a field reads, wherever the mouse was last
        self.read.setDefault(True)
        buttons.accepted.connect(self._decide)
        buttons.rejected.connect(self.close)
        scroll = scrolled(self.form)
        scroll.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        scroll.setMinimumWidth(max(self.form.minimumSizeHint().width() + 14, 440))
        recipes = row((self.memory, 1), None, self.load, self.save, self.page)
        column(row((self.kind, 1), self.which), recipes, (row((scroll, 10), (self.pane, 11), spacing=16), 1),
               self.fault, buttons, margins=(18, 14, 18, 14), spacing=6, of=self)

    # Which files.

    @property
    def paths(self) -> list[str]:
        """The files of the kind that is asked about."""
        return list(self._paths)

    def _show_kind(self) -> None:
        """The next kind of files, with what was said of such files before."""
        self._paths = self._kinds[0] if self._kinds else []
        count, more = len(self._paths), sum(map(len, self._kinds[1:]))
        said = f"Complete what the {'file does' if count == 1 else plural(count, 'file do', 'files do')} not specify."
        self.kind.setText(said + (f" {more} of another kind come{'s' if more == 1 else ''} next." if more else ""))
        self._show_paths()
        self._others = self._heads(self._paths)
        self._recipe, self._memory = self._first, None
        self._look()

    def _show_paths(self) -> None:
        refill(self.which, ((self._name(path), path) for path in self._paths[:500]))

    def _heads(self, paths: Sequence[str]) -> list[FileHead]:
        step = max(len(paths) // OTHERS, 1)
        heads = []
        for path in paths[step::step][:OTHERS]:
            try:
                heads.append(head_of(Path(path)))
            except Problem:
                continue  # it will be refused with its reason when it is read
        return heads

    def _name(self, path: str) -> str:
        return Path(os.path.relpath(path, self._base)).as_posix() if self._base else Path(path).name

    def _look(self) -> None:
        """Look at the chosen file; the first time, with what is remembered of its kind."""
        path = self._paths[max(self.which.currentIndex(), 0)] if self._paths else ""
        try:
            self._head: FileHead | None = head_of(Path(path), self._name(path))
        except Problem as problem:
            self._head = None
            self._show_readable()
            self._fail(problem.sentence())
            return
        sheet = preview(self._head, self._recipe).sheet
        if sheet is not None and self._memory is None and self._recipe == self._first:
            self._recall(self._remembered.get(sheet.layout))
        self._show(self._recipe)

    def _recall(self, memory: RecipeMemory | None) -> None:
        self._memory = memory
        self.memory.setVisible(memory is not None)
        if memory is not None:
            self._recipe = memory.recipe
            self.memory.setText("Filled in from the last import of files with this header, "
                                f"{memory.when:%d %B %Y, %H:%M}. Check that it applies here too.")

    # What was said.

    def recipe(self) -> Recipe:
        """What was said so far."""
        return self._recipe

    def _follow(self) -> None:
        try:
            recipe = self.form.recipe()
        except ValueError as error:
            self._fail(str(error))
            self.read.setEnabled(False)
            return
        self.fault.hide()
        self._show(recipe)

    def _take(self, recipe: Recipe) -> None:
        self._wait.stop()
        self._show(recipe)

    def _take_all(self) -> None:
        if self._head is not None:
            self._take(suggesting.all_taken(self._head, self._recipe, self._names(), self._others))

    def _take_all_and_read(self) -> None:
        """What suggestions leave open stays to be said: nothing is read then."""
        self._take_all()
        if self.shown is not None and self.shown.recording is not None:
            self._decide()

    def _names(self) -> list[str]:
        return [self._name(path) for path in self._paths]

    def _show(self, recipe: Recipe) -> None:
        """Form, preview and suggestions for a recipe."""
        self._recipe = recipe
        if self._head is None:
            return
        self.fault.hide()
        shown = self.shown = preview(self._head, recipe)
        numbered = shown.sheet is not None and not shown.sheet.layout.names
        rests = () if shown.recording is None else upright_stretches(shown.recording, recipe.axes)
        self.form.show_recipe(recipe, shown.names, numbered, rests, shown.preamble)
        self.form.show_effects(_effects(shown, recipe))
        found = suggesting.suggestions(shown, recipe, self._names(), self._others)
        self.form.show_suggestions(found, {"pattern": self._pattern_says(recipe.pattern)})
        for taking in (self.take_all, self.take_and_read):
            taking.setEnabled(bool(found))
        self.pane.show_preview(shown, recipe)
        self._show_readable()

    def _show_readable(self) -> None:
        """Nothing is imported while an answer is missing: the reason stands below the preview, and under the mouse. A
        broken file does not matter: others of its kind can be read, and it may be mended meanwhile."""
        problem = None if self.shown is None else self.shown.problem
        asked = problem is not None and problem.kind in OPEN_KINDS
        self.read.setEnabled(not (self._reading or asked or self._head is None))
        self.read.setToolTip(problem.sentence() if problem is not None and asked else "")

    def _pattern_says(self, pattern: str) -> str:
        """What the pattern makes of the names: the shown one's parts, and how many it fits."""
        if not pattern or self._head is None:
            return ""
        names = self._names()
        fits = sum(match(pattern, name) is not None for name in names)
        parts = match(pattern, self._head.name)
        said = ", ".join(f"{key} {value}" for key, value in parts.items()) if parts else "the pattern does not match"
        return f"{self._head.name}: {said}. It matches {fits} of {len(names)} names."

    # Reading.

    def _decide(self) -> None:
        if self._wait.isActive():
            self._wait.stop()
            self._follow()
        if self.fault.isVisible() or not self.read.isEnabled():
            return
        self._reading = True
        self.read.setEnabled(False)
        self.read.setText("Importing…")
        self.decided.emit(self._paths, self._recipe)

    def show_outcome(self, batch: Batch | None) -> None:
        """What came of it: on to the next kind, or what was refused with its reason. None: it was cancelled."""
        self._reading = False
        self._show_readable()
        self.read.setText("Import")
        if batch is None:
            return
        if batch.read:
            self.leave.setText("Close")  # what was read stays
        if batch.read and self.shown is not None and self.shown.sheet is not None:
            self._remembered.put(self.shown.sheet.layout, self._recipe)
        refused = {file.source.path: file.problem for file in batch.refused}
        done = {path for file in batch.files for path in file.source.paths} if batch.cancelled else set(self._paths)
        left = [path for path in self._paths if path in refused or path not in done]
        if left:
            self._paths = self._kinds[0] = left
            self._show_paths()
            self._look()
            more = f" {plural(len(left) - 1, 'more file was', 'more files were')} not read." if len(left) > 1 else ""
            if left[0] not in refused:
                self._fail(f"{plural(len(batch.read), 'recording was', 'recordings were')} read before it was "
                           "cancelled; "
                       f"{plural(len(left), 'file was', 'files were')} "
                           "not.")
                return
            self._fail(f"{plural(len(batch.read), 'recording was', 'recordings were')} read. Not read: "
                       f"{refused[left[0]].sentence(TITLES)}{more}")
            return
        self.skip()

    def skip(self) -> None:
        """On to the next kind of files; closed after the last."""
        self._kinds = self._kinds[1:]
        if self._kinds:
            self._show_kind()
            self.turned.emit(self._paths)
        else:
            self.close()

    def _fail(self, sentence: str) -> None:
        say(self.fault, sentence)

    # Recipes as files.

    def _ask_recipe(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, "Load a recipe", "", RECIPES)
        if name:
            self.take_recipe(Path(name))

    def take_recipe(self, path: Path) -> None:
        try:
            self._take(read_recipe(path))
        except Problem as problem:
            self._fail(problem.sentence())

    def _ask_where(self) -> None:
        path = ask_place(self, "Save the recipe", "recipe.toml", RECIPES)
        if path is not None:
            self.save_recipe(path)

    def save_recipe(self, path: Path) -> None:
        try:
            write_recipe(replace(self._recipe, part=()), path)
        except Problem as problem:
            self._fail(problem.sentence())

    def closeEvent(self, event: QCloseEvent) -> None:
        self._wait.stop()
        super().closeEvent(event)


def _effects(shown: Preview, recipe: Recipe) -> dict[str, dict[str, str]]:
    """By field and answer what it would do to the shown file."""
    effects: dict[str, dict[str, str]] = {}
    if shown.chosen is None:
        return effects
    level = suggesting.rest_level(shown.chosen, recipe)
    if level is not None:
        effects["acceleration"] = suggesting.unit_effects(level)
    stamps = suggesting.stamps_of(shown.chosen, recipe)
    if stamps is not None:
        effects["time"] = suggesting.time_effects(stamps)
        if recipe.units.acceleration or shown.full is not None:
            effects["stamps"] = suggesting.stamp_effects(shown, recipe)
    return effects

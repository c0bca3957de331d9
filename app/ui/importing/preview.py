"""Beside the questions of an import: the first rows of the file, and in little the recording that they become."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QHeaderView, QWidget

from app.ui.charts.chart import Chart
from app.ui.importing.form import TITLES
from app.ui.theme.colours import Theme
from app.ui.widgets.layout import column, say, words
from app.ui.widgets.table import cell_table, number_cell
from data.formats.column_names import position
from data.problem import Problem
from data.recipe.preview import Preview
from data.recipe.recipe import Recipe
from data.recordings.model import Recording

if TYPE_CHECKING:
    from app.ui.charts.plot import Plot

PIECES = 600
"""Of a longer recording the extremes of so many stretches are drawn."""

NAMES = (("x", "x"), ("y", "y"), ("z", "z"), ("|a|", "ink"))
"""Of each line, and its colour."""


class SmallTrace(Chart):
    """Empty without a recording."""

    left, names = 36, 8
    units = "\u00a0s", ""

    def __init__(self) -> None:
        super().__init__("The recording as it would be read")
        self._recording: Recording | None = None
        self.setMinimumHeight(110)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def sizeHint(self) -> QSize:
        return QSize(460, 160)

    def show_recording(self, recording: Recording | None, words: str) -> None:
        """`words`: what is seen, or why nothing is; assistive programs get them either way."""
        self._recording = recording
        self.setAccessibleDescription(words)
        self.redraw()

    def draw(self, plot: Plot, theme: Theme) -> None:
        if self._recording is None:
            return
        seconds, channels, breaks = _columns(self._recording, PIECES)
        low, high = min(float(c.min()) for c in channels), max(float(c.max()) for c in channels)
        room = 0.06 * max(high - low, 0.1)
        end = max(float(seconds[-1]), float(seconds[0]) + 1e-6)
        plot.show_range((float(seconds[0]), end), (low - room, high + room))
        joined = np.ones(len(seconds), dtype=bool)
        joined[breaks - 1] = False
        for values, (_, colour) in zip(channels, NAMES, strict=True):
            plot.line(seconds, values, getattr(theme, colour), connect=joined)
        plot.legend([(name, getattr(theme, colour)) for name, colour in NAMES])


def _columns(recording: Recording, pixels: int) -> tuple[np.ndarray, list[np.ndarray], np.ndarray]:
    """Times, x, y, z and |a| of every sample, or the extremes of so many stretches of them; where pieces begin anew."""
    samples = np.asarray(recording.samples, dtype=np.float64)
    firsts = [stretch.first for stretch in recording.stretches]
    ends = [*firsts[1:], len(samples)]
    seconds = np.concatenate([s.start_s + s.step_s * np.arange(end - s.first)
                              for s, end in zip(recording.stretches, ends, strict=True)])
    channels = [*samples.T, np.sqrt((samples * samples).sum(axis=1))]
    if len(samples) <= 2 * pixels:
        return seconds, channels, np.array(firsts[1:], dtype=np.int64)
    edges = np.unique(np.linspace(0, len(samples), pixels + 1).astype(np.int64)[:-1])
    extremes = [np.column_stack([np.minimum.reduceat(c, edges), np.maximum.reduceat(c, edges)]).ravel()
                for c in channels]
    breaks = 2 * np.unique(np.searchsorted(edges, firsts[1:]))
    return np.repeat(seconds[edges], 2), extremes, breaks[breaks < 2 * len(edges)]


ROW_HEIGHT = 20
SHOWN_ROWS = 8
NOT_YET = "Can not be read yet"


class PreviewPane(QWidget):
    """Table, small trace, facts, and what is wrong."""

    def __init__(self) -> None:
        super().__init__()
        self.table = cell_table("First rows of the file", row_height=ROW_HEIGHT)
        self.table.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.table.setFixedHeight((SHOWN_ROWS + 3) * ROW_HEIGHT)
        self.trace = SmallTrace()
        self.facts, self.remarks, self.problem = (words(role=role, wrap=True) for role in ("", "aside", "wrong"))
        self.facts.setAccessibleName("What the recording would be")
        column(self.table, (self.trace, 1), self.facts, self.problem, self.remarks, spacing=6, of=self)

    def show_preview(self, shown: Preview, recipe: Recipe) -> None:
        self._show_rows(shown, shown.full or recipe)
        facts, problem = shown.facts, shown.problem
        self.trace.show_recording(shown.recording, facts.sentence() if facts else NOT_YET)
        head = "" if shown.head.whole else "The first part of the file: "
        self.facts.setText(head + facts.sentence() if facts else NOT_YET)
        say(self.problem, _what_is_wrong(problem) if problem else "")
        say(self.remarks, " ".join(remark.advice(TITLES) for remark in facts.remarks) if facts else "")

    def _show_rows(self, shown: Preview, recipe: Recipe) -> None:
        """Above each column its name, and what it is taken for."""
        names, roles = shown.names, _roles(shown, recipe)
        self.table.setColumnCount(len(names))
        self.table.setRowCount(len(shown.rows))
        self.table.setHorizontalHeaderLabels([f"{name}\n{roles.get(i, '')}" for i, name in enumerate(names)])
        for r, cells in enumerate(shown.rows):
            for c, text in enumerate(cells[:len(names)]):
                item = number_cell(text)
                font = item.font()
                font.setBold(c in roles)
                item.setFont(font)
                self.table.setItem(r, c, item)


def _what_is_wrong(problem: Problem) -> str:
    """What is merely open needs no remedy here: the questions beside it are one."""
    if problem.kind.endswith("_unknown"):
        return Problem(problem.kind, problem.message, "", file=problem.file, line=problem.line).sentence()
    return problem.sentence(TITLES)


def _roles(shown: Preview, recipe: Recipe) -> dict[int, str]:
    """Column from 0: what it is taken for."""
    if shown.sheet is None:
        return {}
    roles = {}
    for name in ("time", "x", "y", "z", "supply", "temperature", "battery"):
        column = getattr(recipe.columns, name)
        if column == "":
            continue
        try:
            roles[position(column, shown.sheet.layout, name)] = name
        except Problem:
            continue  # said beside the field
    return roles

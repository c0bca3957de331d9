"""The score: the confusion matrix, figures with their intervals, alarms in unlabelled time, what changed."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QGridLayout, QHBoxLayout, QSizePolicy

from app.formatting import GAP, decimal, plural
from app.number_style import shown
from app.study.results.content import ScoreView
from app.study.results.standing_warnings import in_line
from app.ui.score.changed import ChangedLabel
from app.ui.score.outcome import CountCell, paint_sign
from app.ui.score.standing_warnings import WarningsLabel
from app.ui.theme.colours import Theme
from app.ui.theme.stylesheet import small_font
from app.ui.widgets.controls import NumberBox, button
from app.ui.widgets.layout import Words, column, grid, row, say, scrolled, words
from app.ui.widgets.table import TextPage
from app.ui.widgets.tips import show_tip, tip_of

CELLS = (
    ("tp", "caught", "caught", 0, 0),
    ("fn", "missed", "missed", 0, 1),
    ("fp", "false alarm", "false alarms", 1, 0),
    ("tn", "quiet", "quiet", 1, 1),
)
"""Count's key, outcome of the rows behind it, its words, row and column of the matrix."""


SIDE_BY_SIDE = 600
"""From this width on the figures stand beside the matrix, else below it."""

LEAST_WIDTH, USUAL_WIDTH = 308, 336
"""Figures and their intervals are never cut, pixels."""

HEADS = ("95 %", "by people")


class ScorePanel(TextPage):
    """Shows a ScoreView; a click on a cell asks for the recordings behind it."""

    cell_clicked = Signal(str)
    """The outcome behind the cell; empty where a chosen cell was clicked again."""
    widening_asked = Signal(float, float)
    """The match window: how far an alarm may lie before a fall's onset and after its end, seconds."""

    changes_asked = Signal(str)
    """The recordings with events that are "fixed", or "broken", since the reference."""
    labels_asked = Signal()

    def __init__(self) -> None:
        super().__init__("Score")
        self._view: ScoreView | None = None
        self.cells: dict[str, MatrixCell] = {}
        self._figures: list[tuple[Words, ...]] = []
        self._grid = grid((), 8, 1)
        self._grid.setColumnStretch(3, 1)
        self._heads = [words(text, "aside") for text in HEADS]
        for place, head in enumerate(self._heads, 2):
            self._grid.addWidget(head, 0, place)
        self._heads[1].setToolTip("Resampling whole people: trials of one person are not independent.")
        self.since_name, self.since = words("compared with the reference"), ChangedLabel()
        self.since.asked.connect(self.changes_asked)
        self.remarks = words(role="aside", wrap=True)
        self.remarks.setAccessibleName("Remarks on the score")
        self.remarks.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.warnings = WarningsLabel()
        self.next = button("Next: read labels…", self.labels_asked, "main")
        self.whose, self.tuned_on = words(role="strong"), words(role="aside", wrap=True)
        self.tuned_on.setAccessibleName("On the people it was tuned on")
        self.tuned_on.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        since = row(self.since_name, (self.since, 1))
        self._parts = column(column(self._matrix(), None), column(
            row(self.next, None), self.whose, self._grid, self.tuned_on, since, self.remarks, None, spacing=3))
        inside = column(self.warnings, (self._parts, 1), margins=(12, 0, 12, 4), spacing=4)
        column(self._header(), (scrolled(inside), 1), of=self)
        self.setMinimumWidth(LEAST_WIDTH)
        self.show_score(None)

    def show_score(self, view: ScoreView | None) -> None:
        """None where there is nothing to score yet."""
        self._view = view
        for key, *_ in CELLS:
            self.cells[key].show_count(None if view is None else view.counts[key])
        _write(self.falls, "fall" if view is None else f"fall\n{plural(view.falls, 'event')}")
        _write(self.others, "other activity" if view is None else f"other activity\n{plural(view.others, 'event')}")
        self.next.setVisible(view is not None and view.falls + view.others == 0)
        self._show_figures(view)
        worth = None if view is None else view.worth
        changed = ", changed since" if worth is not None and worth.changed else ""
        say(self.whose, "" if worth is None else f"On people left out of the search{changed}")
        say(self.tuned_on, "" if view is None else _beside(view))
        lines = () if view is None else (view.unlabelled, view.left_out)
        self.warnings.show_warnings(() if view is None else view.warnings)
        _write(self.remarks, "\n".join(line for line in lines if line))

    def show_widening(self, before_s: float, after_s: float) -> None:
        self.before.show_value(before_s)
        self.after.show_value(after_s)

    def show_stale(self, stale: bool) -> None:
        """Numbers of settings that are no longer the current ones are shown faint, with the word."""
        if stale != self.stale.isHidden():
            return
        self.stale.setVisible(stale)
        for cell in self.cells.values():
            cell.set_stale(stale)

    def show_chosen(self, outcome: str) -> None:
        """Frame the cell whose recordings are being shown; empty for none."""
        for _, behind, *_ in CELLS:
            self._cell_of(behind).setChecked(behind == outcome)

    def counts(self) -> dict[str, int] | None:
        """What stands in the cells; None where they are empty."""
        return None if self._view is None else dict(self._view.counts)

    def as_text(self) -> str:
        """The panel as tab-separated text."""
        view = self._view
        if view is None:
            return "no data\n"
        rows = [("", "alarm", "no alarm"),
                ("fall", str(view.counts["tp"]), str(view.counts["fn"])),
                ("other activity", str(view.counts["fp"]), str(view.counts["tn"])), ()]
        if view.worth is not None:
            worth = view.worth
            rows += [("on people left out",), *((c.name, c.text, c.interval, c.by_person) for c in worth.cells), (),
                     *((one,) for one in (worth.left_out, worth.sealed, worth.whom, *worth.expected, worth.changed)
                       if one),
                     (), ("on the people it was tuned on",)]
        rows += [(c.name, c.text, c.interval, c.by_person) for c in view.cells]
        rows += [(view.unlabelled,), ("compared with the reference", view.since_mark), ("left out", view.left_out),
                 ("match window", view.widening), *(("warning", in_line(one)) for one in view.warnings)]
        return "".join("\t".join(row).rstrip() + "\n" for row in rows)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        beside = self.width() >= SIDE_BY_SIDE
        direction = QBoxLayout.Direction.LeftToRight if beside else QBoxLayout.Direction.TopToBottom
        self._parts.setDirection(direction)
        for at, stretch in enumerate((4, 5) if beside else (0, 1)):
            self._parts.setStretch(at, stretch)
        self._parts.setSpacing(16 if beside else 5)
        usual = self.width() >= USUAL_WIDTH
        self._window.setVisible(usual)
        for label in (self.falls, self.others):
            label.setFixedWidth(82 if usual else 62)

    def _cell_of(self, outcome: str) -> MatrixCell:
        return next(self.cells[key] for key, behind, *_ in CELLS if behind == outcome)

    def _header(self) -> QHBoxLayout:
        self.stale = words("being scored…", "wrong")
        self.stale.hide()
        self._window = words("match window", "aside")
        self._window.setToolTip("An alarm belongs to a fall if it lies within the fall's label, or this much before or "
                                "after it. Labels of other activities have no such margin.")
        self.before = self._reach("before", "Before a fall's onset, seconds")
        self.after = self._reach("after", "After a fall's end, seconds")
        return row(words("Score", "title"), self.stale, None, self._window, self.before, self.after,
                   margins=(12, 5, 12, 1))

    def _reach(self, side: str, spoken: str) -> NumberBox:
        box = NumberBox(spoken, lambda value: f"{decimal(value, 1)}{GAP}s {side}", 0.1)
        box.setFixedWidth(82)
        box.setToolTip(spoken)
        box.typed.connect(lambda _: self.widening_asked.emit(self.before.value(), self.after.value()))
        return box

    def _matrix(self) -> QGridLayout:
        self.falls, self.others = (words(role="aside", wrap=True) for _ in range(2))
        heads = None, words("alarm", "aside"), words("no alarm", "aside")
        matrix = grid((heads, (self.falls,), (self.others,)), 5, 3)
        for key, outcome, called, down, across in CELLS:
            cell = MatrixCell(outcome, called)
            cell.clicked.connect(lambda on, outcome=outcome: self._clicked(outcome, on))
            self.cells[key] = cell
            matrix.addWidget(cell, down + 1, across + 1)
            matrix.setColumnStretch(across + 1, 1)
        return matrix

    def _clicked(self, outcome: str, on: bool) -> None:
        self.show_chosen(outcome if on else "")
        self.cell_clicked.emit(outcome if on else "")

    def _show_figures(self, view: ScoreView | None) -> None:
        rows = [] if view is None else [(c.name, c.text, _bare(c.interval), _bare(c.by_person), c.tip)
                                        for c in (view.cells if view.worth is None else view.worth.cells)]
        while len(self._figures) < len(rows):
            labels = tuple(words(role=role) for role in ("", "strong", "aside", "aside"))
            for place, label in enumerate(labels):
                self._grid.addWidget(label, len(self._figures) + 1, place)
            self._figures.append(labels)
        for head in self._heads:
            head.setVisible(view is not None)
        for at, labels in enumerate(self._figures):
            texts = rows[at] if at < len(rows) else ("", "", "", "", "")
            for label, text in zip(labels, texts, strict=False):
                _write(label, text, texts[4])
        self.since.show_changed("" if view is None else view.since_mark)
        self.since_name.setVisible(view is not None)


class MatrixCell(CountCell):
    """Count, sign and word of one cell."""

    def __init__(self, outcome: str, words: str) -> None:
        super().__init__(outcome in ("caught", "quiet"), f"Show the recordings with this outcome: {outcome}")
        self.outcome, self.words = outcome, words
        self.count: int | None = None
        self._stale = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def show_count(self, count: int | None) -> None:
        self.count = count
        self.setAccessibleName(f"{self.words}: {'no data' if count is None else count}")
        self.update()

    def set_stale(self, stale: bool) -> None:
        self._stale = stale
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(116, 40)

    def minimumSizeHint(self) -> QSize:
        return QSize(98, 40)

    def paint_words(self, painter: QPainter, theme: Theme) -> None:
        painter.setPen(QColor(theme.muted_deep if self._stale else theme.ink))
        painter.setFont(self.counting_font(18))
        text = "–" if self.count is None else shown(decimal(self.count))
        painter.drawText(QRectF(10, 0, self.width() - 16, 22), Qt.AlignmentFlag.AlignVCenter, text)
        painter.setFont(small_font(self.font()))
        paint_sign(painter, self.outcome, QPointF(14, 29), theme)
        painter.drawText(QRectF(23, 19, self.width() - 25, 20), Qt.AlignmentFlag.AlignVCenter, self.words)


def _beside(view: ScoreView) -> str:
    """Of settings that a search found: what they are on the people they were tuned on, whose matrix is shown, what was
    changed since, and what to expect of others."""
    if view.worth is None:
        return ""
    figures = ", ".join(f"{cell.name} {cell.text}" for cell in view.cells[:2])
    worth = view.worth
    first = f"{worth.tuned_on[0].upper()}{worth.tuned_on[1:]} ({figures} now); the matrix is theirs."
    changed = worth.changed and f"{worth.changed[0].upper()}{worth.changed[1:]}"
    said = (first, changed, worth.sealed, *worth.expected[:1])
    return "\n".join(one for one in said if one)


def _bare(interval: str) -> str:
    """Without the unit, which stands beside it with the value."""
    return interval.removesuffix("%").rstrip()


def _write(label: Words, text: str, tip: str = "") -> None:
    """Only what changed: a label that is written anew has its panel laid out anew."""
    if text != label.said():
        label.setText(text)
    if tip != tip_of(label):
        show_tip(label, tip)

"""The score: the confusion matrix, figures with their intervals, strays, what changed since the mark."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QGuiApplication, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QBoxLayout,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.controls.number_box import NumberBox
from app.panels.cautions import CautionsLabel
from app.panels.outcomes import paint_sign
from app.study.shown import ScoreView
from app.theme import LIGHT, Theme
from app.words import GAP, decimal

CELLS = (
    ("tp", "caught", "caught", 0, 0),
    ("fn", "missed", "missed", 0, 1),
    ("fp", "false alarm", "false alarms", 1, 0),
    ("tn", "quiet", "quiet", 1, 1),
)
"""Count's key, outcome of the rows behind it, its words, row and column of the matrix."""


SIDE_BY_SIDE = 600
"""From this width on the figures stand beside the matrix, else below it."""

HEADS = ("95 %", "by people")


class ScorePanel(QWidget):
    """Shows a ScoreView; a click on a cell asks for the recordings behind it."""

    cell_clicked = Signal(str)
    """The outcome behind the cell; empty where a chosen cell was clicked again."""
    widening_asked = Signal(float, float)
    """How far a fall's interval reaches before its onset and after its end, seconds."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Score")
        self._view: ScoreView | None = None
        self.cells: dict[str, MatrixCell] = {}
        self._figures: list[tuple[QLabel, ...]] = []
        inside = QWidget()
        inside.setObjectName("panel")
        self._parts = QBoxLayout(QBoxLayout.Direction.TopToBottom, inside)
        self._parts.setContentsMargins(12, 0, 12, 8)
        self._parts.setSpacing(8)
        left = QVBoxLayout()
        left.addLayout(self._matrix())
        left.addStretch(1)
        self._parts.addLayout(left, 4)
        column = QVBoxLayout()
        column.setSpacing(5)
        self._parts.addLayout(column, 5)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(2)
        self._grid.setColumnStretch(3, 1)
        self._heads = [QLabel(text) for text in HEADS]
        for place, head in enumerate(self._heads, 2):
            head.setProperty("role", "aside")
            self._grid.addWidget(head, 0, place)
        self._heads[1].setToolTip("Resampling whole people: trials of one person are not independent.")
        column.addLayout(self._grid)
        self.since_name, self.since = QLabel("since the mark"), QLabel()
        self.since.setProperty("role", "strong")
        since = QHBoxLayout()
        since.addWidget(self.since_name)
        since.addWidget(self.since, 1)
        column.addLayout(since)
        self.remarks = QLabel(wordWrap=True)
        self.remarks.setProperty("role", "aside")
        self.remarks.setAccessibleName("Remarks on the score")
        self.remarks.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        column.addWidget(self.remarks)
        self.cautions = CautionsLabel()
        column.addWidget(self.cautions)
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidget(inside)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(self._header())
        whole.addWidget(scroll, 1)
        self.show_score(None)

    def show_score(self, view: ScoreView | None) -> None:
        """None where there is nothing to score yet."""
        self._view = view
        for key, *_ in CELLS:
            self.cells[key].show_count(None if view is None else view.counts[key])
        _write(self.falls, "fall" if view is None else f"fall\n{_events(view.falls)}")
        _write(self.others, "other\nactivity" if view is None else f"other\nactivity\n{_events(view.others)}")
        self._show_figures(view)
        lines = () if view is None else (view.strays, view.left_out)
        self.cautions.show_sentences(() if view is None else view.cautions)
        _write(self.remarks, "\n".join(line for line in lines if line))

    def show_widening(self, before_s: float, after_s: float) -> None:
        self.before.show_value(before_s)
        self.after.show_value(after_s)

    def show_stale(self, stale: bool) -> None:
        """Numbers of settings no longer in hand are shown faint, with the word."""
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
        rows += [(c.name, c.text, c.interval, c.by_person) for c in view.cells]
        rows += [(view.strays,), ("since the mark", view.since_mark), ("left out", view.left_out),
                 ("intervals widened", view.widening), *((caution,) for caution in view.cautions)]
        return "".join("\t".join(row).rstrip() + "\n" for row in rows)

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def set_theme(self, theme: Theme) -> None:
        for cell in self.cells.values():
            cell.set_theme(theme)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        beside = self.width() >= SIDE_BY_SIDE
        direction = QBoxLayout.Direction.LeftToRight if beside else QBoxLayout.Direction.TopToBottom
        self._parts.setDirection(direction)
        self._parts.setSpacing(16 if beside else 8)

    def _cell_of(self, outcome: str) -> MatrixCell:
        return next(self.cells[key] for key, behind, *_ in CELLS if behind == outcome)

    def _header(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setContentsMargins(12, 6, 8, 2)
        line.setSpacing(6)
        title = QLabel("Score")
        title.setProperty("role", "title")
        self.stale = QLabel("being scored…")
        self.stale.setProperty("role", "wrong")
        self.stale.hide()
        wide = QLabel("falls reach")
        wide.setProperty("role", "aside")
        wide.setToolTip("An alarm is a fall's where it lies in the fall's interval, widened by this much on either "
                        "side. Other activities are not widened.")
        self.before = self._reach("before", "Before a fall's onset, seconds")
        self.after = self._reach("after", "After a fall's end, seconds")
        copy = QToolButton()
        copy.setText("Copy")
        copy.setToolTip("Copy matrix and figures as text")
        copy.setAccessibleName("Copy the score as text")
        copy.clicked.connect(self.copy_text)
        line.addWidget(title)
        line.addWidget(self.stale)
        line.addStretch(1)
        for widget in (wide, self.before, self.after, copy):
            line.addWidget(widget)
        return line

    def _reach(self, side: str, spoken: str) -> NumberBox:
        box = NumberBox(spoken, lambda value: f"{decimal(value, 1)}{GAP}s {side}", 0.1)
        box.setFixedWidth(88)
        box.setToolTip(spoken)
        box.typed.connect(lambda _: self.widening_asked.emit(self.before.value(), self.after.value()))
        return box

    def _matrix(self) -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(5)
        grid.setVerticalSpacing(4)
        for column, text in enumerate(("alarm", "no alarm"), 1):
            label = QLabel(text)
            label.setProperty("role", "aside")
            grid.addWidget(label, 0, column)
        self.falls, self.others = QLabel(), QLabel()
        for row, label in enumerate((self.falls, self.others), 1):
            label.setProperty("role", "aside")
            label.setFixedWidth(64)
            grid.addWidget(label, row, 0)
        for key, outcome, words, row, column in CELLS:
            cell = MatrixCell(outcome, words)
            cell.clicked.connect(lambda on, outcome=outcome: self._clicked(outcome, on))
            self.cells[key] = cell
            grid.addWidget(cell, row + 1, column + 1)
        grid.setColumnStretch(1, 1)
        grid.setColumnStretch(2, 1)
        return grid

    def _clicked(self, outcome: str, on: bool) -> None:
        self.show_chosen(outcome if on else "")
        self.cell_clicked.emit(outcome if on else "")

    def _show_figures(self, view: ScoreView | None) -> None:
        rows = [] if view is None else [(c.name, c.text, _bare(c.interval), _bare(c.by_person), c.tip)
                                        for c in view.cells]
        while len(self._figures) < len(rows):
            labels = tuple(QLabel() for _ in range(4))
            for column, (label, role) in enumerate(zip(labels, ("", "strong", "aside", "aside"), strict=True)):
                label.setProperty("role", role)
                self._grid.addWidget(label, len(self._figures) + 1, column)
            self._figures.append(labels)
        for head in self._heads:
            head.setVisible(view is not None)
        for at, labels in enumerate(self._figures):
            texts = rows[at] if at < len(rows) else ("", "", "", "", "")
            for label, text in zip(labels, texts, strict=False):
                _write(label, text, texts[4])
        changed = () if view is None else (*(f"fixed: {name}" for name in view.fixed),
                                           *(f"broken: {name}" for name in view.broken))
        _write(self.since, "" if view is None else view.since_mark, "\n".join(changed))
        self.since_name.setVisible(view is not None)

class MatrixCell(QAbstractButton):
    """Count, sign and word of one cell."""

    def __init__(self, outcome: str, words: str) -> None:
        super().__init__()
        self.outcome, self.words = outcome, words
        self.count: int | None = None
        self._theme = LIGHT
        self._stale = False
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setToolTip(f"Show the recordings with this outcome: {outcome}")

    def show_count(self, count: int | None) -> None:
        self.count = count
        self.setAccessibleName(f"{self.words}: {'no data' if count is None else count}")
        self.update()

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self.update()

    def set_stale(self, stale: bool) -> None:
        if stale != self._stale:
            self._stale = stale
            self.update()

    def sizeHint(self) -> QSize:
        return QSize(116, 56)

    def minimumSizeHint(self) -> QSize:
        return QSize(98, 56)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = self._theme
        right = self.outcome in ("caught", "quiet")
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.selection if right else theme.sunk))
        box = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        painter.drawRoundedRect(box, 5, 5)
        if self.isChecked() or self.hasFocus() or self.underMouse():
            painter.setPen(QPen(QColor(theme.touch), 2 if self.isChecked() else 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(box, 5, 5)
        painter.setPen(QColor(theme.muted_deep if self._stale else theme.ink))
        font = QFont(self.font())
        small = QFont(font)
        small.setPixelSize(12)
        font.setPixelSize(20)
        font.setWeight(QFont.Weight.DemiBold)
        painter.setFont(font)
        text = "–" if self.count is None else decimal(self.count)
        painter.drawText(QRectF(10, 4, self.width() - 16, 28), Qt.AlignmentFlag.AlignVCenter, text)
        painter.setFont(small)
        paint_sign(painter, self.outcome, QPointF(14, 41), theme)
        painter.drawText(QRectF(23, 31, self.width() - 25, 20), Qt.AlignmentFlag.AlignVCenter, self.words)


def _bare(interval: str) -> str:
    """Without the unit, which stands beside it with the value."""
    return interval.removesuffix("%").rstrip()


def _write(label: QLabel, text: str, tip: str = "") -> None:
    """Only what changed: a label that is written anew has its panel laid out anew."""
    if text != label.text():
        label.setText(text)
    if tip != label.toolTip():
        label.setToolTip(tip)


def _events(count: int) -> str:
    return f"{decimal(count)} event" + ("" if count == 1 else "s")

"""Sensor orientation, said beside the window by its axes, or by a stretch in which the wearer stood upright and still.

Of the shown recording and of those like it: one step each time.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QButtonGroup, QComboBox, QLabel, QRadioButton, QWidget

from app.formatting import GAP, decimal, which
from app.study.recordings import calibration, orientation
from app.study.recordings.calibration import CalibrationGroup
from app.study.recordings.orientation import UprightStretch, spoken, stood
from app.ui.controller import SideDialog, go_to
from app.ui.recordings.orientation_figure import AxesFigure, sides_box, two_axes
from app.ui.widgets.controls import button, choice, refill, show_choice
from app.ui.widgets.layout import column, grid, row, words
from app.ui.widgets.table import Column, Row, RowsTable
from data.problem import Problem
from data.recipe.sections import Axes

AS_READ, BY_AXES, BY_STRETCH = 0, 1, 2
INTRODUCTION = ("The rule takes x as forward, y as up and z as the wearer's right. State the sensor's orientation "
                "where its axes differ; the recordings are scored again, and their files stay unchanged.")
COLUMNS = (Column("from", 76, True), Column("still for", 76, True), Column("leans by", 84, True), Column("", 60))


class OrientationPanel(QWidget):
    set_asked = Signal(object, object)
    """Axes, or None for those that the files were read with; and the Kept recordings with this orientation."""
    place_chosen = Signal(str, object)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Sensor orientation")
        self._name, self._read_as, self._stands = "", Axes(), tuple[UprightStretch, ...]()
        self._keepers: tuple[CalibrationGroup, ...] = ()
        self.heading, self.now, self.then = words(role="title"), words(wrap=True), words(wrap=True)
        self.figure = AxesFigure()
        self.figure.setMinimumSize(260, 200)
        self.ways = [QRadioButton(way) for way in (
            "as read from its file", "its own axes point", "from a stretch of standing upright and still")]
        self._way = QButtonGroup(self)
        for at, way in enumerate(self.ways):
            self._way.addButton(way, at)
        self.up, self.forward = (self._sides(f"Axis of the sensor that points {way}") for way in ("up", "forward"))
        self.ahead = self._sides("Axis of the sensor that points forward at least roughly", "not known")
        self.table = RowsTable("Still stretches of the shown recording", COLUMNS)
        self.table.row_chosen.connect(self._stretch_chosen)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._said(BY_STRETCH))
        self.fault = words(role="wrong", wrap=True)
        self.keep_for = choice("Recordings with this orientation")
        self.set = button("Apply orientation", self._set, "main")
        self._way.idClicked.connect(lambda _: self._follow())
        self._lay_out()

    def _sides(self, name: str, unsaid: str = "–") -> QComboBox:
        box = sides_box(name, unsaid)
        box.activated.connect(lambda _: self._said(BY_STRETCH if box is self.ahead else BY_AXES))
        return box

    def _lay_out(self) -> None:
        ways = grid(((None,), (self.ways[BY_AXES], QLabel("up"), self.up, QLabel("forward"), self.forward),
                     (None, None, None, None, self.ahead)))
        ways.addWidget(self.ways[AS_READ], 0, 0, 1, 5)
        ways.addWidget(self.ways[BY_STRETCH], 2, 0, 1, 3)
        ways.addWidget(QLabel("forward"), 2, 3, Qt.AlignmentFlag.AlignRight)
        ways.setColumnStretch(0, 1)
        left = column(self.figure, self.then, None, spacing=6)
        right = column(ways, (self.table, 1), self.fault, spacing=6)
        column(words(INTRODUCTION, "aside", True), self.heading, self.now, (row((left, 2), (right, 3), spacing=18), 1),
               row(words("For"), (self.keep_for, 1), self.set), spacing=6, of=self)

    # What is shown.

    def show_recording(self, name: str, now: Axes, read_as: Axes, said: bool, stands: Sequence[UprightStretch],
                       at_s: float | None) -> None:
        """`now`: the axes in force, `said` of the recording itself; `read_as`: its recipe's. The stretch at `at_s` is
        chosen where there is one."""
        self._name, self._read_as, self._stands = name, read_as, tuple(stands)
        self.heading.setText(name or "No recording is selected.")
        how = " Its orientation was changed after it was read." if said else ""
        self.now.setText(f"Now: {spoken(now)[0].lower()}{spoken(now)[1:]}{how}" if name else "")
        self.table.blockSignals(True)
        self.table.show_rows([_row(stand) for stand in stands])
        self.table.clearSelection()
        here = next((i for i, one in enumerate(stands) if at_s is not None and one.start_s <= at_s <= one.end_s), -1)
        if here >= 0:
            self.table.selectRow(here)
        self.table.blockSignals(False)
        for box, side in ((self.up, now.up), (self.forward, now.forward)):
            show_choice(box, side)
        way = BY_STRETCH if here >= 0 else BY_AXES if now.up else AS_READ
        self.ways[way].setChecked(True)
        self._follow()

    def show_keepers(self, keepers: Sequence[CalibrationGroup]) -> None:
        before = max(self.keep_for.currentIndex(), 0)
        self._keepers = tuple(keepers)
        refill(self.keep_for, ((one.words, at) for at, one in enumerate(keepers)), min(before, len(keepers) - 1))

    # What is said.

    def asked(self) -> Axes | None:
        """None for those of the recipe. Raises Problem or ValueError, a sentence, where what is said makes no sense."""
        way = self._way.checkedId()
        if way == AS_READ:
            return None
        if way == BY_AXES:
            up, forward = self.up.currentData(), self.forward.currentData()
            if not two_axes(up, forward):
                raise ValueError("Choose two different axes of the sensor, one that points up and one that points "
                                 "forward.")
            return Axes(up=up, forward=forward)
        stand = self.table.chosen()
        if not isinstance(stand, UprightStretch):
            raise ValueError("Choose a stretch in which the wearer stood upright." if self._stands else
                             "The recording has no still stretch of a second or more.")
        return stood(stand, self.ahead.currentData())

    def _said(self, way: int) -> None:
        self.ways[way].setChecked(True)
        self._follow()

    def _stretch_chosen(self, stand: UprightStretch) -> None:
        self._said(BY_STRETCH)
        self.place_chosen.emit(self._name, stand.start_s)

    def _follow(self) -> None:
        try:
            axes = self.asked()
            fault = ""
        except (Problem, ValueError) as error:
            axes, fault = None, error.sentence() if isinstance(error, Problem) else str(error)
        self.figure.show_axes(self._read_as if axes is None else axes)
        self.then.setText("" if fault else spoken(self._read_as if axes is None else axes))
        self.fault.setText(fault)
        self.set.setEnabled(not fault and bool(self._name))

    def _set(self) -> None:
        self.set_asked.emit(self.asked(), self._keepers[max(self.keep_for.currentIndex(), 0)])


def _row(stand: UprightStretch) -> Row:
    start_s = round(stand.start_s, 1) + 0.0
    return Row((f"{decimal(start_s, 1)}{GAP}s", f"{decimal(round(stand.end_s - stand.start_s, 1), 1)}{GAP}s",
                f"{stand.lean_deg:.0f}°", ""), stand)


class Orientation(SideDialog):
    """It follows the shown recording while it is open."""

    title = "Sensor orientation"
    size = (760, 500)
    of_shown = True

    @cached_property
    def panel(self) -> OrientationPanel:
        panel = OrientationPanel()
        panel.set_asked.connect(self.turn)
        panel.place_chosen.connect(lambda name, at_s: go_to(self.bench, name, at_s))
        return panel

    def show(self) -> None:
        """For the shown recording; the still stretch at the playhead is chosen."""
        self.look(with_playhead=True)
        self.bring()
        self.panel.table.setFocus()

    def look(self, with_playhead: bool = False) -> None:
        session, name = self.bench.session, self.window.recordings.current
        item, recording = session.study.item(name), session.library.get(name)
        if item is None or recording is None:
            self.panel.show_recording("", Axes(), Axes(), False, (), None)
            return
        trace = session.trace(name) if with_playhead else None
        at_s = None if trace is None else trace.seconds.seconds(self.window.trace.playhead)
        self.panel.show_recording(name, orientation.axes_of(item), item.recipe.axes, item.axes is not None,
                                  orientation.upright_stretches_of(item, recording), at_s)
        marked = tuple(one for one in self.window.recordings.marked() if one != name)
        likes = calibration.keepers(session.study, session.library, (name,))[1:]
        some = (CalibrationGroup(f"the {len(marked) + 1} recordings marked", (name, *marked)),) if marked else ()
        every = CalibrationGroup(f"all {len(session.study.items)} recordings",
                                 tuple(one.name for one in session.study.items))
        self.panel.show_keepers((CalibrationGroup("the shown recording", (name,)), *some, *likes[:-1], every))

    def turn(self, axes: Axes | None, whom: CalibrationGroup) -> None:
        session = self.bench.session
        done = orientation.oriented(session.study, session.library, whom.names, axes)
        before = session.study
        self.bench.act(done.study, f"sensor orientation of {which(whom.names)}")
        changed = len(whom.names) - len(done.problems)
        if done.problems:
            self._say(done.problems[0], len(done.problems))
        elif session.study is before:
            self.window.status.show_message("They already have this orientation.")
        else:
            self.window.status.show_message(f"{changed} recording{'s were' if changed > 1 else ' was'} re-oriented.")

    def _say(self, problem: Problem, count: int) -> None:
        more = f" So {count - 1} more." if count > 1 else ""
        self.window.status.show_message(f"Not turned: {problem.sentence()}{more}")

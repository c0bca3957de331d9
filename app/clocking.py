"""The labels' clock beside the window: of the shown recording, set, fitted, taken, each as one step."""

from __future__ import annotations

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QVBoxLayout

from app.going import go_to
from app.panels.clocks import ALONE, MARKED, Clocked, ClocksPanel
from app.study import actions, clocks, looked_over
from app.workbench import Workbench
from data.corrections import Shift
from data.doubts import FEWEST_FALLS, ClockProposal

NO_FIT = (f"No other clock fits clearly better than the one in force. At least {FEWEST_FALLS} labelled falls are "
          "needed, and impacts that lie as they do.")


class Clocking(QObject):
    """One dialog, which stays beside the window and follows the shown recording while it is open."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.bench, self.window = bench, bench.window
        self.panel = ClocksPanel()
        self.dialog = QDialog(self.window)
        self.dialog.setWindowTitle("Labels’ clock")
        self.dialog.setModal(False)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.button(QDialogButtonBox.StandardButton.Close).setAutoDefault(False)
        buttons.rejected.connect(self.dialog.close)
        column = QVBoxLayout(self.dialog)
        column.setContentsMargins(16, 14, 16, 12)
        column.addWidget(self.panel)
        column.addWidget(buttons)
        self.dialog.resize(640, 420)
        self.panel.set_asked.connect(self.set)
        self.panel.fit_asked.connect(self.fit)
        self.panel.take_asked.connect(self.take)
        self.panel.recording_chosen.connect(lambda name: go_to(bench, name))
        self.window.recordings.recording_chosen.connect(lambda _: self._follow())
        bench.edited.connect(self._follow)

    def show(self) -> None:
        self.look()
        self.dialog.show()
        self.dialog.raise_()
        self.panel.offset.setFocus()
        self.panel.offset.selectAll()

    def look(self) -> None:
        study, name = self.bench.session.study, self.window.recordings.current
        item = study.item(name)
        marked = [one for one in self.window.recordings.marked() if one != name]
        self.panel.show_recording("" if item is None else name, Shift() if item is None else item.clock,
                                  len(clocks.siblings(study, name)), len(marked))
        self.panel.show_clocks([Clocked(one.name, one.clock) for one in study.items if one.clock != Shift()])

    def set(self, clock: Shift, whose: str) -> None:
        study, name = self.bench.session.study, self.window.recordings.current
        item = study.item(name)
        if item is None:
            return
        if whose == ALONE:
            new = actions.set_clock(study, [name], clock)
        else:
            names = {name, *self.window.recordings.marked()} if whose == MARKED else {name}
            new = study
            for one in study.items:
                if one.name in names:
                    new = clocks.set_for_recording(new, one.name, clock)
        self.bench.act(new, f"labels’ clock of {name}")
        self.window.status.show_message(clocks.told(item, clock))

    def fit(self) -> None:
        """Propose a clock; it is taken by another click or not at all."""
        session, name = self.bench.session, self.window.recordings.current
        found = clocks.proposed(session.study, session.library, name)
        self.panel.show_found(NO_FIT if found is None else found.sentence, found)

    def take(self, proposal: ClockProposal) -> None:
        study = self.bench.session.study
        item = study.item(proposal.recording)
        if item is None:
            return
        self.panel.show_found("", None)
        self.bench.act(looked_over.with_clock(study, proposal), f"labels’ clock of {proposal.recording}")
        after = self.bench.session.study.item(proposal.recording)
        assert after is not None
        self.window.status.show_message(clocks.told(item, after.clock))

    def close(self) -> None:
        """The window goes."""
        self.dialog.close()

    def _follow(self) -> None:
        if self.dialog.isVisible():
            self.look()

"""The labels' clock beside the window: of the shown recording, set, fitted, taken, each as one step."""

from __future__ import annotations

from functools import cached_property

from app.aside import Aside
from app.going import go_to
from app.panels.clocks import ALONE, MARKED, Clocked, ClocksPanel
from app.study import actions, clocks, looked_over
from app.workbench import Workbench
from data.corrections import Shift
from data.doubts import FEWEST_FALLS, ClockProposal

NO_FIT = (f"No other clock fits clearly better than the one in force. At least {FEWEST_FALLS} labelled falls are "
          "needed, and impacts that lie as they do.")


class Clocking(Aside):
    """It follows the shown recording while it is open."""

    title = "Labels’ clock"
    size = (640, 420)

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.window.recordings.recording_chosen.connect(lambda _: self._follow())
        bench.edited.connect(self._follow)

    @cached_property
    def panel(self) -> ClocksPanel:
        panel = ClocksPanel()
        panel.set_asked.connect(self.set)
        panel.fit_asked.connect(self.fit)
        panel.take_asked.connect(self.take)
        panel.recording_chosen.connect(lambda name: go_to(self.bench, name))
        return panel

    def content(self) -> ClocksPanel:
        return self.panel

    def show(self) -> None:
        self.look()
        self.bring()
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

    def _follow(self) -> None:
        if self.visible:
            self.look()

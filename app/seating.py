"""How the sensor sat, said beside the window of the shown recording and of those like it: one step each time."""

from __future__ import annotations

from functools import cached_property

from app.aside import Aside
from app.going import go_to
from app.panels.seating import SeatingPanel
from app.study import calibrating, seating
from app.study.calibrating import Kept
from app.workbench import Workbench
from data.problem import Problem
from data.told import Axes


class Seating(Aside):
    """It follows the shown recording while it is open."""

    title = "How the sensor sat"
    size = (760, 500)

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.window.recordings.recording_chosen.connect(lambda _: self._follow())
        bench.edited.connect(self._follow)

    @cached_property
    def panel(self) -> SeatingPanel:
        panel = SeatingPanel()
        panel.set_asked.connect(self.turn)
        panel.place_chosen.connect(lambda name, at_s: go_to(self.bench, name, at_s))
        return panel

    def content(self) -> SeatingPanel:
        return self.panel

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
        self.panel.show_recording(name, seating.axes_of(item), item.recipe.axes, item.axes is not None,
                                  seating.stands_of(item, recording), at_s)
        marked = tuple(one for one in self.window.recordings.marked() if one != name)
        likes = calibrating.keepers(session.study, session.library, (name,))[1:]
        some = (Kept(f"the {len(marked) + 1} recordings marked", (name, *marked)),) if marked else ()
        every = Kept(f"all {len(session.study.items)} recordings", tuple(one.name for one in session.study.items))
        self.panel.show_keepers((Kept("the shown recording", (name,)), *some, *likes[:-1], every))

    def turn(self, axes: Axes | None, whom: Kept) -> None:
        session = self.bench.session
        done = seating.seat(session.study, session.library, whom.names, axes)
        before = session.study
        self.bench.act(done.study, f"how the sensor sat in {_which(whom.names)}")
        changed = len(whom.names) - len(done.problems)
        if done.problems:
            self._say(done.problems[0], len(done.problems))
        elif session.study is before:
            self.window.status.show_message("They are turned so already.")
        else:
            self.window.status.show_message(f"{changed} recording{'s were' if changed > 1 else ' was'} turned.")

    def _say(self, problem: Problem, count: int) -> None:
        more = f" So {count - 1} more." if count > 1 else ""
        self.window.status.show_message(f"Not turned: {problem.sentence()}{more}")

    def _follow(self) -> None:
        if self.visible:
            self.look()


def _which(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{len(names)} recordings"

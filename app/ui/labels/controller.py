"""Labels by hand in the window: what is done in the label lane becomes steps of the study, and the lane shows them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import QSettings, Signal
from PySide6.QtWidgets import QInputDialog

from app.study.labels import edits, time_offset
from app.study.labels.edits import Class, LabelEdit
from app.study.state import Item, Study
from app.ui.controller import Controller
from app.ui.trace.label_lane import CLASS_KEYS
from app.ui.workbench import Workbench
from data.problem import Problem
from data.recordings.model import Label, Shift
from detect.rule.timeline import Timeline

ANNOTATOR = "annotator"
NEW_S = 1.0
"""How long a label is that was made by key."""

REST_MS = 60
"""A label under the hand is shown at once; the score follows when the hand rests for so long, or lets go."""

Action = Callable[[Study, str, Timeline], LabelEdit]


@dataclass(frozen=True)
class _Drawn:
    """What the last gesture made of the study."""

    gesture: str
    done: str
    study: Study


class LabelController(Controller):
    """Ties the label lane to the session. A drag is one step of the history, and so is a key held down."""

    clock_asked = Signal()

    def __init__(self, bench: Workbench, preferences: QSettings) -> None:
        super().__init__(bench)
        self.trace, self._preferences = bench.window.trace, preferences
        self.lane = bench.window.trace.label_lane
        self.annotator = str(preferences.value(ANNOTATOR, ""))
        self.what = Class()
        self._classes: tuple[Class, ...] = ()
        self._items: object = None
        self._drawn: _Drawn | None = None
        self._began: tuple[str, Item] | None = None
        self._rest = self.later(REST_MS, bench.session_changed)
        self.lane.made.connect(self.make)
        self.lane.spanned.connect(self.span)
        self.lane.moved.connect(self.move)
        self.lane.all_moved.connect(self.move_all)
        self.lane.all_spread.connect(self.spread_all)
        self.lane.cancelled.connect(self.cancel)
        self.lane.released.connect(self._let_go)
        self.lane.commanded.connect(self.command)
        self.lane.chosen_by_hand.connect(lambda at: self.trace.canvas.show_chosen_label(at))
        bench.edited.connect(self.follow)
        self._commands = self._table()
        self.follow()

    # What the hand does

    def make(self, start_s: float, end_s: float, gesture: str) -> None:
        self._do("new label", gesture, lambda study, name, line: edits.make(
            study, name, line, start_s, end_s, self.what, self.annotator))

    def span(self, start_s: float, end_s: float, gesture: str) -> None:
        at = self.lane.chosen
        self._do("stretch label", gesture, lambda study, name, line: edits.span(
            study, name, line, at, start_s, end_s))

    def move(self, onset_s: float, gesture: str) -> None:
        at = self.lane.chosen
        self._do("move label", gesture, lambda study, name, line: edits.move(
            study, name, line, at, edits.nearest(line, onset_s)))

    def move_all(self, by_s: float, gesture: str) -> None:
        """Every label of the recording by so much: the clock that they came by has another offset."""
        self._clock(gesture, lambda item, line: time_offset.dragged(item, line, by_s))

    def spread_all(self, from_s: float, to_s: float, gesture: str) -> None:
        """The clock that they came by has another speed: the first label stays."""
        at = self.lane.chosen
        self._clock(gesture, lambda item, line: time_offset.stretched(item, at, from_s, to_s))

    def _clock(self, gesture: str, change: Callable[[Item, Timeline], Shift]) -> None:
        """A step of a gesture is always made from what it began with."""
        item = self.bench.session.study.item(self.recording)
        if item is None:
            return
        if self._began is None or self._began[0] != gesture:
            self._began = gesture, item
        began, at = self._began[1], self.lane.chosen

        def action(study: Study, name: str, line: Timeline) -> LabelEdit:
            clock = change(began, line)
            self._say(time_offset.told(began, clock))
            return LabelEdit(time_offset.set_for_recording(study, name, clock), at)

        self._do("label time offset", gesture, action)

    def cancel(self, gesture: str) -> None:
        """Take back what a gesture did so far."""
        self._rest.stop()
        if self._drawn is not None and self._drawn.gesture == gesture \
                and self._drawn.study is self.bench.session.study:
            self.bench.undo()

    def command(self, name: str, gesture: str) -> None:
        """One of the lane's commands."""
        if name.startswith("class "):
            number = CLASS_KEYS.index(name.removeprefix("class "))
            if number < len(self._classes):
                self.reclass(self._classes[number])
            return
        self._commands[name](gesture)

    def _table(self) -> dict[str, Callable[[str], None]]:
        def nudge(by: int, edge: str = "") -> Callable[[str], None]:
            return lambda gesture: self._to_chosen(f"move label{f'’s {edge}' if edge else ''}", gesture,
                                                   lambda study, name, line, at: edits.nudge(
                                                       study, name, line, at, by, edge))

        nudges = {f"{edge} {way}{times}".strip(): nudge(by * (10 if times else 1), edge)
                  for edge in ("", "start", "end") for way, by in (("later", 1), ("earlier", -1))
                  for times in ("", " 10")}
        return nudges | {
            "new": self._new, "whole": self._whole, "next": lambda _: self.step(1), "previous": lambda _: self.step(-1),
            "fall": lambda _: self._kind("fall"), "other": lambda _: self._kind("other"),
            "name": lambda _: self.ask_name(), "comment": lambda _: self.ask_comment(),
            "annotator": lambda _: self.ask_annotator(), "label as": lambda _: self.ask_label_as(),
            "start here": lambda gesture: self._edge_here("start", gesture),
            "end here": lambda gesture: self._edge_here("end", gesture),
            "split": lambda gesture: self._to_chosen("split label", gesture, lambda study, name, line, at:
                                                     edits.split(study, name, line, at, self.trace.playhead)),
            "join": lambda gesture: self._to_chosen("join labels", gesture, lambda study, name, line, at:
                                                    edits.join(study, name, at)),
            "confirm": lambda gesture: self._to_chosen("confirm onset", gesture, lambda study, name, line, at:
                                                       edits.confirm(study, name, at)),
            "clock": lambda _: self.clock_asked.emit(),
            "remove": lambda gesture: self._to_chosen("remove label", gesture, lambda study, name, line, at:
                                                      edits.remove(study, name, at)),
            "playhead back": lambda _: self.trace.canvas.move_playhead(self.trace.playhead - 1),
            "playhead on": lambda _: self.trace.canvas.move_playhead(self.trace.playhead + 1),
        }

    def _new(self, gesture: str) -> None:
        def action(study: Study, name: str, line: Timeline) -> LabelEdit:
            here = line.seconds(self.trace.playhead)
            return edits.make(study, name, line, here, here + NEW_S, self.what, self.annotator)

        self._do("new label", gesture, action)

    def _whole(self, gesture: str) -> None:
        self._do("label the whole recording", gesture, lambda study, name, line: edits.make_whole(
            study, name, self.what, self.annotator))

    def _edge_here(self, edge: str, gesture: str) -> None:
        def action(study: Study, name: str, line: Timeline, at: int) -> LabelEdit:
            here = line.seconds(self.trace.playhead)
            onset, end = self.lane.labels.times(at) if self.lane.labels is not None else (here, here)
            return edits.span(study, name, line, at, *((here, max(end, here)) if edge == "start"
                                                          else (min(onset, here), here)))

        self._to_chosen(f"move label’s {edge}", gesture, action)

    def step(self, by: int) -> None:
        """The label so many further on is chosen and looked at; the first one from the playhead on where none is."""
        labels, trace = self._labels(), self.bench.session.trace(self.recording)
        if not labels or trace is None:
            self._say("This recording has no label. Draw one in the lane above the curves, or press Ins there.")
            return
        at = self.lane.chosen + by if self.lane.chosen >= 0 else self._from_playhead(labels, trace.seconds, by)
        at = min(max(at, 0), len(labels) - 1)
        self.trace.canvas.show_chosen_label(at)
        onset = labels[at].onset_s
        self.trace.look_at(0 if onset is None else edits.nearest(trace.seconds, onset))

    def _from_playhead(self, labels: Sequence[Label], line: Timeline, by: int) -> int:
        here = line.seconds(self.trace.playhead)
        if by > 0:
            return next((i for i, one in enumerate(labels) if (one.onset_s or 0.0) >= here), len(labels) - 1)
        return next((i for i in reversed(range(len(labels))) if (labels[i].onset_s or 0.0) <= here), 0)

    def reclass(self, what: Class) -> None:
        """The chosen label's class, and that of labels to come."""
        self.what = what
        if self.lane.chosen >= 0:
            self._to_chosen("activity of label", "", lambda study, name, line, at: edits.reclass(
                study, name, at, what))
        else:
            self._say(f"New labels are: {_in_words(what)}.")

    def _kind(self, kind: str) -> None:
        label = self._chosen()
        self.reclass(Class(kind, label.name if label is not None else ""))

    # What has to be asked

    def ask_name(self) -> None:
        label = self._chosen()
        if label is not None:
            names = list(dict.fromkeys(one.name for one in self._classes if one.name))
            self._ask("Name the activity", "Activity:", label.name,
                      lambda text: self.reclass(Class(label.kind, text)), names)

    def ask_comment(self) -> None:
        label = self._chosen()
        if label is not None:
            self._ask("Comment", "Comment on this label:", label.comment, lambda text: self._to_chosen(
                "comment", "", lambda study, name, line, at: edits.comment(study, name, at, text)))

    def ask_annotator(self) -> None:
        label = self._chosen()
        if label is not None:
            self._ask("Annotator", "Annotator of this label; leave empty for none.", label.annotator,
                      lambda text: self._to_chosen("annotator of label", "", lambda study, name, line, at:
                                                   edits.annotate(study, name, at, text)), self._people())

    def ask_label_as(self) -> None:
        self._ask("Annotator", "Annotator of the labels that you draw; leave empty for none.",
                  self.annotator, self.label_as, self._people())

    def label_as(self, annotator: str) -> None:
        """Whose labels are made from now on."""
        self.annotator = annotator
        self._preferences.setValue(ANNOTATOR, annotator)
        self._say(f"New labels are by {annotator}." if annotator else "New labels have no annotator.")

    def _people(self) -> list[str]:
        return list(edits.annotators(self.bench.session.study))

    def _ask(self, title: str, question: str, now: str, then: Callable[[str], None],
             choices: Sequence[str] = ()) -> None:
        dialog = QInputDialog(self.bench.window)
        dialog.setWindowTitle(title)
        dialog.setLabelText(question)
        if choices:
            dialog.setComboBoxItems([now, *(one for one in choices if one != now)])
            dialog.setComboBoxEditable(True)
        dialog.setTextValue(now)
        dialog.textValueSelected.connect(lambda text: then(" ".join(text.split())))
        dialog.finished.connect(dialog.deleteLater)
        dialog.finished.connect(lambda _: self.lane.setFocus())
        dialog.open()

    # What is shown

    @property
    def recording(self) -> str:
        return self.bench.window.recordings.current

    def follow(self) -> None:
        """Show the labels of the open study, which may be what undo brought back."""
        study, shown = self.bench.session.study, self.trace.item
        if study.items is not self._items:
            self._items, self._classes = study.items, edits.classes(study)
            self.lane.classes = tuple(_in_words(one) for one in self._classes)
        item = study.item(shown.name) if shown is not None else None
        if item is not None and shown is not None and item.labels is not shown.labels:
            self.trace.show_item(replace(shown, labels=item.labels, clock=item.clock))

    def _labels(self) -> tuple[Label, ...]:
        item = self.bench.session.study.item(self.recording)
        return () if item is None else item.labels

    def _chosen(self) -> Label | None:
        labels = self._labels()
        if not 0 <= self.lane.chosen < len(labels):
            self._say("No label is selected: click one, or select one with the up and down keys.")
            return None
        return labels[self.lane.chosen]

    def _to_chosen(self, done: str, gesture: str, action: Callable[[Study, str, Timeline, int], LabelEdit]) -> None:
        at = self.lane.chosen
        if self._chosen() is not None:
            self._do(done, gesture, lambda study, name, line: action(study, name, line, at))

    def _do(self, done: str, gesture: str, action: Action) -> None:
        trace = self.bench.session.trace(self.recording)
        if trace is None:
            self._say("This recording has no samples to label.")
            return
        before = self.bench.session.study
        try:
            result = action(before, self.recording, trace.seconds)
        except Problem as problem:
            self._say(problem.sentence())
            return
        if gesture and self._drawn is not None and self._drawn.gesture == gesture:
            done = self._drawn.done  # what was begun as a new label stays one while it is drawn
        if not gesture:
            self.bench.act(result.study, done)
        elif self.bench.session.act(result.study, done, gesture):
            self.follow()
            self._rest.start()
        if self.bench.session.study is not before:
            self._drawn = _Drawn(gesture, done, self.bench.session.study)
        self.trace.canvas.show_chosen_label(-1 if result.at is None else result.at)

    def _let_go(self) -> None:
        if self._rest.isActive():
            self._rest.stop()
            self.bench.session_changed()

    def _say(self, sentence: str) -> None:
        self.bench.window.status.show_message(sentence)


def _in_words(what: Class) -> str:
    """"fall, backward", "sit down", "another activity"."""
    if what.kind == "fall":
        return f"fall, {what.name}" if what.name and "fall" not in what.name.lower() else what.name or "fall"
    return what.name or "another activity"

"""What ties a topic of the device to the session: filled while it can be seen, run beside the window, saved."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from typing import Any, ClassVar

from PySide6.QtCore import Signal

from app.study.device.part import changed as with_number
from app.study.pipeline import Made
from app.study.state import Study
from app.ui.controller import Controller, Page
from app.ui.device.topic import NUMBERS, Topic
from app.ui.files.file_dialogs import FILTERS, ask_place
from app.ui.jobs import Cancelled, Progress, Work
from app.ui.widgets.quantity_form import with_its_unit
from data.problem import Problem
from detect.rule.settings import BadSetting


class TopicController(Controller):
    """Its topic is made when it is first asked for. A run, `background`'s only job, is of the study as it was then."""

    event_chosen = Signal(str, int)
    """Recording and sample that somebody wants to see."""

    saved_as: ClassVar[str] = ""
    """How the name of a saved file ends."""
    done: ClassVar[str] = ""
    """The place that is shown when a run is over."""
    workers = os.cpu_count() or 1
    """Processes that a long run may take; 1 for none."""

    # What those that derive from this say

    def make(self) -> Topic:
        raise NotImplementedError

    def stands_for(self, view: Any, study: Study) -> bool:
        """Whether another run would come to the same for this study."""
        return True

    def work(self) -> Work:
        """A run of the current study; raises Problem and BadSetting where there can't be one."""
        raise NotImplementedError

    def write(self, path: Path) -> None:
        """What is shown, as the kind of file that the name's ending says. Raises Problem."""
        raise NotImplementedError

    # What all have in common

    @cached_property
    def topic(self) -> Any:
        topic = self.make()
        topic.asked.connect(self.change)
        topic.run_asked.connect(self.run)
        topic.stop_asked.connect(self.stop)
        topic.save_asked.connect(self.ask_where)
        topic.event_chosen.connect(self.event_chosen)
        if self.background:
            self.jobs.progressed.connect(topic.show_working)
        self._page = Page(self, topic, self.fill)
        self.bench.edited.connect(self._page.mark)
        topic.show_values(self.bench.session.study.device)
        return topic

    def fill(self) -> None:
        """The numbers of the current study, and whether what is shown is still of it."""
        study, topic = self.bench.session.study, self.topic
        topic.show_values(study.device)
        topic.show_stale(topic.view is not None and not self.stands_for(topic.view, study))

    def change(self, key: str, value: object) -> None:
        """A number of the device was typed."""
        study = self.bench.session.study
        try:
            changed = with_number(study, key, value)
        except BadSetting as refused:
            self.topic.show_values(study.device)
            self.topic.form.show_refusal(f"{refused.message} {refused.remedy}".strip().capitalize())
            return
        row = study.device.row(key)
        self.bench.act(changed, f"{row.title} {with_its_unit(changed.device[key], changed.device.unit(key))}")

    def run(self) -> None:
        """Somebody asked for it, and wants to see what comes of it."""
        self.run_then(self.take)

    def run_then(self, take: Callable[[Any], None]) -> None:
        """Beside the window; `take` gets the outcome, or it is said why there is none."""
        topic, study = self.topic, self.bench.session.study
        try:
            work = self.work()
        except Problem as problem:
            topic.show_refusal(problem.sentence())
            return

        def worked(progress: Progress, cancelled: Cancelled) -> Any:
            try:
                return work(progress, cancelled)
            except BadSetting as refused:
                raise refused_number(study, refused) from refused

        (kind,) = self.background
        topic.show_working(0.0)
        self.start(kind, worked, take, lambda problem: topic.show_refusal(problem.sentence()),
                   lambda: None if self.jobs.busy(kind) else topic.show_refusal("Cancelled."))

    def show(self, view: Any) -> None:
        self.topic.show_view(view)
        self.topic.show_stale(not self.stands_for(view, self.bench.session.study))

    def take(self, view: Any) -> None:
        """A run is over."""
        self.show(view)
        if self.topic.in_front == NUMBERS:
            self.topic.show_place(self.done)

    def stop(self) -> None:
        self.jobs.cancel()

    def evaluated(self) -> tuple[Study, Made]:
        """The current study with what was evaluated for it. Raises Problem where there is nothing."""
        session = self.bench.session
        if not session.study.items or not session.ready:
            raise Problem("nothing_to_try", "There are no recordings to try it on yet.", "Open some first.")
        return session.study, session.evaluated()[:3]

    def ask_where(self, kind: str) -> None:
        """`kind`: one of FILTERS."""
        usual = f"{self.bench.session.study.title} {self.saved_as}.{kind}"
        path = ask_place(self.topic, "Save", usual, FILTERS[kind])
        if path is not None:
            self.save(path)

    def save(self, path: Path) -> None:
        self.try_saving(lambda: self.write(path), "The file was not saved.", f"Saved {path}.")


def refused_number(study: Study, refused: BadSetting) -> Problem:
    """A number of the device that contradicts another, with its title; a setting with its key."""
    if refused.key not in study.device:
        return Problem("bad_setting", f"{refused.key} {refused.message}", refused.remedy)
    row = study.device.row(refused.key)
    said = f"{row.title[0].upper()}{row.title[1:]}: {refused.value} {study.device.unit(refused.key)} {refused.message}"
    return Problem("bad_setting", said, refused.remedy)

"""What the panels beside the score show of a session: made when asked for, kept until its own inputs change."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from app.study.history import NO_COUNTS, Counts, TriedRow, rows
from app.study.pipeline import evaluate
from app.study.results import what_would_it_take, worth
from app.study.results.breakdown import BreakdownGroup, Latencies, breakdown_by, latencies
from app.study.results.comparison import Comparison, compare, refused
from app.study.results.explanation import Explained, NearestAttempts, Signal
from app.study.results.side_by_side import Pictures, SideBySide, side_by_side
from app.study.results.unlabelled_alarms import UnlabelledAlarms, exposure, unlabelled_alarms_of
from app.study.results.what_would_it_take import EventChoice, SingleChanges
from app.study.session import Session
from app.study.state import KeptSettings, Study
from detect.engine.engine import Engine
from detect.rule.explanation import StageSpan
from detect.rule.front_end import FrontEnd
from detect.rule.settings import BadSetting, Settings

KEPT_SAMPLES = 5_000_000
"""An engine for questions is kept beside the session's own for a corpus no larger: it costs half as much memory."""


class Views:
    """Of one session. Everything here needs it to be ready."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self._memo = session.memo

    # Events looked at one by one.

    def nearest(self) -> NearestAttempts:
        """Of every event the attempt that came nearest, in the open study."""
        found, labelled, prepared, _ = self.session.evaluated()
        signal = self._memo.of("signal", (labelled,), lambda: Signal(prepared, labelled))
        front_end = self.session.study.front_end
        return self._memo.of("nearest", (found, labelled), lambda: NearestAttempts(front_end, found, labelled, signal))

    def beside(self, outcome: str, alignment: str, order: str) -> SideBySide:
        found, labelled, prepared, _ = self.session.evaluated()
        pictures = self._memo.of("pictures", (labelled,), lambda: Pictures(prepared, labelled))
        return side_by_side(self.session.study, found, labelled, self.nearest(), pictures, outcome, alignment, order)

    def event_choices(self, recording: str) -> tuple[EventChoice, ...]:
        """The events of a recording that can be asked about."""
        found, labelled, _, _ = self.session.evaluated()
        return what_would_it_take.choices(labelled, found.score.outcome, recording)

    def event_at(self, recording: str, sample: int) -> int | None:
        """The event that holds a sample of a recording, widened for falls; None where none does."""
        _, labelled, _, bystanders = self.session.evaluated()
        events, at = labelled.events, bystanders.position.get(recording)
        if at is None:
            return None
        holds = (events.recording == at) & (events.wide_first <= sample) & (events.wide_last >= sample)
        found = np.flatnonzero(holds)
        return int(found[0]) if len(found) else None

    def asking(self, event: int) -> Callable[[Callable[[float], None], Callable[[], bool]], SingleChanges]:
        """The work of finding what it would take, for the study as it is now: to be run on another thread."""
        study = self.session.study
        _, labelled, prepared, _ = self.session.evaluated()

        def work(progress: Callable[[float], None], cancelled: Callable[[], bool]) -> SingleChanges:
            corpus = prepared.engine.corpus
            engine = Engine(corpus) if corpus.samples > KEPT_SAMPLES \
                else self._memo.of("asked", (corpus,), lambda: Engine(corpus))
            return what_would_it_take.single_changes(study, prepared, labelled, engine, event, progress, cancelled)

        return work

    # The score taken apart.

    def split(self, by: str) -> BreakdownGroup:
        found, labelled, _, _ = self.session.evaluated()
        tuned = self.session.worth()
        return replace(breakdown_by(by, found.score.outcome, labelled),
                       tuned_on="" if tuned is None else worth.beside_groups(tuned))

    # Two settings.

    def comparison(self) -> Comparison | None:
        """A against B; None while nothing is compared."""
        study = self.session.study
        if study.other is None:
            return None
        found, labelled, _, _ = self.session.evaluated()
        try:
            theirs = self.session.other_side(study.other)
        except BadSetting as refusal:
            return refused(study, f"{study.other_side} can't be run on this front end: {refusal.key} "
                                  f"{refusal.message} {refusal.remedy}")
        made = compare(study, found.score.outcome, theirs.score.outcome, labelled)
        return replace(made, worth=tuple(self._worth_of_sides(study, study.other)))

    def _worth_of_sides(self, study: Study, other: Settings) -> Iterator[str]:
        """Of A and B, those that a search found: left out first."""
        for side, settings in sorted(((study.side, study.settings), (study.other_side, other)), key=lambda one: one[0]):
            found = self.session.worth(settings)
            if found is not None:
                view = worth.view(found)
                yield f"{side}: {view.left_out[0].lower()}{view.left_out[1:]}; {view.tuned_on}." + (
                    f" {side} was {view.changed}" if view.changed else "")

    def other_stages(self, recording: str) -> tuple[StageSpan, ...] | None:
        """Where the other side's rule was in a recording; None while nothing is compared, or it can't be run."""
        study = self.session.study
        _, _, prepared, bystanders = self.session.evaluated()
        at = bystanders.position.get(recording)
        if study.other is None or at is None:
            return None
        try:
            found = self.session.other_side(study.other)
        except BadSetting:
            return None
        return Explained(replace(study, settings=study.other), found, prepared, at).spans

    # Alarms.

    def latencies(self) -> Latencies:
        found, labelled, _, _ = self.session.evaluated()
        return latencies(self.session.study, found, labelled)

    def unlabelled(self) -> UnlabelledAlarms:
        found, labelled, prepared, _ = self.session.evaluated()
        exposed = self._memo.of("exposure", (labelled,), lambda: exposure(prepared, labelled))
        return unlabelled_alarms_of(found, prepared, labelled, exposed)

    # What was tried.

    def history(self) -> tuple[TriedRow, ...]:
        study = self.session.study
        counts = [self._counts(one) for one in study.kept] if study.sealed else None
        return rows(study, self.session.tried, counts, self._left_out_j)

    def _left_out_j(self, settings: Settings, front_end: FrontEnd) -> str:
        """Youden's J on people left out, of just what a search found, and whether it was scored otherwise then."""
        found = self.session.worth(settings, front_end)
        if found is None or found.changed:
            return ""
        j = next(cell.text for cell in worth.view(found).cells if cell.name == "Youden's J")
        return f"{j}, changed since" if found.stale else j

    def _counts(self, kept: KeptSettings) -> Counts:
        """What was kept may have been scored with people who are sealed by now: scored again without them, if it is
        for the current front end."""
        if kept.front_end != self.session.study.front_end:
            return NO_COUNTS
        _, labelled, prepared, _ = self.session.evaluated()
        return self._memo.of(("kept", kept.settings), (labelled,), lambda: evaluate(
            kept.settings, prepared, labelled).score.matrix).counts

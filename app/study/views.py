"""What the panels beside the score show of a session: made when asked for, kept until its own inputs change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np

from app.study import taking, tried
from app.study.beside import Pictures, SideBySide, side_by_side
from app.study.comparing import Comparison, compare, refused
from app.study.confounding import ConfoundRow, needs_s
from app.study.explained import Explained
from app.study.latencies import Latencies, latencies
from app.study.nearest import NearestAttempts, Signal
from app.study.pipeline import Evaluated, evaluate
from app.study.session import Session
from app.study.shown import StageSpan
from app.study.splits import Split, split
from app.study.state import Kept
from app.study.straying import Strays, exposure, strays
from app.study.taking import EventChoice, Takes
from app.study.tried import NO_COUNTS, Counts, TriedRow
from detect.engine import Engine
from detect.settings import BadSetting, Settings

Made = TypeVar("Made")

KEPT_SAMPLES = 5_000_000
"""An engine for questions is kept beside the session's own for a corpus no larger: it costs half as much memory."""


class Views:
    """Of one session. Everything here needs it to be ready."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self._kept: dict[str, tuple[tuple[object, ...], Any]] = {}

    def _keep(self, name: str, inputs: tuple[object, ...], make: Callable[[], Made]) -> Made:
        """What was made from the very same inputs, or made anew."""
        kept = self._kept.get(name)
        if kept is not None and len(kept[0]) == len(inputs) \
                and all(one is other for one, other in zip(kept[0], inputs, strict=True)):
            return kept[1]
        made = make()
        self._kept[name] = inputs, made
        return made

    # Events looked at one by one.

    def nearest(self) -> NearestAttempts:
        """Of every event the attempt that came nearest, in the study in hand."""
        found, labelled, prepared, _ = self.session.evaluated()
        signal = self._keep("signal", (labelled,), lambda: Signal(prepared, labelled))
        front_end = self.session.study.front_end
        return self._keep("nearest", (found, labelled), lambda: NearestAttempts(front_end, found, labelled, signal))

    def beside(self, outcome: str, alignment: str, order: str) -> SideBySide:
        found, labelled, prepared, _ = self.session.evaluated()
        pictures = self._keep("pictures", (labelled,), lambda: Pictures(prepared, labelled))
        return side_by_side(self.session.study, found, labelled, self.nearest(), pictures, outcome, alignment, order)

    def event_choices(self, recording: str) -> tuple[EventChoice, ...]:
        """The events of a recording that can be asked about."""
        found, labelled, _, _ = self.session.evaluated()
        return taking.choices(labelled, found.score.outcome, recording)

    def event_at(self, recording: str, sample: int) -> int | None:
        """The event that holds a sample of a recording, widened for falls; None where none does."""
        _, labelled, _, bystanders = self.session.evaluated()
        events, at = labelled.events, bystanders.position.get(recording)
        if at is None:
            return None
        holds = (events.recording == at) & (events.wide_first <= sample) & (events.wide_last >= sample)
        found = np.flatnonzero(holds)
        return int(found[0]) if len(found) else None

    def asking(self, event: int) -> Callable[[Callable[[float], None], Callable[[], bool]], Takes]:
        """The work of finding what it would take, for the study as it is now: to be run on another thread."""
        study = self.session.study
        _, labelled, prepared, _ = self.session.evaluated()

        def work(progress: Callable[[float], None], cancelled: Callable[[], bool]) -> Takes:
            corpus = prepared.engine.corpus
            engine = Engine(corpus) if corpus.samples > KEPT_SAMPLES \
                else self._keep("asked", (corpus,), lambda: Engine(corpus))
            return taking.takes(study, prepared, labelled, engine, event, progress, cancelled)

        return work

    # The score taken apart.

    def split(self, by: str) -> Split:
        found, labelled, _, _ = self.session.evaluated()
        return split(by, found.score.outcome, labelled)

    def confounds(self) -> tuple[ConfoundRow, ...]:
        """What else tells the kinds apart, the strong first."""
        found, _, _, _ = self.session.evaluated()
        return self.session.confounding().rows(needs_s(found.rule, self.session.study.front_end))

    # Two settings.

    def comparison(self) -> Comparison | None:
        """A against B; None while nothing is compared."""
        study = self.session.study
        if study.other is None:
            return None
        found, labelled, _, _ = self.session.evaluated()
        try:
            theirs = self._other_side(study.other)
        except BadSetting as refusal:
            return refused(study, f"{study.other_side} can't be run on this front end: {refusal.key} "
                                  f"{refusal.message} {refusal.remedy}")
        return compare(study, found.score.outcome, theirs.score.outcome, labelled)

    def _other_side(self, settings: Settings) -> Evaluated:
        """Raises BadSetting where the front end forbids its settings."""
        _, labelled, prepared, _ = self.session.evaluated()
        study = replace(self.session.study, settings=settings)
        return self._keep("other side", (settings, labelled), lambda: evaluate(study, prepared, labelled))

    def other_stages(self, recording: str) -> tuple[StageSpan, ...] | None:
        """Where the other side's rule was in a recording; None while nothing is compared, or it can't be run."""
        study = self.session.study
        _, _, prepared, bystanders = self.session.evaluated()
        at = bystanders.position.get(recording)
        if study.other is None or at is None:
            return None
        try:
            found = self._other_side(study.other)
        except BadSetting:
            return None
        return Explained(replace(study, settings=study.other), found, prepared, at).spans

    # Alarms.

    def latencies(self) -> Latencies:
        found, labelled, _, _ = self.session.evaluated()
        return latencies(self.session.study, found, labelled)

    def strays(self) -> Strays:
        found, labelled, prepared, _ = self.session.evaluated()
        exposed = self._keep("exposure", (labelled,), lambda: exposure(prepared, labelled))
        return strays(found, prepared, labelled, exposed)

    # What was tried.

    def history(self) -> tuple[TriedRow, ...]:
        study = self.session.study
        counts = [self._counts(one) for one in study.kept] if study.sealed else None
        return tried.rows(study, self.session.tried, counts)

    def _counts(self, kept: Kept) -> Counts:
        """What was kept may have been scored with people who are sealed by now: scored again without them, if it is
        for the front end in hand."""
        if kept.front_end != self.session.study.front_end:
            return NO_COUNTS
        _, labelled, prepared, _ = self.session.evaluated()
        counted: dict[Settings, Counts] = self._keep("counted", (labelled,), dict)
        if kept.settings not in counted:
            m = evaluate(replace(self.session.study, settings=kept.settings), prepared, labelled).score.matrix
            counted[kept.settings] = m.tp, m.fn, m.fp, m.tn
        return counted[kept.settings]

"""The study in hand with its samples: what the window and the commands both drive. No Qt.

Slow work (`read`, `load`, `prepare`) changes nothing by itself and may run on another thread; what it made is
taken over by `take`, `take_loaded`, `take_prepared` on the one thread that owns the session.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from app.study import actions, filing, importing, left, loading, sealing, untold
from app.study.chosen import Chosen
from app.study.confounding import Confounding, needs_s
from app.study.explained import Explained
from app.study.history import History
from app.study.left import Left
from app.study.nearest import NearestAttempts, Signal
from app.study.nodes import share_labels
from app.study.pipeline import Evaluated, Labelled, Prepared, evaluate, fits, label, prepare
from app.study.readout import Bystanders, event_rows, recording_rows, score_view
from app.study.seen import seen_through
from app.study.shown import AttemptRow, EventRow, Results, StageSpan, Trace
from app.study.state import Item, Study
from app.study.tried import Log
from app.study.trimming import in_words, trimmed
from app.study.worn import as_worn
from data.batch import Batch
from data.recipe import Recipe
from data.recording import Recording
from data.seal import SealRecord


class Session:
    """One study, its history, its samples, and results that are made again only as far as needed."""

    def __init__(self, study: Study | None = None, path: Path | None = None) -> None:
        self.history = History(sealing.parted(study or Study()))
        self.path = path
        self.left = Left()
        self.library: dict[str, Recording] = {}
        """Samples of the study's recordings; those under the seal are not among them."""
        self._under_seal: dict[str, Recording] = {}
        self._saved = self.study
        self._prepared: Prepared | None = None
        self._labelled: Labelled | None = None
        self._bystanders: Bystanders | None = None
        self._found: tuple[Study, Evaluated] | None = None
        self._marked: tuple[object, np.ndarray] | None = None
        self._results: Results | None = None
        self._close: Explained | None = None
        self.tried = Log()
        self._confounding: tuple[Labelled, Confounding] | None = None

    @classmethod
    def opened(cls, path: Path) -> Session:
        """A session on a saved study, its samples read. Raises Problem where the study can't be read."""
        session = cls(filing.load(path), path)
        session.take_loaded(loading.load_all(sealing.whole(session.study).items))
        session._saved = session.study
        return session

    @property
    def study(self) -> Study:
        return self.history.study

    @property
    def dirty(self) -> bool:
        """Whether anything would be lost without saving."""
        return self.study != self._saved

    # What changes the study.

    def act(self, study: Study, done: str, gesture: str = "") -> bool:
        changed = self.history.do(sealing.parted(share_labels(self.study, study)), done, gesture)
        self._keep_apart()
        return changed

    def undo(self) -> Study:
        self.history.undo()
        self._keep_apart()
        return self.study

    def redo(self) -> Study:
        self.history.redo()
        self._keep_apart()
        return self.study

    def adopt(self, chosen: Chosen, done: str = "read settings") -> bool:
        """Settings and front end from a file."""
        return self.act(actions.set_both(self.study, chosen.settings, chosen.front_end), done)

    def take_batch(self, batch: Batch, recipe: Recipe) -> Batch:
        """What `importing.read` made of files and label tables, as one step; the part of it that may be told."""
        batch = untold.told_apart(self.study, batch)
        items, recordings = importing.items_of(batch)
        study = actions.add_items(importing.started_by(self.study, recipe), items)
        shown = untold.unveiled(study, batch)
        known = {item.name for item in sealing.whole(study).items}
        self.library.update({name: one for name, one in recordings.items() if name in known})
        self.act(study, f"read {len(shown.read)} recordings")
        return shown

    def take_loaded(self, loaded: Iterable[loading.Loaded]) -> None:
        """Samples of the study's own items. Not a step of the history: the study is as it was saved."""
        study = sealing.whole(self.study)
        for one in loaded:
            if one.recording is not None:
                self.library[one.item.name] = one.recording
        changed = {one.item.name: one.item for one in loaded}
        items = tuple(changed.get(item.name, item) for item in study.items)
        clean = not self.dirty
        self.history = History(sealing.parted(replace(study, items=items)))
        self._keep_apart()
        if clean:
            self._saved = self.study

    def save(self, path: Path) -> None:
        """Raises Problem where the place can't be written; the study stays unsaved then, and as it was."""
        left.save(self.study, self.left, path)
        self.path = path
        self.history.everywhere(lambda study: replace(study, title=path.stem))
        self._saved = self.study

    def recover(self, study: Study) -> None:
        """Put a recovery copy in hand, as one step that can be undone; the longer record of the seal holds."""
        longer = study if study.seal.begins_with(self.study.seal) else self.study
        self.act(study, "recover unsaved changes")
        self._seal_everywhere(longer.sealed, longer.seal)

    # The sealed set: no step of the history, so that undo neither shows what is sealed nor forgets an opening.

    def seal(self, people: Sequence[str], when: str) -> None:
        """Put people aside. Raises Problem where nobody is named who could be."""
        seen = sealing.seen_before(self.study, len(self.tried))
        self._seal_everywhere(*sealing.sealed_too(self.study, people, seen, when))
        self.tried = Log()  # its scores were with them
        silence = untold.Silence([*self.study.sealed, *(item.name for item in self.study.under_seal)])
        self.history.reword(lambda done: "a change to what is sealed" if silence.mentions(done) else done)

    def release(self, people: Sequence[str], when: str) -> None:
        """Take sealed people back among the others, as was just written into the study's file. Raises Problem where
        somebody is not sealed."""
        released = sealing.released(self.study, people, when)
        self._seal_everywhere(*released)
        self._saved = sealing.resealed(self._saved, *released)
        self.tried = Log()

    def record(self, seal: SealRecord) -> None:
        """The record of the seal as it was just written into the study's file."""
        self._seal_everywhere(self.study.sealed, seal)
        self._saved = sealing.resealed(self._saved, self.study.sealed, seal)

    def _seal_everywhere(self, sealed: tuple[str, ...], seal: SealRecord) -> None:
        made: dict[tuple[int, int], Study] = {}  # steps that share their items go on sharing them

        def changed(study: Study) -> Study:
            key = id(study.items), id(study.under_seal)
            before = made.setdefault(key, sealing.resealed(study, sealed, seal))
            return replace(study, items=before.items, under_seal=before.under_seal, sealed=sealed, seal=seal)

        self.history.everywhere(changed)
        self._keep_apart()

    def _keep_apart(self) -> None:
        """The samples of sealed recordings out of the library, those of others in it. A new library takes the old
        one's place: work on another thread may be reading that."""
        away = {item.name for item in self.study.under_seal}
        if away.isdisjoint(self.library) and away >= self._under_seal.keys():
            return
        every = self.every_recording()
        self.library = {name: one for name, one in every.items() if name not in away}
        self._under_seal = {name: one for name, one in every.items() if name in away}

    def every_recording(self) -> dict[str, Recording]:
        """Samples, those under the seal too: for labels that are everybody's, and for an opening."""
        return {**self.library, **self._under_seal}

    # What the study comes to.

    @property
    def ready(self) -> bool:
        """Whether results are quick to have: no recording or front end changed since the last preparation."""
        return fits(self._prepared, self.study, self.library)

    def prepare(self, progress: Callable[[float], None] | None = None,
                cancelled: Callable[[], bool] | None = None) -> Prepared:
        """The slow step, for the study in hand. Safe on another thread; hand the outcome to `take_prepared`."""
        return prepare(self.study, self.library, progress, cancelled)

    def take_prepared(self, prepared: Prepared) -> None:
        self._prepared = prepared
        self._labelled = self._bystanders = self._found = self._marked = self._results = None

    def results(self) -> Results:
        """Of the study in hand; prepared first where that is needed."""
        study = self.study
        if self._results is not None and self._results.study is study:
            return self._results
        began = time.perf_counter()
        found, labelled, prepared, bystanders = self.evaluated()
        before = self._outcomes_under_mark(prepared, labelled)
        rows = recording_rows(study, found, labelled, bystanders)
        view = score_view(study, found, bystanders, rows, before, labelled)
        took = (time.perf_counter() - began) * 1000
        confounds = self.confounding().sentences(needs_s(found.rule, study.front_end))
        view = replace(view, cautions=(*view.cautions, *confounds))
        self.tried.note(self.history.step, found.score)
        self._results = Results(study, found.rule, rows, view, took, prepared.hours)
        return self._results

    def evaluated(self) -> tuple[Evaluated, Labelled, Prepared, Bystanders]:
        """What the results are made from, for whoever shows more of it."""
        study = self.study
        if not self.ready:
            self.take_prepared(self.prepare())
        prepared = self._prepared
        assert prepared is not None
        if self._labelled is None or not self._labelled.stands_for(study):
            self._labelled = label(study, prepared)
            self._bystanders = Bystanders(study, prepared, self._labelled)
            self._found = self._marked = None
        labelled, bystanders = self._labelled, self._bystanders
        assert bystanders is not None
        if self._found is None or self._found[0] is not study:
            self._found = (study, evaluate(study, prepared, labelled))
        return self._found[1], labelled, prepared, bystanders

    def found(self) -> Evaluated:
        """Attempts and score of the study in hand."""
        return self.evaluated()[0]

    def bystanders(self) -> Bystanders:
        return self.evaluated()[3]

    def confounding(self) -> Confounding:
        """What else tells falls from other activities: computed once for samples and labels."""
        _, labelled, prepared, _ = self.evaluated()
        if self._confounding is None or self._confounding[0] is not labelled:
            self._confounding = labelled, Confounding(prepared, labelled)
        return self._confounding[1]

    def refusals(self) -> tuple[str, ...]:
        """Why files of the study could not be read, a sentence each."""
        return tuple(item.refused for item in self.study.items if item.refused)

    def _outcomes_under_mark(self, prepared: Prepared, labelled: Labelled) -> np.ndarray | None:
        mark = self.study.mark
        if mark is None:
            return None
        if self._marked is None or self._marked[0] != mark:
            marked = evaluate(replace(self.study, settings=mark), prepared, labelled)
            self._marked = (mark, marked.score.outcome)
        return self._marked[1]

    # One recording, looked at closely.

    def explained(self, name: str) -> Explained | None:
        """What the rule did in one recording; None for one without samples."""
        found, _, prepared, bystanders = self.evaluated()
        at = bystanders.position.get(name)
        if at is None:
            return None
        close = self._close
        if close is None or close.found is not found or close.seen is not prepared.seen[at]:
            self._close = close = Explained(self.study, found, prepared, at, close)
        return close

    def trace(self, name: str) -> Trace | None:
        """The recording as the device sees it; None where its file was refused."""
        item, recording = self.study.item(name), self.library.get(name)
        if item is None or recording is None:
            return None
        if self.ready and self._prepared is not None and name in self._prepared.names:
            seen = self._prepared.seen[self._prepared.names.index(name)]
        else:
            seen = seen_through(as_worn(item, recording), self.study.front_end)
        return Trace(item, seen.counts, self.study.front_end.k, seen.timeline, _remark(item, recording))

    def stages(self, name: str) -> tuple[tuple[StageSpan, ...], tuple[int, ...], tuple[int, ...]]:
        """Where the rule was at each sample, and the samples of alarms and impacts."""
        explained = self.explained(name)
        return ((), (), ()) if explained is None else explained.stages()

    def attempt_rows(self, name: str) -> tuple[AttemptRow, ...]:
        explained = self.explained(name)
        return () if explained is None else explained.rows()

    def event_rows(self) -> tuple[EventRow, ...]:
        """A row for every scored event, with where its nearest attempt stopped."""
        found, labelled, prepared, _ = self.evaluated()
        nearest = NearestAttempts(self.study.front_end, found, labelled, Signal(prepared, labelled))
        return event_rows(found, labelled, prepared, [nearest.of(i).sentence for i in range(len(labelled.owners))])


def _remark(item: Item, recording: Recording) -> str:
    length = trimmed(recording, item.trim).duration_s
    parts = [item.about.placement, f"{length:.0f} s", in_words(item.trim), f"{recording.rate_hz:g} Hz"]
    parts += ["calibrated"] if item.calibration is not None else []
    parts += ["turned"] if item.axes is not None else []
    if recording.gaps:
        parts.append(f"{recording.gaps} gap" + ("s" if recording.gaps > 1 else ""))
    if recording.clipped:
        parts.append(f"{recording.clipped} sample{'s' if recording.clipped > 1 else ''} clipped")
    return " · ".join(part for part in parts if part)

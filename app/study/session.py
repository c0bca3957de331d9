"""The open study with its samples: what the window and the commands both drive. No Qt.

Slow work (`read`, `load`, `prepare`) changes nothing by itself and may run on another thread; what it made is
taken over by `take`, `take_loaded`, `take_prepared` on the one thread that owns the session.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from app.formatting import plural
from app.study import actions
from app.study.history import History, Log
from app.study.importing import sources
from app.study.importing.sources import without_repeats
from app.study.memo import Memo
from app.study.pipeline import Cancelled, Evaluated, Prepared, Progress, StudyEvents, evaluate, fits, label, prepare
from app.study.recordings import samples
from app.study.recordings.device_signal import seen_through
from app.study.recordings.nodes import share_labels
from app.study.recordings.trim import in_words, trimmed
from app.study.report import digests
from app.study.results import worth
from app.study.results.confounds import Confounding
from app.study.results.content import AttemptRow, EventRow, Results, StandingWarning, Trace
from app.study.results.explanation import Explained, NearestAttempts, Signal
from app.study.results.readout import Bystanders, event_rows, recording_rows, score_view
from app.study.results.standing_warnings import Warnings
from app.study.results.worth import Worth
from app.study.sealed import disclosure, sealed_set
from app.study.state import Item, Study
from app.study.storage import study_files
from app.study.storage.study_files import Chosen, WindowState
from data.recipe.preview import gaps_and_clipping
from data.recipe.recipe import Recipe
from data.recordings.batch import Batch
from data.recordings.model import Recording
from data.study.seal_record import SealRecord
from data.study.study_file import digest_of
from detect.rule.explanation import StageSpan
from detect.rule.front_end import FrontEnd
from detect.rule.settings import Settings
from detect.scoring.score import OUTCOMES


class Session:
    """One study, its history, its samples, and results that are made again only as far as needed."""

    def __init__(self, study: Study | None = None, path: Path | None = None) -> None:
        self.history = History(sealed_set.parted(study or Study()))
        self.path = path
        self.left = WindowState()
        self.library: dict[str, Recording] = {}
        """Samples of the study's recordings; those under the seal are not among them."""
        self._under_seal: dict[str, Recording] = {}
        self._saved = self.study
        self._begun_here = path is None
        self.on_disk = "" if path is None else digest_of(path)
        """SHA-256 of the study's file as it was opened or saved here."""
        self._prepared: Prepared | None = None
        self.memo = Memo()
        """Of what follows from the open study."""
        self.tried = Log()
        self._read_so_far = "", 0

    @classmethod
    def opened(cls, path: Path) -> Session:
        """A session on a saved study, its samples read. Raises Problem where the study can't be read."""
        before = digest_of(path)  # a change while it is read makes it another file
        study, left = study_files.opened(path)
        session = cls(study, path)
        session.left, session.on_disk = left, before
        session.take_loaded(samples.load_all(sealed_set.whole(session.study).items))
        session._saved = session.study
        return session

    def copied(self) -> Session:
        """Another session on the study as it is now, which may work on another thread; the samples are shared."""
        own = Session(self.study, self.path)
        own.library, own._under_seal = dict(self.library), dict(self._under_seal)
        return own

    @property
    def study(self) -> Study:
        return self.history.study

    @property
    def names_there(self) -> list[str]:
        """Recordings of the study whose samples are there, in its order: of what was undone the library has them too.
        """
        return [item.name for item in self.study.items if item.name in self.library]

    @property
    def dirty(self) -> bool:
        """Whether anything would be lost without saving."""
        return self.study != self._saved

    # What changes the study.

    def act(self, study: Study, done: str, gesture: str = "") -> bool:
        changed = self.history.do(sealed_set.parted(share_labels(self.study, study)), done, gesture)
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
        """Settings and front end from a file, with what a search said of them."""
        return self.act(actions.use_chosen(self.study, chosen.settings, chosen.front_end, chosen.tuned), done)

    def take_batch(self, batch: Batch, recipe: Recipe, keep_same: bool = True, opening: str = "") -> Batch:
        """What `importing.read` made of files and label tables, as one step; the part of it that may be told.
        `keep_same`: also what has the same content as a recording of another name. Batches that follow each other with
        one non-empty `opening` are one step: undo takes back what was refused at first and read with options then."""
        batch = without_repeats(self.study, disclosure.told_apart(self.study, batch), keep_same)
        items, recordings = sources.items_of(batch)
        study = actions.add_items(sources.started_by(self.study, recipe), items)
        shown = disclosure.unveiled(study, batch)
        known = {item.name for item in sealed_set.whole(study).items}
        self.library.update({name: one for name, one in recordings.items() if name in known})
        before = self._read_so_far[1] if opening and self._read_so_far[0] == opening == self.history.step.gesture else 0
        self._read_so_far = opening, before + len(shown.read)
        self.act(study, f"read {plural(self._read_so_far[1], 'recording')}", opening)
        return shown

    def take_loaded(self, loaded: Iterable[samples.Loaded]) -> None:
        """Samples of the study's own items. Not a step of the history: the study is as it was saved."""
        study = sealed_set.whole(self.study)
        for one in loaded:
            if one.recording is not None:
                self.library[one.item.name] = one.recording
        changed = {one.item.name: one.item for one in loaded}
        items = tuple(changed.get(item.name, item) for item in study.items)
        clean = not self.dirty
        self.history = History(sealed_set.parted(replace(study, items=items)))
        self._keep_apart()
        if clean:
            self._saved = self.study

    def save(self, path: Path) -> None:
        """Raises Problem where the place can't be written; the study stays unsaved then, and as it was."""
        record = sealed_set.covered(self.study, sealed_set.now())
        if record is not self.study.seal:
            self._seal_everywhere(self.study.sealed, record)
        study_files.save(self.study, path, self.left)
        self.path, self.on_disk = path, digest_of(path)
        self.history.everywhere(lambda study: replace(study, title=path.stem))
        self._saved = self.study

    def recover(self, study: Study) -> None:
        """Take up a recovery copy, as one step that can be undone; the longer record of the seal holds."""
        longer = study if study.seal.begins_with(self.study.seal) else self.study
        self.act(study, "recover unsaved changes")
        self._seal_everywhere(longer.sealed, longer.seal)

    # The sealed set: no step of the history, so that undo neither shows what is sealed nor forgets an opening.

    def seal(self, people: Sequence[str], when: str) -> None:
        """Put people aside. Raises Problem where nobody is named who could be."""
        seen = sealed_set.seen_before(self.study, len(self.tried), self._begun_here)
        self._seal_everywhere(*sealed_set.sealed_too(self.study, people, seen, when))
        self.tried = Log()  # its scores were with them
        silence = disclosure.Silence([*self.study.sealed, *(item.name for item in self.study.under_seal)])
        self.history.reword(lambda done: "a change to what is sealed" if silence.mentions(done) else done)

    def release(self, people: Sequence[str], when: str) -> None:
        """Take sealed people back among the others, as was just written into the study's file. Raises Problem where
        somebody is not sealed."""
        released = sealed_set.released(self.study, people, when)
        self._seal_everywhere(*released)
        self._note_file()
        self._saved = sealed_set.resealed(self._saved, *released)
        self.tried = Log()

    def record(self, seal: SealRecord) -> None:
        """The record of the seal as it was just written into the study's file."""
        self._seal_everywhere(self.study.sealed, seal)
        self._note_file()
        self._saved = sealed_set.resealed(self._saved, self.study.sealed, seal)

    def forget(self, change: Callable[[Study], Study], names: Collection[str], reworded: Callable[[str], str]) -> None:
        """Take recordings out of every state the study had, of the samples and of all that followed from them. No step:
        nothing brings them back."""
        self.history.everywhere(change)
        self.history.reword(reworded)
        self.library = {name: one for name, one in self.library.items() if name not in names}
        self._under_seal = {name: one for name, one in self._under_seal.items() if name not in names}
        self.left, self.tried, self._prepared, self._read_so_far = WindowState(), Log(), None, ("", 0)
        self.memo.clear()

    def _note_file(self) -> None:
        self.on_disk = "" if self.path is None else digest_of(self.path)

    def _seal_everywhere(self, sealed: tuple[str, ...], seal: SealRecord) -> None:
        made: dict[tuple[int, int], Study] = {}  # steps that share their items go on sharing them

        def changed(study: Study) -> Study:
            key = id(study.items), id(study.under_seal)
            before = made.setdefault(key, sealed_set.resealed(study, sealed, seal))
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

    def prepare(self, progress: Progress | None = None, cancelled: Cancelled | None = None) -> Prepared:
        """The slow step, for the open study. Safe on another thread; hand the outcome to `take_prepared`."""
        return prepare(self.study, self.library, progress, cancelled)

    def take_prepared(self, prepared: Prepared) -> None:
        self._prepared = prepared
        self.memo.clear()

    def results(self) -> Results:
        """Of the open study; prepared first where that is needed."""
        began = time.perf_counter()
        found = self.found()
        return self.memo.of("results", (self.study, found), lambda: self._make_results(began))

    def _make_results(self, began: float) -> Results:
        study = self.study
        found, labelled, prepared, bystanders = self.evaluated()
        before = self._outcomes_under_mark(prepared, labelled)
        rows = recording_rows(study, found, labelled, bystanders)
        view = score_view(study, found, bystanders, rows, before, labelled)
        took = (time.perf_counter() - began) * 1000
        worthy = self.worth()
        view = replace(view, warnings=self.warnings(), worth=None if worthy is None else worth.view(worthy))
        self.tried.note(self.history.step, found.score)
        return Results(study, found.rule, rows, view, took, prepared.hours)

    def evaluated(self) -> tuple[Evaluated, StudyEvents, Prepared, Bystanders]:
        """What the results are made from, for whoever shows more of it."""
        study = self.study
        if not self.ready:
            self.take_prepared(self.prepare())
        prepared = self._prepared
        assert prepared is not None
        scored = study.items, study.widening, study.annotator, study.node
        labelled = self.memo.of("labelled", (prepared, *scored), lambda: label(study, prepared))
        bystanders = self.memo.of("bystanders", (labelled,), lambda: Bystanders(study, prepared, labelled))
        return self._under("current", study.settings, prepared, labelled), labelled, prepared, bystanders

    def other_side(self, settings: Settings) -> Evaluated:
        """The open study under the settings of the other side. BadSetting where the front end forbids it."""
        _, labelled, prepared, _ = self.evaluated()
        return self._under("other side", settings, prepared, labelled)

    def _under(self, name: str, settings: Settings, prepared: Prepared, labelled: StudyEvents) -> Evaluated:
        return self.memo.of(name, (settings, labelled), lambda: evaluate(settings, prepared, labelled))

    def found(self) -> Evaluated:
        """Attempts and score of the open study."""
        return self.evaluated()[0]

    def bystanders(self) -> Bystanders:
        return self.evaluated()[3]

    def confounding(self) -> Confounding:
        """What else tells falls from other activities: computed once for samples and labels."""
        _, labelled, prepared, _ = self.evaluated()
        return self.memo.of("confounding", (labelled,), lambda: Confounding(prepared, labelled))

    def warnings(self) -> tuple[StandingWarning, ...]:
        """What lessens the worth of every figure, the worst first."""
        found, labelled, prepared, bystanders = self.evaluated()
        standing = self.memo.of("warnings", (labelled,), lambda: Warnings(prepared, labelled, bystanders,
                                                                          self.confounding()))
        return standing.of(self.study, found)

    def digests(self) -> tuple[str, str]:
        """SHA-256 of the scored recordings and of their labels; the same in any order."""
        study, library = self.study, self.library
        return self.memo.of("digests", (study.items, study.annotator, tuple(library)), lambda: digests.of(
            [item for item in study.items if item.scored and item.name in library], study.annotator))

    def scoring(self) -> dict[str, str]:
        """SHA-256 of what else the score hangs on, beside settings and sensor: one for each of `digests.SCORING`."""
        study, library = self.study, self.library
        sources = study.items, study.node, study.widening, tuple(library)
        return self.memo.of("scoring", sources, lambda: digests.of_scoring(
            study, [item for item in study.items if item.scored and item.name in library]))

    def worth(self, settings: Settings | None = None, front_end: FrontEnd | None = None) -> Worth | None:
        """What settings are worth that a search found, the current ones unless others are given; None where none
        did."""
        study = self.study
        if not study.tuned:
            return None
        return worth.worth_of(study, settings or study.settings, front_end or study.front_end, self.digests(),
                              self.scoring())

    def refusals(self) -> tuple[str, ...]:
        """Why files of the study could not be read, a sentence each."""
        return tuple(item.refused for item in self.study.items if item.refused)

    def _outcomes_under_mark(self, prepared: Prepared, labelled: StudyEvents) -> np.ndarray | None:
        mark = self.study.mark
        return None if mark is None else self._under("mark", mark, prepared, labelled).score.outcome

    # One recording, looked at closely.

    def explained(self, name: str) -> Explained | None:
        """What the rule did in one recording; None for one without samples."""
        found, _, prepared, bystanders = self.evaluated()
        at = bystanders.position.get(name)
        if at is None:
            return None
        before = self.memo.last("explained")
        return self.memo.of("explained", (found, prepared.seen[at]),
                            lambda: Explained(self.study, found, prepared, at, before))

    def trace(self, name: str) -> Trace | None:
        """The recording as the device sees it; None where its file was refused."""
        item, recording = self.study.item(name), self.library.get(name)
        if item is None or recording is None:
            return None
        if self.ready and self._prepared is not None and name in self._prepared.names:
            seen = self._prepared.seen[self._prepared.names.index(name)]
        else:
            seen = seen_through(item, recording, self.study.front_end)
        return Trace(item, seen.counts, self.study.front_end.k, seen.timeline, _remark(item, recording))

    def stages(self, name: str) -> tuple[tuple[StageSpan, ...], tuple[int, ...], tuple[int, ...]]:
        """Where the rule was at each sample, and the samples of alarms and impacts."""
        explained = self.explained(name)
        return ((), (), ()) if explained is None else explained.stages()

    def attempt_rows(self, name: str) -> tuple[AttemptRow, ...]:
        explained = self.explained(name)
        return () if explained is None else explained.rows()

    def event_rows(self, outcomes: Collection[str] = OUTCOMES) -> tuple[EventRow, ...]:
        """A row for every scored event of these outcomes, with where its nearest attempt stopped."""
        found, labelled, prepared, _ = self.evaluated()
        nearest = NearestAttempts(self.study.front_end, found, labelled, Signal(prepared, labelled))
        wanted = [i for i, code in enumerate(found.score.outcome.tolist()) if OUTCOMES[code] in outcomes]
        return event_rows(found, labelled, prepared, {i: nearest.of(i).sentence for i in wanted})


def _remark(item: Item, recording: Recording) -> str:
    length = trimmed(recording, item.trim).duration_s
    parts = [item.about.placement, f"{length:.0f} s", in_words(item.trim), f"{recording.rate_hz:g} Hz"]
    parts += ["calibrated"] if item.calibration is not None else []
    parts += ["turned"] if item.axes is not None else []
    return " · ".join(part for part in (*parts, *gaps_and_clipping(recording.gaps, recording.clipped)) if part)

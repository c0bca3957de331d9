"""Label tables on their way into a study: what columns mean, conflicts and ways out of them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from app.study.labels import conflicts as label_conflicts
from app.study.labels.conflicts import AS_IT_IS, CUT, EXCHANGE, INSTEAD, LEAVE_OUT, OF, SOMEBODY_ELSE, outcome
from app.study.labels.tables import FoundTable, guess, open_table
from app.study.state import Item, Study
from data.problem import Problem
from data.recipe.sections import LabelTable
from data.recordings.model import About, Label, Recording, Stretch

NAMES = ("kerb/W1_1_acc", "kerb/W2_1_acc", "rake/W1_1_acc")
RECORDINGS = [Recording(name, np.zeros((1001, 3)), "g", 50, 50, True, (Stretch(0, 0.0, 0.02),),
                        about=About(activity=name.split("/")[0])) for name in NAMES]


def table(tmp_path: Path, *lines: str) -> FoundTable:
    path = tmp_path / "labels.csv"
    path.write_text("\ufeff" + "\r\n".join(lines) + "\r\n", encoding="utf-8")
    return open_table(path)


def labels(found: label_conflicts.Outcome, name: str = NAMES[0]) -> list[tuple[float | None, float | None]]:
    return [(label.onset_s, label.end_s) for label in found.labels.get(name, ())]


def test_columns_are_told_by_their_names_and_by_what_is_in_them(tmp_path):
    found = guess(table(tmp_path, "file;start_time;end_time;notes", "kerb/W1_1;1,5;2,5;hard", "kerb/W2_1;3;4;"),
                  RECORDINGS, LabelTable())
    spec = found.spec
    assert (spec.key, spec.onset, spec.end, spec.comment) == ("file", "start_time", "end_time", "notes")
    assert found.reasons["key"] == "2 of 2 rows name a recording of the study in it"
    assert spec.falls == ("kerb",)
    assert found.reasons["falls"] == "the table is about no other activities than kerb"


def test_an_events_table_is_known_by_its_columns(tmp_path):
    events = table(tmp_path, "onset\tduration\ttrial_type\trecording", "1\t2\tfall\tkerb/W1_1_acc")
    spec = guess(events, RECORDINGS, LabelTable()).spec
    assert (spec.key, spec.onset, spec.duration, spec.name) == ("recording", "onset", "duration", "trial_type")
    assert labels(outcome(events, RECORDINGS, spec)) == [(1, 3)]


def test_without_telling_names_the_columns_of_numbers_are_taken_and_their_unit_by_the_lengths(tmp_path):
    found = guess(table(tmp_path, "a,b,c", "kerb/W1_1,1500,2500", "kerb/W2_1,12000,13000"), RECORDINGS, LabelTable())
    assert (found.spec.key, found.spec.onset, found.spec.end, found.spec.time) == ("a", "b", "c", "ms")
    assert found.reasons["time"] == "in seconds 2 labels lie outside their recordings, in ms 0"


def test_what_a_recipe_says_already_is_kept(tmp_path):
    known = LabelTable(key="file", onset="from", end="to", falls=("kerb", "porch"))
    found = guess(table(tmp_path, "file,from,to", "kerb/W1_1,1,2"), RECORDINGS, known)
    assert found.spec == known


@pytest.mark.parametrize("raw", [b"", b"onset,end\n", b"\0\1\2"])
def test_what_is_no_table_is_refused_with_its_name(tmp_path, raw):
    (tmp_path / "x.csv").write_bytes(raw)
    with pytest.raises(Problem) as caught:
        open_table(tmp_path / "x.csv")
    assert caught.value.file == "x.csv"


SPEC = LabelTable(key="file", onset="start", end="end", falls=("kerb",))
HEADER = "file,start,end"


def conflict(found: label_conflicts.Outcome):
    (one,) = found.conflicts
    return one


def test_a_reversed_label_is_exchanged_or_left_out(tmp_path):
    rows = table(tmp_path, HEADER, "kerb/W1_1,1,2", "kerb/W1_1,6,5")
    one = conflict(outcome(rows, RECORDINGS, SPEC))
    assert (one.line, one.problem.kind, one.ways) == (3, "label_reversed", (LEAVE_OUT, EXCHANGE))
    taken = outcome(rows, RECORDINGS, SPEC, {3: EXCHANGE})
    assert (labels(taken), taken.conflicts) == ([(1, 2), (5, 6)], ())
    left = outcome(rows, RECORDINGS, SPEC, {3: LEAVE_OUT})
    assert (labels(left), left.conflicts) == ([(1, 2)], ())


def test_an_unknown_recording_is_named_from_those_like_it(tmp_path):
    rows = table(tmp_path, HEADER, "kerb/W1_one,1,2")
    one = conflict(outcome(rows, RECORDINGS, SPEC))
    assert one.problem.kind == "label_unknown"
    assert OF + NAMES[0] in one.ways
    taken = outcome(rows, RECORDINGS, SPEC, {2: OF + NAMES[0]})
    assert (labels(taken), taken.conflicts) == ([(1, 2)], ())


@pytest.mark.parametrize(("way", "times"), [(LEAVE_OUT, [(1, 4)]), (INSTEAD, [(3, 6)]), (CUT, [(1, 4), (4, 6)]),
                                            (SOMEBODY_ELSE, [(1, 4), (3, 6)])])
def test_of_two_that_overlap_one_gives_way_or_both_stand(tmp_path, way, times):
    rows = table(tmp_path, HEADER, "kerb/W1_1,1,4", "kerb/W1_1,3,6")
    one = conflict(outcome(rows, RECORDINGS, SPEC))
    assert (one.line, one.problem.kind) == (3, "label_overlap")
    assert way in one.ways
    taken = outcome(rows, RECORDINGS, SPEC, {3: way})
    assert (labels(taken), taken.conflicts) == (times, ())


@pytest.mark.parametrize(("way", "times"), [(AS_IT_IS, [(18, 25)]), (CUT, [(18, 20)]), (LEAVE_OUT, [])])
def test_a_label_past_the_end_is_taken_cut_or_left_out(tmp_path, way, times):
    rows = table(tmp_path, HEADER, "kerb/W1_1,18,25")
    one = conflict(outcome(rows, RECORDINGS, SPEC))
    assert (one.problem.kind, one.ways[0]) == ("label_edge", AS_IT_IS)
    taken = outcome(rows, RECORDINGS, SPEC, {2: way})
    assert (labels(taken), taken.conflicts) == (times, ())


def test_a_label_outside_or_there_twice_or_without_a_time_is_left_out(tmp_path):
    rows = table(tmp_path, HEADER, "kerb/W1_1,1,2", "kerb/W1_1,1,2", "kerb/W2_1,50,51", "kerb/W2_1,soon,51")
    found = outcome(rows, RECORDINGS, SPEC)
    assert [(one.line, one.problem.kind, one.ways) for one in found.conflicts] == [
        (3, "label_twice", (LEAVE_OUT,)), (4, "label_outside", (LEAVE_OUT,)), (5, "label_time", (LEAVE_OUT,))]
    assert found.sentence() == "2 labels for 2 recordings, 1 of them a fall; 3 rows in conflict."
    after = outcome(rows, RECORDINGS, SPEC, {3: LEAVE_OUT, 4: LEAVE_OUT, 5: LEAVE_OUT})
    assert after.conflicts == ()


def test_a_tables_labels_replace_those_of_its_recordings_or_stand_beside_somebody_elses():
    mine = Label("fall", "kerb", 1, 2, annotator="AB")
    study = Study(items=tuple(Item(name, f"/{name}", labels=(mine,)) for name in NAMES[:2]))
    new = {NAMES[0]: (Label("fall", "kerb", 1.2, 2.2, annotator="CD"),)}
    replaced = label_conflicts.taken(study, new, None)
    assert [item.labels for item in replaced.items] == [new[NAMES[0]], (mine,)]
    beside = label_conflicts.taken(study, new, "CD")
    assert beside.items[0].labels == (mine, *new[NAMES[0]])
    again = label_conflicts.taken(beside, new, "CD")
    assert again == beside

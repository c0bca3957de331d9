"""Falls of which nobody knows when they were: the whole recording first, then a proposal that is marked as one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from data.labels.checks import LabelledRecording, label_findings
from data.labels.onsets import AFTER_S, BEFORE_S, UsualFall, propose_onset, usual_fall
from data.labels.table import assign, fits, is_fall, read_label_table, write_events
from data.recipe.recipe import recipe_from_toml, recipe_to_toml
from data.recipe.sections import LabelTable
from data.recordings.batch import read_sources
from data.recordings.model import About, Label, Recording, Stretch
from tests.data.made import csv_text

RNG = np.random.default_rng(3)


def worn(impacts: dict[float, float], activity: str = "", name: str = "a", seconds: float = 30.0) -> Recording:
    samples = RNG.normal((0, 1, 0), 0.02, (int(50 * seconds), 3))
    for at, size in impacts.items():
        samples[round(at * 50), 1] = size
    return Recording(name, samples, "g", 50, 50, True, (Stretch(0, 0.0, 0.02),), about=About(activity=activity))


def test_one_switch_makes_the_whole_recording_of_a_fall_its_event():
    recordings = [worn({}, "F01", "a"), worn({}, "D01", "b"), worn({}, "", "c")]
    spec = LabelTable(falls=("F*",))
    assert assign([], recordings, spec)[0] == {"b": (Label("other", "D01", None, None),)}
    recipe = recipe_from_toml('[labels]\nfalls = ["F*"]\nwhole_recordings = true\n')
    assert recipe_from_toml(recipe_to_toml(recipe)) == recipe
    assert assign([], recordings, recipe.labels)[0] == {
        "a": (Label("fall", "F01", None, None),), "b": (Label("other", "D01", None, None),)}


def test_a_recording_with_a_row_of_its_own_is_not_labelled_as_a_whole():
    rows, _ = read_label_table(b"recording\tonset\tduration\ttrial_type\na\t3\t1\tF01\n", "e.tsv", LabelTable())
    labels, _ = assign(rows, [worn({}, "F01")], LabelTable(falls=("F*",), whole_recordings=True))
    assert labels == {"a": (Label("fall", "F01", 3.0, 4.0),)}


@pytest.mark.parametrize(("pattern", "name", "whether"), [
    ("F*", "F01", True), ("F*", "D01", False), ("*fall*", "a fall back", True), ("a*a", "a", False),
    ("F01", "F011", False), ("F??", "F01", False), ("[F]01", "F01", False), ("*", "", True), ("a**b", "ab", True)])
def test_a_star_stands_for_any_letters_and_nothing_else_does(pattern, name, whether):
    assert fits(pattern, name) is whether
    assert is_fall(name, (pattern,)) is whether


def test_many_stars_take_no_time():
    assert not fits("*a" * 2000 + "b", "a" * 20_000)


def test_an_onset_is_proposed_from_the_largest_impact():
    found = propose_onset(worn({9.0: 3.0, 12.0: 6.0}), UsualFall())
    assert (found.impact_s, found.impact_g) == (pytest.approx(12.0), pytest.approx(6.0, abs=0.1))
    assert (found.onset_s, found.end_s) == (pytest.approx(12 - BEFORE_S), pytest.approx(12 + AFTER_S))
    assert found.rival_s is None
    twice = propose_onset(worn({9.0: 5.5, 12.0: 6.0}), UsualFall())
    assert twice.rival_s == pytest.approx(9.0)
    assert propose_onset(worn({}), UsualFall()) is None


@given(st.floats(0, 29.9))
def test_a_proposal_never_reaches_past_its_recording(at):
    found = propose_onset(worn({at: 6.0}), UsualFall(5, 5))
    assert 0 <= found.onset_s <= found.impact_s <= found.end_s <= 29.98


def test_labelled_falls_say_better_how_long_before_the_impact_an_onset_is():
    known = [(worn({10.0: 5.0}), (Label("fall", "", 10 - before, 12.0),), 1.0) for before in (0.9, 1.0, 1.1, 1.2)]
    assert usual_fall(known) == UsualFall(pytest.approx(1.05), pytest.approx(2.0), 4)
    assert usual_fall(known[:3]) == UsualFall()
    proposed = [(one, (Label("fall", "", 1.0, 12.0, proposed=True),), 1.0) for one, _, _ in known]
    assert usual_fall(proposed) == UsualFall(), "a proposal says nothing of what an annotator sees"


def test_every_proposal_is_listed_to_be_looked_at_and_is_no_yardstick_for_others():
    label = Label("fall", "F01", 11.2, 12.7, proposed=True)
    (found,) = label_findings([LabelledRecording(worn({9.0: 5.5, 12.0: 6.0}), (label,))])
    assert (found.kind, found.label) == ("proposed", 0)
    assert "is proposed from the impact of 6.0 g at 12.00 s; another of 5.5 g lies at 9.00 s" in found.sentence


def test_a_proposed_label_is_marked_in_an_events_table_and_comes_back():
    labels = {"a": (Label("fall", "F01", 1.0, 2.0, proposed=True), Label("fall", "F01", 5.0, 6.0))}
    text = write_events(labels, {"a": worn({})})
    rows, problems = read_label_table(text.encode(), "all_events.tsv", LabelTable())
    assert problems == []
    assert assign(rows, [worn({})], LabelTable())[0] == labels
    assert "proposed" not in write_events({"a": labels["a"][1:]}, {"a": worn({})})


def test_a_part_of_the_files_name_says_whether_it_is_a_fall(tmp_path):
    for name in ("W01_Fall_backward_2024", "W01_ADL_walk_2024", "W02_Fall_side_2023"):
        (tmp_path / f"{name}.csv").write_text(csv_text())
    recipe = recipe_from_toml('[files]\npattern = "{person}_{kind}_{activity}_{date}.csv"\n'
                              '[labels]\nfalls = ["Fall"]\nfall_field = "kind"\nwhole_recordings = true\n')
    assert recipe_from_toml(recipe_to_toml(recipe)) == recipe
    batch = read_sources([tmp_path], recipe)
    assert {one.recording.name: one.labels for one in batch.read} == {
        "W01_ADL_walk_2024": (Label("other", "walk", None, None),),
        "W01_Fall_backward_2024": (Label("fall", "backward", None, None),),
        "W02_Fall_side_2023": (Label("fall", "side", None, None),)}
    assert batch.read[0].recording.about.properties == (("kind", "ADL"), ("date", "2024"))


def test_rows_without_an_activity_of_their_own_go_by_that_part_too(tmp_path):
    for name in ("W01_Fall_1", "W01_ADL_1"):
        (tmp_path / f"{name}.csv").write_text(csv_text())
    (tmp_path / "key.csv").write_text("file,from,to\nW01_Fall_1,1,2\nW01_ADL_1,1,2\n")
    recipe = recipe_from_toml('[files]\npattern = "{person}_{kind}_{trial}.csv"\n[labels]\nkey = "file"\n'
                              'onset = "from"\nend = "to"\nfalls = ["Fall"]\nfall_field = "kind"\n')
    batch = read_sources([tmp_path / "W01_Fall_1.csv", tmp_path / "W01_ADL_1.csv"], recipe, [tmp_path / "key.csv"])
    assert [label.kind for one in batch.read for label in one.labels] == ["fall", "other"]

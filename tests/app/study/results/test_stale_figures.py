"""What people left out came to was scored in one way: where anything of that way changes, the figure says so, in every
place where it stands."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace

import pytest

from app.study import actions
from app.study.recordings.nodes import ANY
from app.study.report import dossier, handover, kept_results
from app.study.results import worth
from app.study.results.views import Views
from app.study.sealed import openings
from app.study.session import Session
from app.study.state import Item, Study, Widening
from app.study.storage.study_files import from_file, plain_front_end, to_file
from data.recipe.recipe import Recipe
from data.recipe.sections import Axes, Units
from data.recordings.model import Calibration, Label, Recording, Shift, Trim
from data.study import seal_record, study_file
from data.study.seal_record import SealEntry, SealRecord
from data.study.tuned_record import PersonCounts, TunedRecord
from detect.firmware.header.identity import identity
from detect.rule.integers import rule_of
from detect.rule.settings import DEFAULTS
from tests.app.study_made import made, session_of, story

FOUND = DEFAULTS.with_value("impact_g", 1.65).with_value("still_g", 0.25)
PEOPLE = (PersonCounts("W01", (3, 0, 0, 1), (2, 1, 1, 0)), PersonCounts("W02", (3, 0, 0, 1), (2, 1, 0, 1)))
FALL = "W01 trip 1"
OFFSET = Calibration((0.1, 0.0, 0.0), (1.0, 1.0, 1.0), "rest", 0.1, 0.0, 3)


def on_two_nodes() -> list[tuple[Item, Recording]]:
    """The made recordings, a fall of them with a second node, on whose ankle the impact was too weak."""
    both = []
    for item, samples in made():
        node = "waist" if item.name == FALL else ""
        both.append((replace(item, about=replace(item.about, node=node), group="trip" if node else "",
                             labels=tuple(replace(one, annotator="A") for one in item.labels)), samples))
    item, samples = next(one for one in both if one[0].name == FALL)
    ankle = replace(item, name=f"{FALL} ankle", sha256="ankle", about=replace(item.about, node="ankle"))
    return [*both, (ankle, replace(samples, name=ankle.name, samples=story(impact_g=1.5)))]


@pytest.fixture
def tuned() -> Session:
    """What a search found is used, as by *Use these settings*."""
    session = session_of(on_two_nodes())
    record = TunedRecord(FOUND.plain(), plain_front_end(session.study.front_end), ("impact_g", "still_g"),
                         "Youden's J", *session.digests(), 11, PEOPLE, before={"impact_g": 2.0, "still_g": 0.15},
                         scoring=session.scoring())
    session.act(actions.use_chosen(session.study, FOUND, session.study.front_end, record), "found settings")
    return session


def _item(**changes: object) -> Callable[[Study], Study]:
    return lambda study: study.with_item(replace(study.item(FALL), **changes))


def _offset(study: Study) -> Study:
    return actions.set_clock(study, [FALL], Shift(offset_s=0.3))


def _labels(kind: str, onset_s: float | None, end_s: float | None) -> Callable[[Study], Study]:
    return _item(labels=(Label(kind, "trip", onset_s, end_s, annotator="A"),))


CHANGES: dict[str, tuple[Callable[[Study], Study], str]] = {
    "another node": (lambda study: actions.score_node(study, "ankle"), "node scored"),
    "an alarm of any node": (lambda study: actions.score_node(study, ANY), "node scored"),
    "match window": (lambda study: actions.set_widening(study, Widening(0.5, 3.0)), "match window"),
    "annotator": (lambda study: actions.score_labels_of(study, "B"), "labels"),
    "whose recording": (lambda study: actions.describe(study, [FALL], {"person": "W03"}), "people"),
    "staged or free-living": (lambda study: actions.describe(study, ["W01 day 1"], {"setting": "staged"}),
                              "staged or free-living"),
    "left out": (lambda study: actions.leave_out(study, [FALL], "slipped off"), "recordings"),
    "removed": (lambda study: actions.remove_items(study, [FALL]), "recordings"),
    "trimmed": (_item(trim=Trim(1.0, 0.0)), "recordings"),
    "calibration": (lambda study: actions.calibrate(study, [FALL], OFFSET),
                    "calibration"),
    "orientation": (lambda study: actions.set_axes(study, [FALL], Axes(up="x", forward="z")), "orientation"),
    "unit": (_item(recipe=Recipe(units=Units(acceleration="mg"))), "how files are read"),
    "rate": (_item(rate_hz=100.0), "how files are read"),
    "label time offset": (_offset, "labels"),
    "fall codes": (_labels("other", 9.5, 11.5), "labels"),
    "whole recording": (_labels("fall", None, None), "labels"),
    "sensor": (lambda study: actions.set_front_end(study, replace(study.front_end, highest_counts=1800)), "sensor"),
}


@pytest.mark.parametrize("change", CHANGES)
def test_whatever_the_score_hangs_on_makes_the_left_out_figure_stale_when_it_changes(tuned, change):
    changed, words = CHANGES[change]
    found = tuned.worth()
    assert (found.changed, found.stale) == ((), ())
    tuned.act(changed(tuned.study), change)
    found = tuned.worth()
    assert words in (*found.changed, *found.stale)
    tuned.undo()
    assert tuned.worth().stale == ()


def test_of_other_recordings_it_is_not_said_that_all_else_is_other_too(tuned):
    tuned.act(actions.set_widening(actions.leave_out(tuned.study, ["W01 walk 1"], "too short"), Widening(0.5, 3.0)), "")
    assert tuned.worth().stale == ("recordings", "labels", "match window")


def test_what_the_score_does_not_hang_on_leaves_it_as_it_was(tuned):
    for changed in (actions.set_device_value(tuned.study, "current.sleeps", "until woken"),
                    actions.describe(tuned.study, [FALL], {"trial": "7"}),
                    replace(tuned.study, notes="read again"),
                    actions.score_node(tuned.study, "waist"),
                    actions.move_files(tuned.study, {FALL: ("/elsewhere/trip.csv",)})):
        tuned.act(changed, "no matter")
        assert tuned.worth().stale == ()


def test_another_node_is_told_in_every_place_where_the_left_out_figure_stands(tuned):
    before = tuned.results().score
    assert "changed since" not in " ".join(worth.top_lines(before))
    tuned.act(actions.score_node(tuned.study, "ankle"), "ankle")
    said = "changed since the search: node scored"
    score = tuned.results().score
    assert score.counts["tp"] == before.counts["tp"] - 1  # it is another score
    assert score.worth.changed.startswith(said)
    assert "changed since the search" in worth.top_lines(score)[1]
    assert said in " ".join(handover.header(tuned).split()).replace(" * ", " ")
    assert json.loads(handover.params_json(tuned))["tuned"]["changed_since"] == ["node scored"]
    row = next(row for row in Views(tuned).history() if row.in_hand)
    assert row.left_out == "0.17, changed since"
    found = dossier.dossier(tuned)
    assert {one.of for one in found.headlines[:2]} == {"people left out, changed since the search"}
    page = dossier.page_of(tuned, found)
    assert said in page
    assert "these settings catch is not known: something changed since the search" in page


def test_the_study_keeps_how_a_search_was_scored(tuned, tmp_path):
    text = study_file.to_json(to_file(tuned.study), tmp_path)
    again = from_file(study_file.from_json(text, tmp_path), "again")
    assert again.tuned == tuned.study.tuned
    assert again.tuned[0].scoring == tuned.scoring()


def test_a_record_of_before_that_was_kept_is_not_called_stale(tuned, tmp_path):
    plain = json.loads(study_file.to_json(to_file(tuned.study), tmp_path))
    plain["plumbfall_study"] = 5
    del plain["tuned"][0]["scoring"]
    study = from_file(study_file.from_json(json.dumps(plain), tmp_path), "old")
    old = Session(study)
    old.library = tuned.library
    assert old.worth().stale == ()


def test_results_kept_beside_the_study_are_stale_for_the_same_reasons(tuned):
    tuned.act(actions.set_widening(tuned.study, Widening()), "as it was")
    before = kept_results.inputs(tuned)
    for change in ("another node", "match window", "unit", "staged or free-living", "whose recording"):
        tuned.act(CHANGES[change][0](tuned.study), change)
        assert kept_results.inputs(tuned) != before, change
        tuned.undo()
    assert kept_results.inputs(tuned) == before


def test_an_opening_of_the_seal_says_what_was_scored_otherwise_then(tuned, tmp_path):
    tuned.save(tmp_path / "s.json")
    tuned.seal(["W02"], "2026-01-31T09:05:00Z")
    tuned.save(tmp_path / "s.json")
    openings.counted(tuned, openings.scored(tuned.study, tuned.every_recording()), "2026-01-31T09:06:00Z")
    assert "changed since that opening" not in tuned.results().score.worth.sealed
    tuned.act(actions.score_node(tuned.study, "ankle"), "ankle")
    tuned.act(actions.set_widening(tuned.study, Widening(0.5, 3.0)), "later")
    told = tuned.results().score.worth.sealed
    assert told.endswith("; changed since that opening: node scored, match window")
    assert told.split("(")[0] == "Sealed people "
    assert any("changed since that opening" in line for line in handover.worth_lines(tuned))


def test_an_opening_of_before_that_was_kept_is_not_called_changed(tuned):
    own = f"{identity(rule_of(FOUND, tuned.study.front_end), tuned.study.front_end):08X}"
    old = SealRecord((SealEntry("opened", "2026-01-31T09:05:00Z", ("W09",), 3, identity=own),))
    elsewhere = replace(actions.score_node(tuned.study, "ankle"), seal=old)
    told = worth.sealed_said(elsewhere, FOUND, tuned.study.front_end)
    assert told.startswith("Sealed people (1 person, 3 recordings)")
    assert "changed" not in told
    assert "scored_with" not in json.dumps(seal_record.to_plain(old))

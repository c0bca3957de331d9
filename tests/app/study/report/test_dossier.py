"""The report: everything a reviewer asks is in it, the same bytes each time, and what is not known says so."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from app.study import actions
from app.study.report import dossier, kept_results, pdf, rule_section, topics
from app.study.report.page import MISSING, STALE, Dossier, Section, Table
from app.study.report.plots import Scale
from app.study.results import standing_warnings
from app.study.session import Session
from app.study.storage.study_files import plain_front_end, save
from data.problem import Problem
from data.recordings.model import Label
from data.study.intended_use import IntendedUse
from data.study.tuned_record import PersonCounts, TunedRecord
from detect.rule.settings import DEFAULTS
from detect.workers import Stopped
from tests.app.study_made import FALL, IMPACT, made, session_of, story
from tests.app.study_made import one as made_one

FOUND = DEFAULTS.with_value("impact_g", 1.9)
PEOPLE = (PersonCounts("W01", (1, 2, 1, 1), (1, 2, 1, 1)), PersonCounts("W02", (1, 2, 0, 1), (0, 3, 0, 1)))


def tuned_session(folder: Path, recordings: slice = slice(None)) -> Session:
    """Saved without its recordings' files; the samples are in memory. `recordings`: only these."""
    session = session_of(made()[recordings])
    record = TunedRecord(FOUND.plain(), plain_front_end(session.study.front_end), ("impact_g",), "Youden's J",
                         *session.digests(), 10, PEOPLE)
    session.act(actions.use_chosen(session.study, FOUND, session.study.front_end, record), "found settings")
    session.act(actions.set_intended_use(session.study, IntendedUse(product="Bob 2", wearer="<b>grown</b> & old")),
                "intended use")
    session.path = folder / "study.json"
    save(session.study, session.path)
    return session


@pytest.fixture
def session(tmp_path) -> Session:
    return tuned_session(tmp_path)


def section(found: Dossier, key: str) -> Section:
    return next(one for one in found.sections if one.key == key)


def table(found: Dossier, key: str) -> Table:
    return next(one for one in dossier.tables(found) if one.key == key)


def quick(key: str) -> topics.Topic:
    return replace(next(one for one in topics.TOPICS if one.key == key))


class Tags(HTMLParser):
    """What is opened and closed, what is linked, what text there is."""

    VOID = ("meta", "link", "br", "rect", "path", "circle")

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.links: list[str] = []
        self.ids: list[str] = []
        self.text = ""

    def handle_starttag(self, tag, attrs):
        if tag not in self.VOID:
            self.open.append(tag)
        self.links += [value for name, value in attrs if name in ("href", "src", "xlink:href")]
        self.ids += [value for name, value in attrs if name == "id"]

    def handle_startendtag(self, tag, attrs):
        assert tag in self.VOID, tag

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += data


def read(page: str) -> Tags:
    tags = Tags()
    tags.feed(page)
    assert tags.open == []
    return tags


def test_the_same_study_gives_the_same_bytes(session, tmp_path):
    one = dossier.write(session, tmp_path / "one" / "r.html")
    two = dossier.write(tuned_session(tmp_path), tmp_path / "two" / "r.html")
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in two]
    assert len(one) > 20


def test_the_page_is_whole_and_asks_nothing_of_a_network(session):
    page = dossier.page_of(session, dossier.dossier(session))
    tags = read(page)
    assert [link for link in tags.links if not link.startswith("#")] == ["data:,"]
    assert {link.removeprefix("#") for link in tags.links if link.startswith("#")} <= set(tags.ids)
    assert len(tags.ids) == len(set(tags.ids))
    assert re.findall(r"url\(|@import|https?://|<img|<iframe", page) == []
    assert "<b>grown</b>" not in page
    assert "<b>grown</b> & old" in tags.text


def test_what_it_is_worth_on_others_stands_first(session):
    found = dossier.dossier(session)
    assert [(one.name, one.figure, one.of) for one in found.headlines] == [
        ("sensitivity", "16.7 %", "people left out"), ("specificity", "66.7 %", "people left out"),
        ("sensitivity", "33.3 %", "the people it was tuned on"),
        ("specificity", "66.7 %", "the people it was tuned on")]
    figures = section(found, "figures")
    assert figures.said[0] == "People left out: caught 1 of 6, false alarms 1 of 3."
    assert "Tuned on 2 people: W01, W02." in figures.said
    assert table(found, "left_out_people").rows == (("W01", "1 of 3", "1 of 2"), ("W02", "0 of 3", "0 of 1"))


def test_without_a_search_it_says_that_nobody_was_left_out(tmp_path):
    found = dossier.dossier(session_of(made()))
    assert found.headlines[0].of == "the people at hand, nobody left out"
    assert "nobody was left out of their choice" in section(found, "figures").said[0]


def test_without_unlabelled_time_nothing_is_said_of_alarms_in_it(session, tmp_path):
    assert any(said.startswith("These alarms are of people") for said in
               section(dossier.dossier(session), "daily_alarms").said)
    labelled_whole = tuned_session(tmp_path, slice(6, 9))
    assert section(dossier.dossier(labelled_whole), "daily_alarms").said == (
        "No time is unlabelled, so the false alarms a day are not known.",)


def test_a_false_alarm_that_was_judged_early_says_so():
    own = session_of([made_one("W01 flop 1", story()[:IMPACT + 20], [Label("other", "flop", None, None)]),
                      made_one("W01 flop 2", story(), [Label("other", "flop", None, None)]),
                      made_one("W01 trip 1", story(), [FALL])])
    found = section(dossier.dossier(own), "false_alarm")
    whys = {row[0]: row[-1] for row in found.tables[0].rows}
    assert whys["W01 flop 1"].startswith("alarm, early: ")
    assert whys["W01 flop 2"].startswith("alarm: ")
    assert any(said.startswith("1 of 2 false alarms were judged early: ") for said in found.said)
    assert not any("judged early" in said for said in section(dossier.dossier(own), "missed").said)


def test_every_miss_and_false_alarm_has_its_picture_and_its_reason(session):
    found = dossier.dossier(session)
    missed, false = section(found, "missed"), section(found, "false_alarm")
    assert {row[0] for row in missed.tables[0].rows} == {"W01 low 1", "W02 slide 1", "W01 writhe 1", "W02 slump 1"}
    why = {row[0]: row[4] for row in missed.tables[0].rows}
    assert why["W01 low 1"].startswith("no impact: 0.21 g short")
    assert len(missed.plots) == 4
    assert [row[0] for row in false.tables[0].rows] == ["W01 flop 1"]
    for plot in (*missed.plots, *false.plots):
        assert plot.curves[0].points
        assert any(level.role == "impact" and level.at == pytest.approx(1.9, abs=0.01) for level in plot.levels)


def test_what_is_listed_in_sample_says_what_people_left_out_came_to(session, tmp_path):
    found = dossier.dossier(session)
    missed = section(found, "missed").said
    assert missed[1] == "They are of these settings on the people they were tuned on."
    assert missed[2].startswith("On people left out of the search 5 of 6 falls were missed: W01 2, W02 3.")
    assert "1 of 3 other activities were false alarms: W01 1." in section(found, "false_alarm").said[2]
    assert "Under settings found without them" in section(found, "daily_alarms").said[-1]
    (row,) = [row for row in section(found, "intended_use").tables[1].rows if row[0] == "falls caught"]
    assert row[2].startswith("16.67")
    assert row[3] == "NOT MET"
    assert row[5].startswith("people left out of the search, ")
    session.act(actions.set_device_value(session.study, "require.sensitivity_pct", 10.0), "required")
    rows = section(dossier.dossier(session), "intended_use").tables[1].rows
    assert [row[3] for row in rows if row[0] == "falls caught"] == ["met"]
    never = dossier.dossier(session_of(made()))
    assert len(section(never, "missed").said) == 1
    assert section(never, "intended_use").warnings == ()


def test_every_setting_has_value_integer_and_why(session):
    rows = {row[1]: row for row in table(dossier.dossier(session), "settings").rows}
    assert len(rows) == len(DEFAULTS)
    assert rows["impact at least"][2:5] == ("1.90\u00a0g", "PLF_IMPACT_COUNTS = 973", "searched")
    assert rows["still below"][4] == "default"
    session.act(actions.set_value(session.study, "still_g", 0.31), "still")
    rows = {row[1]: row for row in table(dossier.dossier(session), "settings").rows}
    assert rows["still below"][4] == "typed"


def test_what_was_never_computed_says_so_and_stands_among_the_open_points(session):
    found = dossier.dossier(session)
    never = [one.key for one in found.sections if one.state == MISSING]
    assert never == ["trade_off", "tolerance", "sleeping", "mounting", "what_if", "ranges",
                     "firmware"]
    told = [said for one, said in found.open_points if one.key == "tolerance"]
    assert told[0].startswith("Not computed for this study")
    assert any("Not stated: Intended use, Placement" in said for _, said in found.open_points)


def test_computed_results_are_kept_and_stale_when_a_setting_moves(session, monkeypatch):
    monkeypatch.setattr(dossier, "TOPICS", (quick("sleeping"), quick("ranges")))
    done = dossier.compute_missing(session, None, lambda share: None, lambda: False)
    assert done == ("A sleeping processor", "A range that is switched")
    assert dossier.stale_topics(session) == ()
    assert dossier.compute_missing(session, None, lambda share: None, lambda: False) == ()
    fresh = kept_results.kept(session.path, "sleeping", "", kept_results.inputs(session, quick("sleeping").numbers))
    assert fresh.state == "done"
    assert fresh.tables[0].columns == ("", "always on", "woken")
    assert "at their starting values, which nobody checked" in fresh.unverified[0]
    session.act(actions.set_value(session.study, "impact_g", 2.5), "impact")
    stale = kept_results.kept(session.path, "sleeping", "", kept_results.inputs(session, quick("sleeping").numbers))
    assert stale.state == STALE
    assert stale.said[0].startswith("Stale: computed from other recordings")
    assert stale.tables == fresh.tables


def test_what_takes_longest_comes_last_and_what_was_done_before_a_cancel_is_kept(session, monkeypatch):
    longer = replace(quick("sleeping"), weight=9)
    monkeypatch.setattr(dossier, "TOPICS", (longer, quick("ranges")))
    shares, titles = [], []
    first = kept_results.folder_of(session.path) / "ranges.json"
    with pytest.raises(Stopped):
        dossier.compute_missing(session, None, shares.append, first.exists, titles.append)
    assert titles == [quick("ranges").title]
    assert 0 < max(shares) <= 0.1  # of weights 1 and 9
    assert dossier.stale_topics(session) == (longer,)
    assert dossier.compute_missing(session, None, shares.append, lambda: False) == (longer.title,)


def test_what_if_has_the_current_part_others_beside_it_and_what_they_stand_on(session, monkeypatch):
    monkeypatch.setattr(dossier, "TOPICS", (quick("what_if"),))
    dossier.compute_missing(session, None, lambda share: None, lambda: False)
    found = dossier.dossier(session)
    rows = table(found, "what_if").rows
    front_end = session.study.front_end
    assert rows[0][0] == f"current: ±{front_end.range_g:g} g, {front_end.bits} bits, {front_end.rate_hz:g} Hz"
    m = session.evaluated()[0].score.matrix
    assert rows[0][2] == f"{100 * m.tp / (m.tp + m.fn):.1f} %"
    assert len({row[0] for row in rows}) > 3
    what_if = section(found, "what_if")
    assert what_if.said[0].startswith(f"{len(rows)} parts tried")
    refused = [row for row in rows if row[2] == "refused"]
    assert "in-sample" in what_if.said[1]
    assert (len(what_if.said) == 3) == bool(refused)
    assert all(row[-1] for row in refused)
    assert table(found, "what_if").note.startswith("A recording can't gain what it lacks")
    assert any("under Energy" in said for one, said in found.open_points if one.key == "what_if")
    session.act(actions.set_device_value(session.study, "digital.noise_ug", 500.0), "noise")
    assert [topic.key for topic in dossier.stale_topics(session)] == ["what_if"]


def test_a_device_number_makes_only_its_own_topics_stale(session, monkeypatch):
    monkeypatch.setattr(dossier, "TOPICS", (quick("sleeping"), quick("ranges")))
    dossier.compute_missing(session, None, lambda share: None, lambda: False)
    session.act(actions.set_device_value(session.study, "ranges.high_g", 16.0), "high range")
    assert [topic.key for topic in dossier.stale_topics(session)] == ["ranges"]


def test_a_kept_file_that_somebody_broke_is_as_if_it_was_never_there(session):
    folder = kept_results.folder_of(session.path)
    folder.mkdir()
    for text in ("", "{}", '{"inputs": "a", "section": {"key": 1}}', "[]"):
        (folder / "ranges.json").write_text(text)
        assert kept_results.kept(session.path, "ranges", "Ranges", "a").state == MISSING, text


def test_an_unsaved_study_can_not_keep_results(tmp_path):
    with pytest.raises(Problem, match="no file yet"):
        dossier.compute_missing(session_of(made()), None, lambda share: None, lambda: False)


def test_changes_against_an_earlier_export(session, tmp_path):
    from app.study.report import handover

    header = tmp_path / "before.h"
    header.write_text(handover.header(session))
    assert "Nothing changed against before.h" in section(dossier.dossier(session, header), "changes").said[0]
    session.act(actions.set_value(session.study, "still_g", 0.31), "still")
    assert table(dossier.dossier(session, header), "changes").rows == (("still below", "0.15\u00a0g", "0.31\u00a0g"),)


def test_json_and_csv_hold_the_tables_of_the_page(session, tmp_path):
    written = dossier.write(session, tmp_path / "r.html")
    found = dossier.dossier(session)
    plain = json.loads((tmp_path / "r.json").read_text())
    assert plain["identity"] == found.identity
    for one in dossier.tables(found):
        rows = list(csv.reader(io.StringIO((tmp_path / "r.tables" / f"{one.key}.csv").read_text())))
        assert rows == [list(one.columns), *map(list, one.rows)]
        assert any(one.key == other["key"] for part in plain["sections"] for other in part["tables"])
    assert all(path.is_file() for path in written)


def test_nobody_sealed_is_named(session):
    session.seal(["W02"], "2026-01-01T00:00:00Z")
    found = dossier.dossier(session)
    page = dossier.page_of(session, found)
    assert "W02" not in page
    assert b"W02" not in dossier.as_json(found)
    assert "1 person sealed, 4 recordings" in page


@pytest.mark.parametrize(("low", "high", "ticks"), [(0, 1, ["0", "0.2", "0.4", "0.6", "0.8", "1"]),
                                                   (-3, 7, ["−2", "0", "2", "4", "6"]), (0, 0, ["0"])])
def test_ticks_are_round(low, high, ticks):
    assert [text for _, text in Scale("x", low, high).ticks()] == ticks


def test_the_diagram_says_of_each_check_what_it_asks_for(session):
    settings = session.study.settings.with_value("active_on", True)
    said = rule_section.stages(Session(replace(session.study, settings=settings)))["judged"]
    assert "before it at most 50 % outside 1 g ± 0.30 g" in said.replace("\u00a0", " ")


def test_open_points_name_no_number_and_the_worst_warning_stands_beside_the_first_figures(session):
    found = dossier.dossier(session)
    assert all(len(said) < 320 for _, said in found.open_points)
    assert found.against == standing_warnings.headline(session.warnings())
    assert found.against
    assert f'<a href="#warnings">{found.against}</a>' in dossier.page_of(session, found)


def test_on_how_many_people_the_falls_caught_stand_is_said(session):
    said = " ".join(section(dossier.dossier(session), "figures").said)
    assert "Falls are of 2 of 2 people" in said


QUESTIONS = {
    "who was it tuned on": "Tuned on 2 people: W01, W02.",
    "what is it worth on others": "People left out: caught 1 of 6, false alarms 1 of 3.",
    "which falls does it miss": "W01 low 1",
    "which of people left out": "5 of 6 falls were missed: W01 2, W02 3.",
    "why": "no impact: 0.21 g short",
    "what was not verified": "Not verified:",
    "which firmware is it": "identity (CRC-32)",
    "how often will it alarm in a day": "false alarms per day",
    "were there people whom no choice has seen": "Nobody is sealed",
    "what is it for": "Bob 2",
    "what must the product meet besides": "EN 50134",
}


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_reader_without_context_finds_the_answer(session, question):
    """The questions of a reviewer; whether a person finds them is tried by people."""
    text = " ".join(read(dossier.page_of(session, dossier.dossier(session))).text.split())
    assert QUESTIONS[question] in text


def test_without_a_browser_a_pdf_is_refused_with_what_to_do(monkeypatch):
    monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    with pytest.raises(Problem, match="No Chromium found"):
        pdf.require()

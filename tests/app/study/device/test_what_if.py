"""Another part over a study: the same score where it is the same part, refusals by its own recordings, the commands."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from app.__main__ import main
from app.study import actions
from app.study.device import part, ranges, what_if
from app.study.device import what_if as what_if_tables
from app.study.device.material import in_hand, limits_of, material_of, recorded
from app.study.device.what_if import WhatIfRequest, filters, numbers, run, widths
from app.study.recordings.nodes import ANY
from app.study.session import Session
from app.study.state import Study
from app.study.storage import study_files
from app.study.workers import processes
from data.problem import Problem
from data.recordings.model import Trim
from detect.device.part.what_if import Grid
from detect.device.quantity_table import device_values
from detect.rule.front_end import FrontEnd, to_counts
from detect.workers import Stopped
from tests.app import study_made
from tests.app.study.recordings import test_nodes
from tests.app.study_made import RATE_HZ

SMALL = Grid((2.0, 3.0, 4.0), (25.0, RATE_HZ), (8, 12), (None,))


def counts_of(session: Session) -> tuple[int, ...]:
    m = session.found().score.matrix
    return m.tp, m.fn, m.fp, m.tn


def cells(found: what_if.WhatIf) -> dict[tuple[float, int, float], tuple[int, ...]]:
    """Counts of every part that was tried."""
    return {(one.cell.front_end.range_g, one.cell.front_end.bits, one.cell.front_end.rate_hz):
            (m.tp, m.fn, m.fp, m.tn) for one in found.cells if one.figures is not None
            for m in [one.figures.matrix]}


def test_every_part_scores_as_the_study_would_with_it() -> None:
    """Without a filter a cell is the study's own score with that front end, unlabelled alarms and all."""
    session = study_made.session()
    found = run(in_hand(session), WhatIfRequest(SMALL))
    assert found.cells[0].cell.front_end == session.study.front_end
    assert len(found.cells) == 12
    tried = [one for one in found.cells if one.figures is not None]
    assert len(tried) == 12
    for one in tried:
        front = one.cell.front_end
        other = study_made.session()
        other.act(actions.set_front_end(other.study, front), "another part")
        assert one.figures is not None
        m = one.figures.matrix
        assert (m.tp, m.fn, m.fp, m.tn) == counts_of(other)
        assert one.figures.unlabelled_alarms == sum(other.found().score.unlabelled)


def test_an_analogue_part_in_the_grid_is_the_part_in_hand() -> None:
    """One scale, one pair of ends, one number of clipped falls, whoever asks."""
    session = study_made.session()
    study = session.study
    for key, value in (("part.kind", "analogue"), ("analog.range_g", 2.0), ("analog.reference", "fixed"),
                       ("analog.reference_v", 2.0), ("analog.zero_g_v", 1.1)):
        study = part.changed(study, key, value)
    session.act(part.taken(study), "score with the part")
    seen = session.study.front_end
    assert (seen.lowest, seen.highest) == (-2253, 1842)
    found = run(in_hand(session), WhatIfRequest(Grid((2.0, 1.0), (RATE_HZ,), (12,), (None, "half"))))
    front_ends = [one.cell.front_end for one in found.cells]
    assert front_ends[:2] == [seen, replace(seen, range_g=1.0, counts_per_g=seen.k * 2)]
    by_filter = {one.cell.corner_hz: one for one in found.cells if one.cell.front_end == seen}
    assert by_filter[None].free_fall_counts == by_filter[25.0].free_fall_counts
    assert what_if.taken(session.study, found.cells[0]).front_end == seen
    again = study_files.from_file(study_files.to_file(session.study), "again")
    assert again.front_end == seen


def test_trims_and_recordings_left_out_count_as_in_the_score() -> None:
    session = study_made.session()
    study = session.study
    study = study.with_item(replace(study.items[0], trim=Trim(start_s=11.0)))
    study = actions.leave_out(study, [study.items[2].name], "handled")
    session.act(study, "trim")
    found = run(in_hand(session), WhatIfRequest(Grid((4.0,), (RATE_HZ,), (12,), (None,))))
    assert list(cells(found).values()) == [counts_of(session)]


@pytest.mark.parametrize("node", ["waist", "wrist", ANY])
def test_of_several_nodes_those_alarm_that_do_in_the_score(node: str) -> None:
    session = test_nodes.session_of({"waist": test_nodes.QUIET, "wrist": test_nodes.CAUGHT})
    session.act(actions.score_node(session.study, node), "node")
    found = run(in_hand(session), WhatIfRequest(Grid((4.0,), (RATE_HZ,), (12,), (None,))))
    assert list(cells(found).values()) == [counts_of(session)]
    assert counts_of(session)[0] == (0 if node == "waist" else 1)


def test_counts_of_the_studys_own_part_are_tried_too() -> None:
    """Steps and clipping are those of the counts, the score that of the study."""
    session = study_made.session()
    for item in session.study.items:
        one = session.library[item.name]
        session.library[item.name] = replace(one, samples=to_counts(one.samples, session.study.front_end)[0],
                                             unit="counts")
    found = run(in_hand(session), WhatIfRequest(Grid((4.0,), (RATE_HZ, 25.0), (12, 14), (None,))))
    assert found.cells[0].figures is not None
    assert cells(found)[4.0, 12, RATE_HZ] == counts_of(session)
    assert "steps of 1.95 mg" in next(one.refused for one in found.cells if one.cell.front_end.bits == 14)


def test_processes_find_the_same() -> None:
    session = study_made.session()
    with processes(2) as executor:
        there = run(in_hand(session), WhatIfRequest(SMALL), executor)
    assert there.cells == run(in_hand(session), WhatIfRequest(SMALL)).cells
    assert there.remarks == ()


def test_what_the_recordings_can_bear_comes_from_their_own_samples() -> None:
    session = study_made.session()
    name = session.study.items[1].name
    one = session.library[name]
    session.library[name] = replace(one, samples=np.clip(np.round(one.samples * 2 + 0.01, 2), -4.0, 4.0))
    of = {limit.name: limit for limit in recorded(in_hand(session))}
    assert of[name].clips_g == 4.0
    assert of[name].rate_hz == RATE_HZ
    noise = np.random.default_rng(0).normal(0, 0.3, (3000, 3))
    session.library[name] = replace(one, samples=np.round(noise, 2))
    found = run(in_hand(session), WhatIfRequest(Grid((4.0, 8.0), (RATE_HZ, 200.0), (9, 14), (None,))))
    said = {(one.cell.front_end.range_g, one.cell.front_end.bits, one.cell.front_end.rate_hz): one.refused
            for one in found.cells}
    assert "say nothing about 200 Hz" in said[4.0, 9, 200.0]
    assert "in steps of 10 mg: they say nothing about 14 bits" in said[4.0, 14, 50.0]
    assert said[4.0, 9, 50.0] == ""


def test_what_is_proposed_can_be_borne_and_the_headline_says_why_something_was_refused() -> None:
    session = study_made.session()
    for item in session.study.items:  # at 4 g, in steps of 1/128 g
        one = session.library[item.name]
        session.library[item.name] = replace(one, samples=np.clip(np.round(one.samples * 256) / 128, -4.0, 4.0))
    session.act(actions.set_front_end(session.study, FrontEnd(4.0, 12, 2 * RATE_HZ)), "finer than the recordings")
    lists = what_if.suggested(session.study, limits_of(session.study, session.library))
    assert (lists["ranges"], lists["rates"], lists["bits"]) == ("2  4", "25  50", "8")
    found = run(in_hand(session), what_if.wanted_of(lists, 0.0, 1000.0, False))
    assert [one.refused for one in found.cells[1:]] == [""] * (len(found.cells) - 1)
    asked = run(in_hand(session), what_if.wanted_of(lists | {"rates": "50 200 400"}, 0.0, 1000.0, False))
    assert "say nothing about" in what_if.most_refused(asked)


def test_nothing_to_try_on_is_said() -> None:
    with pytest.raises(Problem, match="No recording is scored"):
        material_of(in_hand(Session(Study())))


def test_it_can_be_called_off() -> None:
    with pytest.raises(Stopped):
        run(in_hand(study_made.session()), WhatIfRequest(SMALL), cancelled=lambda: True)


def test_a_part_is_taken_over_with_the_settings_that_were_found_for_it() -> None:
    session = study_made.session()
    shares: list[float] = []
    found = run(in_hand(session), WhatIfRequest(Grid((4.0,), (25.0,), (10,), (None,)), retune=True),
                progress=shares.append)
    assert shares == sorted(shares)
    one = found.cells[1]
    assert one.retuned is not None
    row = dict(zip(what_if_tables.TITLES, what_if_tables.row_texts(found, 1, session.study.front_end), strict=True))
    assert row["searched again"].count("%") == 2
    assert "Searched again: sensitivity" in row["remark"]
    taken = what_if.taken(session.study, one)
    assert taken.front_end == FrontEnd(4.0, 10, 25.0)
    assert taken.settings == one.retuned.settings
    said = json.loads(json.dumps(what_if_tables.plain(found), allow_nan=False))["cells"][1]["retuned"]
    assert said["settings"] == one.retuned.settings.plain()
    assert said["left_out"]["matrix"] is not None
    session.act(taken, "take the part")
    m = one.retuned.in_sample.matrix
    assert (m.tp, m.fn, m.fp, m.tn) == counts_of(session)
    assert found.stands_for(replace(session.study, settings=found.study.settings))
    assert not found.stands_for(actions.set_value(session.study, "impact_g", 2.3))


def test_the_table_says_each_cell_and_programs_read_it() -> None:
    found = run(in_hand(study_made.session()), WhatIfRequest(Grid((4.0, 8.0), (RATE_HZ, 100.0), (12,), (None, "half"))))
    text = what_if_tables.as_text(found)
    assert text.splitlines()[0].split("\t") == list(what_if_tables.TITLES)
    assert "current: ±4 g" in text.splitlines()[1]
    lines = what_if_tables.csv_rows(found)
    assert {len(line) for line in lines} == {len(lines[0])}
    first, last = dict(zip(lines[0], lines[1], strict=True)), dict(zip(lines[0], lines[-1], strict=True))
    assert (first["range_g"], first["tp"], first["refused"]) == ("4", "2", "")
    assert "say nothing about 100 Hz" in last["refused"]
    assert last["tp"] == ""


@pytest.mark.parametrize(("typed", "said"), [("2, x", '"x" is not a number'), ("", "nothing is named"),
                                             ("-2", '"-2" is not a number above 0')])
def test_what_can_not_be_typed_is_refused(typed: str, said: str) -> None:
    with pytest.raises(Problem, match=said):
        numbers(typed, "Ranges")


def test_what_can_be_typed_is_read() -> None:
    assert numbers("2, 4; 8 2", "Ranges") == (2.0, 4.0, 8.0)
    assert widths("8 12") == (8, 12)
    assert filters("none half 12.5") == (None, "half", 12.5)
    with pytest.raises(Problem, match="7 is not a resolution"):
        widths("7")
    with pytest.raises(Problem, match='"no" is not a number'):
        filters("no")


def test_a_front_end_goes_along_with_its_analogue_part() -> None:
    study = replace(study_made.session().study, device=device_values({"part.kind": "analogue"}))
    assert part.part_view(study).can_take
    study = part.taken(study)
    assert not part.part_view(study).can_take
    study = part.changed(study, "analog.sensitivity_mv", 400.0)
    assert study.front_end.k == pytest.approx(0.4 / 3 * 4096)
    assert part.changed(study, "analog.supply_v", 2.7).front_end == study.front_end
    assert part.volts(study) is not None
    assert part.volts(part.changed(study, "part.kind", "digital")) is None


def test_a_range_that_switches_is_compared_on_the_study() -> None:
    session = study_made.session()
    view = ranges.run(in_hand(session))
    assert [one.name for one in view.scores] == ["switched", "watch range kept", "high range kept"]
    high = view.scores[2].figures
    assert high is not None
    other = study_made.session()
    other.act(actions.set_front_end(other.study, FrontEnd(8.0, 12, RATE_HZ)), "high")
    m = high.matrix
    assert (m.tp, m.fn, m.fp, m.tn) == counts_of(other)
    assert ranges.as_text(view).startswith("Beyond what the recordings hold: W02 trip 1 clips at ±4 g")
    assert "One stream to the rule: ±8 g, 14 bits, 50 Hz, 1024 counts/g." in ranges.as_text(view)
    assert view.stands_for(session.study)
    assert not view.stands_for(actions.set_device_value(session.study, "ranges.high_g", 16.0))
    assert view.stands_for(actions.set_device_value(session.study, "analog.supply_v", 2.5))


# By command.

@pytest.fixture
def study(recordings: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    path = tmp_path / "my study.json"
    assert main(["read", str(recordings), "--study", str(path), "--recipe", str(recordings / "made.toml")]) == 0
    capsys.readouterr()
    return str(path)


def test_the_part_is_told_by_command(study: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["device", "part", study, "--set", "part.kind=analogue", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["front_end"]["counts_per_g"] == pytest.approx(409.6)
    assert said["figures"]["zero_code"]["value"] == 2048
    assert said["numbers"]["analog.supply_v"] == {
        "value": 3.0, "unit": "V", "starts_at": 3.0, "origin": "common practice, no source",
        "sentence": "What the part, and a converter that refers to it, are fed."}
    assert main(["device", "part", study]) == 0
    out = capsys.readouterr().out
    assert "digital part" in out
    assert "typical value, recalled, no source" in out
    assert main(["device", "part", study, "--set", "analog.supply_v=12"]) == 2
    assert "outside 1 … 5.5 V" in capsys.readouterr().err


def test_what_if_answers_by_command(study: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = tmp_path / "table.csv"
    assert main(["device", "what-if", study, "--ranges", "4", "--rates", "25,50", "--bits", "8", "12", "--filters",
                 "none", "half", "--workers", "1", "--csv", str(table), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert main(["score", study, "--json"]) == 0
    score = json.loads(capsys.readouterr().out)
    assert said["cells"][0]["matrix"] == score["matrix"]
    assert said["cells"][0]["sensitivity"] == score["sensitivity"]
    assert len(said["cells"]) == len(table.read_text().splitlines()) - 1 == 8
    assert {one["filter_hz"] for one in said["cells"]} == {None, 12.5, 25.0}
    assert all(one["mean_ua"] > 0 for one in said["cells"])


def test_what_if_says_no_where_nothing_can_be_tried(study: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["device", "what-if", study, "--rates", "800", "--workers", "1", "--json"]) == 1
    said = json.loads(capsys.readouterr().out)
    assert "say nothing about 800 Hz" in said["cells"][1]["refused"]
    assert said["cells"][1]["matrix"] is None
    assert main(["device", "what-if", study, "--bits", "7"]) == 2
    assert "Write whole numbers from 8 to 16" in capsys.readouterr().err
    assert main(["device", "what-if", study, "--filters", "200", "--workers", "1"]) == 1
    assert "above half the rate" in capsys.readouterr().out


def test_noise_of_the_part_is_added_where_it_is_asked_for(study: str, capsys: pytest.CaptureFixture[str]) -> None:
    """So loud that nobody ever lies still."""
    loud = ["--noise", "--set", "digital.noise_ug=100000", "--workers", "1", "--json"]
    assert main(["device", "what-if", study, "--bits", "12", *loud]) == 0
    in_hand, noisy = json.loads(capsys.readouterr().out)["cells"]
    assert (in_hand["noise_ug"], noisy["noise_ug"]) == (0, 100_000)
    assert in_hand["matrix"]["tp"] > noisy["matrix"]["tp"] == 0


def test_ranges_answer_by_command(study: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["device", "ranges", study, "--set", "ranges.high_g=16", "ranges.lost=gap", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["stream"]["bits"] == 15
    assert said["part"]["lost"] == "gap"
    assert [one["name"] for one in said["scores"]] == ["switched", "watch range kept", "high range kept"]
    assert main(["device", "ranges", study, "--set", "ranges.high_g=1"]) == 2
    assert "not above the watch range" in capsys.readouterr().err
    assert main(["device", "ranges", study]) == 0
    assert "One stream to the rule" in capsys.readouterr().out

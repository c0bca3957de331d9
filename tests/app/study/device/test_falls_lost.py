"""Falls lost by sleeping beside every current, the same number everywhere; the delay from the impact on."""

from __future__ import annotations

import pytest

from app.study import actions
from app.study.device import what_if
from app.study.device.budget import budget_view, duty_table, duty_view, slept_of
from app.study.device.cost import cost_of
from app.study.device.material import in_hand
from app.study.device.parts import TITLES, compare, row_texts
from app.study.device.requirements import of_study
from app.study.device.sleep import waking_view
from app.study.device.what_if import WhatIfRequest
from app.study.report.device_sections import energy
from app.study.report.handover import device_lines
from app.study.session import Session
from data.parts.part_file import part_from
from detect.device.part.what_if import Grid
from detect.device.requirements import Held
from tests.app.study.device.test_parts import SMALL
from tests.app.study_made import FALL, one, session_of, story

ASLEEP = {"current.sleeps": "until woken", "current.awake_pct": 2.0, "wake.offset_mg": 0.0}


def with_numbers(session: Session, **values: object) -> Session:
    study = session.study
    for key, value in values.items():
        study = actions.set_device_value(study, key, value)
    session.act(study, "numbers")
    session.results()
    return session


def three_falls() -> Session:
    """Always on all three are caught; the line of a sleeping part, 0.35 g for 100 ms on every axis, hears the first."""
    return session_of([
        one("A deep 1", story(free_fall_g=0.2), [FALL]), one("A shallow 1", story(free_fall_g=0.5), [FALL]),
        one("A short 1", story(free_fall_g=0.2, low=4), [FALL])])


def row_of(held: tuple[Held, ...], name: str) -> Held:
    return next(one for one in held if one.name == name)


def test_what_if_compare_budget_and_sleep_say_the_same_number_beside_the_days() -> None:
    session = with_numbers(three_falls(), **ASLEEP)
    slept = waking_view(session.study, session.evaluated()[:3])
    assert slept.always.matrix.tp - slept.woken.matrix.tp == 2
    grid = what_if.run(in_hand(session), WhatIfRequest(Grid((4.0, 8.0), (50.0,), (12,), (None,))))
    assert [(loss.lost, loss.caught) for cell in grid.cells for loss in cell.asleep] == [(2, 3)] * len(grid.cells)
    texts = what_if.row_texts(grid, 0, session.study.front_end)
    assert texts[what_if.LOST] == "2 of 3"
    assert texts[what_if.LOST - 1].endswith("days")
    by_hand_s = 1.0 + 2.0 + grid.cells[0].asleep[0].later_ms / 1000 + 15 + 1  # settle, observe, later, cancel, answer
    assert what_if.delay_s(session.study, grid.cells[0]) == pytest.approx(by_hand_s)
    assert texts[what_if.TITLES.index("impact to station")] == f"{by_hand_s:.4g}\u00a0s"
    heads, line = what_if.csv_rows(grid)[:2]
    assert float(line[heads.index("impact_to_station_s")]) == pytest.approx(by_hand_s)
    assert what_if.plain(grid)["cells"][0]["impact_to_station_s"] == pytest.approx(by_hand_s)
    assert what_if.csv_rows(grid)[1][what_if.csv_rows(grid)[0].index("falls_lost_asleep")] == "2"
    assert what_if.plain(grid)["cells"][0]["falls_lost_asleep"]["lost"] == 2
    (row,) = compare(in_hand(session), (part_from(SMALL.encode(), "p.toml"),)).rows
    assert row_texts(row)[TITLES.index("lost asleep")] == "2 of 3"
    held = {one.name: one for one in row.held}
    assert held["falls caught"].found == "33.33 %", "one of three, asleep"
    assert held["impact to station"].found == row_of(of_study(session), "impact to station").found
    assert row_of(of_study(session), "falls caught").found == "33.33 %"
    for rows in (budget_view(session, slept_of(session)).rows, energy(session).tables[0].rows):
        names = [name for name, _, _ in rows]
        at = names.index("battery life")
        assert names[at + 1:at + 3] == ["falls lost by sleeping", "impact to station"]
        assert rows[at + 1][1] == "2 of 3"
    cost = cost_of(session.study, 1.0)
    assert cost is not None
    assert cost.words.endswith("days, falls lost asleep not counted"), "beside each dot of the trade-off"
    assert any("falls lost by sleeping: 2 of 3" in line for line in device_lines(session))


def test_the_worst_of_all_parts_is_counted_and_one_that_can_not_be_says_so() -> None:
    """A fall of 0.32 g: an offset of 50 mg that points up on the falling axis takes it from the line."""
    session = with_numbers(session_of([one("A deep 1", story(free_fall_g=0.32), [FALL])]),
                           **ASLEEP | {"wake.offset_mg": 50.0})
    only = WhatIfRequest(Grid((4.0,), (50.0,), (12,), (None,)))
    (found,) = what_if.run(in_hand(session), only).cells[0].asleep
    assert (found.lost, found.caught) == (1, 1)
    with_numbers(session, **{"wake.waking_ms": 5000.0, "wake.stay_ms": 100.0})
    (found,) = what_if.run(in_hand(session), only).cells[0].asleep
    assert "never see a sample" in found.refused


@pytest.mark.parametrize("sleeps", ["never", "between samples"])
def test_a_device_that_hears_every_sample_loses_none(sleeps: str) -> None:
    session = with_numbers(three_falls(), **{"current.sleeps": sleeps})
    grid = what_if.run(in_hand(session), WhatIfRequest(Grid((4.0,), (50.0,), (12,), (None,))))
    assert grid.cells[0].asleep == (None,)
    assert what_if.row_texts(grid, 0, session.study.front_end)[what_if.LOST] == "none, it never sleeps"
    names = [name for name, _, _ in budget_view(session).rows]
    assert "falls lost by sleeping" not in names
    assert "impact to station" in names
    lost = {texts[0]: texts[-1] for texts in duty_table(duty_view(session.study, 1.0)) if texts[2] != "refused"}
    assert lost["100\u00a0%"] == "0"
    assert set(lost.values()) == ({"0"} if sleeps == "between samples" else {"0", "not known"})


def test_the_delay_runs_from_the_impact_with_what_sleeping_and_the_buffer_add() -> None:
    """Settling 1 s, observing 2 s, 15 s to cancel, 1 s to answer. Sixteen samples a read at 50 Hz: 0.3 s more at most,
    asleep as long as the batch that decides takes."""
    session = with_numbers(three_falls(), **ASLEEP)
    rows = {name: value for name, value, _ in budget_view(session, slept_of(session)).rows}
    assert float(rows["impact to station"].split("\u00a0")[0]) == pytest.approx(19, abs=0.05)
    with_numbers(session, **{"current.sleeps": "never", "wake.watermark_samples": 16.0})
    rows = {name: value for name, value, _ in budget_view(session).rows}
    assert rows["impact to station"] == "19.3\u00a0s"
    with_numbers(session, **{"current.sleeps": "until woken"})
    view = waking_view(session.study, session.evaluated()[:3])
    _, always, asleep = next(row for row in view.rows if row[0] == "impact to station, maximum")
    assert always == "19.30\u00a0s"
    assert view.later is not None
    assert asleep == f"{19 + view.later.most_ms / 1000:.2f}\u00a0s"

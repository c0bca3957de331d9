"""Many devices over one course: no tolerance is the plain score, the same seed the same bytes whoever works."""

from __future__ import annotations

import pickle
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

import numpy as np
import pytest

from detect.device.quantities import Values
from detect.device.quantity_table import device_values
from detect.device.spread.outcomes import Limit, distribution
from detect.device.spread.spread import BOUNDS, PARAMETERS, Devices, draw
from detect.device.spread.tolerance import AT_A_TIME, IN_A_ROW, Course, Tolerances, tolerances, wanted_of
from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd, to_counts
from detect.scoring.corpus import Corpus
from detect.scoring.score import Score, score
from tests.detect.device.spread.course_made import RULE, course

FRONT = FrontEnd(4.0, 12, 50.0)

AT = {name: i for i, (name, _) in enumerate(PARAMETERS)}


def few(devices: int = 6, alone: int = 3, **more: object) -> Values:
    values = device_values({"spread.devices": devices, "spread.alone": alone, "spread.limit": 0.2})
    for key, value in more.items():
        values = values.with_value(f"spread.{key}", value)
    return values


def nominal_score(made: Course) -> Score:
    counts, _ = to_counts(made.motion.g.T.copy(), made.front_end)
    first = np.append(made.motion.first[np.searchsorted(made.recording_of, np.arange(made.recordings))], len(counts))
    found = Engine(Corpus(counts, made.motion.first, first)).evaluate(made.rule)
    return score(found.alarm_recording, found.alarm_impact, made.events)


@pytest.fixture(scope="module")
def made() -> Course:
    return course()


@pytest.fixture(scope="module")
def found(made) -> Tolerances:
    return tolerances(made, few(devices=40, alone=12))


def as_bytes(one: Tolerances) -> bytes:
    return pickle.dumps([one.devices.values, one.outcomes.outcome, one.outcomes.unlabelled, one.at_ends.outcome,
                         {name: (came.outcome, came.unlabelled) for name, came in one.alone.items()},
                         [pair.outcome for pair in one.pairs]])


def test_without_tolerances_every_device_has_the_plain_score(made):
    plain = nominal_score(made)
    assert plain.matrix.tp
    assert plain.matrix.fn
    off = few(devices=4)
    for row in BOUNDS:
        off = off.with_value(row.key, 0)
    came = tolerances(made, off)
    assert (came.outcomes.outcome == plain.outcome).all()
    assert (came.outcomes.unlabelled == plain.unlabelled[1]).all()
    assert (came.nominal.outcome[0] == plain.outcome).all()
    assert came.alone == {}
    assert came.ends == ()


def test_devices_differ_in_what_they_catch(found):
    assert len(np.unique(found.outcomes.outcome, axis=0)) > 3
    assert found.outcomes.setting == "free-living"


def test_the_same_seed_gives_the_same_bytes_alone_by_threads_and_by_processes(made):
    values = few()
    alone = as_bytes(tolerances(made, values))
    with ThreadPoolExecutor(3) as threads:
        assert as_bytes(tolerances(made, values, threads)) == alone
    with ProcessPoolExecutor(2, get_context("spawn")) as processes:
        assert as_bytes(tolerances(made, values, processes)) == alone
    assert as_bytes(tolerances(made, values.with_value("spread.seed", 1))) != alone


def test_a_device_is_the_same_however_many_are_asked_for(made, found):
    assert np.array_equal(tolerances(made, few(devices=5, alone=0)).outcomes.outcome, found.outcomes.outcome[:5])


def test_called_off_it_gives_the_devices_that_are_through(made, found):
    heard: list[float] = []
    came = tolerances(made, few(devices=40, alone=12), progress=heard.append, cancelled=lambda: len(heard) >= IN_A_ROW)
    kept = AT_A_TIME * IN_A_ROW
    assert came.called_off
    assert len(came.outcomes) == kept
    assert np.array_equal(came.outcomes.outcome, found.outcomes.outcome[:kept])
    assert came.at_ends is None
    assert came.alone == {}


def test_called_off_at_once_there_is_no_device(made):
    came = tolerances(made, few(), cancelled=lambda: True)
    assert came.called_off
    assert len(came.outcomes) == 0
    assert distribution(came.outcomes, came.nominal, "youden_j") is None


def test_called_off_late_all_devices_are_there_and_not_every_tolerance(made):
    heard: list[float] = []
    came = tolerances(made, few(devices=12, alone=12), progress=heard.append, cancelled=lambda: len(heard) >= 50)
    assert not came.called_off
    assert came.at_ends is not None
    assert 0 < len(came.alone) < 8


def test_progress_rises_to_all(made):
    heard: list[float] = []
    tolerances(made, few(), progress=heard.append)
    assert heard == sorted(heard)
    assert heard[-1] == 1


def test_a_device_alone_has_what_it_would_have_with_every_other_bound_at_zero(made, found):
    only_clock = few(devices=12, alone=0)
    for row in BOUNDS:
        if row.key != "spread.clock_pct":
            only_clock = only_clock.with_value(row.key, 0)
    assert np.array_equal(found.alone["clock"].outcome, tolerances(made, only_clock).outcomes.outcome)


def test_impacts_are_told_on_the_right_clock(made):
    """A device 10 % fast or slow finds the same impacts at the same seconds, in recordings with a gap too."""
    nobody = Devices(np.zeros((1, len(PARAMETERS))), np.zeros((1, 2), np.int64), 0)
    plain = made.alarms(nobody, 0)
    assert len(plain[0]) > 3
    for clock in (10.0, -10.0):
        row = np.zeros((1, len(PARAMETERS)))
        row[0, AT["clock"]] = clock
        recording, impact = made.alarms(Devices(row, np.zeros((1, 2), np.int64), 0), 0)
        off = [np.abs(plain[1][plain[0] == r] - i).min() for r, i in zip(recording, impact, strict=True)
               if (plain[0] == r).any()]
        assert len(off) > 3
        assert max(off) <= 1


def test_alarms_of_other_nodes_are_lent_with_the_hold_off_of_the_devices_clock(made):
    heard: list[int] = []

    def lend(recording, impact, events, hold_off):
        heard.append(hold_off)
        return np.zeros_like(recording), np.full_like(impact, IMPACT_OF_FIRST)

    row = np.zeros((2, len(PARAMETERS)))
    row[1, AT["clock"]] = 25.0
    came = replace(made, lend=lend).outcomes(Devices(row, np.zeros((2, 2), np.int64), 0))
    assert heard == [RULE.hold_off, round(RULE.hold_off / 1.25)]
    assert (came.outcome[:, 0] == 2).all()
    assert (came.outcome[:, 1:8] == 0).all()


IMPACT_OF_FIRST = 400


def test_the_numbers_of_a_run_come_from_the_devices_table():
    wanted = wanted_of(few(devices=12, seed=9, sobol="128", limit_of="sensitivity"))
    assert (wanted.devices, wanted.alone, wanted.pairs, wanted.seed) == (12, 3, 128, 9)
    assert wanted.limit == Limit("sensitivity", 0.2)


def test_a_course_without_samples_has_no_alarms(made):
    bare = replace(made, motion=replace(made.motion, g=np.empty((3, 0)), first=np.empty(0, np.int64)),
                   recording_of=np.empty(0, np.int64))
    came = tolerances(bare, few(devices=2, alone=1))
    assert not came.outcomes.unlabelled.any()
    assert set(np.unique(came.outcomes.outcome)) <= {0, 3, 4}


def test_drawn_devices_are_those_that_the_run_keeps(found):
    assert np.array_equal(found.devices.values, draw(found.values, FRONT, 0, 40).values)

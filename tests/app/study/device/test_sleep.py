"""A study on a device that sleeps, and mounted otherwise: against its own score, by command, with a gyroscope."""

import json
import math

import numpy as np
import pytest

from app.__main__ import main
from app.study import actions
from app.study.device import mounting, sleep
from app.study.device.mounting import curve, first_flips, mounting_view
from app.study.device.sleep import waking_view
from app.study.device.turn_rate import gyro_named, rates_of
from app.study.session import Session
from data.problem import Problem
from data.recordings.model import Label
from detect.rule.settings import BadSetting
from detect.workers import Stopped
from tests.app import study_made
from tests.app.study_made import FALL, one, session_of, story
from tests.data.made import csv_text


def given(session, **values):
    study = session.study
    for key, value in values.items():
        study = actions.set_device_value(study, key.replace("__", "."), value)
    session.act(study, "numbers")
    return session


def woken(session):
    return waking_view(session.study, session.evaluated()[:3])


def mounted(session, swept=False, **more):
    return mounting_view(session.study, session.evaluated()[:3], swept=swept, **more)


@pytest.mark.parametrize("values", [
    {"wake__line": "never sleeps"},
    {"wake__line": "threshold", "wake__threshold_g": 0.05, "wake__threshold_ms": 1.0, "wake__waking_ms": 0.0}])
def test_a_device_that_is_always_awake_scores_exactly_as_the_study(values):
    session = given(study_made.session(), **values)
    view = woken(session)
    assert view.woken.matrix == view.always.matrix == session.found().score.matrix
    assert view.woken.outcome.tolist() == view.always.outcome.tolist()
    assert view.woken.unlabelled == view.always.unlabelled
    assert view.duty.share == 1
    assert view.changed == ()
    assert view.later.most_ms == 0


def test_falls_that_the_line_sees_are_caught_asleep_too_and_the_others_are_named():
    session = given(session_of([
        one("A deep 1", story(free_fall_g=0.2), [FALL]), one("A shallow 1", story(free_fall_g=0.5), [FALL]),
        one("A short 1", story(free_fall_g=0.2, low=4), [FALL])]), wake__offset_mg=0.0)
    view = woken(session)
    assert (view.always.matrix.tp, view.woken.matrix.tp) == (3, 1)
    assert [(line.recording, line.was, line.now, line.why) for line in view.changed] == [
        ("A shallow 1", "caught", "missed", "never woke"), ("A short 1", "caught", "missed", "never woke")]
    assert [(line.recording, line.why) for line in view.missed] == [
        ("A shallow 1", "magnitude low for 300 ms; an axis at 0.50 g at best"),
        ("A short 1", "magnitude low for 80 ms; every axis for 80 ms only")]
    assert sleep.plain(view)["falls_lost"] == {"never woke": 2}
    assert ("falls lost: never woke", "–", "2") in view.rows
    assert view.duty.wakes == 1
    assert 0 < view.duty.share < 0.2
    assert view.longest.share >= view.duty.share


def test_the_offset_that_the_line_does_not_know_of_costs_falls():
    falls = [one("A deep 1", story(free_fall_g=0.32), [FALL])]
    assert woken(given(session_of(falls), wake__offset_mg=0.0)).woken.matrix.tp == 1
    lost = woken(given(session_of(falls), wake__offset_mg=50.0))
    assert lost.woken.matrix.tp == 0
    assert "an axis at 0.37 g at best" in lost.missed[0].why
    assert sleep.plain(lost)["magnitude_in_free_fall_g"] == pytest.approx(0.0866, abs=5e-5)


@pytest.mark.parametrize(("values", "said"), [
    ({"wake__line": "timer", "wake__timer_asleep_ms": 500.0},
     "Asleep for 500 ms: a fall from 0.5 m lasts 319 ms and would be over."),
    ({"wake__free_fall_ms": 400.0}, "a fall from 0.5 m lasts 319 ms and never wakes the device"),
    ({"wake__waking_ms": 200.0}, "19 ms are left...and the rule wants 60 ms"),
    ({"wake__line_rate_hz": 2.0}, "the part looks every 500 ms"),
    ({"wake__line": "threshold", "wake__threshold_g": 8.0}, "above the range of ±4 g: the line never speaks"),
    ({"wake__line": "pulse, quiet", "wake__pulse_g": 1.0}, "An axis at rest reads up to 1 g"),
    ({"wake__free_fall_g": 0.04}, "An offset of 50 mg alone"),
    ({"wake__finishes": False}, "the rule may take 4000 ms to judge"),
    ({"wake__buffer": "keeps running"}, "The buffer holds 640 ms; a before wants 1500 ms"),
    ({"wake__buffer": "keeps running", "wake__line_rate_hz": 25.0}, "of no use to a rule at 50 Hz"),
    ({"wake__line": "threshold"}, "After waking nothing is known of before")])
def test_numbers_that_can_hardly_be_meant_are_doubted_with_the_reason(values, said):
    view = woken(given(study_made.session(), **values))
    parts = said.split("...")
    assert any(all(part in doubt for part in parts) for doubt in view.doubts), view.doubts


def test_a_device_that_never_sleeps_is_not_doubted():
    assert woken(given(study_made.session(), wake__line="never sleeps", wake__fall_m=0.05)).doubts == ()


def test_waking_that_is_called_off_stops():
    session = study_made.session()
    with pytest.raises(Stopped):
        waking_view(session.study, session.evaluated()[:3], lambda: True)
    with pytest.raises(BadSetting, match="never reached"):
        woken(given(session, wake__watermark_samples=99.0))


def test_mounted_as_recorded_is_what_was_recorded():
    session = study_made.session()
    thing = mounting.worn(session.study, session.evaluated()[:3])
    view = mounted(session)
    assert view.after.score.matrix == session.found().score.matrix
    assert view.after.alarm_impact.tolist() == session.found().attempts.alarm_impact.tolist()
    assert view.changed == ()
    assert len(thing.highest) == len(session.evaluated()[1].events)


def test_a_sweep_tells_what_each_axis_bears_and_what_flips_first():
    session = given(session_of(study_made.made()[:-1]), mounting__kind="slips in it", mounting__sweep_to_deg=60.0,
                    mounting__sweep_step_deg=20.0)
    shares = []
    view = mounted(session, swept=True, progress=shares.append)
    assert shares[-1] == 1.0
    assert [one.axis for one in view.borne] == ["x", "y", "z"]
    rows = curve(view)
    assert len(rows) == 3 * 7
    assert all(flips == 0 for _, degrees, *_, flips in rows if degrees == 0)
    (about_z,) = [one for one in view.borne if one.axis == "z"]
    flipped = {degrees: flips for axis, degrees, *_, flips in rows if axis == "z"}
    assert all(flipped[degrees] == 0 for degrees in flipped if about_z.least <= degrees <= about_z.most)
    assert any(flip.recording == "W01 trip 1" for flip in first_flips(view)), "lying at 90°, 60° of slip is too much"
    with pytest.raises(Stopped):
        mounted(session, swept=True, cancelled=lambda: True)


def test_off_the_centre_adds_what_a_steady_turn_adds():
    # 0.6 m at 10 rad/s: 6.118 g, by hand. Standing for 20 s, then the threshold is passed all the time.
    quiet = np.tile([0.0, 1.0, 0.0], (1000, 1))
    session = session_of([one("A stand 1", quiet, [Label("other", "stand", None, None)])])
    session = given(session, mounting__off_x_m=0.6, mounting__turns_by="steady turn",
                    mounting__rate_dps=math.degrees(10))
    made = session.evaluated()[:3]
    thing = mounting.worn(session.study, made)
    g = mounting._mounted(session.study, made[2], thing, None)
    assert g == pytest.approx(np.tile([-6.118, 1.0, 0.0], (1000, 1)), abs=1e-3)
    assert any("A model: it turns about z" in sentence for sentence in mounted(session).said)


def test_a_wearer_who_topples_reads_more_only_around_the_fall():
    session = given(study_made.session(), mounting__off_y_m=0.3, mounting__turns_by="topples")
    made = session.evaluated()[:3]
    thing = mounting.worn(session.study, made)
    added = np.abs(mounting._mounted(session.study, made[2], thing, None) - thing.g).max(axis=1)
    falls = thing.highest[thing.events.is_fall]
    for highest in falls.tolist():
        assert added[highest - 25:highest].max() > 0.1
    near = np.zeros(len(added), dtype=bool)
    for highest in falls.tolist():
        near[max(highest - 250, 0):highest + 1] = True
    assert added[~near].max() == 0


def test_another_place_of_the_body_is_not_made_up(tmp_path, capsys):
    view = mounted(given(study_made.session(), mounting__placement="another place"))
    assert view.after is None
    assert any("can't be had from another" in sentence for sentence in view.said)
    mirrored = mounted(given(study_made.session(), mounting__placement="other side"))
    assert mirrored.after.score.matrix == mirrored.before.matrix, "nothing of the demo moves along z"


@pytest.fixture
def turning_file(tmp_path):
    """A file with three columns of turn rate: 10 rad/s about z, said in °/s."""
    lines = csv_text(samples=np.tile([0.0, 1.0, 0.0], (400, 1))).splitlines()
    lines = [lines[0] + ",gx,gy,gz", *(f"{line},0,0,{math.degrees(10):.6f}" for line in lines[1:])]
    (tmp_path / "turn.csv").write_text("\n".join(lines) + "\n")
    study = tmp_path / "s.json"
    assert main(["read", str(tmp_path / "turn.csv"), "--study", str(study)]) == 0
    return study


def test_a_gyroscope_in_the_file_gives_the_turn_rate(turning_file, capsys):
    session = Session.opened(turning_file)
    made = session.evaluated()[:3]
    thing = mounting.worn(session.study, made)
    found = rates_of(session.study, made[2], thing, gyro_named("gx,gy,gz", "deg/s"))
    assert found is not None
    rates, changes = found
    assert changes is None
    assert rates == pytest.approx(np.tile([0, 0, 10.0], (len(thing.g), 1)), abs=1e-6)
    capsys.readouterr()
    assert main(["device", "mounting", str(turning_file), "--gyro", "gx,gy,gz", "--no-sweep", "--json", "--set",
                 "mounting.off_x_m=0.6"]) == 0
    assert any("gyroscope's" in sentence for sentence in json.loads(capsys.readouterr().out)["said"])
    for columns in ("gx,gy", "gx,gy,nowhere"):
        assert main(["device", "mounting", str(turning_file), "--gyro", columns, "--set", "mounting.off_x_m=0.6"]) == 2
    with pytest.raises(Problem, match="three columns"):
        gyro_named("1,2", "deg/s")


@pytest.fixture
def study_file(recordings, tmp_path):
    study = tmp_path / "s.json"
    main(["read", str(recordings), "--study", str(study), "--recipe", str(recordings / "made.toml"), "--labels",
          str(recordings / "made_events.tsv")])
    return str(study)


def test_the_commands_say_it_in_words_and_as_json(study_file, capsys):
    capsys.readouterr()
    assert main(["device", "wake", study_file, "--json", "--set", "wake.line=timer"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["numbers"]["wake.line"] == "timer"
    assert 0 < said["duty"]["share"] < 1
    assert main(["device", "wake", study_file]) == 0
    assert "always on" in capsys.readouterr().out
    assert main(["device", "wake", study_file, "--set", "wake.free_fall_g=3"]) == 2
    assert "wake.free_fall_g" in capsys.readouterr().err
    assert main(["device", "mounting", study_file, "--workers", "1", "--json", "--set", "mounting.sweep_to_deg=30",
                 "mounting.sweep_step_deg=15"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert [one["axis"] for one in said["bears"]] == ["x", "y", "z"]
    assert [one["place"] for one in said["placements"]["swings"]] == ["waist", "chest", "neck", "wrist"]
    assert len(said["sweep"]) == 15
    assert main(["device", "mounting", study_file, "--no-sweep", "--set", "mounting.placement=another place"]) == 1
    assert main(["device", "mounting", study_file, "--set", "mounting.sweep_step_deg=90"]) == 2
    assert "more than the sweep's end" in capsys.readouterr().err

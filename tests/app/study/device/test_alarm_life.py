"""The study's alarms through the life of an alarm: what the station hears is scored beside what the detector says."""

import json

import pytest

from app.__main__ import main
from app.study.device.alarm_life import life_view
from app.study.session import Session


@pytest.fixture
def study(read_study):
    return read_study


def lived(study, capsys, *given, seed=0):
    words = ["--set", *(f"life.{one}" for one in given)] if given else []
    assert main(["device", "life", str(study), *words, "--seed", str(seed), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_where_all_arrives_and_nobody_cancels_the_station_hears_what_the_detector_says(study, capsys):
    said = lived(study, capsys, "falls_cancelled_pct=0", "others_cancelled_pct=0", "heard_pct=100", "cancel_s=0")
    assert said["detector"] == said["station"]
    assert said["detector"]["tp"] == 4
    assert said["seconds_lost"] == {"median": pytest.approx(4.0), "worst": pytest.approx(4.0)}
    assert sum(said["fates"]["falls"].values()) == said["fates"]["falls"]["heard"]


def test_falls_that_are_cancelled_are_missed(study, capsys):
    said = lived(study, capsys, "falls_cancelled_pct=100", "others_cancelled_pct=100")
    assert said["station"]["tp"] == 0
    assert said["station"]["fn"] == said["detector"]["tp"] + said["detector"]["fn"]
    assert said["fates"]["falls"]["cancelled"] >= 4
    assert said["seconds_lost"] == {"median": None, "worst": None}


def test_too_late_to_cancel_is_withdrawn(study, capsys):
    said = lived(study, capsys, "falls_cancelled_pct=100", "press_s=5", "cancel_s=1", "answer_s=30", "heard_pct=100")
    falls = said["fates"]["falls"]
    assert falls["withdrawn"] >= 2
    assert falls["withdrawn"] + falls["swallowed"] == sum(falls.values())  # a second fall within those 30 s
    assert said["station"]["tp"] == 0


def test_every_alarm_is_counted_and_the_seed_says_which_is_cancelled(study, capsys):
    session = Session.opened(study)
    made = session.evaluated()[:3]
    alarms = len(made[0].attempts.alarm_recording)
    for seed in range(3):
        view = life_view(session.study, made, seed)
        assert sum(view.sums.falls.values()) + sum(view.sums.others.values()) == alarms
        assert view.rows == life_view(session.study, made, seed).rows
    assert view.detector.matrix == made[0].score.matrix


def test_words_say_what_it_is(study, capsys):
    assert main(["device", "life", str(study)]) == 0
    out = capsys.readouterr().out
    assert "not a measurement" in out
    assert "swallowed" in out

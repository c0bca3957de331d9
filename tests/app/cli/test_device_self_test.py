"""`plumbfall device self-test`: from a study and from a file, against the device's own limits."""

import json

import numpy as np
import pytest

from app.__main__ import main
from app.study.device.self_test import Checked, rows
from data.recordings.calibration import SelfTest
from tests.data.made import csv_text

PASSES = ["--set", "self_test.x_least_g=0.3", "self_test.x_most_g=0.8", "self_test.y_least_g=-0.8",
          "self_test.y_most_g=-0.3", "self_test.z_least_g=0.3", "self_test.z_most_g=1.2"]


@pytest.fixture
def pulse(tmp_path):
    samples = np.random.default_rng(3).normal((0, 0, 1), 0.004, (400, 3))
    samples[150:260] += (0.5, -0.4, 0.9)
    path = tmp_path / "pulse.csv"
    path.write_text(csv_text(samples=samples))
    return path


def test_a_file_by_itself_is_checked(pulse, capsys):
    assert main(["device", "self-test", str(pulse), "--json", *PASSES]) == 0
    said = json.loads(capsys.readouterr().out)
    (found,) = said["self_tests"]
    assert found["passed"]
    assert (found["first"], found["last"]) == (150, 259)
    assert found["deflection_g"] == pytest.approx([0.5, -0.4, 0.9], abs=0.01)
    assert found["limits_g"] == [[0.3, 0.8], [-0.8, -0.3], [0.3, 1.2]]
    assert {one["origin"] for one in said["placement"]} == {"common practice, no source"}


def test_what_is_outside_is_named_and_the_answer_is_no(pulse, tmp_path, capsys):
    study = tmp_path / "s.json"
    main(["read", str(pulse), "--study", str(study)])
    capsys.readouterr()
    assert main(["device", "self-test", str(study), "pulse", "--set", "self_test.y_least_g=0.1",
                 "self_test.y_most_g=0.9"]) == 1
    said = capsys.readouterr().out
    assert "y outside" in said
    assert "OUTSIDE" in said
    assert "[ ] Away from the board's edges" in said


def test_limits_that_contradict_each_other_and_a_missing_name_are_refused(pulse, tmp_path, capsys):
    assert main(["device", "self-test", str(pulse), "--set", "self_test.x_least_g=2"]) == 2
    assert "more than the largest" in capsys.readouterr().err
    other = np.random.default_rng(4).normal((0, 0, 1), 0.004, (400, 3))
    (tmp_path / "pulse2.csv").write_text(csv_text(samples=other))
    study = tmp_path / "s.json"
    main(["read", str(pulse), str(tmp_path / "pulse2.csv"), "--study", str(study)])
    capsys.readouterr()
    assert main(["device", "self-test", str(study)]) == 2
    assert "Name the recording" in capsys.readouterr().err
    assert main(["device", "self-test", str(pulse), "--on", "5:2"]) == 2
    assert "two times" in capsys.readouterr().err
    assert main(["device", "self-test", str(tmp_path / "none.csv")]) == 2
    assert "none.csv" in capsys.readouterr().err


def test_a_clipped_axis_has_no_result_whatever_its_limits_say():
    found = SelfTest(10, 20, (0.5, 4.0, 0.9), (True, True, False), (False, True, False))
    one = Checked("hard", found, 1.0, 2.0, ((0.3, 0.8), (1, 6), (0.3, 0.8)))
    assert "no result for y, which stood at the end of the range" in one.sentence
    assert "z outside" in one.sentence
    assert [row[-1] for row in rows(one)] == ["within", "NO RESULT", "OUTSIDE"]
    assert not found.passed

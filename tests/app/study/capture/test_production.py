"""A board on the line: offset, sensitivity, self-test, clock, settings and losses against the study's limits, and the
record of all boards."""

import csv
import json
import os
import subprocess
import sys
import threading
import time
import tty
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from app.__main__ import main
from app.study.capture.production import COLUMNS, SELF_TEST, append, boards_in, limits_of, row_of
from app.study.capture.raw_file import MARK, RECEIVED, Header, Piece, beginning, mark, packed
from app.study.capture.simulator import SimulatedNode, sent
from app.study.session import Session
from data.problem import Problem
from detect.firmware.header.identity import identity
from detect.firmware.twins.frame import Hello
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of

ROOT = Path(__file__).parents[4]
FRONT_END = FrontEnd(rate_hz=50)
FACES_G = np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]])
PULSE_G = np.array([0.5, 0.5, 0.8])


def study():
    session = Session()
    return replace(session.study, front_end=FRONT_END)


STUDY = study()
LIMITS = replace(limits_of(STUDY), self_test_g=((0.3, 0.8), (0.3, 0.8), (0.3, 1.2)))


def board(offset_g=(0.0, 0.0, 0.0), gain=(1.0, 1.0, 1.0), pulse=PULSE_G, faces=range(6), crc=0, seed=1):
    """4 s on its back with the self-test from 1.5 to 2.5 s, then 3 s on each face with half a second between."""
    parts = [np.tile([0.0, 0, 1], (200, 1))]
    parts[0][75:125] += pulse
    for face in faces:
        parts += [np.random.default_rng(face).normal(0, 0.5, (25, 3)), np.tile(FACES_G[face], (150, 1)).astype(float)]
    g = np.vstack(parts) * gain + offset_g + np.random.default_rng(seed).normal(0, 0.004, (sum(map(len, parts)), 3))
    counts = np.clip(np.round(g * 512), -2048, 2047).astype(np.int16)
    return SimulatedNode(1, counts, Hello(4711, 50_000, 512_000, 12, crc, 1, "line-3"))


def raw_of(path, node, marked=True, lost=(), rate_hz=50.0):
    """As a capture of it would be, its samples coming at `rate_hz`."""
    pieces = []
    for at in range(0, len(node.counts), 10):
        if at // 10 not in lost:
            end = min(at + 10, len(node.counts))
            pieces.append(Piece(RECEIVED, int(end / rate_hz * 1e6), b"".join(sent(node, at, end, "binary"))))
    if marked:
        pieces += [Piece(MARK, int(s * 50 / rate_hz * 1e6), mark(what, name=SELF_TEST))
                   for what, s in (("start", 0.1), ("end", 3.9))]
    pieces.sort(key=lambda piece: piece.host_us)
    path.write_bytes(beginning(Header("test", "binary")) + b"".join(map(packed, pieces)))
    return path


def result(tmp_path, node, limits=LIMITS, **how):
    found, = boards_in(raw_of(tmp_path / "a.plfcap", node, **how), STUDY, limits)
    return found


def test_a_good_board_passes_and_its_figures_are_those_it_was_made_with(tmp_path):
    found = result(tmp_path, board((0.02, -0.03, 0.01), (1.01, 0.98, 1.02), crc=LIMITS.settings_crc32))
    assert found.against == ()
    assert found.calibration.offset_g == pytest.approx((0.02, -0.03, 0.01), abs=0.003)
    assert found.calibration.gain == pytest.approx((1.01, 0.98, 1.02), abs=0.003)
    assert found.self_test.deflection_g == pytest.approx(PULSE_G * (1.01, 0.98, 1.02), abs=0.01)
    assert (found.hello.serial_number, found.lost) == (4711, 0)
    assert found.clock_pct == pytest.approx(0, abs=0.3)


@pytest.mark.parametrize(("made", "how", "said"), [
    (board((0.2, 0, 0)), {}, "x: offset +200 mg"),
    (board(gain=(1, 1.1, 1)), {}, "y: sensitivity +10"),
    (board(pulse=np.array([0.5, 0.5, 0.05])), {}, "z: self-test +0.0"),
    (board(faces=range(5)), {}, "Faces not seen: -z"),
    (board(), {"marked": False}, "No self-test was recorded"),
    (board(), {"lost": (50, 51)}, "20 samples were lost"),
    (board(), {"rate_hz": 60.0}, "Its clock is off by +20"),
    (board(crc=1), {}, "Its settings are 0x00000001"),
])
def test_a_board_that_is_off_fails_with_the_reason_and_no_other(tmp_path, made, how, said):
    found = result(tmp_path, made, **how)
    assert not found.passed
    assert len(found.against) == 1
    assert said in found.against[0]


def test_a_board_on_the_limit_passes_and_one_beyond_it_does_not(tmp_path):
    limit = LIMITS.offset_mg / 1000
    assert result(tmp_path, board((limit - 0.004, 0, 0))).passed
    assert not result(tmp_path, board((limit + 0.004, 0, 0))).passed


def test_the_limits_are_the_tolerances_of_the_study_s_device():
    assert LIMITS.settings_crc32 == identity(rule_of(STUDY.settings, FRONT_END), FRONT_END)
    wider = replace(STUDY, device=STUDY.device.with_value("spread.sensitivity_pct", 9.0))
    assert (limits_of(STUDY).sensitivity_pct, limits_of(wider).sensitivity_pct) == (4.0, 9.0)
    assert limits_of(STUDY, self_test=False).self_test_g is None


def test_the_record_has_a_row_for_every_board_and_is_only_appended_to(tmp_path):
    path = tmp_path / "boards.csv"
    good, bad = (result(tmp_path, one) for one in (board(), board((0.2, 0, 0))))
    append(path, [row_of(good, LIMITS, "2026-01-31T09:05:00Z", "a.plfcap")])
    before = path.read_bytes()
    append(path, [row_of(bad, LIMITS, "2026-01-31T09:06:00Z", "b.plfcap")])
    assert path.read_bytes().startswith(before)
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(row["serial_number"], row["result"]) for row in rows] == [("4711", "pass"), ("4711", "FAIL")]
    assert float(rows[1]["offset_x_mg"]) == pytest.approx(200, abs=4)
    assert set(rows[0]) == set(COLUMNS)
    (tmp_path / "other.csv").write_text("a,b\n1,2\n")
    with pytest.raises(Problem, match="not a record of tested boards"):
        append(tmp_path / "other.csv", [])


@pytest.fixture
def saved(tmp_path):
    session = Session()
    session.act(STUDY, "rate")
    session.save(tmp_path / "study.json")
    return tmp_path / "study.json"


def test_a_raw_capture_is_tested_again_by_the_command(saved, tmp_path, capsys):
    raw = raw_of(tmp_path / "a.plfcap", board())
    words = ["production-test", "--raw", str(raw), "--study", str(saved), "--record", str(tmp_path / "boards.csv")]
    assert main([*words, "--no-self-test", "--json"]) == 0
    plain, = json.loads(capsys.readouterr().out)["boards"]
    assert (plain["passed"], plain["serial_number"], plain["self_test_g"]) == (True, 4711, None)
    raw_of(raw, board((0.2, 0, 0)))
    assert main([*words, "--no-self-test"]) == 1
    said = capsys.readouterr()
    assert "Board 4711: FAIL" in said.out
    assert "x: offset" in said.err
    assert len((tmp_path / "boards.csv").read_text().splitlines()) == 3


@pytest.fixture
def terminal():
    """The board's end of a line, and the station's."""
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    yield ours, theirs
    os.close(ours)
    os.close(theirs)


@pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals")
def test_the_operator_is_led_through_self_test_and_six_faces(saved, tmp_path, terminal):
    ours, theirs = terminal
    words = ["production-test", "--port", os.ttyname(theirs), "--study", str(saved), "--record",
             str(tmp_path / "boards.csv"), "--json"]
    tester = subprocess.Popen([sys.executable, "-m", "app", *words], cwd=ROOT, stdin=subprocess.PIPE,
                              stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert tester.stderr.readline().startswith("Lay the board still")
    node = board()

    def send(begin, end, pause_s):
        for at in range(begin, end, 10):
            os.write(ours, b"".join(sent(node, at, min(at + 10, end), "binary")))
            time.sleep(pause_s)

    tester.stdin.write("\n")
    tester.stdin.flush()
    assert tester.stderr.readline().startswith("Start its self-test")
    time.sleep(0.5)
    send(0, 200, 0.01)
    time.sleep(1.5)  # an operator takes longer
    tester.stdin.write("\n")
    tester.stdin.flush()
    assert "six faces" in tester.stderr.readline()
    sender = threading.Thread(target=send, args=(200, len(node.counts), 0.1), daemon=True)
    sender.start()
    parts = [tester.stderr.readline().split()[0] for _ in range(6)]
    sender.join()
    out, _ = tester.communicate(timeout=60)
    assert parts == ["+x", "-x", "+y", "-y", "+z", "-z"]
    plain, = json.loads(out)["boards"]
    assert plain["offset_mg"] == pytest.approx([0, 0, 0], abs=4)
    assert plain["self_test_g"] is not None, plain["against"]
    assert plain["self_test_g"] == pytest.approx(PULSE_G.tolist(), abs=0.02)
    assert len(list(tmp_path.glob("boards captures/*.plfcap"))) == 1

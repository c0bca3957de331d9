"""`plumbfall capture` from every source, by processes of their own: all that was sent is recorded, whatever ends it."""

import json
import os
import shlex
import shutil
import signal
import socket
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from app.study.capture.raw_file import RawReader
from app.study.session import Session
from tests.app.study.capture.sender import made

ROOT = Path(__file__).parents[3]
POSIX = pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals and signals of POSIX")


def capturing(*words, **how):
    return subprocess.Popen([sys.executable, "-m", "app", "capture", *map(str, words)], cwd=ROOT,
                            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **how)


def sending(nodes, samples, target, rate=200, protocol="binary", speed=20, **how):
    words = [sys.executable, "-m", "tests.app.study.capture.sender", *map(str, (nodes, samples, rate, protocol, speed)),
             target]
    return subprocess.Popen(words, cwd=ROOT, stderr=subprocess.PIPE, text=True, **how)


def wait_for(what, seconds=60):
    end = time.monotonic() + seconds
    while not (found := what()):
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.02)
    return found


def raw_in(folder):
    found = Path(folder).glob
    return wait_for(lambda: next((path for path in found("captures/*.plfcap") if path.stat().st_size), None))


def ended(process, sign=None):
    """What it printed, as JSON, and its words on standard error."""
    if sign is not None:
        process.send_signal(sign)
    out, said = process.communicate(timeout=90)
    assert process.returncode == 0, said
    return json.loads(out), said


def is_all_of_it(folder, plain, nodes, samples, rate=200):
    assert [one["node"] for one in plain["nodes"]] == list(range(1, nodes + 1))
    session = Session.opened(folder / "study.json")
    for told, node, item in zip(plain["nodes"], made(nodes, samples, rate), session.study.items, strict=True):
        assert (told["received"], told["lost"], told["duplicates"], told["starts"]) == (samples, 0, 0, 1)
        recording = session.library[item.name]
        assert (np.asarray(recording.samples) == node.counts).all()
        assert recording.gaps == 0
        assert recording.rate_hz == rate


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return listening.getsockname()[1]


@POSIX
def test_a_serial_port_that_is_in_no_list_is_recorded_until_ctrl_c(tmp_path):
    ours, theirs = os.openpty()
    port = os.ttyname(theirs)
    capture = capturing("--port", port, "--baud", 2_000_000, "--nodes", 4, "--study", tmp_path / "study.json", "--json")
    raw_in(tmp_path)
    sender = sending(4, 2000, "-", stdout=ours)
    _, said = sender.communicate(timeout=60)
    assert said.split() == ["2000"] * 4
    wait_for(lambda: received(raw_in(tmp_path)) >= 4 * 2000 * 7)
    plain, said = ended(capture, signal.SIGINT)
    os.close(ours)
    os.close(theirs)
    is_all_of_it(tmp_path, plain, 4, 2000)
    assert "4 nodes × 50 Hz × 7.7 bytes a sample" in said
    assert "Traceback" not in said


def received(path):
    reader = RawReader(path)
    size = sum(len(piece.data) for piece in reader.all() if piece.kind == 0)
    reader.close()
    return size


def test_a_sender_over_tcp_is_recorded_and_may_come_back(tmp_path):
    port = free_port()
    capture = capturing("--listen", port, "--study", tmp_path / "study.json", "--json", "--protocol", "text")
    raw_in(tmp_path)
    sender = sending(2, 1000, f"127.0.0.1:{port}", protocol="text")
    assert sender.communicate(timeout=60)[1].split() == ["1000"] * 2
    wait_for(lambda: received(raw_in(tmp_path)) >= 2 * 1000 * 20)
    again = wait_for(lambda: connected(port))
    again.close()
    capture.send_signal(signal.SIGINT)
    plain, _ = ended(capture)
    is_all_of_it(tmp_path, plain, 2, 1000)


def connected(port):
    try:
        return socket.create_connection(("127.0.0.1", port), timeout=1)
    except OSError:
        return None


def test_a_board_that_is_not_there_is_a_sentence(tmp_path):
    capture = capturing("--tcp", f"127.0.0.1:{free_port()}", "--study", tmp_path / "study.json")
    _, said = capture.communicate(timeout=60)
    assert capture.returncode == 2
    assert "can't be opened" in said
    assert "Start the sender" in said
    assert "Traceback" not in said


def test_a_pipe_is_recorded_until_it_ends(tmp_path):
    sender = sending(3, 1500, "-", stdout=subprocess.PIPE)
    capture = capturing("--stdin", "--study", tmp_path / "study.json", "--json", stdin=sender.stdout)
    sender.stdout.close()
    assert sender.stderr.read().split() == ["1500"] * 3
    sender.stderr.close()
    sender.wait()
    plain, said = ended(capture)
    is_all_of_it(tmp_path, plain, 3, 1500)
    assert "The source has ended" in said


def test_a_growing_file_of_any_lines_is_recorded_by_its_columns(tmp_path):
    lines = [f"{i};{i % 256};{np.sin(i / 9):.4f};{np.cos(i / 9):.4f};0.05\n" for i in range(700)]
    log = tmp_path / "log.txt"
    log.write_text("".join(lines[:300]))
    capture = capturing("--follow", log, "--columns=-,sequence,x,y,z", "--unit", "g", "--rate", 50, "--wrap", 256,
                        "--study", tmp_path / "study.json", "--json")
    raw_in(tmp_path)
    with log.open("a") as file:
        file.write("".join(lines[300:400] + lines[403:]))
    wait_for(lambda: received(raw_in(tmp_path)) == log.stat().st_size)
    plain, _ = ended(capture, signal.SIGINT)
    node, = plain["nodes"]
    assert (node["received"], node["lost"]) == (697, 3)
    recording, = Session.opened(tmp_path / "study.json").library.values()
    assert [s.first for s in recording.stretches] == [0, 400]
    assert recording.samples[5].tolist() == pytest.approx([np.sin(5 / 9), np.cos(5 / 9), 0.05], abs=1e-4)


def test_a_study_s_recordings_are_played_as_if_live_and_score_the_same(tmp_path):
    study = shutil.copytree(ROOT / "tests" / "compat" / "files", tmp_path / "played") / "study.json"
    played = Session.opened(study)
    found, _, prepared, _ = played.evaluated()
    short = sorted(range(len(prepared.names)), key=lambda i: len(prepared.seen[i].counts))
    i = next(i for i in short if len(found.attempts.of(i)) and played.study.front_end.rate_hz
             == played.library[prepared.names[i]].rate_hz)
    capture = capturing("--simulate", study, "--recordings", prepared.names[i],
                        "--speed", 100, "--study", tmp_path / "study.json", "--json")
    plain, _ = ended(capture)
    assert plain["nodes"][0]["lost"] == 0
    session = Session.opened(tmp_path / "study.json")
    session.act(replace(session.study, settings=played.study.settings), "the settings of the study that was played")
    again, _, _, _ = session.evaluated()
    assert session.study.front_end.k == played.study.front_end.k
    assert [again.attempts.attempt(k) for k in again.attempts.of(0)] \
        == [found.attempts.attempt(k) for k in found.attempts.of(i)]


def test_faults_of_a_played_line_are_counted_and_more_than_the_limit_is_told(tmp_path):
    study = shutil.copytree(ROOT / "tests" / "compat" / "files", tmp_path / "played") / "study.json"
    words = "--simulate", study, "--speed", 100, "--faults", "loss 30"
    plain, _ = ended(capturing(*words, "--study", tmp_path / "a.json", "--json"))
    node, = plain["nodes"]
    assert node["lost"] > 0
    percent = f"{100 * node['lost'] / (node['lost'] + node['received']):.1f} %"
    for limit, told in ((1, True), (99, False)):
        done = capturing(*words, "--study", tmp_path / f"b{limit}.json", "--loss-limit", limit)
        _, said = done.communicate(timeout=90)
        assert done.returncode == 0
        assert (f"Lost more than the limit of {limit} %: node 1 {percent}." in said) == told
    _, said = capturing(*words, "--study", tmp_path / "b99.json").communicate(timeout=90)
    assert "Lost more" not in said  # the study keeps its limit
    done = capturing(*words, "--study", tmp_path / "b99.json", "--loss-limit", 101)
    assert "is not a share of samples" in done.communicate(timeout=90)[1]
    assert done.returncode == 2
    done = capturing(*words[:-1], "rain 1", "--study", tmp_path / "c.json")
    assert "is not a fault of a line" in done.communicate(timeout=90)[1]
    assert done.returncode == 2


@POSIX
def test_a_capture_that_was_killed_is_readable_to_its_last_piece(tmp_path):
    port = free_port()
    capture = capturing("--listen", port, "--study", tmp_path / "study.json")
    raw = raw_in(tmp_path)
    sender = sending(4, 4000, f"127.0.0.1:{port}", speed=10)
    wait_for(lambda: received(raw) > 40_000)
    children = Path(f"/proc/{capture.pid}/task/{capture.pid}/children").read_text().split()
    for pid in [*map(int, children), capture.pid]:
        os.kill(pid, signal.SIGKILL)
    capture.communicate()
    sender.kill()
    sender.communicate()
    assert not (tmp_path / "study.json").exists()
    plain, _ = ended(capturing("--raw", raw, "--study", tmp_path / "study.json", "--json"))
    session = Session.opened(tmp_path / "study.json")
    for node, item, told in zip(made(4, 4000, 200), session.study.items, plain["nodes"], strict=True):
        recording = session.library[item.name]
        assert len(recording) == told["received"] >= 500
        assert told["lost"] == 0
        assert (np.asarray(recording.samples) == node.counts[:len(recording)]).all()


@POSIX
def test_a_disk_that_is_full_ends_it_with_a_sentence_and_what_came_is_kept(tmp_path):
    sender = sending(4, 8000, "-", speed=100, stdout=subprocess.PIPE)
    limited = (f"ulimit -f 100; exec {shlex.quote(sys.executable)} -m app capture --stdin "
               f"--study {shlex.quote(str(tmp_path / 'study.json'))}")
    capture = subprocess.Popen(["bash", "-c", limited], cwd=ROOT, stdin=sender.stdout, stdout=subprocess.PIPE,
                               stderr=subprocess.PIPE, text=True)
    sender.stdout.close()
    _, said = capture.communicate(timeout=90)
    sender.communicate()
    assert "The capture file can't be written" in said
    assert "Traceback" not in said
    raw = raw_in(tmp_path)
    assert 90_000 < raw.stat().st_size <= 102_400
    plain, _ = ended(capturing("--raw", raw, "--study", tmp_path / "study.json", "--json"))
    assert sum(one["received"] for one in plain["nodes"]) > 8000


def test_what_does_not_fit_on_the_line_is_said_before_it_begins(tmp_path):
    capture = capturing("--port", "/dev/there-is-none", "--protocol", "text", "--nodes", 8, "--rate", 200, "--study",
                        tmp_path / "study.json")
    _, said = capture.communicate(timeout=60)
    assert "48 kB/s, 417\N{NO-BREAK SPACE}% of the line's 11.5 kB/s" in said
    assert "too close" in said
    assert capture.returncode == 2

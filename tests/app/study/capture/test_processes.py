"""Sender, proxy and capture as processes, each with its own count: what is missing is exactly what was taken away."""

import json
import os
import resource
import signal
import socket
import subprocess
import sys
import time
import tty
from pathlib import Path

import numpy as np
import pytest

from app.study.capture.listener import Listener
from app.study.capture.monitor import Monitor
from app.study.capture.node_stream import Run
from app.study.capture.raw_file import (
    ENDED,
    MARK,
    OPENED,
    RECEIVED,
    Header,
    Piece,
    RawReader,
    RawWriter,
    mark,
    packed,
)
from app.study.capture.reader import Reader
from app.study.capture.recordings import make_recordings
from app.study.capture.simulator import Schedule, SimulatedNode, Simulator, sent
from app.study.capture.sources import SerialPort, TcpClient, TcpServer
from data.problem import Problem
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.app.study.capture.sender import made

ROOT = Path(__file__).parents[4]
POSIX = pytest.mark.skipif(os.name != "posix", reason="needs signals of POSIX")


def started(module, *words, **how):
    return subprocess.Popen([sys.executable, "-m", f"tests.app.study.capture.{module}", *map(str, words)], cwd=ROOT,
                            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **how)


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return listening.getsockname()[1]


def reading(path, protocol="binary"):
    """A reader on a port of this machine, ready for a sender."""
    port = free_port()
    return Reader(TcpServer(port), path, Header("test", protocol)), port


def until(what, seconds=60):
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.02)


def heard(path):
    reader = RawReader(path)
    listener = Listener(reader.header)
    runs = [one.said for one in [*listener.take(reader.all()), *listener.finish()] if isinstance(one.said, Run)]
    reader.close()
    return listener, runs


def connected_to(port, seconds=30):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            socket.create_connection(("127.0.0.1", port)).close()
        except OSError:
            time.sleep(0.02)
            continue
        return


ONE_BY_ONE = [pytest.param({kind: 0.05}, marks=pytest.mark.slow, id=kind)
              for kind in ("duplicate", "reorder", "garbage", "damage")]
FAULTS = [{"loss": 0.05}, *ONE_BY_ONE,
          {"loss": 0.02, "duplicate": 0.02, "reorder": 0.02, "garbage": 0.02, "damage": 0.02, "delay_s": 0.001}]


@pytest.mark.parametrize("faults", FAULTS, ids=str)
def test_every_fault_of_a_line_is_counted_exactly(tmp_path, faults):
    reader, port = reading(tmp_path / "a.plfcap")
    between = free_port()
    proxy = started("proxy", between, f"127.0.0.1:{port}", json.dumps(faults), 11)
    until(lambda: listens(between))
    sender = started("sender", 3, 3000, 200, "binary", 10, f"127.0.0.1:{between}")
    assert sender.communicate(timeout=60)[1].split() == ["3000"] * 3
    out, said = proxy.communicate(timeout=60)
    told = json.loads(out or said)
    lost = {int(node): samples for node, samples in told["lost"].items()}
    twice = {int(node): samples for node, samples in told["twice"].items()}
    until(lambda: closed(tmp_path / "a.plfcap"))
    reader.stop()
    listener, runs = heard(tmp_path / "a.plfcap")
    if "loss" in faults:
        assert sum(lost.values()) > 100
    for node in made(3, 3000, 200):
        losses = listener.nodes[node.number].losses
        numbers = [n for run in runs if run.node == node.number for n in range(run.first, run.first + len(run.samples))]
        assert numbers == sorted(set(numbers))
        samples = np.vstack([run.samples for run in runs if run.node == node.number])
        assert (samples == node.counts[numbers]).all()
        missing_at_the_end = len(node.counts) - numbers[-1] - 1
        assert losses.lost + missing_at_the_end - losses.late == lost.get(node.number, 0)
        assert losses.duplicates == twice.get(node.number, 0)
        assert losses.starts == 1


def listens(port):
    return f":{port:04X} " in Path("/proc/net/tcp").read_text()


def closed(path):
    reader = RawReader(path)
    kinds = [piece.kind for piece in reader.all()]
    reader.close()
    return 3 in kinds


def test_a_source_that_is_not_there_is_a_sentence_and_leaves_no_process(tmp_path):
    with pytest.raises(Problem, match="can't be opened"):
        Reader(TcpClient("127.0.0.1", free_port()), tmp_path / "a.plfcap", Header("test", "binary"))
    (tmp_path / "a.plfcap").touch()
    with pytest.raises(Problem, match=r"a\.plfcap"):
        Reader(TcpServer(free_port()), tmp_path / "a.plfcap", Header("test", "binary"))


def test_what_is_marked_after_the_source_has_ended_is_in_the_capture(tmp_path):
    source = Simulator(Schedule(made(1, 100, 50), "binary"), 100.0)
    reader = Reader(source, tmp_path / "a.plfcap", Header(source.name, "binary"))
    until(lambda: not reader.reading)
    reader.mark(mark("undo"))
    assert reader.stop() == "The source has ended."
    raw = RawReader(tmp_path / "a.plfcap")
    *_, ended, last = raw.all()
    raw.close()
    assert ended.kind == ENDED
    assert (last.kind, last.data) == (MARK, mark("undo"))


def test_a_sender_that_comes_back_goes_on_with_a_gap(tmp_path):
    reader, port = reading(tmp_path / "a.plfcap")
    node, = made(1, 2000, 200)
    for begin, end in ((0, 500), (700, 1500)):
        with socket.create_connection(("127.0.0.1", port)) as line:
            for at in range(begin, end, 10):
                line.sendall(b"".join(sent(node, at, at + 10, "binary")))
            line.sendall(b"\x05half a frame")
        until(lambda end=end: numbers_of(tmp_path / "a.plfcap")[-1:] == [end - 1])
    reader.stop()
    listener, _ = heard(tmp_path / "a.plfcap")
    assert listener.nodes[1].losses.lost == 200
    assert numbers_of(tmp_path / "a.plfcap") == [*range(500), *range(700, 1500)]


def numbers_of(path):
    return [n for run in heard(path)[1] for n in range(run.first, run.first + len(run.samples))]


def test_clocks_are_asked_and_the_recordings_stand_where_the_replies_put_them(tmp_path):
    nodes = [SimulatedNode(one.number, one.counts, one.hello, clock_us=one.number * 10**9, ppm=ppm)
             for one, ppm in zip(made(2, 4000, 200), (-200.0, 200.0), strict=True)]
    header = Header("test", "binary", speed=10.0)
    reader = Reader(Simulator(Schedule(nodes), 10.0), tmp_path / "a.plfcap", header)
    monitor = Monitor(RawReader(tmp_path / "a.plfcap"), DEFAULTS, FrontEnd(rate_hz=200))
    while reader.reading:
        reader.send(monitor.request())
        monitor.look()
        time.sleep(0.05)
    reader.stop()
    monitor.close()
    made_now = make_recordings(tmp_path / "a.plfcap", tmp_path, None).recordings
    assert len(made_now) == 2
    for one, ppm in zip(made_now, (-200, 200), strict=True):
        clock = one.recipe.clock
        end_s = clock.offset_s + 3999 * (1 + clock.drift_ppm / 1e6) / 200
        true_s = 3999 / (200 * (1 + ppm / 1e6))
        begin_offset = made_now[0].recipe.clock.offset_s
        assert abs(end_s - true_s - begin_offset) < 0.06  # ten times as fast: 6 ms of the line
        assert one.clock.unsure_us < 60_000


@POSIX
@pytest.mark.parametrize("samples", [12_000, pytest.param(720_000, marks=pytest.mark.slow)])
def test_sixteen_nodes_of_200_hz_lose_nothing_and_take_little(tmp_path, samples):
    """A minute, or an hour, twenty times as fast; what decoding and the rule take is a share of a core at the true
    speed."""
    reader, port = reading(tmp_path / "a.plfcap")
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    sender = started("sender", 16, samples, 200, "binary", 20, f"127.0.0.1:{port}")
    monitor = Monitor(RawReader(tmp_path / "a.plfcap"), DEFAULTS, FrontEnd(rate_hz=200))
    began, grown = time.process_time(), []
    while sender.poll() is None:
        monitor.look()
        grown.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
        time.sleep(0.02)
    assert sender.communicate()[1].split() == [str(samples)] * 16
    until(lambda: all_came(monitor, samples), 600)
    ours = time.process_time() - began
    reader.stop()
    theirs = resource.getrusage(resource.RUSAGE_CHILDREN)
    status = monitor.status()
    monitor.close()
    assert [(one.received, one.lost) for one in status] == [(samples, 0)] * 16
    took = theirs.ru_utime + theirs.ru_stime - before.ru_utime - before.ru_stime
    print(f"\nrule and decoding {ours:.1f} s of {samples / 200:.0f}, reader and sender with their start {took:.1f} s")
    assert ours / (samples / 200) < 0.15
    assert grown[-1] - grown[len(grown) // 4] < 30_000


def all_came(monitor, samples):
    monitor.look()
    return sum(one.received for one in monitor.status()) == 16 * samples


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
@pytest.mark.parametrize("kills", [20, pytest.param(200, marks=pytest.mark.slow)])
def test_whenever_the_reading_is_killed_all_that_it_had_read_is_there(tmp_path, kills):
    done = started("killed_reader", kills, tmp_path, kills)
    out, said = done.communicate(timeout=500)
    found = json.loads(out or said)
    assert len(found) == kills
    for handed, came, as_handed, recorded, whole in found:
        assert came >= handed
        assert as_handed
        assert recorded == whole
    assert len({came for _, came, *_ in found}) > kills // 2  # at moments that differ


@POSIX
@pytest.mark.parametrize("kills", [4, pytest.param(200, marks=pytest.mark.slow)])
def test_a_reading_process_that_is_killed_is_begun_again_and_the_rest_is_counted_as_lost(tmp_path, kills):
    """At moments that differ; the line takes what it has room for meanwhile, and the board drops what it has not."""
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    samples = 8000 * (kills + 5)  # more than it comes to; it is stopped after the last kill
    reader = Reader(SerialPort(os.ttyname(theirs), 921_600), tmp_path / "a.plfcap", Header("test", "binary"))
    sender = started("sender", 3, samples, 200, "binary", 10, f"fd:{ours}", json.dumps({"drops": True}),
                     pass_fds=[ours])
    dice = np.random.default_rng(kills)
    for number in range(1, kills + 1):
        time.sleep(dice.uniform(0.05, 0.25))
        os.kill(reader.process.pid, signal.SIGKILL)
        until(lambda number=number: reader.reading and reader.begun_again == number)
        until(lambda number=number: connected(tmp_path / "a.plfcap", number))
    time.sleep(1)
    sender.terminate()
    sent_of = [int(word) for word in sender.communicate(timeout=60)[1].split()]
    assert max(sent_of) < samples, "it was sent all the time"
    time.sleep(0.5)
    assert f"begun again, {kills} times: what came meanwhile is counted as lost" in reader.stop()
    os.close(ours)
    os.close(theirs)
    listener, runs = heard(tmp_path / "a.plfcap")
    lost = 0
    for node, told in zip(made(3, samples, 200), sent_of, strict=True):
        own = [run for run in runs if run.node == node.number]
        numbers = np.concatenate([np.arange(run.first, run.first + len(run.samples)) for run in own])
        assert (np.diff(numbers) > 0).all()
        assert (np.vstack([run.samples for run in own]) == node.counts[numbers]).all()
        losses = listener.nodes[node.number].losses
        assert losses.starts == 1, "its numbers went on: that is no new beginning"
        unknown = numbers[0] + told - numbers[-1] - 1  # before the first that came, and after the last
        assert told == unknown + len(numbers) + losses.lost - losses.late
        lost += losses.lost
    assert lost > 10 * kills


def connected(path, number):
    """Whether the line was opened again after so many ends."""
    reader = RawReader(path)
    kinds = [piece.kind for piece in reader.all()]
    reader.close()
    return kinds.count(OPENED) == number + 1


def test_a_writer_that_goes_on_cuts_off_what_was_begun_and_a_reader_beside_it_loses_nothing(tmp_path):
    path = tmp_path / "a.plfcap"
    first = RawWriter(path, Header("test", "binary"))
    first.append(RECEIVED, b"whole")
    beside = RawReader(path)
    with path.open("ab") as file:
        file.write(packed(Piece(RECEIVED, 10**6, b"begun, not ended"))[:-4])
    assert [piece.data for piece in beside.take()] == [b"whole"]
    assert beside.damaged > 0
    again = RawWriter(path, Header("test", "binary"), goes_on=True)
    again.append(RECEIVED, b"next")
    found = beside.take()
    assert [piece.data for piece in found] == [b"next"]
    assert beside.damaged == 0
    assert found[0].host_us >= 0
    beside.close()
    first.close()
    again.close()

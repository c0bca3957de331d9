"""Boards that restart, wrap, share a number, speak at another baud rate or keep bad time: processes of their own, and
everything that was sent is accounted for."""

import json

import numpy as np
import pytest

from app.study.capture.faults import Faults, FaultyLine
from app.study.capture.listener import Listener
from app.study.capture.messages import BinaryDecoder
from app.study.capture.node_stream import Run
from app.study.capture.preview import not_understood
from app.study.capture.raw_file import RECEIVED, SENT, Header, Piece, RawReader, beginning, packed
from app.study.capture.recordings import make_recordings
from app.study.capture.simulator import Schedule, SimulatedNode, sent
from data.recordings.reading import read_recording
from tests.app.study.capture.sender import made, scheduled
from tests.app.study.capture.test_processes import POSIX, closed, free_port, heard, listens, reading, started, until


def through_proxy(path, odd, faults, nodes=2, samples=3000):
    """What was heard of a sender behind a proxy, and what the proxy took away and sent twice."""
    reader, port = reading(path)
    between = free_port()
    proxy = started("proxy", between, f"127.0.0.1:{port}", json.dumps(faults), 7)
    until(lambda: listens(between))
    sender = started("sender", nodes, samples, 200, "binary", 10, f"127.0.0.1:{between}", json.dumps(odd))
    assert sender.communicate(timeout=60)[1].split() == [str(samples)] * nodes
    told = json.loads(proxy.communicate(timeout=60)[0])
    until(lambda: closed(path))
    reader.stop()
    listener, runs = heard(path)
    return listener, runs, {int(node): lost for node, lost in told["lost"].items()}


@POSIX
def test_numbers_and_clocks_that_wrap_on_a_line_that_loses_are_counted_exactly(tmp_path):
    odd = {"first": 2**32 - 1000, "clock_us": 2**32 - 2_000_000}
    listener, runs, lost = through_proxy(tmp_path / "a.plfcap", odd, {"loss": 0.05, "reorder": 0.03})
    for node in made(2, 3000, 200):
        losses = listener.nodes[node.number].losses
        last = max(run.first + len(run.samples) for run in runs if run.node == node.number)
        assert losses.starts == 1
        assert losses.lost - losses.late + (2**32 - 1000 + 3000 - last) == lost.get(node.number, 0)
        for run in runs:
            if run.node == node.number:
                at = run.first - (2**32 - 1000)
                assert (run.samples == node.counts[at:at + len(run.samples)]).all()
    recordings = make_recordings(tmp_path / "a.plfcap", tmp_path, None).recordings
    read, _ = read_recording(recordings[0].path.read_bytes(), "a", recordings[0].recipe)
    end_s = read.stretches[-1].start_s + (len(read) - 1 - read.stretches[-1].first) * read.stretches[-1].step_s
    assert end_s - read.stretches[0].start_s == pytest.approx((3000 - 1) / 200, abs=0.5)


@POSIX
@pytest.mark.parametrize("hello", [True, False])
def test_a_restart_is_a_new_start_and_no_sample_of_either_is_missing(tmp_path, hello):
    listener, runs, _ = through_proxy(tmp_path / "a.plfcap", {"restart": 1500, "hello": hello},
                                      {"duplicate": 0.05, "garbage": 0.05, "reorder": 0.02})
    for node in made(2, 3000, 200):
        losses = listener.nodes[node.number].losses
        assert (losses.starts, losses.received, losses.lost, losses.late, losses.strange) == (2, 3000, 0, 0, 0)
        for start, counts in ((1, node.counts[:1500]), (2, node.counts[1500:])):
            of_start = [run for run in runs if (run.node, run.start) == (node.number, start)]
            for run in of_start:
                assert (run.samples == counts[run.first:run.first + len(run.samples)]).all()
            assert sum(len(run.samples) for run in of_start) == 1500


@pytest.mark.parametrize("hello", [True, False])
def test_whatever_a_line_exchanges_and_repeats_around_a_restart_every_sample_is_there(hello):
    frames = []
    for schedule in scheduled(1, 600, 200, "binary", restart=300, hello=hello):
        while not schedule.over:
            frames += [frame + b"\0" for frame in b"".join(schedule.take(1e9)).split(b"\0") if frame]
    for seed in range(150):
        line = FaultyLine(Faults(duplicate=0.1, garbage=0.05, reorder=0.1), seed)
        came = [*frames[:5], *line.take(frames[5:]), *line.rest()]  # the first greeting comes as it was sent
        listener = Listener(Header("test", "binary"))
        said = [*listener.take([Piece(RECEIVED, 0, b"".join(came))]), *listener.finish()]
        losses = listener.nodes[1].losses
        assert (losses.starts, losses.received, losses.lost, losses.late, losses.strange) == (2, 600, 0, 0, 0), seed
        (node,) = made(1, 600, 200)
        for start, counts in ((1, node.counts[:300]), (2, node.counts[300:])):
            samples = np.vstack([one.said.samples for one in said if isinstance(one.said, Run)
                                 and one.said.start == start])
            assert (samples == counts).all()


@POSIX
def test_two_boards_under_one_number_are_told_and_every_sample_that_came_is_accounted_for(tmp_path):
    listener, _, _ = through_proxy(tmp_path / "a.plfcap", {"same": True}, {})
    stream = listener.nodes[1]
    assert stream.conflict
    assert stream.serial_numbers == [101, 102]
    losses = stream.losses
    assert losses.received + losses.duplicates + losses.late + losses.strange == 6000
    against = make_recordings(tmp_path / "a.plfcap", tmp_path, None).against()
    assert any("Boards 101 and 102 sent as node 1" in said for said in against)


@POSIX
@pytest.mark.parametrize("baud", [0.5, 2.0, 0.083])
def test_at_a_wrong_baud_rate_nothing_is_taken_for_a_sample(tmp_path, baud):
    listener, runs, _ = through_proxy(tmp_path / "a.plfcap", {}, {"baud": baud}, nodes=1, samples=3000)
    assert not runs
    assert not listener.nodes
    reader = RawReader(tmp_path / "a.plfcap")
    came = sum(len(piece.data) for piece in reader.all() if piece.kind == RECEIVED)
    reader.close()
    assert came > 600
    assert "Check the baud rate" in not_understood(listener.header, came, len(listener.nodes))


# Clocks


HOUR_S = 3600


def hour_of(path, ppms, seed, echoes=True):
    """A raw capture of an hour at 200 Hz, of which one message in 50 came, each way 1 ms and an exponential 4 ms."""
    dice = np.random.default_rng(seed)
    late_us = lambda: 1000 + float(dice.exponential(4000))  # noqa: E731
    pieces = []
    for number, ppm in enumerate(ppms, 1):
        node, = made(1, 10, 200)
        counts = np.tile(np.array([[0, 512, 0]], np.int16), (HOUR_S * 200, 1))
        node = SimulatedNode(number, counts, node.hello, clock_us=number * 10**9, ppm=ppm)
        for at in range(0, len(counts) - 10, 500):
            taken_us = (at + 9) / node.rate_hz * 1e6
            pieces.append(Piece(RECEIVED, int(taken_us + late_us()), b"".join(sent(node, at, at + 10, "binary"))))
        if echoes:
            schedule = Schedule([node], "binary")
            for i, asked_s in enumerate(range(2, HOUR_S, 5)):
                request = BinaryDecoder().echo(i)
                if number == 1:
                    pieces.append(Piece(SENT, asked_s * 10**6, request))
                reached_us = asked_s * 1e6 + late_us()
                reply = b"".join(schedule.echoes(request, reached_us / 1e6))
                pieces.append(Piece(RECEIVED, int(reached_us + late_us()), reply))
    pieces.sort(key=lambda piece: piece.host_us)
    path.write_bytes(beginning(Header("test", "binary")) + b"".join(map(packed, pieces)))


@pytest.mark.parametrize("seed", [0, 1])
def test_nodes_200_ppm_apart_stand_within_a_sample_of_each_other_over_an_hour(tmp_path, seed):
    hour_of(tmp_path / "a.plfcap", (-200.0, 200.0), seed)
    made_now = make_recordings(tmp_path / "a.plfcap", tmp_path, None)
    assert [node.losses.lost for node in made_now.nodes] == [(HOUR_S * 200 // 500 - 1) * 490] * 2
    worst = 0.0
    for one, ppm in zip(made_now.recordings, (-200.0, 200.0), strict=True):
        assert one.echoed
        recording, _ = read_recording(one.path.read_bytes(), "a", one.recipe)
        numbers = np.array([int(line.split(b",")[0]) for line in one.path.read_bytes().splitlines()[1:]])
        for stretch in recording.stretches:
            true_s = numbers[stretch.first] / (200 * (1 + ppm / 1e6))
            worst = max(worst, abs(stretch.start_s - true_s))
            assert abs(stretch.start_s - true_s) < one.clock.unsure_us / 1e6 + 0.001
    assert worst < 1 / 200
    print(f"\nworst {1000 * worst:.2f} ms")


# Killed

"""Losses by sequence numbers alone: exact, whatever the line does, and the same whenever the messages come."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.study.capture.faults import Faults, FaultyLine
from app.study.capture.messages import Batch, BinaryDecoder, TextDecoder
from app.study.capture.node_stream import RESTART_BATCHES, NodeStream
from app.study.capture.simulator import SimulatedNode, restarted, sent
from detect.firmware.twins.frame import Hello

HELLO = Hello(77, 200_000, 256_000, 12, start=4)


def node(samples=600, first=0, number=3, seed=1):
    counts = np.random.default_rng(seed).integers(-2048, 2048, (samples, 3)).astype(np.int16)
    return SimulatedNode(number, counts, HELLO, first=first)


def batches_of(one, size=10, protocol="binary", begin=0):
    """The node's messages, each with the samples that it carries."""
    decoder = BinaryDecoder() if protocol == "binary" else TextDecoder()
    found = []
    for at in range(begin, len(one.counts), size):
        for message in sent(one, at, min(at + size, len(one.counts)), protocol):
            found += [(message, said) for said in decoder.take(message) if hasattr(said, "samples")]
    return found


def fed(stream, batches):
    runs = [run for batch in batches for run in stream.take(batch)]
    return runs + stream.finish()


def numbers_in(runs, start=1):
    return [number for run in runs if run.start == start for number in range(run.first, run.first + len(run.samples))]


def matches(runs, one, start=1):
    return all((run.samples == one.counts[run.first - one.first:run.first - one.first + len(run.samples)]).all()
               for run in runs if run.start == start)


@pytest.mark.parametrize("protocol", ["binary", "text"])
@pytest.mark.parametrize("first", [0, 2**32 - 251])
def test_what_was_sent_is_there_and_nothing_is_lost_even_where_numbers_wrap(protocol, first):
    one = node(first=first)
    stream = NodeStream(3)
    runs = fed(stream, [batch for _, batch in batches_of(one, protocol=protocol)])
    assert numbers_in(runs) == list(range(first, first + 600))
    assert matches(runs, one)
    assert (stream.losses.received, stream.losses.lost, stream.losses.duplicates) == (600, 0, 0)
    assert not any(run.gap for run in runs)


@given(st.sets(st.integers(1, 38)), st.integers(1, 12))
@settings(max_examples=80)
def test_every_loss_is_counted_exactly_and_is_a_gap(lost, size):
    one = node(40 * size)
    batches = [batch for _, batch in batches_of(one, size)]
    stream = NodeStream(3)
    runs = fed(stream, [batch for i, batch in enumerate(batches) if i not in lost])
    kept = [i for i in range(40) if i not in lost]
    assert numbers_in(runs) == [n for i in kept for n in range(i * size, (i + 1) * size)]
    assert stream.losses.lost == len(lost) * size
    assert [run.first for run in runs if run.gap] == [i * size for i in kept if i - 1 in lost]


@given(st.integers(0, 2**32 - 1), st.sampled_from(["loss", "duplicate", "reorder", "garbage", "damage", "all"]),
       st.sampled_from(["binary", "text"]))
@settings(max_examples=60, deadline=None)
def test_whatever_the_line_does_lost_and_received_come_to_what_was_sent(seed, fault, protocol):
    size = 10 if protocol == "binary" else 1
    one = node(900 if protocol == "binary" else 200)
    kinds = ("loss", "duplicate", "reorder", "garbage", "damage") if fault == "all" else (fault,)
    line = FaultyLine(Faults(**dict.fromkeys(kinds, 0.08)), seed)
    messages = [message for message, _ in batches_of(one, size, protocol)]
    arriving = [*line.take(messages[1:-5]), *line.rest()]
    decoder = BinaryDecoder() if protocol == "binary" else TextDecoder()
    data = b"".join([messages[0], *arriving, *messages[-5:]])
    stream = NodeStream(3)
    runs = fed(stream, [said for said in decoder.take(data) if hasattr(said, "samples")])
    assert matches(runs, one)
    assert numbers_in(runs) == sorted(set(numbers_in(runs)))
    losses = stream.losses
    assert losses.received + losses.lost == len(one.counts)
    assert losses.lost - losses.late == size * len(line.never_came)
    assert losses.duplicates == size * len(line.came_twice)


def test_a_message_that_is_overtaken_is_put_back_and_nothing_is_lost():
    batches = [batch for _, batch in batches_of(node())]
    batches[7], batches[8], batches[9] = batches[9], batches[7], batches[8]
    stream = NodeStream(3)
    assert numbers_in(fed(stream, batches)) == list(range(600))
    assert stream.losses.lost == 0


def test_what_comes_far_too_late_stays_lost_and_is_told_from_a_duplicate():
    batches = [batch for _, batch in batches_of(node())]
    stream = NodeStream(3)
    fed(stream, [*batches[:5], *batches[6:30], batches[5], batches[9], *batches[30:]])
    assert (stream.losses.lost, stream.losses.late, stream.losses.duplicates) == (10, 10, 10)


@pytest.mark.parametrize("first", range(236, 256, 2))
@pytest.mark.parametrize("swapped", [None, 0, 1, 2])
def test_a_new_start_whose_numbers_go_round_at_its_beginning_is_in_order(first, swapped):
    """Of a line whose numbers say little: after an interruption what comes is a new start, wherever it begins."""
    stream = NodeStream(3, modulus=256)
    samples = np.arange(3 * 400).reshape(400, 3)

    def batch(at):
        return Batch(3, at % 256, None, samples[at % 400:at % 400 + 4])
    fed(stream, [batch(at) for at in range(100, 140, 4)])
    stream.interrupted()
    batches = [batch(at) for at in range(first, first + 120, 4)]
    if swapped is not None:
        batches[swapped], batches[swapped + 1] = batches[swapped + 1], batches[swapped]
    runs = fed(stream, batches)
    assert (stream.losses.starts, stream.losses.lost, stream.losses.strange, stream.losses.duplicates) == (2, 0, 0, 0)
    assert (np.vstack([run.samples for run in runs]) == samples[first:first + 120]).all()
    assert min(run.first for run in runs) >= 0


def test_a_node_that_says_it_started_again_has_a_new_start_at_once():
    one = node(300)
    stream = NodeStream(3)
    stream.greet(one.hello)
    runs = [run for _, batch in batches_of(one)[:20] for run in stream.take(batch)]
    again = restarted(one)
    runs += stream.greet(again.hello)
    runs += fed(stream, [batch for _, batch in batches_of(again)])
    assert stream.losses.starts == 2
    assert numbers_in(runs, 1) == list(range(200))
    assert numbers_in(runs, 2) == list(range(300))
    assert stream.losses.lost == 0
    assert not stream.conflict


def test_a_node_that_started_again_without_a_word_is_noticed_by_its_numbers():
    one = node(3000)
    stream = NodeStream(3)
    again = SimulatedNode(3, one.counts[::-1].copy(), HELLO, clock_us=5)
    runs = [run for _, batch in batches_of(one)[:250] for run in stream.take(batch)]
    runs += fed(stream, [batch for _, batch in batches_of(again)[:60]])
    assert stream.losses.starts == 2
    assert numbers_in(runs, 2) == list(range(600))
    assert (stream.losses.lost, stream.losses.duplicates) == (0, 0)


def test_a_long_duplicate_is_no_new_start():
    batches = [batch for _, batch in batches_of(node())]
    stream = NodeStream(3)
    runs = fed(stream, [*batches[:40], *batches[10:10 + 2 * RESTART_BATCHES], *batches[40:]])
    assert stream.losses.starts == 1
    assert numbers_in(runs) == list(range(600))
    assert stream.losses.duplicates == 20 * RESTART_BATCHES


def test_two_boards_under_one_number_are_told():
    stream = NodeStream(3)
    stream.greet(HELLO)
    stream.greet(Hello(78, 200_000, 256_000, 12, start=4))
    assert stream.conflict


def test_one_number_far_ahead_that_nothing_follows_is_not_taken_for_a_loss():
    batches = [batch for _, batch in batches_of(node(2000))]
    stream = NodeStream(3)
    wild = type(batches[0])(3, 70_000, None, batches[0].samples)
    runs = fed(stream, [*batches[:50], wild, *batches[50:]])
    assert numbers_in(runs) == list(range(2000))
    assert (stream.losses.lost, stream.losses.strange) == (0, 10)


def test_a_line_without_numbers_is_taken_as_it_comes():
    stream = NodeStream(0)
    batch = batches_of(node(10))[0][1]
    plain = type(batch)(0, None, None, batch.samples)
    runs = fed(stream, [plain, plain])
    assert numbers_in(runs) == list(range(20))


@pytest.mark.parametrize("before", [5, 4])
def test_a_restart_whose_numbers_go_on_by_chance_is_told_by_the_node_s_clock(before):
    """Five batches, then a reset whose greeting and first five batches, or six, were lost."""
    one = node()
    again = SimulatedNode(3, one.counts[::-1].copy(), HELLO, clock_us=0)
    late = SimulatedNode(3, one.counts, HELLO, clock_us=900_000)
    stream = NodeStream(3)
    runs = [run for _, batch in batches_of(late)[:before] for run in stream.take(batch)]
    runs += fed(stream, [batch for _, batch in batches_of(again)[5:]])
    assert stream.losses.starts == 2
    assert numbers_in(runs, 1) == list(range(10 * before))
    assert numbers_in(runs, 2) == list(range(50, 600))
    assert matches([run for run in runs if run.start == 2], again, 2)


def test_a_restart_without_a_word_on_a_line_that_loses_is_noticed_and_nothing_that_came_is_dropped():
    one = node(3000)
    stream = NodeStream(3)
    again = SimulatedNode(3, one.counts[::-1].copy(), HELLO)
    runs = [run for _, batch in batches_of(one)[:250] for run in stream.take(batch)]
    came = [batch for i, (_, batch) in enumerate(batches_of(again)[:60]) if i % 4]
    runs += fed(stream, came)
    assert stream.losses.starts == 2
    assert numbers_in(runs, 2) == [n for i in range(60) if i % 4 for n in range(10 * i, 10 * i + 10)]


def test_many_batches_that_are_late_together_are_no_new_start():
    batches = [batch for _, batch in batches_of(node(2000))]
    stream = NodeStream(3)
    fed(stream, [*batches[:50], *batches[80:100], *batches[50:80], *batches[100:]])
    assert (stream.losses.starts, stream.losses.lost, stream.losses.late) == (1, 300, 300)
    assert stream.losses.received + stream.losses.lost == 2000


def columns(sequences):
    return [Batch(0, number, None, np.ones((1, 3))) for number in sequences]


@pytest.mark.parametrize("modulus", [256, 2**32])
def test_after_an_interruption_numbers_that_go_round_soon_are_a_new_start(modulus):
    stream = NodeStream(0, modulus)
    runs = [run for batch in columns(range(100)) for run in stream.take(batch)]
    stream.interrupted()
    runs += fed(stream, columns(range(140, 200)))
    assert stream.losses.starts == (2 if modulus == 256 else 1)
    assert stream.losses.lost == (0 if modulus == 256 else 40)
    assert [run.first for run in runs][-60:] == list(range(140, 200))


def test_a_long_silence_makes_numbers_doubtful_unless_they_go_on_exactly():
    for first, starts in ((100, 1), (140, 2)):
        stream = NodeStream(0, 256)
        fed(stream, columns(range(100)))
        stream.silent(5.0, 50.0)
        fed(stream, columns(range(first, 200)))
        assert stream.losses.starts == starts


def test_a_line_without_numbers_that_was_interrupted_is_a_new_start():
    stream = NodeStream(0)
    fed(stream, columns([None, None]))
    stream.interrupted()
    assert [run.start for run in fed(stream, columns([None]))] == [2]

"""Frames: as the page and the published method say, the same in C and Python, and none that is damaged gets through."""

import struct
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.firmware.twins.frame import (
    BATCH_MOST,
    EVENT,
    FRAME_MOST,
    HELLO,
    PAYLOAD_MOST,
    SAMPLES,
    Hello,
    Message,
    Receiver,
    event_in,
    event_message,
    framed,
    hello_in,
    hello_message,
    samples_in,
    samples_message,
    stuffed,
    unstuffed,
)
from detect.firmware.twins.record import crc16
from detect.firmware.vectors.frame import lines
from tests.detect.firmware.toolchain import needs

PAYLOADS = st.one_of(st.binary(max_size=PAYLOAD_MOST), st.lists(st.sampled_from([0, 1, 255]), max_size=240).map(bytes))
MESSAGES = st.builds(Message, st.integers(0, 255), PAYLOADS, st.integers(0, 65535), st.integers(0, 2**32 - 1),
                     st.integers(0, 2**32 - 1))


def received(data):
    receiver = Receiver()
    return list(receiver.take(data)), receiver.dropped, receiver.other


def test_stuffing_is_the_published_one():
    """Figure 3 of Cheshire and Baker 1999, and its largest block: 254 bytes and a code of 255."""
    packet = bytes.fromhex("45 00 00 2C 4C 79 00 00 40 06 4F 37")
    assert stuffed(packet) == bytes.fromhex("02 45 01 04 2C 4C 79 01 05 40 06 4F 37")
    assert stuffed(bytes(range(1, 255))) == b"\xff" + bytes(range(1, 255))
    assert stuffed(b"") == b"\x01"
    with pytest.raises(ValueError, match="255 bytes in a frame; 254 at most"):
        stuffed(bytes(255))


def test_the_checksum_is_the_catalogued_one():
    """CRC-16/IBM-3740, alias CCITT-FALSE: check 29B1 (Catalogue of parametrised CRC algorithms)."""
    assert crc16(b"123456789") == 0x29B1


def test_a_frame_is_as_the_page_says():
    message = samples_message(np.array([[1, -1, 256]], np.int16), node=0x0201, sequence=0x06050403, time_us=0x0A090807)
    body = unstuffed(framed(message)[:-1])
    assert body[:12].hex(" ") == "01 01 01 02 03 04 05 06 07 08 09 0a"
    assert body[12:-2].hex(" ") == "01 01 00 ff ff 00 01"
    assert body[-2:] == struct.pack("<H", crc16(body[:-2]))
    assert framed(message)[-1:] == b"\0"
    with pytest.raises(ValueError, match="241 bytes of payload; 240 at most"):
        Message(SAMPLES, bytes(241))
    with pytest.raises(ValueError, match="40 samples; 39 at most"):
        samples_message(np.zeros((40, 3), np.int16), 0, 0, 0)


@given(MESSAGES)
def test_every_message_comes_out_as_it_went_in(message):
    frame = framed(message)
    assert received(frame) == ([message], 0, 0)
    assert frame.count(0) == 1
    assert len(frame) == len(message.payload) + 16 <= FRAME_MOST


@given(st.integers(0, BATCH_MOST), st.integers(0, 2**40))
def test_samples_come_out_of_a_message_as_they_went_in(count, sequence):
    samples = np.random.default_rng(count).integers(-32768, 32768, (count, 3)).astype(np.int16)
    message = samples_message(samples, 7, sequence, sequence)
    assert samples_in(message).tolist() == samples.tolist()
    assert message.sequence == sequence % 2**32
    assert len(samples_in(Message(SAMPLES, message.payload + b"\0"))) == 0
    assert len(samples_in(Message(SAMPLES + 1, message.payload))) == 0


@given(st.builds(Hello, *[st.integers(1, 2**32 - 1)] * 3, st.integers(2, 16), st.integers(0, 2**32 - 1),
                 st.integers(0, 65535), st.text(st.characters(codec="ascii"), max_size=32)))
def test_a_hello_comes_out_as_it_went_in(hello):
    message = hello_message(hello, 3, 2**33 + 5, 9)
    assert hello_in(message) == hello
    assert message.sequence == 5
    assert hello_in(Message(HELLO, message.payload[:18])) is None
    assert hello_in(Message(HELLO + 1, message.payload)) is None
    assert hello_in(Message(HELLO, message.payload[:19] + bytes(33))) is None
    assert hello.rate_hz == hello.rate_millihz / 1000


@pytest.mark.parametrize("what", ["button", "battery", "alarm"])
def test_an_event_comes_out_as_it_went_in(what):
    message = event_message(what, 3700, 3, 9, 10)
    assert event_in(message) == (what, 3700)
    assert event_in(Message(EVENT, b"\x09" + message.payload[1:])) is None
    assert event_in(Message(EVENT, message.payload[1:])) is None


@given(st.lists(st.one_of(MESSAGES.map(framed), st.binary(max_size=300)), max_size=6),
       st.lists(st.integers(1, 400), max_size=8))
@settings(max_examples=150)
def test_it_does_not_matter_how_the_bytes_arrive(pieces, cuts):
    line = b"".join(pieces)
    receiver, found, at = Receiver(), [], 0
    for cut in [*cuts, len(line)]:
        found += receiver.take(line[at:at + cut])
        at += cut
    assert (found, receiver.dropped, receiver.other) == received(line)


@given(st.binary(max_size=400), MESSAGES)
def test_a_zero_ends_whatever_garbage_was_before(garbage, message):
    found, _, _ = received(garbage + b"\0" + framed(message))
    assert found[-1] == message


@pytest.mark.parametrize("damage", ["flip", "cut"])
def test_every_flip_and_every_cut_of_a_frame_costs_at_most_its_neighbour(damage):
    """A byte that becomes zero splits its frame, a zero that is lost joins two; no third is touched."""
    frame = framed(Message(0x41, b"ab\0def", 4, 9, 1000))
    behind = [Message(0x42, b"", 5, 9, 7), Message(0x43, b"x", 5, 10, 8)]
    after = b"".join(map(framed, behind))
    for at in range(8 * len(frame)) if damage == "flip" else range(1, len(frame)):
        bad = bytearray(frame)
        if damage == "flip":
            bad[at // 8] ^= 1 << at % 8
        found, dropped, other = received((bytes(bad) if damage == "flip" else frame[:at]) + after)
        assert found in (behind, behind[1:])
        assert dropped in (1, 2)
        assert other == 0


@needs("clang")
def test_c_and_python_find_the_same_messages_in_whatever_comes(device):
    data = [case.line for case in lines()]
    for seed in range(250):
        dice = Random(seed)
        line = b""
        for _ in range(dice.randint(1, 8)):
            frame = framed(Message(dice.getrandbits(8), dice.randbytes(dice.choice((0, 1, 6, 239, 240))),
                                   dice.getrandbits(16), dice.getrandbits(32), dice.getrandbits(32)))
            damaged = bytearray(frame)
            damaged[dice.randrange(len(frame))] ^= 1 << dice.randrange(8)
            line += dice.choice((frame, frame, frame[:dice.randrange(len(frame))], bytes(damaged), b"\0" * 3,
                                 dice.randbytes(dice.randint(0, 300))))
        data.append(line)
    for line in data:
        found, dropped, other = received(line)
        assert device.messages(line) == ([framed(message) for message in found], dropped, other)

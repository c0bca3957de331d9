"""Messages: C and Python find the same frames in whatever comes, a station gets its records over a bad line."""

import struct
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.firmware.twins.link import (
    ACK,
    COUNT,
    READ,
    REFUSE,
    REPLY,
    SET_TIME,
    Frame,
    LinkRefused,
    Parser,
    Station,
    frame_bytes,
    report,
    serve,
)
from detect.firmware.twins.log import Ring
from detect.firmware.twins.record import crc16, record_bytes
from detect.firmware.twins.ring import Flash
from detect.firmware.vectors.device_cases import commands, links
from tests.detect.firmware.device_made import alarm_record, filled_ring
from tests.detect.firmware.toolchain import needs

LARGEST = record_bytes(20, 12, measured=False)


def frames_in(data):
    parser = Parser()
    return [frame_bytes(frame) for frame in parser.take(data, quiet=True)], parser.dropped


def test_a_frame_is_as_the_page_says():
    data = frame_bytes(Frame(READ, b"\x04\x03\x02\x01\x06\x05", 9, 0x0201))
    assert data[:12].hex(" ") == "d3 06 02 09 01 02 04 03 02 01 06 05"
    assert data[12:] == struct.pack("<H", crc16(data[1:12]))
    assert len(frame_bytes(Frame(1, bytes(64)))) == 72
    with pytest.raises(ValueError, match="65 bytes of payload; 64 at most"):
        Frame(1, bytes(65))


def test_a_report_says_which_alarm_when_and_how_often():
    frame = report(7, 1000, 250, 0xCBF43926, 2, withdrawn=True, number=5, node=3)
    assert frame.payload.hex(" ") == "07 00 00 00 e8 03 00 00 fa 00 26 39 f4 cb 02 01"
    assert (frame.kind, frame.number, frame.node) == (0x10, 5, 3)


@needs("clang")
def test_c_and_python_find_the_same_frames_in_whatever_comes(device):
    lines = [case.line for case in links()]
    for seed in range(250):
        dice = Random(seed)
        line = b""
        for _ in range(dice.randint(1, 8)):
            frame = frame_bytes(Frame(dice.getrandbits(8), dice.randbytes(dice.choice((0, 1, 6, 63, 64))),
                                      dice.getrandbits(8), dice.getrandbits(16)))
            damaged = bytearray(frame)
            damaged[dice.randrange(len(frame))] ^= 1 << dice.randrange(8)
            line += dice.choice((frame, frame, frame[:dice.randrange(len(frame))], bytes(damaged), b"\xd3" * 3,
                                 dice.randbytes(dice.randint(0, 30))))
        lines.append(line)
    for line in lines:
        assert device.frames(line) == frames_in(line)


@given(st.lists(st.one_of(st.binary(max_size=30).map(lambda b: (b, None)),
                          st.builds(lambda p, n: (None, Frame(COUNT, p, n, 3)), st.binary(max_size=64),
                                    st.integers(0, 255))), max_size=8))
@settings(max_examples=100)
def test_a_good_frame_behind_noise_is_found_when_the_line_is_quiet(pieces):
    """No noise may hide a frame: at worst it waits for the quiet."""
    line = b"".join(noise if frame is None else frame_bytes(frame) for noise, frame in pieces)
    found, dropped = frames_in(line)
    good = [frame_bytes(frame) for noise, frame in pieces if frame is not None]
    assert found == good
    assert sum(map(len, found)) + dropped == len(line)


@pytest.mark.parametrize("damage", ["flip", "cut"])
def test_every_flip_and_every_cut_of_a_frame_is_noticed(damage):
    frame = frame_bytes(Frame(READ, b"abcdef", 4, 9))
    behind = frame_bytes(Frame(COUNT, b"", 5, 9))
    for at in range(8 * len(frame) if damage == "flip" else len(frame)):
        bad = bytearray(frame)
        if damage == "flip":
            bad[at // 8] ^= 1 << at % 8
        found, dropped = frames_in((bytes(bad) if damage == "flip" else frame[:at]) + behind)
        assert found == [behind]
        assert dropped == (len(frame) if damage == "flip" else at)


@needs("clang")
def test_c_and_twin_answer_every_command_alike(device):
    flash = Flash(256, 8, 4)
    ring, log = Ring(flash, LARGEST), device.log(256, 8, 4, LARGEST)
    dice = Random(3)
    asked = [step[1] for step in commands() if step[0] == "serve"]
    for i in range(300):
        if i % 5 == 0:
            one = alarm_record(i)
            ring.append(one.head, one.samples)
            assert log.append(one.head, one.samples)[0] == 0
        frame = dice.choice(asked)
        if dice.random() < 0.5:
            number = max(ring.sequence - dice.randint(0, 3), 0)
            payload = struct.pack("<IH", number, dice.choice((0, 48, 150, 900)))[:dice.choice((0, 4, 6, 6, 6))]
            frame = Frame(dice.choice((1, 2, 3, 4, 5, 6, 9)), payload, dice.getrandbits(8), 1)
        reply, order = serve(ring, frame)
        assert log.serve(frame_bytes(frame)) == (frame_bytes(reply), order.kind, order.value % 2**32)
    assert log.close() == bytes(flash.bytes)


def line_to(ring, dice=None, lose=0.0):
    """A line to a device; now and then a byte of it changes or is lost, either way."""
    def spoil(data):
        if dice is None or dice.random() >= lose or not data:
            return data
        at = dice.randrange(len(data))
        return data[:at] + dice.choice((b"", bytes([data[at] ^ 0x10]))) + data[at + 1:]

    def ask(data):
        answers = [serve(ring, frame)[0] for frame in Parser().take(spoil(data), quiet=True)]
        return spoil(b"".join(map(frame_bytes, answers)))
    return ask


def test_a_station_reads_all_records_over_a_bad_line():
    ring = filled_ring(6, Flash(512, 8, 4))
    ring.set_outcome(3, "withdrawn")
    station = Station(line_to(ring, Random(1), lose=0.3), tries=12)
    assert station.count() == (6, 1, 6)
    for number, expected in enumerate(ring.records(), 1):
        record, outcome = station.record(number)
        assert record.same_as(expected)
        assert outcome == ("withdrawn" if number == 3 else "open")


def test_an_alarm_that_nobody_has_read_is_never_cleared():
    ring = filled_ring(3, Flash(512, 8, 4))
    station = Station(line_to(ring))
    newest = station.count()[2]
    one = alarm_record(4)
    ring.append(one.head, one.samples)
    with pytest.raises(LinkRefused, match="not its newest"):
        station.clear(newest)
    assert station.count()[0] == 4
    station.clear(4)
    assert station.count() == (0, 0, 0)


def test_what_the_device_refuses_is_a_sentence():
    ring = filled_ring(1, Flash(512, 8, 4))
    station = Station(line_to(ring))
    with pytest.raises(LinkRefused, match="names a record that it doesn't have"):
        station.record(5)
    with pytest.raises(LinkRefused, match="did not answer 2 times"):
        Station(lambda data: b"", tries=2).count()
    with pytest.raises(LinkRefused, match="payload of the wrong length"):
        station.set_time(1, 1000)
    station.set_time(1, 999)
    station.acknowledge(1)
    station.arm()


def test_a_device_that_answers_nonsense_is_told_from_one_that_answers():
    def lies(data):
        asked, = Parser().take(data)
        return frame_bytes(Frame(REPLY | asked.kind, struct.pack("<IHHB", 9, 0, 99, 0) + b"x", asked.number, 0))
    with pytest.raises(LinkRefused, match="another part than that at byte 0 of record 1"):
        Station(lies).record(1)


def test_orders_reach_the_firmware():
    ring = filled_ring(0, Flash(512, 8, 4))
    assert serve(ring, Frame(ACK, struct.pack("<I", 8)))[1].value == 8
    assert serve(ring, Frame(SET_TIME, struct.pack("<IH", 2, 5)))[1].value == 2005
    assert serve(ring, Frame(99))[0].kind == REFUSE

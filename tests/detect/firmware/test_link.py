"""A station reads the log: C and twin answer every command alike, a station gets its records over a bad line."""

import struct
from random import Random

import pytest

from detect.firmware.twins.frame import (
    REFUSED,
    REPLY,
    AlarmReport,
    Message,
    Receiver,
    alarm_in,
    alarm_message,
    framed,
)
from detect.firmware.twins.link import COUNT, READ, LinkRefused, Station, serve
from detect.firmware.twins.log import Ring
from detect.firmware.twins.record import record_bytes
from detect.firmware.twins.ring import Flash
from detect.firmware.vectors.device_cases import commands
from tests.detect.firmware.device_made import alarm_record, filled_ring
from tests.detect.firmware.toolchain import needs

LARGEST = record_bytes(20, 12, measured=False)


def test_a_report_says_which_alarm_when_and_how_often():
    report = AlarmReport(7, 1000, 250, 0xCBF43926, 2, withdrawn=True)
    message = alarm_message(report, 3, 5, 9)
    assert message.payload.hex(" ") == "07 00 00 00 e8 03 00 00 fa 00 26 39 f4 cb 02 01"
    assert (message.kind, message.node, message.sequence, message.time_us) == (5, 3, 5, 9)
    assert alarm_in(message) == report
    for other in (Message(5, message.payload[:-1]), Message(5, message.payload[:-1] + b"\2"), Message(4)):
        assert alarm_in(other) is None


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
        command = dice.choice(asked)
        if dice.random() < 0.5:
            number = max(ring.sequence - dice.randint(0, 3), 0)
            payload = struct.pack("<IH", number, dice.choice((0, 48, 150, 900)))[:dice.choice((0, 4, 6, 6, 6))]
            command = Message(dice.choice((COUNT, READ, READ, 0x55)), payload, 1, dice.getrandbits(32))
        reply = serve(ring, command)
        assert log.serve(framed(command)) == (b"" if reply is None else framed(reply))
    assert log.close() == bytes(flash.bytes)


def line_to(ring, dice=None, lose=0.0):
    """A line to a device; now and then a byte of it changes or is lost, either way."""
    def spoil(data):
        if dice is None or dice.random() >= lose or not data:
            return data
        at = dice.randrange(len(data))
        return data[:at] + dice.choice((b"", bytes([data[at] ^ 0x10]))) + data[at + 1:]

    def ask(data):
        answers = [serve(ring, message) for message in Receiver().take(spoil(data))]
        return spoil(b"".join(framed(answer) for answer in answers if answer is not None))
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


def test_what_the_device_refuses_is_a_sentence():
    ring = filled_ring(1, Flash(512, 8, 4))
    station = Station(line_to(ring))
    with pytest.raises(LinkRefused, match="names a record that it doesn't have"):
        station.record(5)
    with pytest.raises(LinkRefused, match="did not answer 2 times"):
        Station(lambda data: b"", tries=2).count()
    assert serve(ring, Message(READ, bytes(5))) == Message(REFUSED, bytes([READ, 2]))


def test_a_device_that_answers_nonsense_is_told_from_one_that_answers():
    def lies(data):
        asked, = Receiver().take(data)
        return framed(Message(REPLY | asked.kind, struct.pack("<IHHB", 9, 0, 99, 0) + b"x", 0, asked.sequence))
    with pytest.raises(LinkRefused, match="another part than that at byte 0 of record 1"):
        Station(lies).record(1)

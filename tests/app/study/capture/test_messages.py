"""What boards say is understood as the page has it; what is damaged is counted and never taken."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.study.capture.messages import (
    BinaryDecoder,
    ColumnsDecoder,
    EchoReply,
    Greeting,
    Happening,
    TextDecoder,
    check_of,
)
from app.study.capture.simulator import Schedule, SimulatedNode, greeting, sent, text_line
from data.problem import Problem
from detect.firmware.export import PROTOCOL_MD, source
from detect.firmware.twins.frame import Hello, event_message, framed

HELLO = Hello(77, 50_000, 512_000, 12, 0xCBF43926, 4, "board 1.2")
NODE = SimulatedNode(3, np.arange(30, dtype=np.int16).reshape(10, 3) - 15, HELLO, first=7, clock_us=2**32 - 30_000)


VALUES = {"what": "button", "identity": "CBF43926", "firmware": "mine", "bits": "12"}


def decoders():
    return BinaryDecoder(), TextDecoder()


@pytest.mark.parametrize("protocol", ["binary", "text"])
def test_both_protocols_say_the_same(protocol):
    decoder = BinaryDecoder() if protocol == "binary" else TextDecoder()
    greeted, *batches = decoder.take(b"".join(sent(NODE, 0, 10, protocol)))
    assert greeted == Greeting(3, HELLO)
    assert np.vstack([batch.samples for batch in batches]).tolist() == NODE.counts.tolist()
    assert batches[0].sequence == 7
    assert batches[0].time_us == 2**32 - 30_000
    assert batches[-1].sequence == (7 if protocol == "binary" else 16)
    assert decoder.damaged == 0


def test_events_in_both_protocols():
    assert BinaryDecoder().take(framed(event_message("battery", 3700, 3, 9, 10))) == [Happening(3, 9, 10, "battery",
                                                                                                3700)]
    assert TextDecoder().take(b"E,3,9,10,battery,3700\n") == [Happening(3, 9, 10, "battery", 3700)]


@pytest.mark.parametrize("protocol", ["binary", "text"])
def test_nodes_answer_a_request_for_their_clocks(protocol):
    decoder = BinaryDecoder() if protocol == "binary" else TextDecoder()
    schedule = Schedule([NODE], protocol)
    assert decoder.take(b"".join(schedule.echoes(decoder.echo(5), 0.010))) == [EchoReply(3, 5, 2**32 - 20_000)]


def test_lines_of_the_page_are_understood():
    page = source(PROTOCOL_MD).decode()
    for line in ("S,node,sequence,time,x,y,z", "E,node,sequence,time,what,value", "T,node,number,time",
                 "H,node,serial,start,rate,counts,bits,identity,firmware"):
        assert f"`{line}`" in page
        words = re.sub(r"(?<=,)\w+", lambda m: VALUES.get(m[0], "1"), line)
        assert len(TextDecoder().take(f"{words}\r\n".encode())) == 1, words


@pytest.mark.parametrize("line", [
    "S,3,9,10,1,2", "S,3,9,10,1,2,3,4", "S,3,9,10,1,2,40000", "S,3,-9,10,1,2,3", "S,3,9,10,1,2,x", "S,99999,9,10,1,2,3",
    "X,3,9,10,1,2,3", "S", "H,3,77,4,0,512,12,CBF43926,mine", "H,3,77,4,50,512,40,CBF43926,mine",
    "H,3,77,4,50,512,12,zz,mine", "E,3,9,10,lunch,1", "T,3,9", "S,3,9,10,1,2,3*", "S,3,9,10,1,2,3*00",
    "S,3,9,10,1,2,3*0"])
def test_a_line_that_makes_no_sense_is_counted_and_not_taken(line):
    decoder = TextDecoder()
    assert decoder.take(f"{line}\nS,3,9,10,1,2,3\n".encode())[0].sequence == 9
    assert decoder.damaged == 1


@given(st.integers(0, 40), st.integers(0, 6))
def test_a_checked_line_with_one_bit_of_it_changed_is_never_taken_as_another(at, bit):
    line = bytearray(text_line("S,3,900000,12345678,-1023,2,300", True))
    line[at % (len(line) - 1)] ^= 1 << bit
    said = TextDecoder().take(bytes(line))
    assert said == [] or (len(said) == 1 and said[0].sequence == 900_000)


def test_the_check_is_the_exclusive_or_of_the_characters():
    """As marine instruments do it (NMEA 0183, from memory): "AB" is 41 xor 42."""
    assert check_of("AB") == "03"


@given(st.lists(st.binary(max_size=30), max_size=6), st.lists(st.integers(1, 50), max_size=6))
def test_it_does_not_matter_how_the_bytes_arrive(noise, cuts):
    data = b"".join(piece + b"\n" + greeting(NODE, "text", 0) for piece in noise)
    whole, pieces, at = TextDecoder(), TextDecoder(), 0
    found = []
    for cut in [*cuts, len(data)]:
        found += pieces.take(data[at:at + cut])
        at += cut
    assert found == whole.take(data)
    assert pieces.damaged == whole.damaged


def test_an_interruption_ends_what_had_begun():
    for decoder, protocol in zip(decoders(), ("binary", "text"), strict=True):
        message, = sent(NODE, 5, 6, protocol)
        assert decoder.take(message[:-3]) == []
        decoder.reset()
        assert len(decoder.take((b"\0" if protocol == "binary" else b"") + message)) == 1


# Any other line


def test_any_line_of_numbers_is_read_by_its_columns():
    decoder = ColumnsDecoder(["-", "sequence", "x", "y", "z", "-"])
    first, second = decoder.take(b"12.5, 41, 0.1, -0.2, 9.81, 25.3\n12.6;42;1e-1;0;9.80;25.3\n")
    assert (first.sequence, second.sequence, first.node) == (41, 42, 0)
    assert first.samples.tolist() == [[0.1, -0.2, 9.81]]
    assert decoder.take(b"time,seq,x,y,z,temp\n1,2,3\n1,2,nan,4,5,6\n1,2.5,3,4,5,6\n") == []
    assert decoder.damaged == 4
    assert ColumnsDecoder(["x", "y", "z"]).take(b"1\t2\t3\n")[0].sequence is None


@pytest.mark.parametrize(("names", "said"), [
    (["x", "y"], "z is missing"), (["x", "y", "z", "x"], "x is there twice"), (["x", "y", "z", "q"], '"q" is not one')])
def test_columns_that_are_none_are_refused_in_a_sentence(names, said):
    with pytest.raises(Problem, match=said):
        ColumnsDecoder(names)

"""What came last is shown as it was understood, and bytes that make no sense are said to."""

import numpy as np

from app.study.capture.preview import not_understood, preview
from app.study.capture.raw_file import Header
from app.study.capture.simulator import SimulatedNode, sent
from detect.firmware.twins.frame import Hello


def test_lines_of_columns_are_shown_beside_what_they_say():
    header = Header("test", "columns", ("sequence", "-", "x", "y", "z"), "mg")
    said = preview(header, b"7,0,1,2,3\n8,0,4,5,6\nfoo,1\n9,0,1")
    assert said == ["7,0,1,2,3  →  node 0, number 7: x 1, y 2, z 3 mg",
                    "8,0,4,5,6  →  node 0, number 8: x 4, y 5, z 6 mg", "foo,1  →  not understood"]


def test_messages_of_the_text_protocol_are_shown_in_words():
    node = SimulatedNode(3, np.array([[1, 2, 3]], np.int16), Hello(77, 50_000, 512_000, 12, start=4))
    tail = b"cut\n" + b"".join(sent(node, 0, 1, "text")) + b"E,3,1,5,battery,3700\nT,3,1,9\n"
    words = [line.partition("→  ")[2] for line in preview(Header("test", "text"), tail)]
    assert words == ["node 3, number 0: x 1, y 2, z 3 counts", "node 3: battery 3700", "node 3: its clock"]
    assert "hello of board 77, 50 Hz" in preview(Header("test", "text"), sent(node, 0, 1, "text")[0])[0]


def test_bytes_without_sense_name_what_to_check():
    assert "Check the baud rate, then the columns" in not_understood(Header("a", "columns"), 5000, 0)
    assert not_understood(Header("a", "text"), 5000, 1) == not_understood(Header("a", "text"), 20, 0) == ""
    assert preview(Header("a", "binary"), b"\xff\x00") == ["last bytes: ff 00"]
    assert preview(Header("a", "binary"), b"") == []

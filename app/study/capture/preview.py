"""How the last bytes of a line are understood, for whoever has just plugged a board in."""

from __future__ import annotations

from app.formatting import plural
from app.study.capture.messages import Batch, EchoReply, Greeting, Said, decoder_for
from app.study.capture.raw_file import Header

MOST_LINES = 3
MOST_SHOWN = 60
NOTHING_AFTER = 600
"""So many bytes of which nothing was understood are no accident."""


def preview(header: Header, tail: bytes) -> list[str]:
    """The last lines that came and what each says; of a binary line that nobody understands its bytes."""
    if header.protocol == "binary":
        return [f"last bytes: {tail[-16:].hex(' ')}"] if tail else []
    decoder, said = decoder_for(header.protocol, header.columns), []
    for line in tail.split(b"\n")[-1 - MOST_LINES:-1]:
        text = line.strip().decode("ascii", "replace")[:MOST_SHOWN]
        if text:
            read = [in_words(one, header.unit) for one in decoder.take(line + b"\n")]
            said.append(f"{text}  →  {read[0] if read else 'not understood'}")
    return said


def in_words(said: Said, unit: str) -> str:
    """A message as a person reads it."""
    if isinstance(said, Batch):
        x, y, z = said.samples[0].tolist()
        number = "" if said.sequence is None else f", number {said.sequence}"
        return f"node {said.node}{number}: x {x:g}, y {y:g}, z {z:g} {unit}"
    if isinstance(said, Greeting):
        return f"node {said.node}: hello of board {said.hello.serial_number}, {said.hello.rate_hz:g} Hz"
    if isinstance(said, EchoReply):
        return f"node {said.node}: its clock"
    return f"node {said.node}: {said.what} {said.value}"


def not_understood(header: Header, received_bytes: int, nodes: int) -> str:
    """What to check where bytes come and make no sense; empty where they do, or where there are too few to tell."""
    if nodes or received_bytes < NOTHING_AFTER:
        return ""
    what = "columns, delimiter" if header.protocol == "columns" else "protocol"
    return (f"{plural(received_bytes, 'byte')} came and nothing in them was understood. Check the baud rate, then "
            f"the {what}; "
            "every byte is kept in the raw capture.")

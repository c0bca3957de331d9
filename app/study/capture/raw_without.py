"""A raw capture without some of its nodes: for a person whose recordings are deleted, while others wore the rest."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from app.study.capture.messages import decoder_for
from app.study.capture.raw_file import CLOSED, OPENED, RECEIVED, Header, Piece, RawReader, beginning, packed
from data.atomic_file import write_atomically


def without_nodes(raw: Path, nodes: Collection[int]) -> int:
    """Write the capture anew without whatever came from these nodes and whatever was not understood; how many messages
    went. Problem where it can't be read or written."""
    reader = RawReader(raw)
    try:
        filtered = _Filter(reader.header, frozenset(nodes))
        pieces = [kept for piece in reader.all() for kept in filtered.take(piece)]
        header = reader.header
    finally:
        reader.close()
    write_atomically(raw, beginning(header) + b"".join(packed(piece) for piece in pieces))
    return filtered.gone


class _Filter:
    """Piece by piece; what had begun in one piece stands in the piece that ends it."""

    def __init__(self, header: Header, nodes: frozenset[int]) -> None:
        self._header, self._nodes = header, nodes
        self._end = b"\0" if header.protocol == "binary" else b"\n"
        self._open = b""
        self.gone = 0

    def take(self, piece: Piece) -> list[Piece]:
        if piece.kind in (OPENED, CLOSED):
            self._open = b""
        if piece.kind != RECEIVED:
            return [piece]
        *whole, self._open = (self._open + piece.data).split(self._end)
        kept = b"".join(one + self._end for one in whole if self._stays(one + self._end))
        return [Piece(RECEIVED, piece.host_us, kept)] if kept else []

    def _stays(self, message: bytes) -> bool:
        said = decoder_for(self._header.protocol, self._header.columns).take(message)
        stays = bool(said) and all(one.node not in self._nodes for one in said)
        self.gone += not stays and message != self._end
        return stays

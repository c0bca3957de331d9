"""The raw capture: every byte that came, with the time at which it came, appended as it comes.

A file is a line of magic, a line of JSON that says how to read it, and pieces: kind, length, host time, checksum,
content. Each piece is one append, so what was written is whole and readable whatever ends the program: a piece that was
cut short at the end is left out, and nothing before it is touched.

It is also written anew without some of its nodes: for a person whose recordings are deleted, while others wore the
rest.
"""

from __future__ import annotations

import json
import os
import struct
import time
import zlib
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from app.study.capture.messages import decoder_for
from data.files import write_atomically
from data.problem import Problem, from_os_error

MAGIC = b"PLUMBFALL CAPTURE 1\n"
SUFFIX = ".plfcap"
RECEIVED, SENT, OPENED, CLOSED, MARK, ENDED = range(6)
_HEAD, _CHECK = struct.Struct("<BIQ"), struct.Struct("<I")
_BEFORE = _HEAD.size + _CHECK.size
_SYNC_S = 1.0
MOST_PIECE = 1 << 20


@dataclass(frozen=True)
class Header:
    """How a capture is read. `protocol` and `columns` as for `messages.decoder_for`; `unit` of the samples: "counts",
    or a unit of acceleration. `rate_hz`: nominal, 0 where the boards say it themselves; `modulus`: where sequence
    numbers start again. `began_s`: seconds since 1970 at host time 0. `speed`: host time runs so many times as fast as
    the computer's clock, in a simulation.
    """

    source: str
    protocol: str
    columns: tuple[str, ...] = ()
    unit: str = "counts"
    rate_hz: float = 0.0
    modulus: int = 2**32
    began_s: float = 0.0
    speed: float = 1.0


@dataclass(frozen=True)
class Piece:
    """`host_us`: microseconds since the capture began, by the computer's own steady clock."""

    kind: int
    host_us: int
    data: bytes


def beginning(header: Header) -> bytes:
    return MAGIC + json.dumps(asdict(header)).encode() + b"\n"


def packed(piece: Piece) -> bytes:
    head = _HEAD.pack(piece.kind, len(piece.data), piece.host_us)
    return head + _CHECK.pack(zlib.crc32(piece.data, zlib.crc32(head))) + piece.data


class RawWriter:
    """Appends pieces to a new file, or to one whose writer was ended from outside, where `goes_on`: what that one had
    begun of a piece is cut off, and its time goes on.

    Problem where the file can't be made or read; OSError of an append is the caller's.
    """

    def __init__(self, path: Path, header: Header, goes_on: bool = False) -> None:
        self.path = path
        how = os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._file = os.open(path, how if goes_on else how | os.O_CREAT | os.O_EXCL, 0o644)
        except OSError as error:
            raise from_os_error(error, str(path), "save") from error
        self._speed = header.speed
        self._began = self._synced = time.monotonic_ns()
        if goes_on:
            self._go_on()
        else:
            self._write(beginning(replace(header, began_s=time.time())))

    def _go_on(self) -> None:
        there = RawReader(self.path)
        last_us = max((piece.host_us for piece in there.all()), default=0)
        os.ftruncate(self._file, there.read_bytes)
        there.close()
        # By the computer's clock, which may have been set meanwhile: never before what is there.
        since_us = max((time.time() - there.header.began_s) * 1e6, last_us / self._speed)
        self._began -= int(since_us * 1000)

    def append(self, kind: int, data: bytes) -> None:
        now = time.monotonic_ns()
        self._write(packed(Piece(kind, int((now - self._began) * self._speed) // 1000, data)))
        if now - self._synced > _SYNC_S * 1e9:
            os.fsync(self._file)
            self._synced = now

    def _write(self, data: bytes) -> None:
        while data:
            data = data[os.write(self._file, data):]

    def close(self) -> None:
        os.close(self._file)


class RawReader:
    """The pieces of a capture, of one that still grows too: `take` gives what is whole since the last call.

    Problem where the file can't be read or is not a capture. `damaged`: bytes at the end that are no piece so far.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            self._file = path.open("rb", buffering=0)  # a buffer would keep what a writer that goes on cuts off
        except OSError as error:
            raise from_os_error(error, path.name, "read") from error
        self.damaged = 0
        self.header = self._header()

    def _header(self) -> Header:
        first, second = self._file.readline(len(MAGIC)), self._file.readline(1 << 16)
        try:
            plain = json.loads(second) if first == MAGIC and second.endswith(b"\n") else None
            header = Header(**{**plain, "columns": tuple(plain["columns"])}) if plain else None
        except (ValueError, TypeError, KeyError):
            header = None
        if header is None:
            self.close()
            raise Problem("not_a_capture", "The file is not a raw capture, or has lost its beginning.",
                          f"Choose a file {SUFFIX} that a capture has written.", file=self.path.name)
        return header

    @property
    def read_bytes(self) -> int:
        """How far the file was read: whole pieces."""
        return self._file.tell()

    def take(self, most_bytes: int = 1 << 24) -> list[Piece]:
        """The next pieces; none where nothing new is whole."""
        data, at, pieces = self._file.read(most_bytes), 0, []
        while at + _BEFORE <= len(data):
            kind, size, host_us = _HEAD.unpack_from(data, at)
            check, = _CHECK.unpack_from(data, at + _HEAD.size)
            end = at + _BEFORE + size
            if size > MOST_PIECE or kind > ENDED or end > len(data):
                break
            content = data[at + _BEFORE:end]
            if zlib.crc32(content, zlib.crc32(data[at:at + _HEAD.size])) != check:
                break
            pieces.append(Piece(kind, host_us, content))
            at = end
        self.damaged = len(data) - at
        self._file.seek(-self.damaged, os.SEEK_CUR)
        return pieces

    def all(self) -> Iterator[Piece]:
        while pieces := self.take():
            yield from pieces

    def close(self) -> None:
        self._file.close()


def mark(what: str, **said: object) -> bytes:
    """The content of a MARK: what the person did, such as a label's start."""
    return json.dumps({"what": what, **said}).encode()


def marks_in(pieces: Sequence[Piece]) -> list[tuple[int, dict[str, object]]]:
    """Host time and content of each mark."""
    return [(piece.host_us, json.loads(piece.data)) for piece in pieces if piece.kind == MARK]


def over_us(pieces: Iterable[Piece]) -> int:
    """Host time of the last of these that is no mark, which may be added when the capture is over; 0 for none."""
    return max((piece.host_us for piece in pieces if piece.kind != MARK), default=0)


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

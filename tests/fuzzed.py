"""Valid files damaged at random, as hands, tools, disks and people of ill will damage them."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence

PIECES = (
    b"", b"\0", b"\xff", b"\xff\xfe", b"\xef\xbb\xbf", b"\r", b"\n", b"\n\n", b"\t", b" " * 40, b",", b";", b"|",
    b'"', b"'", b"#", b"%", b"=", b"[", b"]", b"{", b"}", b"[[", b"nan", b"inf", b"-inf", b"1e999", b"-1", b"0",
    b"9" * 30, b"1e-300", b"1,5", b"0x10", b"null", b"true", b"\\ud800", b"\\u0000", "µ".encode(),
    "ÿ".encode("latin-1"), "²\u2028".encode(), b"2024-05-31T14:03:07", b"9999-12-31T00:00:00", b"NaT", b"../../x",
    b"fall", b"-32768")
_NUMBER = re.compile(rb"-?\d+(\.\d+)?")


def mutated(rng: random.Random, files: Sequence[bytes]) -> bytes:
    """One of the files, with one to four things done to it."""
    raw = rng.choice(files)
    for _ in range(rng.randint(1, 4)):
        raw = rng.choice(_WAYS)(rng, raw, files)
    return raw


def _put(rng: random.Random, raw: bytes, files: Sequence[bytes]) -> bytes:
    at = rng.randint(0, len(raw))
    return raw[:at] + rng.choice(PIECES) + raw[at + rng.choice((0, 0, 1, 4, 20)):]


def _flip(rng: random.Random, raw: bytes, files: Sequence[bytes]) -> bytes:
    if not raw:
        return raw
    at = rng.randrange(len(raw))
    return raw[:at] + bytes([raw[at] ^ 1 << rng.randrange(8)]) + raw[at + 1:]


def _cut(rng: random.Random, raw: bytes, files: Sequence[bytes]) -> bytes:
    return raw[:rng.randint(0, len(raw))]


def _again(rng: random.Random, raw: bytes, files: Sequence[bytes]) -> bytes:
    start, end = sorted((rng.randint(0, len(raw)), rng.randint(0, len(raw))))
    return raw[:end] + raw[start:end][:2000] + raw[end:]


def _splice(rng: random.Random, raw: bytes, files: Sequence[bytes]) -> bytes:
    other = rng.choice(files)
    return raw[:rng.randint(0, len(raw))] + other[rng.randint(0, len(other)):]


def _number(rng: random.Random, raw: bytes, files: Sequence[bytes]) -> bytes:
    found = list(_NUMBER.finditer(raw[:20_000]))
    if not found:
        return raw
    one = rng.choice(found)
    return raw[:one.start()] + rng.choice(PIECES) + raw[one.end():]


def _lines(rng: random.Random, raw: bytes, files: Sequence[bytes]) -> bytes:
    lines = raw.split(b"\n")
    a, b = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[a], lines[b] = lines[b], rng.choice((lines[a], b"", b" ", rng.choice(PIECES)))
    return b"\n".join(lines)


_WAYS = (_put, _put, _flip, _cut, _again, _splice, _number, _number, _lines)

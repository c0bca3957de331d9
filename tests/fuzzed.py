"""Valid files damaged at random, as hands, tools, disks and people of ill will damage them."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Sequence
from typing import Any

PIECES = (
    b"", b"\0", b"\xff", b"\xff\xfe", b"\xef\xbb\xbf", b"\r", b"\n", b"\n\n", b"\t", b" " * 40, b",", b";", b"|",
    b'"', b"'", b"#", b"%", b"=", b"[", b"]", b"{", b"}", b"[[", b"nan", b"inf", b"-inf", b"1e999", b"-1", b"0",
    b"9" * 30, b"1", b"2", b"13", b"64", b"999", b"70000",
    b"1e-300", b"1,5", b"0x10", b"null", b"true", b"\\ud800", b"\\u0000", "µ".encode(),
    "ÿ".encode("latin-1"), "²\u2028".encode(), b"2024-05-31T14:03:07", b"9999-12-31T00:00:00", b"NaT", b"../../x",
    b"fall", b"-32768")
_NUMBER = re.compile(rb"-?\d+(\.\d+)?")


def mutated(rng: random.Random, files: Sequence[bytes]) -> bytes:
    """One of the files, with one to four things done to it."""
    raw = rng.choice(files)
    for _ in range(rng.randint(1, 4)):
        inside = raw[:1] in (b"{", b"[") and rng.random() < 0.5
        raw = (_value if inside else rng.choice(_WAYS))(rng, raw, files)
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


ODD: tuple[Any, ...] = (None, True, False, 0, -1, 1, 3, 0.5, -0.5, 40, 1e9, 10 ** 400, "", "x", "fall", "0", "../x", [],
                        {}, [1], ["x"], [0.5, 1, 2], {"x": 1}, [{}])
"""What stands in a table where something else belongs."""


def _value(rng: random.Random, raw: bytes, files: Sequence[bytes]) -> bytes:
    """Of a file of JSON a value anywhere in it is another, goes, or comes twice; a header has another integer."""
    try:
        whole = json.loads(raw)
    except (ValueError, RecursionError):
        return _integer(rng, raw, files)
    found, at = None, whole
    while isinstance(at, dict | list) and at and (found is None or rng.random() < 0.9):
        key = rng.choice(list(at)) if isinstance(at, dict) else rng.randrange(len(at))
        found, at = (at, key), at[key]
    if found is None:
        return json.dumps(rng.choice(ODD)).encode()
    table, key = found
    way = rng.random()
    if way < 0.7:
        table[key] = rng.choice(ODD)
    elif way < 0.85:
        del table[key]
    elif isinstance(table, dict):
        table[rng.choice(("x", key + "x", "kind", "rate_hz", "axes"))] = table[key]
    else:
        table.append(table[key])
    return json.dumps(whole).encode()


_DEFINED = re.compile(rb"(#define \w+ +)(-?\d+)")


def _integer(rng: random.Random, raw: bytes, files: Sequence[bytes]) -> bytes:
    found = list(_DEFINED.finditer(raw))
    if not found:
        return _number(rng, raw, files)
    one = rng.choice(found)
    was = int(one[2][:12])
    other = rng.choice((0, 1, 2, 3, 7, 8000, 99_999, 2 ** 32 - 1, 2 ** 32, -1, was + 1, was - 1, was * 2, was // 2))
    return raw[:one.start(2)] + str(other).encode() + raw[one.end(2):]


_WAYS = (_put, _put, _flip, _cut, _again, _splice, _number, _number, _value, _value, _lines)

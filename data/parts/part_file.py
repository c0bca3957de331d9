"""A sensor part as a TOML file: what its data sheet says, per range and per mode, and its registers.

    name = "digital, bus and interrupts"
    kind = "digital"
    lowest_c = -40
    highest_c = 85
    price = 1.5                      # optional
    origin = "data sheet, issue 3"   # optional: where the numbers below come from
    [numbers]                        # of the device, as for --set; whatever the study says else stays
    "current.running_ua" = 180
    [[ranges]]
    range_g = 4
    bits = 12
    numbers = { "spread.offset_mg" = 50 }
    [registers.range_g]              # optional: what to write into the part for a physical value
    macro = "FULL_SCALE"
    codes = [[2, 0], [4, 1], [8, 2]]
    [registers.free_fall_g]
    macro = "FREE_FALL_THRESHOLD"
    step = 0.0625
    most = 127
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from data.plain_values import Fields, Setting, Where, where_text
from data.problem import Problem, os_refusals

KINDS = ("analogue", "digital")


@dataclass(frozen=True)
class PartRange:
    """One full scale of a part, and the device's numbers that go with it."""

    range_g: float
    bits: int
    numbers: dict[str, Setting]


@dataclass(frozen=True)
class RegisterField:
    """How a physical value is coded: `codes` pairs of value and code, or so many steps of `step` up to `most`."""

    key: str
    macro: str
    codes: tuple[tuple[float, int], ...]
    step: float
    most: int


@dataclass(frozen=True)
class PartFile:
    """`price`: None where nobody says; `origin`: where its numbers come from, empty where nobody says. `numbers`: keys
    of the device and their values, checked by whoever uses them."""

    name: str
    kind: str
    lowest_c: float
    highest_c: float
    price: float | None
    numbers: dict[str, Setting]
    ranges: tuple[PartRange, ...]
    registers: tuple[RegisterField, ...]
    origin: str = ""


def load(path: Path) -> PartFile:
    """Raises Problem with file and field."""
    with os_refusals(str(path), "read"):
        raw = path.read_bytes()
    return part_from(raw, path.name)


def part_from(raw: bytes, file: str) -> PartFile:
    """Raises Problem."""
    try:
        plain = tomllib.loads(raw.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise Problem("part_file", f"This is not a TOML file: {error}.", "Correct the line.", file=file) from None

    def fail(where: Where, message: str, remedy: str) -> Problem:
        return Problem("part_file", message, remedy, file=file, column=where_text(where))

    return from_plain(Fields(plain, (), fail))


def to_plain(part: PartFile) -> dict[str, Any]:
    """What `from_plain` reads; the keys of its file."""
    return {
        "name": part.name, "kind": part.kind, "lowest_c": part.lowest_c, "highest_c": part.highest_c,
        **({} if part.price is None else {"price": part.price}), "origin": part.origin, "numbers": dict(part.numbers),
        "ranges": [{"range_g": one.range_g, "bits": one.bits, "numbers": dict(one.numbers)} for one in part.ranges],
        "registers": {one.key: {"macro": one.macro, **({"codes": [list(pair) for pair in one.codes]} if one.codes else
                                                       {"step": one.step, "most": one.most})}
                      for one in part.registers}}


def from_plain(top: Fields) -> PartFile:
    """A part's table of named values. Raises Problem."""
    ranges = tuple(_range(one) for one in top.tables("ranges"))
    if not ranges:
        raise top.fault("ranges", "at least one table [[ranges]]")
    found = PartFile(top.text("name"), top.text("kind", None, KINDS), top.number("lowest_c"), top.number("highest_c"),
                     top.maybe_number("price"), _numbers(top), ranges,
                     tuple(_register(key, top.table("registers").table(key)) for key in top.table("registers")),
                     top.text("origin"))
    if not found.name:
        raise top.fault("name", "some words")
    top.done()
    return found


def from_tables(tables: Iterable[Fields]) -> tuple[PartFile, ...]:
    """Several parts, each under a name of its own. Raises Problem."""
    found: dict[str, PartFile] = {}
    for table in tables:
        part = from_plain(table)
        if part.name in found:
            raise table.fault("name", "a name that no other part has")
        found[part.name] = part
    return tuple(found.values())


def _numbers(part: Fields) -> dict[str, Setting]:
    numbers = part.table("numbers")
    return {key: numbers.setting(key) for key in numbers}


def _range(part: Fields) -> PartRange:
    found = PartRange(part.number("range_g"), part.whole("bits", 12), _numbers(part))
    if not found.range_g > 0:
        raise part.fault("range_g", "above 0")
    part.done()
    return found


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _register(key: str, part: Fields) -> RegisterField:
    pairs = part.raw("codes", [])
    if not isinstance(pairs, list) or not all(
            isinstance(pair, list) and len(pair) == 2 and _is_number(pair[0]) and type(pair[1]) is int
            for pair in pairs):
        raise part.fault("codes", "pairs of a value and a whole code, such as [[2, 0], [4, 1]]")
    found = RegisterField(key, part.text("macro"), tuple((float(value), code) for value, code in pairs),
                          part.number("step", 0.0), part.whole("most", 0))
    if not found.macro.isidentifier() or not found.macro.isupper():
        raise part.fault("macro", "a name in capitals, such as FULL_SCALE")
    if bool(found.codes) == bool(found.step > 0 and found.most > 0):
        raise part.fault("codes", "either codes, or step and most, both above 0")
    part.done()
    return found

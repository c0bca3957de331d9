"""What is written out of the table of parameters into sources: fields of Rule; C settings, their names and bounds.

    python -m detect.firmware.header.generated

puts it between the marks of each file; a test holds that it is current. This module asks nothing but the table, so that
it also runs while a file is behind it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping
from itertools import groupby
from pathlib import Path

from detect.rule.parameter_row import Integer, Parameter
from detect.rule.settings import PARAMETERS, Unit

MARK = "generated from detect/rule/parameters.py"
WIDTH = 116

INTEGERS: tuple[tuple[Parameter, Integer], ...] = tuple((row, one) for row in PARAMETERS for one in row.integers)
"""Every integer in the order of the header, of the C struct and of the identity, with its row."""

DETECT = Path(__file__).parents[2]


def rule_fields() -> list[str]:
    """The fields of Rule: one for each integer, one for a vector."""
    lines = []
    for row, one in INTEGERS:
        if one.axis in (None, 0):
            kind = "bool" if row.is_flag else "int" if one.axis is None else "tuple[int, int, int]"
            lines.append(f"    {one.field}: {kind}" + (f"  # {one.letter}" if one.letter else ""))
    return lines


def c_settings() -> list[str]:
    """The struct, members of one type in one declaration, and its initialiser from the macros."""
    lines = ["typedef struct {"]
    members = [(one.c_type, one.member if one.axis is None else f"{one.array}[3]")
               for _, one in INTEGERS if one.axis in (None, 0)]
    for c_type, alike in groupby(members, key=lambda member: member[0]):
        lines += _wrapped(f"    {c_type} ", [name for _, name in alike], ";")
    lines += ["} plf_settings;", "#define PLF_SETTINGS { \\"]
    body = _wrapped("    ", initialised([one.macro for _, one in INTEGERS]), " }", " \\")
    return [*lines, *body]


def initialised(values: list[str]) -> list[str]:
    """Values in the order of INTEGERS as the items of an initialiser of plf_settings, a vector's in braces."""
    items: list[str] = []
    for (_, one), value in zip(INTEGERS, values, strict=True):
        if one.axis in (None, 0):
            items.append(value)
        else:
            items[-1] += f", {value}"
        if one.axis == 2:
            items[-1] = f"{{ {items[-1]} }}"
    return items


def c_names() -> list[str]:
    """The number of each integer, by which a check names it."""
    names = ["PLF_ALL_IN_BOUNDS", *(setting_name(one) for _, one in INTEGERS), "PLF_NO_SETTINGS"]
    return [f"#define PLF_SETTINGS_COUNT {len(INTEGERS)}U", "enum plf_setting {", *_wrapped("    ", names, ""), "};"]


def setting_name(one: Integer) -> str:
    return f"PLF_SETTING_{one.member.upper()}"


def c_bounds() -> list[str]:
    """Of each integer its bounds, and what must hold beyond them."""
    return ["static const struct {", "    int32_t least, most;", "} bounds[PLF_SETTINGS_COUNT] = {",
            *_wrapped("    ", [f"{{ {one.least}, {one.most} }}" for _, one in INTEGERS], ""), "};", "",
            "/* Choices among numbers, vectors that must not be zero, some samples of a window. */",
            "static enum plf_setting first_that_contradicts(const plf_settings *s)", "{", *_contradictions(),
            "    return PLF_ALL_IN_BOUNDS;", "}", "",
            "void plf_settings_numbers(const plf_settings *settings, int32_t to[PLF_SETTINGS_COUNT])", "{",
            *(f"    to[{i}] = settings->{one.c_name};" for i, (_, one) in enumerate(INTEGERS)), "}", "",
            "void plf_settings_of(const int32_t from[PLF_SETTINGS_COUNT], plf_settings *settings)", "{",
            *(f"    settings->{one.c_name} = ({one.c_type})from[{i}];" for i, (_, one) in enumerate(INTEGERS)), "}"]


def _contradictions() -> Iterator[str]:
    of_key = {row.key: row.integers for row in PARAMETERS}
    for row in PARAMETERS:
        first = row.integers[0]
        if row.unit is Unit.CHOICE and not row.is_flag:
            yield from _refused(first, [f"s->{first.c_name} != {choice}" for choice in row.choices])
        elif row.unit is Unit.VECTOR:
            yield from _refused(first, [f"s->{one.c_name} == 0" for one in row.integers])
        elif row.unit is Unit.PERCENT:
            yield from _refused(first, [f"s->{first.c_name} > s->{of_key[row.share_of][0].c_name}"])


def _refused(one: Integer, all_of: list[str]) -> Iterator[str]:
    """The setting is named where all of these hold."""
    line = f"    if ({all_of[0]}"
    for part in all_of[1:]:
        if len(line) + len(part) + 4 > WIDTH:
            yield line
            line = "       "
        line += f" && {part}"
    yield from (f"{line}) {{", f"        return {setting_name(one)};", "    }")


BLOCKS: Mapping[str, Callable[[], list[str]]] = {
    "rule/integers.py": rule_fields,
    "firmware/c/plumbfall_settings.h": lambda: [*c_settings(), "", *c_names()],
    "firmware/c/plumbfall_settings.c": c_bounds}
"""Files below detect/ and what stands between their marks."""


def current(name: str, text: str) -> str:
    """The file's text with its block as the table has it; ValueError without the two marks."""
    begin, end = _marks(name)
    before, first, rest = text.partition(begin)
    _, second, after = rest.partition(end)
    if not first or not second:
        raise ValueError(f'detect/{name}: the lines "{begin.strip()}" and "{end.strip()}" are not there. Restore them.')
    return before + begin + "\n".join(BLOCKS[name]()) + "\n" + end + after


def _marks(name: str) -> tuple[str, str]:
    opens, closes = ("    # ", "") if name.endswith(".py") else ("/* ", " */")
    return f"{opens}{MARK}: begin{closes}\n", f"{opens}{MARK}: end{closes}\n"


def _wrapped(start: str, items: list[str], last: str, at_line_end: str = "") -> Iterator[str]:
    """Items after commas, lines no longer than WIDTH, the first after `start`, the others as far in."""
    line, indent = start, " " * len(start)
    for i, item in enumerate(items):
        text = item + ("," if i < len(items) - 1 else last)
        if len(line.rstrip()) + len(text) + 1 + len(at_line_end) > WIDTH:
            yield line.rstrip() + at_line_end
            line = indent
        line += text + " "
    yield line.rstrip()


def main() -> int:
    for name in BLOCKS:
        path = DETECT / name
        text = path.read_text(encoding="utf-8")
        if (new := current(name, text)) != text:
            path.write_text(new, encoding="utf-8")
            print(f"detect/{name} is written anew.")
    return 0


if __name__ == "__main__":
    sys.exit(main())

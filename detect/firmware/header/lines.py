"""From the text of plumbfall_params.h to its defines; whatever else a hand put there is a problem."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from detect.firmware.header.fields import BY_MACRO, FIRST_NAMES
from detect.firmware.header.identity import FRONT_END_MACROS
from detect.firmware.header.writer import NOT_SCORED, check_lines, derived_lines

IDENTITY = "PLF_IDENTITY_CRC32"
VERSION_OF_IDENTITY = "PLF_IDENTITY_VERSION"
"""A header without it has an identity of version 1."""
DIGESTS = ("PLF_RECORDINGS_SHA256", "PLF_LABELS_SHA256")
MACROS = (VERSION_OF_IDENTITY, IDENTITY, *DIGESTS, *FRONT_END_MACROS, *BY_MACRO)
"""Every define that carries a value, in the header's order."""


@dataclass(frozen=True)
class HeaderProblem:
    """One line of a header that is not as exported: what was found, what is wrong with it, what to do."""

    line: int
    value: str
    message: str
    remedy: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.value} {self.message} {self.remedy}".rstrip()


class HeaderRefused(ValueError):
    """A header that can't be read; `problems` holds every reason, in the order of the lines."""

    def __init__(self, problems: Iterable[HeaderProblem]) -> None:
        self.problems = tuple(sorted(problems, key=lambda p: p.line))
        super().__init__("\n".join(str(p) for p in self.problems))


@dataclass(frozen=True)
class Define:
    """A define of an integer: its line, the integer, its text for messages, the comment on its line."""

    line: int
    value: int
    text: str
    note: str

    def problem(self, message: str, remedy: str) -> HeaderProblem:
        return HeaderProblem(self.line, self.text, message, remedy)


@dataclass
class Parsed:
    """What the lines say. `seen` maps each known macro to its line, also where its value was refused."""

    defines: dict[str, Define] = field(default_factory=dict)
    digests: dict[str, str] = field(default_factory=dict)
    seen: dict[str, int] = field(default_factory=dict)
    problems: list[HeaderProblem] = field(default_factory=list)


@dataclass(frozen=True)
class _Line:
    """A line without its comments, spaces collapsed; `note` is the text of the comments."""

    number: int
    code: str
    note: str

    @property
    def current(self) -> str:
        """The code as it is written today, renamed macros and their checks by today's names."""
        return _WORD.sub(lambda word: _RENAMED.get(word[0], word[0]), self.code)


_DEFINE = re.compile(r"# ?define (?P<macro>\w+)(?P<rest>.*)\Z")
_INTEGER = re.compile(r"(?P<open>\(?)(?P<digits>-?(0[xX][0-9a-fA-F]+|[0-9]+))[uU]?[lL]{0,2}(?P<close>\)?)\Z")
_DIGEST = re.compile(rf'"([0-9a-f]{{64}}|{NOT_SCORED})"\Z')
_COMMENT = re.compile(r"/\*|//")

_WORD = re.compile(r"\w+")
_MACROS_THEN = {first: macro for macro, first in FIRST_NAMES.items()}
_RENAMED = {
    **_MACROS_THEN,
    **{then.removeprefix("PLF_").lower(): now.removeprefix("PLF_").lower() for then, now in _MACROS_THEN.items()},
    "busy_most": "active_most",
}
"""Words of older headers and what they are now: macros, and the names of their PLF_CHECK."""

_RESTORE = "Restore the line from a fresh export."


def parse(text: str) -> Parsed:
    """Every define by its macro, by today's name where the header is older.

    A line that is neither a known define nor one that the writer writes is a problem, and so is one of the
    writer's that is missing.
    """
    parsed = Parsed()
    lines = [line for line in _without_comments(text, parsed.problems) if line.code]
    fixed = _fixed_lines()
    missing = list(fixed)
    fixed_macros = {m["macro"] for code in fixed if (m := _DEFINE.match(code))}
    for line in lines:
        current = line.current
        match = _DEFINE.match(current)
        if match and match["macro"] in MACROS:
            _take(line, match["macro"], match["rest"].strip(), parsed)
        elif current in missing:
            missing.remove(current)
        elif match and match["macro"] not in fixed_macros:
            parsed.problems.append(HeaderProblem(line.number, match["macro"], "is not a macro of this header.",
                                                 "Remove the line."))
        else:
            parsed.problems.append(HeaderProblem(line.number, _short(line.code), "is not as it was exported.",
                                                 f"{_RESTORE[:-1]}; change integers only."))
    last = lines[-1].number if lines else 1
    missing += [macro for macro in MACROS if macro not in parsed.seen and macro != VERSION_OF_IDENTITY]
    parsed.problems += [HeaderProblem(last, _short(code), "is missing.", _RESTORE) for code in missing]
    return parsed


def stated_in(text: str) -> dict[str, str]:
    """Every define that carries a value, as an exported header has it: its macro and its text."""
    values = {}
    for line in _without_comments(text, []):
        match = _DEFINE.match(line.code)
        if match and match["macro"] in MACROS:
            values[match["macro"]] = match["rest"].strip()
    return values


def _fixed_lines() -> list[str]:
    """What the writer writes beside the defines."""
    text = "\n".join(("#ifndef PLUMBFALL_PARAMS_H", "#define PLUMBFALL_PARAMS_H", "#include <stdint.h>",
                      *derived_lines(0), *check_lines(), "#endif"))
    return [line.code for line in _without_comments(text, []) if line.code]


def _without_comments(text: str, problems: list[HeaderProblem]) -> list[_Line]:
    lines = []
    opened = 0
    for number, raw in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
        code, note, rest = "", "", raw
        while rest:
            if opened:
                inside, end, rest = rest.partition("*/")
                note += inside
                opened = 0 if end else opened
            elif (start := _COMMENT.search(rest)) is None:
                code, rest = code + rest, ""
            elif start.group() == "//":
                code, note, rest = code + rest[:start.start()], note + rest[start.end():], ""
            else:
                code, rest, opened = f"{code}{rest[:start.start()]} ", rest[start.end():], number
        lines.append(_Line(number, " ".join(code.split()), note))
    if opened:
        problems.append(HeaderProblem(opened, "/*", "opens a comment that is never closed.",
                                      "Close it with */."))
    return lines


def _take(line: _Line, macro: str, text: str, parsed: Parsed) -> None:
    written = line.code.partition("define ")[2].partition(" ")[0]
    found = f"{written} {_short(text)}".rstrip()

    def refuse(message: str, remedy: str) -> None:
        parsed.problems.append(HeaderProblem(line.number, found, message, remedy))

    if macro in parsed.seen:
        refuse(f"is defined again, first on line {parsed.seen[macro]}.", "Keep one of the two lines.")
        return
    parsed.seen[macro] = line.number
    if macro in DIGESTS:
        if _DIGEST.match(text):
            parsed.digests[macro] = text.strip('"')
        else:
            refuse("is not a SHA-256.", f'Restore its 64 digits of 0-9 and a-f, or write "{NOT_SCORED}".')
        return
    match = _integer(text)
    if match is None:
        refuse("is not one integer.", "Write a decimal integer.")
    elif re.match(r"-?0[0-9]", match["digits"]):
        refuse("begins with 0, which C reads as octal.", "Write it without the leading zero.")
    else:
        parsed.defines[macro] = Define(line.number, int(match["digits"], 0), found, line.note)


MOST_DIGITS = 4000
"""Of an integer that is read at all: Python refuses to make numbers of many more."""


def _integer(text: str) -> re.Match[str] | None:
    match = _INTEGER.match(text)
    if match is None or len(match["open"]) != len(match["close"]) or len(match["digits"]) > MOST_DIGITS:
        return None
    return match


def value_of(text: str) -> int:
    """The integer that a define's text stands for; ValueError where it is none."""
    match = _integer(text)
    if match is None:
        raise ValueError(f"{text} is not one integer")
    return int(match["digits"], 0)


def _short(code: str) -> str:
    return code if len(code) <= 60 else code[:57] + "..."

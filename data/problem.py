"""What is wrong with something a person gave us, said so that they can put it right."""

from __future__ import annotations

import errno
import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass
from types import MappingProxyType

MOST_LETTERS = 1500
"""Of what went wrong, and of what to do about it, each."""


def counted(count: int, one: str, many: str = "") -> str:
    """"1 gap", "2 gaps"; `many`: what stands for several where an "s" does not do."""
    return f"{count} {one if count == 1 else many or one + 's'}"


class Problem(Exception):
    """One fault in one place. The command line, the dialogs and the tables all print `sentence()`.

    `kind`: a short fixed word for programs, such as "not_a_number"; `message` and `remedy`: whole sentences.
    `file`: as the user knows it; `line` and `column` where there are such, `value` as it stands in the file.
    `row`: the sample, from 0, where a check of arrays found it; whoever knows the text makes it a line.
    `field`: what a person can say about it, as a recipe's section and key ("units.time"), and `fits` the value that
    would do; the command line names its option for it, the window its control.
    """

    def __init__(
        self,
        kind: str,
        message: str,
        remedy: str,
        *,
        file: str = "",
        line: int | None = None,
        column: str = "",
        value: str = "",
        row: int | None = None,
        field: str = "",
        fits: str = "",
    ) -> None:
        super().__init__(kind, message, remedy)
        self.kind = kind
        self.message = message
        self.remedy = remedy
        self.file = file
        self.line = line
        self.column = column
        self.value = value
        self.row = row
        self.field = field
        self.fits = fits

    def __reduce__(self) -> tuple[object, ...]:
        # Problems travel between worker processes; the address must survive the journey.
        address = self.file, self.line, self.column, self.value, self.row, self.field, self.fits
        return _again, (self.kind, self.message, self.remedy, *address)

    def __str__(self) -> str:
        return self.sentence()

    def advice(self, places: Mapping[str, str]) -> str:
        """What to do, with the place of `places` where that is done: by field, "{}" standing for what fits."""
        place = places.get(self.field, "").replace("{}", self.fits).replace("  ", " ").replace(" ,", ",").strip()
        return f"{self.remedy.rstrip('.')}: {place}." if place else self.remedy

    def sentence(self, places: Mapping[str, str] = MappingProxyType({})) -> str:
        """Where, what and what to do, as one text; `places` as for `advice`."""
        where = [self.file] if self.file else []
        if self.line is not None:
            where.append(f"line {self.line}")
        elif self.row is not None:
            where.append(f"row {self.row + 1}")
        said = f"{_cut(self.message)} {_cut(self.advice(places))}".strip()
        if not where:
            return said
        address = ", ".join(where)
        return f"{address}: {said}" if self.file else f"{address.capitalize()}: {said}"

    def at(self, file: str) -> Problem:
        """The same fault in the named file, where it didn't say yet."""
        if self.file:
            return self
        other = copy(self)
        other.file = file
        return other

    def on(self, line: int) -> Problem:
        """The same fault on a line that has been found."""
        other = copy(self)
        other.line = line
        return other


def _again(
    kind: str,
    message: str,
    remedy: str,
    file: str,
    line: int | None,
    column: str,
    value: str,
    row: int | None,
    field: str,
    fits: str,
) -> Problem:
    return Problem(kind, message, remedy, file=file, line=line, column=column, value=value, row=row, field=field,
                   fits=fits)


MOST_ALIKE = 3
"""More problems of one kind than these are told in one sentence."""


@dataclass(frozen=True)
class AlikeProblems:
    """Problems that differ only in where and with what value: told as one where they are many."""

    problems: tuple[Problem, ...]

    def sentences(self, places: Mapping[str, str] = MappingProxyType({})) -> tuple[str, ...]:
        """One for all of them, or one each where they are few."""
        first, count = self.problems[0], len(self.problems)
        if count <= MOST_ALIKE:
            return tuple(problem.sentence(places) for problem in self.problems)
        some = self.problems[:MOST_ALIKE]
        what = f"{first.message} {first.advice(places)}".strip()
        if len({problem.message for problem in self.problems}) > 1:
            what = f"{_quoted([problem.value for problem in some])}: {what}"
        files = list(dict.fromkeys(problem.file for problem in self.problems))
        if len(files) > 1:
            return (f"{count} times, in {', '.join(files[:MOST_ALIKE])}{', …' * (len(files) > MOST_ALIKE)}: {what}",)
        lines = ", ".join(str(problem.line) for problem in some if problem.line is not None)
        return (f"{files[0] or 'Here'}, {count} times{f', lines {lines}, …' if lines else ''}: {what}",)


def _quoted(values: list[str]) -> str:
    return ", ".join(f'"{value}"' for value in values) + ", …"


def alike(problems: Iterable[Problem]) -> list[AlikeProblems]:
    """Problems of one kind and one remedy together, in the order of the first of each. Those of labels are one table's,
    those of whole files have the same message."""
    found: dict[tuple[str, ...], list[Problem]] = {}
    for problem in problems:
        whose = (problem.file,) if problem.kind.startswith("label") else (problem.message,)
        found.setdefault((problem.kind, problem.remedy, *whose), []).append(problem)
    return [AlikeProblems(tuple(some)) for some in found.values()]


_UNSAFE = re.compile("[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
"""Control characters, those that turn the direction of a line, and halves of characters."""


def printable(text: str, kept: str = "") -> str:
    """A text with control characters and halves of characters as escapes that JSON knows too: no name moves a
    terminal's cursor, and every one can be printed. `kept`: those that stay."""
    return _UNSAFE.sub(lambda found: found[0] if found[0] in kept else f"\\u{ord(found[0]):04x}", text)


def is_text(name: str) -> bool:
    """Whether a file's name is UTF-8."""
    return not any("\ud800" <= sign <= "\udfff" for sign in name)


def _cut(words: str) -> str:
    """At most MOST_LETTERS: a damaged file's own words in a sentence may be a thousand lines."""
    return words if len(words) <= MOST_LETTERS else f"{words[:MOST_LETTERS]}…"


def shown(value: str, most: int = 60) -> str:
    """A value as it is quoted in a sentence: on one line, and short."""
    flat = " ".join(value.split())
    return flat if len(flat) <= most else flat[: most - 1] + "…"


def from_os_error(error: OSError, file: str, doing: str) -> Problem:
    """The operating system's refusal in words; `doing` is "read" or "save"."""
    kind, message, remedy = {
        errno.ENOENT: ("vanished", "The file is not there.", "Check the name, or whether its drive is connected."),
        errno.EACCES: ("not_allowed", f"You may not {doing} this file.", "Ask for the right, or choose another place."),
        errno.EPERM: ("not_allowed", f"You may not {doing} this file.", "Ask for the right, or choose another place."),
        errno.EROFS: ("not_allowed", "This place is read-only.", "Choose another place."),
        errno.ENOSPC: ("disk_full", "The disk is full.", "Make room, or choose another place."),
        errno.EDQUOT: ("disk_full", "Your share of the disk is used up.", "Make room, or choose another place."),
        errno.EFBIG: ("disk_full", "The file would be larger than allowed here.", "Choose another place."),
        errno.ENODEV: ("special", "This is not an ordinary file but a pipe, a socket or a device.", "Name a file."),
        errno.EINVAL: ("unreadable", "No file can have such a path.", "Correct the path."),
        errno.ELOOP: ("unreadable", "The link leads back to itself.", "Name the file that it should lead to."),
        errno.EISDIR: ("unreadable", "This is a folder, not a file.", "Name a file."),
        errno.ENOTDIR: ("vanished", "A part of the path is not a folder.", "Check the path."),
        errno.ENAMETOOLONG: ("unreadable", "The name is too long for this system.", "Choose a shorter name."),
    }.get(
        error.errno or 0,
        ("unreadable", f"The system could not {doing} it: {error.strerror or error}.", "Try again, or copy it."),
    )
    return Problem(kind, message, remedy, file=file)


@contextmanager
def os_refusals(file: str, doing: str) -> Iterator[None]:
    """What the operating system refuses meanwhile, as a Problem; as `from_os_error`."""
    try:
        yield
    except OSError as error:
        raise from_os_error(error, file, doing) from error

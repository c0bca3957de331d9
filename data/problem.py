"""What is wrong with something a person gave us, said so that they can put it right."""

from __future__ import annotations

import errno
from copy import copy


class Problem(Exception):
    """One fault in one place. The command line, the dialogs and the tables all print `sentence()`.

    `kind`: a short fixed word for programs, such as "not_a_number"; `message` and `remedy`: whole sentences.
    `file`: as the user knows it; `line` and `column` where there are such, `value` as it stands in the file.
    `row`: the sample, from 0, where a check of arrays found it; whoever knows the text makes it a line.
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

    def __reduce__(self) -> tuple[object, ...]:
        # Problems travel between worker processes; the address must survive the journey.
        address = self.file, self.line, self.column, self.value, self.row
        return _again, (self.kind, self.message, self.remedy, *address)

    def __str__(self) -> str:
        return self.sentence()

    def sentence(self) -> str:
        """Where, what and what to do, as one text."""
        where = [self.file] if self.file else []
        if self.line is not None:
            where.append(f"line {self.line}")
        elif self.row is not None:
            where.append(f"row {self.row + 1}")
        said = f"{self.message} {self.remedy}".strip()
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
) -> Problem:
    return Problem(kind, message, remedy, file=file, line=line, column=column, value=value, row=row)


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
        errno.EISDIR: ("unreadable", "This is a folder, not a file.", "Name a file."),
        errno.ENOTDIR: ("vanished", "A part of the path is not a folder.", "Check the path."),
        errno.ENAMETOOLONG: ("unreadable", "The name is too long for this system.", "Choose a shorter name."),
    }.get(
        error.errno or 0,
        ("unreadable", f"The system could not {doing} it: {error.strerror or error}.", "Try again, or copy it."),
    )
    return Problem(kind, message, remedy, file=file)

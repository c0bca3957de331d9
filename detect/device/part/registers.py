"""What to write into a part for a physical value, what it then holds, and the macros that say so; read back as well."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from detect.rule.settings import BadSetting

PREFIX = "PLF_REGISTER_"
_DEFINE = re.compile(rf"^#define {PREFIX}(?P<macro>[A-Z0-9_]+) (?P<code>\d+)U\b")


@dataclass(frozen=True)
class RegisterCodes:
    """How a value is coded: pairs of value and code, or so many steps of `step`, at least one and at most `most`."""

    key: str
    macro: str
    codes: tuple[tuple[float, int], ...] = ()
    step: float = 0.0
    most: int = 0

    def code(self, value: float) -> int:
        """BadSetting where the part has no such value."""
        if self.codes:
            for one, code in self.codes:
                if math.isclose(one, value, rel_tol=1e-6):
                    return code
            raise BadSetting(self.key, value, "has no code in the part's file.",
                             f"Choose one of: {', '.join(f'{one:g}' for one, _ in self.codes)}.")
        code = max(math.floor(value / self.step + 0.5), 1)
        if code > self.most:
            raise BadSetting(self.key, value, f"is more than the register holds, {self.most * self.step:g}.",
                             "Write a smaller value.")
        return code

    def value(self, code: int) -> float:
        """What the part does under a code. BadSetting where it is none of its codes."""
        if self.codes:
            for one, known in self.codes:
                if known == code:
                    return one
        elif 1 <= code <= self.most:
            return code * self.step
        raise BadSetting(self.key, code, f"is not a code of {self.macro}.", "Correct the macro.")


@dataclass(frozen=True)
class RegisterRow:
    """A macro with its code, what was requested and what the part holds."""

    key: str
    macro: str
    code: int
    requested: float
    actual: float


def register_rows(every: Sequence[RegisterCodes], requested: dict[str, float]) -> tuple[RegisterRow, ...]:
    """BadSetting where the part has no such value, or no such number is known."""
    rows = []
    for one in every:
        if one.key not in requested:
            raise BadSetting(one.key, "", "is not a number that has a register.", "Correct the part's file.")
        code = one.code(requested[one.key])
        rows.append(RegisterRow(one.key, one.macro, code, requested[one.key], one.value(code)))
    return tuple(rows)


def macros(rows: Sequence[RegisterRow]) -> str:
    """C macros, a line each, the physical value in the comment."""
    return "".join(f"#define {PREFIX}{row.macro} {row.code}U /* {row.key}: requested {row.requested:g}, actual "
                   f"{row.actual:g} */\n" for row in rows)


def read_back(text: str, every: Sequence[RegisterCodes]) -> dict[str, float]:
    """By key what the codes of exported macros mean. BadSetting for one that is none of the part's, or missing."""
    codes = {found["macro"]: int(found["code"]) for line in text.splitlines() if (found := _DEFINE.match(line))}
    missing = [one.macro for one in every if one.macro not in codes]
    if missing:
        raise BadSetting(missing[0], "", "is not defined.", f"Write #define {PREFIX}{missing[0]} and its code.")
    return {one.key: one.value(codes[one.macro]) for one in every}

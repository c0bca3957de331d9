"""How commands speak: a table a person can read, or JSON; sentences for what went wrong."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence

DONE, ANSWER_IS_NO, WRONG_INPUT = 0, 1, 2
"""Exit codes: done; done but the answer is no (a check failed); wrong input or usage."""


def print_json(plain: object) -> None:
    print(json.dumps(plain, ensure_ascii=False, indent=2, allow_nan=False))


def print_table(heads: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> None:
    """Columns under their heads; those numbered in `right` are aligned right."""
    widths = [max([len(head), *(len(row[i]) for row in rows)]) for i, head in enumerate(heads)]
    for line in (heads, *rows):
        cells = [cell.rjust(width) if i in right else cell.ljust(width)
                 for i, (cell, width) in enumerate(zip(line, widths, strict=True))]
        print("  ".join(cells).rstrip())


def complain(sentence: str) -> None:
    print(sentence, file=sys.stderr)

"""A header of a score, and edits of it by hand."""

import pytest

from detect.firmware.header.lines import HeaderRefused
from detect.firmware.header.reader import read_header
from detect.firmware.header.writer import Provenance, write_header
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS

SCORED = Provenance("0123456789abcdef" * 4, "fedcba9876543210" * 4, 100, 40,
                    ("sensitivity 41/45 = 0.91 (0.79 ... 0.96)",), synthetic=True)
TEXT = write_header(DEFAULTS, FrontEnd(), SCORED)


def without_comments(text):
    lines = text.splitlines()
    return "\n".join(line.split("/*")[0] if line.startswith("#define") else line for line in lines)


def line_of(macro, text=TEXT):
    return next(i for i, line in enumerate(text.splitlines(), 1) if line.startswith(f"#define {macro} "))


def changed(macro, value, text=TEXT):
    lines = text.splitlines()
    i = line_of(macro, text) - 1
    comment = lines[i][lines[i].index("/*"):] if "/*" in lines[i] else ""
    lines[i] = f"#define {macro} {value} {comment}"
    return "\n".join(lines) + "\n"


def refusal(text):
    with pytest.raises(HeaderRefused) as caught:
        read_header(text)
    assert str(caught.value)
    return caught.value.problems

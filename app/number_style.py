"""How the window shows figures: decimal sign, sign between thousands, unit of acceleration. Its one place.

Everything that the program writes, files, exports, reports, the clipboard and what commands print, keeps the open form:
a point, thin spaces, g. Only what a person sees in the window goes through `shown`, and only what they type there
through `opened`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from app.formatting import GAP, MINUS, THIN
from data.recordings.model import STANDARD_GRAVITY

G, SI = "g", "m/s²"


@dataclass(frozen=True)
class NumberStyle:
    """`decimal`: between whole and part; `group`: between thousands, empty for none; `acceleration`: G or SI."""

    decimal: str = "."
    group: str = THIN
    acceleration: str = G


OPEN = NumberStyle()
SIGNS = {"1 234.5": (".", THIN), "1,234.5": (".", ","), "1 234,5": (",", THIN), "1.234,5": (",", "."),
         "1’234.5": (".", "’")}
"""Decimal sign and sign between thousands, by what they make of a number."""

_in_use = OPEN

_NUMBER = rf"[{MINUS}-]?\d[\d{THIN}]*(?:\.\d+)?"
_ALONE = re.compile(rf"(?<![\w./\\:#]){_NUMBER}(?!\w|\.\w)")
"""A number, and no part of a name, a path, a version or a time of day."""
_OF_G = re.compile(rf"(?<![\w./\\:#])(?:(?P<from>{_NUMBER})(?P<to> – | … | to ))?(?P<sign>[±≥≤<>+]?)"
                   rf"(?P<value>{_NUMBER})(?P<gap>[ {GAP}])(?P<milli>m?)g(?![\w/²])")


def use(style: NumberStyle) -> None:
    """From now on figures are shown so."""
    global _in_use
    _in_use = style


@contextmanager
def open_form() -> Iterator[None]:
    """Meanwhile nothing is changed: a picture that goes into a file is drawn."""
    kept = _in_use
    use(OPEN)
    try:
        yield
    finally:
        use(kept)


def style() -> NumberStyle:
    return _in_use


def shown(text: str) -> str:
    """A text of the open form as the window shows it."""
    if _in_use is OPEN or _in_use == OPEN:
        return text
    if _in_use.acceleration == SI:
        text = _OF_G.sub(_in_si, text)
    if (_in_use.decimal, _in_use.group) == (OPEN.decimal, OPEN.group):
        return text
    return _ALONE.sub(_signed, text)


def opened(text: str) -> str:
    """What somebody typed in this style, as the open form has it: its group signs gone, a point before the part.

    Either decimal sign is understood where it can't be the sign between thousands, which has three digits after it.
    """
    group = _in_use.group
    if group in (",", "."):
        text = re.sub(rf"(?<=\d){re.escape(group)}(?=\d\d\d(?!\d))", "", text)
    elif group != THIN:
        text = text.replace(group, "")
    return text.replace(_in_use.decimal, ".")


def factor() -> float:
    """What a value in g is multiplied with to be shown."""
    return STANDARD_GRAVITY if _in_use.acceleration == SI else 1.0


def unit() -> str:
    return _in_use.acceleration


def _in_si(found: re.Match[str]) -> str:
    milli = bool(found["milli"])
    first = "" if found["from"] is None else _times(found["from"], milli) + found["to"]
    return f"{first}{found['sign']}{_times(found['value'], milli)}{found['gap']}{SI}"


def _times(number: str, milli: bool) -> str:
    """As fine as it was: a hundredth of a g is a tenth of a metre per second squared, a thousandth a hundredth."""
    digits = len(number.partition(".")[2])
    decimals = digits + 2 if milli else max(digits - 1, 1)
    value = float(number.replace(THIN, "").replace(MINUS, "-")) * STANDARD_GRAVITY / (1000 if milli else 1)
    return f"{value:,.{decimals}f}".replace(",", THIN).replace("-", MINUS)


def _signed(found: re.Match[str]) -> str:
    whole, point, part = found[0].partition(".")
    return whole.replace(THIN, _in_use.group) + (_in_use.decimal if point else "") + part

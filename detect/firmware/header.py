"""Write plumbfall_params.h: the rule's integers, what they stand for, and what they were scored on.

The text depends on its input alone: no time, no user, no path. `read_header.py` beside this reads it back.
"""

from __future__ import annotations

import math
import re
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap

from detect.firmware.fields import FIELDS, PREFILTERS, Field, ring_words
from detect.frontend import FrontEnd
from detect.integers import value_of
from detect.rule import Rule, rule_of
from detect.settings import BadSetting, Settings, Unit

NAME = "plumbfall_params.h"
NOT_SCORED = "none"
WIDTH = 108
"""Of the longest line of words, without the comment's own signs."""

_DIGEST = re.compile(r"[0-9a-f]{64}\Z")


@dataclass(frozen=True)
class Provenance:
    """What the settings were scored on; as it stands without arguments: not scored.

    SHA-256 (64 hex digits) of the recordings and of their labels, how many recordings and events there were,
    and the score as lines of plain text. `synthetic` where the recordings are the demo's. `device`: lines on the part,
    the budget and their numbers; words for people, which neither the detector nor the identity knows.
    """

    recordings_sha256: str = NOT_SCORED
    labels_sha256: str = NOT_SCORED
    recordings: int = 0
    events: int = 0
    score: tuple[str, ...] = ()
    synthetic: bool = False
    device: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("recordings_sha256", "labels_sha256"):
            digest = getattr(self, name)
            if digest != NOT_SCORED and not _DIGEST.match(digest):
                raise ValueError(f"{name} = {digest!r}: a SHA-256 has 64 digits of 0-9 and a-f.")


CAUTION = (
    "An engineering aid: no medical device, and no certification of any kind.",
    "Local codes and licensed practice decide what a product must meet.",
    "Simulated falls by young volunteers flatter a detector; expect it to do worse on the people it is for.",
    "A recording's calibration makes its g true, and the thresholds below mean true g. A real device's own",
    "offset and gain are its own business: calibrate before the samples reach the detector.",
)

_GROUPS = (
    ("PLF_PREFILTER_SAMPLES", "Pre-filter"),
    ("PLF_FREE_FALL_ON", "Free fall"),
    ("PLF_IMPACT_COUNTS", "Impact"),
    ("PLF_OBSERVE_SAMPLES", "Afterwards"),
    ("PLF_GUARD_SAMPLES", "Before"),
    ("PLF_HOLD_OFF_SAMPLES", "Alarm"),
)


def write_header(settings: Settings, front_end: FrontEnd, provenance: Provenance) -> str:
    """The header's text, in ASCII. BadSetting names a setting that the detector has no integer for."""
    rule = rule_of(settings, front_end)
    integers = front_end_integers(front_end)
    lines = [f"/* {NAME}: the numbers of one fall detector, in counts and samples.", " *"]
    lines += [f" * {line}" for line in CAUTION]
    lines += [" *", *(f" * {_plain(line)}" for line in _scored(provenance)), " */", ""]
    lines += ["#ifndef PLUMBFALL_PARAMS_H", "#define PLUMBFALL_PARAMS_H", "", "#include <stdint.h>", ""]
    lines += ["/* CRC-32 of the settings below; SHA-256 of the recordings and labels they were scored on. */",
              _define("PLF_IDENTITY_CRC32", f"0x{identity(rule, front_end):08X}U"),
              _define("PLF_RECORDINGS_SHA256", f'"{provenance.recordings_sha256}"'),
              _define("PLF_LABELS_SHA256", f'"{provenance.labels_sha256}"')]
    lines += ["", "/* ---- Front end: the sensor these integers are for ---- */", ""]
    lines += [_define(macro, f"{value}U", comment)
              for (macro, value), comment in zip(integers, _front_end_comments(front_end), strict=True)]
    titles = dict(_GROUPS)
    for field in FIELDS:
        if field.macro in titles:
            lines += ["", f"/* ---- {titles[field.macro]} ---- */"]
        if field.first_of_its_setting:
            lines += ["", f"/* {_plain(field.sentence)} */"]
        lines.append(_define(field.macro, literal(field, field.integer(rule)),
                             comment_of(field, settings, front_end, rule)))
    lines += ["", *derived_lines(2 * ring_words(rule)), "", *check_lines(), ""]
    lines += [*_device_lines(provenance.device), "#endif"]
    return "\n".join(lines) + "\n"


def _device_lines(said: Sequence[str]) -> list[str]:
    """The device as one comment, wrapped to the header's width; nothing where nothing is said."""
    if not said:
        return []
    lines = ["/* ---- The device around these integers: words for people, no part of the identity ----", " *"]
    for one in said:
        text, indent = _plain(one.strip()), " " * (len(one) - len(one.lstrip()))
        lines += [f" * {part}" for part in wrap(text, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}    ")]
    return [*lines, " */", ""]


def literal(field: Field, value: int) -> str:
    """An integer as C wants it: unsigned with its suffix, negative in brackets."""
    if field.signed:
        return f"({value})" if value < 0 else str(value)
    return f"{value}U"


def canonical(rule: Rule, front_end: FrontEnd) -> str:
    """The text whose CRC-32 is the identity.

    A first line that names its version, then MACRO=integer a line: the front end, then the rule's fields in
    the header's order. Asked values are not in it: one detector, one identity.
    """
    rows = [*front_end_integers(front_end), *((f.macro, f.integer(rule)) for f in FIELDS)]
    return "plumbfall settings 1\n" + "".join(f"{macro}={value}\n" for macro, value in rows)


def identity(rule: Rule, front_end: FrontEnd) -> int:
    """CRC-32 (the one of zlib, check value CBF43926) of the canonical text in ASCII."""
    return zlib.crc32(canonical(rule, front_end).encode("ascii"))


FRONT_END_MACROS = ("PLF_RATE_MILLIHZ", "PLF_WIDTH_BITS", "PLF_RANGE_MG", "PLF_COUNTS_PER_1000_G")


def front_end_integers(front_end: FrontEnd) -> list[tuple[str, int]]:
    """The front end in integers, for people and for the identity; the detector itself needs none of them."""
    values = (front_end.rate_hz * 1000, front_end.bits, front_end.range_g * 1000, front_end.k * 1000)
    rows = []
    for key, macro, value in zip(("rate_hz", "bits", "range_g", "counts_per_g"), FRONT_END_MACROS, values,
                                 strict=True):
        integer = math.floor(value + 0.5)
        if not 1 <= integer <= 0xFFFFFFFF:
            raise BadSetting(key, getattr(front_end, key),
                             f"becomes {macro} = {integer}, outside 1 ... 4294967295.",
                             "Choose a front end that firmware can name.")
        rows.append((macro, integer))
    return rows


def _front_end_comments(front_end: FrontEnd) -> Iterator[str]:
    yield f"rate_hz: asked {shortest(front_end.rate_hz)} Hz"
    yield f"bits: asked {front_end.bits}"
    yield f"range_g: asked {shortest(front_end.range_g)} g"
    if front_end.counts_per_g is None:
        yield "counts_per_g: from range and width"
    else:
        yield f"counts_per_g: asked {shortest(front_end.counts_per_g)}"


def shortest(value: float) -> str:
    """The fewest digits that give the same double again."""
    return repr(float(value)).removesuffix(".0")


_UNITS = {Unit.G: " g", Unit.MS: " ms", Unit.DEGREE: " degrees", Unit.PERCENT: " percent", Unit.VECTOR: " g"}


def comment_of(field: Field, settings: Settings, front_end: FrontEnd, rule: Rule) -> str:
    """`key: asked VALUE unit, is VALUE unit`: the asked value is read back, the other is for people."""
    asked = field.asked(settings)
    if isinstance(asked, bool):
        text = "on" if asked else "off"
    else:
        text = shortest(asked) if isinstance(asked, int | float) else str(asked)
    unit = _UNITS.get(field.unit, "")
    is_now = stands_for(field, front_end, rule)
    return f"{field.name}: asked {text}{unit}" + ("" if is_now is None else f", is {is_now:.6g}{unit}")


def stands_for(field: Field, front_end: FrontEnd, rule: Rule) -> float | None:
    """The physical value of the integer in the setting's unit; None for switches and choices."""
    integer = field.integer(rule)
    if field.rule == "busy_low":
        return 1 - front_end.g(integer)
    if field.unit in (Unit.SWITCH, Unit.CHOICE):
        return None
    if field.unit is Unit.VECTOR:
        return front_end.g(integer)
    return value_of(field.key, integer, front_end, rule)


def derived_lines(ring_bytes: int) -> list[str]:
    """What the preprocessor computes from the settings."""
    return [
        "/* ---- The ring: guard and baseline as three int16 a sample, guard and window as bits ---- */",
        "",
        "#define PLF_RING_VECTORS (PLF_TILT_ON ? PLF_GUARD_SAMPLES + PLF_BASELINE_SAMPLES : 0U)",
        "#define PLF_RING_BITS (PLF_BUSY_ON ? PLF_GUARD_SAMPLES + PLF_BUSY_WINDOW_SAMPLES : 0U)",
        "/* Words of 16 bits, at least one: C has no empty arrays. */",
        "#define PLF_RING_WORDS (3U * PLF_RING_VECTORS + (PLF_RING_BITS + 15U) / 16U \\",
        "    + (PLF_RING_VECTORS + PLF_RING_BITS == 0U ? 1U : 0U))",
        f"/* Here: {ring_bytes} bytes. */",
    ]


def check_lines() -> list[str]:
    """Bounds that the detector's arithmetic stands on; an array of a negative size stops the compiler."""
    prefilters = "\n    || ".join(f"PLF_PREFILTER_SAMPLES == {n}U" for n in PREFILTERS)
    lines = ["/* ---- Bounds that the arithmetic needs: a compiler that stops here found one broken ---- */",
             "",
             "#define PLF_CHECK(name, holds) typedef char plf_check_##name[(holds) ? 1 : -1]", "",
             _check("prefilter", prefilters)]
    for field in FIELDS:
        if field.macro != "PLF_PREFILTER_SAMPLES":
            suffix = "" if field.signed else "U"
            parts = [f"{field.macro} <= {field.most}{suffix}"]
            if field.least != 0:
                least = f"({field.least})" if field.least < 0 else f"{field.least}{suffix}"
                parts.insert(0, f"{field.macro} >= {least}")
            lines.append(_check(field.member, " && ".join(parts)))
    lines += [
        _check("upright", " || ".join(f"PLF_UPRIGHT_{axis}_COUNTS != 0" for axis in "XYZ")),
        _check("busy_most", "PLF_BUSY_MOST_SAMPLES <= PLF_BUSY_WINDOW_SAMPLES"),
        "/* No sample may be both low and an impact. */",
        _check("low_below_impact", "!PLF_FREE_FALL_ON || (PLF_FREE_FALL_EVERY_AXIS\n"
               "    ? (uint64_t)3 * (PLF_FREE_FALL_COUNTS - 1U) * (PLF_FREE_FALL_COUNTS - 1U)\n"
               "        < (uint64_t)PLF_IMPACT_COUNTS * PLF_IMPACT_COUNTS\n"
               "    : PLF_FREE_FALL_COUNTS <= PLF_IMPACT_COUNTS)"),
    ]
    return lines


_IN_ASCII = (("±", "+/-"), ("–", "-"), ("−", "-"), ("°", " degrees"), ("×", "x"), ("≥", ">="), ("≤", "<="),
             ("µ", "u"), ("Ω", "Ohm"), ("²", "2"), ("√", "sqrt "), (" · ", ", "), ("…", "..."), ("\u00a0", " "),
             ("\u202f", " "))


def _check(name: str, condition: str) -> str:
    return f"PLF_CHECK({name}, {condition});"


def _define(macro: str, value: str, comment: str = "") -> str:
    return f"#define {macro:<28} {value:>8}" + (f"  /* {_plain(comment)} */" if comment else "")


def _scored(provenance: Provenance) -> Sequence[str]:
    if provenance.recordings == 0:
        return ("These settings were not scored on any recording.",)
    lines = [f"Scored on {provenance.recordings} recordings with {provenance.events} labelled events:"]
    lines += [f"  {line}" for line in provenance.score]
    if provenance.synthetic:
        lines.append("The recordings are synthetic, made by a generator: no person moved for them.")
    return lines


def _plain(text: str) -> str:
    """Text that may stand in a C comment: ASCII, nothing that ends or opens one, no trigraph, one line."""
    text = " ".join(text.split()) if "\n" in text or "\r" in text else text.rstrip()
    for sign, words in _IN_ASCII:
        text = text.replace(sign, words)
    text = text.encode("ascii", "backslashreplace").decode("ascii")
    return text.replace("*/", "* /").replace("/*", "/ *").replace("??", "? ?").rstrip("\\")

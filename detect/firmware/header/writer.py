"""Write plumbfall_params.h: the rule's integers, their physical values, and what they were scored on.

The text depends on its input alone: no time, no user, no path. `reader.py` beside this reads it back.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap

from detect.firmware.header.fields import FIELDS, OF_KEY, Field, ring_words
from detect.firmware.header.identity import IDENTITY_VERSION, front_end_integers, identity
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, integer_of, physical, rule_of
from detect.rule.parameter_row import GROUPS
from detect.rule.settings import Settings, Unit

NAME = "plumbfall_params.h"
SPDX = "SPDX-License-Identifier: MIT"
"""In the first line of every exported file, in the comment signs of its language."""
NOT_SCORED = "none"
WIDTH = 108
"""Of the longest line of a wrapped comment, without the comment's own signs."""

_DIGEST = re.compile(r"[0-9a-f]{64}\Z")


@dataclass(frozen=True)
class Provenance:
    """What the settings were scored on; without arguments: not scored.

    SHA-256 (64 hex digits) of the recordings and of their labels, how many recordings and events there were,
    and the score as lines of plain text. `synthetic` where the recordings are the demo's. `device`: lines on the part,
    the budget and their numbers, for information: neither the detector nor the identity depends on them. `worth`: lines
    on what the settings are worth on other people, and whom they were tuned on; `people`: whose score it is;
    `warnings`: what lessens all figures.
    """

    recordings_sha256: str = NOT_SCORED
    labels_sha256: str = NOT_SCORED
    recordings: int = 0
    events: int = 0
    score: tuple[str, ...] = ()
    synthetic: bool = False
    device: tuple[str, ...] = ()
    worth: tuple[str, ...] = ()
    people: str = "On the people at hand"
    warnings: tuple[str, ...] = ()

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
    "offset and gain must be corrected per device, before the samples reach the detector.",
)


def write_header(settings: Settings, front_end: FrontEnd, provenance: Provenance) -> str:
    """The header's text, in ASCII. BadSetting names a setting that the detector has no integer for."""
    rule = rule_of(settings, front_end)
    integers = front_end_integers(front_end)
    lines = [f"/* {SPDX} */", f"/* {NAME}: the numbers of one fall detector, in counts and samples.", " *"]
    lines += [f" * {line}" for line in CAUTION]
    lines += [" *", *(f" * {_plain(line)}" for line in _scored(provenance)), " */", ""]
    lines += ["#ifndef PLUMBFALL_PARAMS_H", "#define PLUMBFALL_PARAMS_H", "", "#include <stdint.h>", ""]
    lines += ["/* CRC-32 of the settings below as bytes; SHA-256 of the recordings and labels they were scored on. */",
              _define("PLF_IDENTITY_VERSION", f"{IDENTITY_VERSION}U"),
              _define("PLF_IDENTITY_CRC32", f"0x{identity(rule, front_end):08X}U"),
              _define("PLF_RECORDINGS_SHA256", f'"{provenance.recordings_sha256}"'),
              _define("PLF_LABELS_SHA256", f'"{provenance.labels_sha256}"')]
    lines += ["", "/* ---- Sensor that these integers are for ---- */", ""]
    lines += [_define(macro, f"{value}U", comment)
              for (macro, value), comment in zip(integers, _front_end_comments(front_end), strict=True)]
    group = ""
    for field in FIELDS:
        if field.row.group != group:
            group = field.row.group
            lines += ["", f"/* ---- {GROUPS[group]} ---- */"]
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
    lines = ["/* ---- The device around these integers: for information, not part of the identity ----", " *"]
    for one in said:
        lines += [f" * {part}" for part in _wrapped(one)]
    return [*lines, " */", ""]


def literal(field: Field, value: int) -> str:
    """An integer as C wants it: unsigned with its suffix, negative in brackets."""
    if field.signed:
        return f"({value})" if value < 0 else str(value)
    return f"{value}U"


def _front_end_comments(front_end: FrontEnd) -> Iterator[str]:
    yield f"rate_hz: requested {shortest(front_end.rate_hz)} Hz"
    yield f"bits: requested {front_end.bits}"
    yield f"range_g: requested {shortest(front_end.range_g)} g"
    if front_end.counts_per_g is None:
        yield "counts_per_g: from range and resolution"
    else:
        ends = front_end.lowest_counts, front_end.highest_counts
        said = "" if ends == (None, None) else f", readings {front_end.lowest} to {front_end.highest}"
        yield f"counts_per_g: requested {shortest(front_end.counts_per_g)}{said}"


def shortest(value: float) -> str:
    """The fewest digits that give the same double again."""
    return repr(float(value)).removesuffix(".0")


_UNITS = {Unit.G: " g", Unit.MS: " ms", Unit.DEGREE: " degrees", Unit.PERCENT: " percent", Unit.VECTOR: " g"}


def comment_of(field: Field, settings: Settings, front_end: FrontEnd, rule: Rule) -> str:
    """`key: requested VALUE unit, actual VALUE unit`: the requested value is read back, the other is for people."""
    requested = field.requested(settings)
    if isinstance(requested, bool):
        text = "on" if requested else "off"
    else:
        text = shortest(requested) if isinstance(requested, int | float) else str(requested)
    unit = _UNITS.get(field.unit, "")
    actual = stands_for(field, front_end, rule)
    return f"{field.name}: requested {text}{unit}" + ("" if actual is None else f", actual {actual:.6g}{unit}")


def stands_for(field: Field, front_end: FrontEnd, rule: Rule) -> float | None:
    """The physical value of the integer in the setting's unit; None for switches and choices."""
    if field.unit in (Unit.SWITCH, Unit.CHOICE):
        return None
    whole = integer_of(field.row.share_of, rule) if field.unit is Unit.PERCENT else 0
    return physical(field.row, field.one, field.integer(rule), front_end, whole)


def derived_lines(ring_bytes: int) -> list[str]:
    """What the preprocessor computes from the settings."""
    return [
        "/* ---- The ring: guard and baseline as three int16 a sample, guard and window as bits ---- */",
        "",
        "#define PLF_RING_VECTORS (PLF_TILT_ON ? PLF_GUARD_SAMPLES + PLF_BASELINE_SAMPLES : 0U)",
        "#define PLF_RING_BITS (PLF_ACTIVE_ON ? PLF_GUARD_SAMPLES + PLF_ACTIVE_WINDOW_SAMPLES : 0U)",
        "/* Words of 16 bits, at least one: C has no empty arrays. */",
        "#define PLF_RING_WORDS (3U * PLF_RING_VECTORS + (PLF_RING_BITS + 15U) / 16U \\",
        "    + (PLF_RING_VECTORS + PLF_RING_BITS == 0U ? 1U : 0U))",
        f"/* Here: {ring_bytes} bytes. */",
    ]


def check_lines() -> list[str]:
    """Bounds that the detector's arithmetic needs; an array of a negative size stops the compiler."""
    lines = ["/* ---- Bounds that the arithmetic needs: the compiler stops here where one is violated ---- */",
             "",
             "#define PLF_CHECK(name, holds) typedef char plf_check_##name[(holds) ? 1 : -1]", ""]
    for field in FIELDS:
        if field.numbers:
            lines.append(_check(field.rule, "\n    || ".join(f"{field.macro} == {n}U" for n in field.numbers)))
        else:
            suffix = "" if field.signed else "U"
            parts = [f"{field.macro} <= {field.most}{suffix}"]
            if field.least != 0:
                least = f"({field.least})" if field.least < 0 else f"{field.least}{suffix}"
                parts.insert(0, f"{field.macro} >= {least}")
            lines.append(_check(field.member, " && ".join(parts)))
    lines += [_check(key, " || ".join(f"{field.macro} != 0" for field in fields))
              for key, fields in OF_KEY.items() if fields[0].unit is Unit.VECTOR]
    lines += [_check(field.rule, f"{field.macro} <= {whole.macro}") for field, whole in shares()]
    lines += [
        "/* No sample may be both low and an impact. */",
        _check("low_below_impact", "!PLF_FREE_FALL_ON || (PLF_FREE_FALL_EVERY_AXIS\n"
               "    ? (uint64_t)3 * (PLF_FREE_FALL_COUNTS - 1U) * (PLF_FREE_FALL_COUNTS - 1U)\n"
               "        < (uint64_t)PLF_IMPACT_COUNTS * PLF_IMPACT_COUNTS\n"
               "    : PLF_FREE_FALL_COUNTS <= PLF_IMPACT_COUNTS)"),
    ]
    return lines


def shares() -> Iterator[tuple[Field, Field]]:
    """Fields that count some samples of a window, and the window's."""
    for field in FIELDS:
        if field.unit is Unit.PERCENT:
            yield field, OF_KEY[field.row.share_of][0]


_IN_ASCII = (("±", "+/-"), ("–", "-"), ("−", "-"), ("°", " degrees"), ("×", "x"), ("≥", ">="), ("≤", "<="),
             ("µ", "u"), ("Ω", "Ohm"), ("²", "2"), ("√", "sqrt "), (" · ", ", "), ("…", "..."), ("\u00a0", " "),
             ("\u202f", " "))


def _check(name: str, condition: str) -> str:
    return f"PLF_CHECK({name}, {condition});"


def _define(macro: str, value: str, comment: str = "") -> str:
    return f"#define {macro:<28} {value:>8}" + (f"  /* {_plain(comment)} */" if comment else "")


def _scored(provenance: Provenance) -> Iterator[str]:
    """What the settings are worth on others stands before the score on the people at hand."""
    if provenance.recordings == 0:
        yield "These settings were not scored on any recording."
        return
    for line in provenance.worth:
        yield from _wrapped(line)
    yield f"{provenance.people}: {provenance.recordings} recordings with {provenance.events} labelled events:"
    for line in provenance.score:
        yield f"  {line}"
    if provenance.synthetic:
        yield "The recordings are synthetic, made by a generator: no person moved for them."
    if provenance.warnings:
        yield "Standing warnings, which lessen the worth of every figure above:"
    for line in provenance.warnings:
        yield from _wrapped(f"  - {line}")


def _wrapped(line: str) -> list[str]:
    """To the header's width; its indent goes on."""
    indent = " " * (len(line) - len(line.lstrip()))
    return wrap(_plain(line.strip()), WIDTH, initial_indent=indent, subsequent_indent=f"{indent}    ")


def _plain(text: str) -> str:
    """Text that may stand in a C comment: ASCII, nothing that ends or opens one, no trigraph, one line."""
    text = " ".join(text.split()) if "\n" in text or "\r" in text else text.rstrip()
    for sign, words in _IN_ASCII:
        text = text.replace(sign, words)
    text = text.encode("ascii", "backslashreplace").decode("ascii")
    return text.replace("*/", "* /").replace("/*", "/ *").replace("??", "? ?").rstrip("\\")

"""Read plumbfall_params.h back: ours exactly, a hand-edited one line by line.

The integers are the authority. The requested value, in the comment of the same line, is taken as long as it still
becomes the integer beside it; else the physical value is computed from the integer, and a remark says so.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from detect.firmware.header.fields import FIELDS, OF_KEY, Field
from detect.firmware.header.identity import (
    FRONT_END_MACROS,
    IDENTITY_VERSION,
    front_end_integers,
    identity,
    identity_1,
)
from detect.firmware.header.lines import (
    DIGESTS,
    IDENTITY,
    VERSION_OF_IDENTITY,
    Define,
    HeaderProblem,
    HeaderRefused,
    parse,
)
from detect.firmware.header.writer import literal, shares
from detect.rule.front_end import FrontEnd
from detect.rule.integers import becomes, physical, rule_of
from detect.rule.settings import DEFAULTS, BadSetting, Settings, Unit, Value

__all__ = ["HeaderProblem", "HeaderRefused", "ReadHeader", "looks_like_header", "read_header"]

Defines = Mapping[str, Define]


@dataclass(frozen=True)
class ReadHeader:
    """What a header says. Remarks don't prevent reading: an integer or the identity no longer matches.

    `identity_version`: 1 of a header written before the device could compute its identity.
    """

    settings: Settings
    front_end: FrontEnd
    recordings_sha256: str
    labels_sha256: str
    identity_version: int
    remarks: tuple[HeaderProblem, ...] = ()


def looks_like_header(text: str) -> bool:
    """Whether a text is one of these headers at all, to tell a dropped file's kind."""
    return "PLUMBFALL_PARAMS_H" in text


def read_header(text: str) -> ReadHeader:
    """The settings and the front end of a header; HeaderRefused with every reason where it can't be read."""
    if not looks_like_header(text):
        raise HeaderRefused([HeaderProblem(1, "The text", "is not a plumbfall_params.h.",
                                           "Choose a header that Plumbfall exported.")])
    parsed = parse(text)
    problems, defines = parsed.problems, parsed.defines
    problems += _out_of_bounds(defines)
    if problems:
        raise HeaderRefused(problems)
    remarks: list[HeaderProblem] = []
    front_end = _front_end(defines, remarks)
    settings = _settings(defines, front_end, remarks)
    version = version_of(defines)
    stated = defines[IDENTITY]
    found = (identity_1 if version == 1 else identity)(rule_of(settings, front_end), front_end)
    if stated.value != found:
        named = "the identity of version 1" if version == 1 else "the identity"
        remarks.append(stated.problem(f"is not {named} of these settings: the header was edited, and the score in it "
                                      "is not theirs.",
                                      f"Export again; it is 0x{found:08X}U."))
    return ReadHeader(settings, front_end, parsed.digests[DIGESTS[0]], parsed.digests[DIGESTS[1]],
                      version, tuple(sorted(remarks, key=lambda r: r.line)))


def version_of(defines: Defines) -> int:
    """Of the identity that a header states."""
    return defines[VERSION_OF_IDENTITY].value if VERSION_OF_IDENTITY in defines else 1


def _out_of_bounds(defines: Defines) -> list[HeaderProblem]:
    problems = []
    bounds = [(f.macro, f.least, f.most) for f in FIELDS if not f.numbers]
    bounds += [(VERSION_OF_IDENTITY, 1, IDENTITY_VERSION), (IDENTITY, 0, 0xFFFFFFFF),
               *((macro, 1, 0xFFFFFFFF) for macro in FRONT_END_MACROS)]
    for macro, least, most in bounds:
        if macro in defines and not least <= defines[macro].value <= most:
            problem = defines[macro].problem(f"is outside {least} ... {most}.", "Write an integer inside.")
            problems.append(problem)
    for field in FIELDS:
        choice = defines.get(field.macro)
        if field.numbers and choice and choice.value not in field.numbers:
            problems.append(choice.problem(f"is not one of the choices of {field.key}.",
                                           f"Write one of {', '.join(map(str, field.numbers))}."))
    for field, whole in shares():
        some, window = defines.get(field.macro), defines.get(whole.macro)
        if some and window and some.value > window.value:
            problems.append(some.problem(f"is more than the window of {window.value} samples.",
                                         "Write at most that many."))
    return problems


# The front end.


def _front_end(defines: Defines, remarks: list[HeaderProblem]) -> FrontEnd:
    rate_macro, bits_macro, range_macro, scale_macro = FRONT_END_MACROS
    rate = _thousandth(defines[rate_macro], "rate_hz", remarks)
    bits, scale = defines[bits_macro], defines[scale_macro]
    range_g = _thousandth(defines[range_macro], "range_g", remarks)
    try:
        front_end = FrontEnd(range_g, bits.value, rate)
        made = dict(front_end_integers(front_end))[scale_macro]
    except BadSetting as bad:
        line = bits if bad.key == "bits" else defines[range_macro]
        raise HeaderRefused([line.problem(bad.message, bad.remedy)]) from None
    if not _COMPUTED_SCALE.search(scale.note):
        return _with_ends(replace(front_end, counts_per_g=_thousandth(scale, "counts_per_g", remarks)), scale)
    if scale.value != made:
        raise HeaderRefused([scale.problem("does not follow from range and resolution.",
                                           f"Write {made}U, or replace its comment by the requested scale: "
                                           f"counts_per_g: requested {scale.value / 1000:g}.")])
    return front_end


def _with_ends(front_end: FrontEnd, scale: Define) -> FrontEnd:
    """With a part's own last readings, where the comment of its scale has them."""
    ends = _ENDS.search(scale.note)
    if ends is None:
        return front_end
    try:
        return replace(front_end, lowest_counts=int(ends["lowest"]), highest_counts=int(ends["highest"]))
    except BadSetting as bad:
        raise HeaderRefused([scale.problem(f"{bad.value}: {bad.message}", bad.remedy)]) from None


def _thousandth(define: Define, name: str, remarks: list[HeaderProblem]) -> float:
    """A value of the front end, kept in thousandths."""
    requested = _requested(define)
    if requested is not None and math.floor(requested * 1000 + 0.5) == define.value:
        return requested
    remarks.append(_recomputed(define, name, define.value / 1000))
    return define.value / 1000


# The words before the bar are those of headers of C API 1.
_REQUESTED = re.compile(r": (?:asked|requested) (?P<value>[^\s,]+)")
_ENDS = re.compile(r", readings (?P<lowest>-?\d+) to (?P<highest>\d+)")
_COMPUTED_SCALE = re.compile(r"from range and (?:width|resolution)")


def _requested(define: Define) -> float | None:
    """The number in the line's comment, whatever its setting was called then; it is taken only if it still fits."""
    match = _REQUESTED.search(define.note)
    try:
        value = float(match["value"]) if match else math.nan
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _recomputed(define: Define, name: str, value: object) -> HeaderProblem:
    shown = f"{value:.6g}" if isinstance(value, float) else str(value)
    return define.problem(f"is not the requested value; {name} is now {shown}.", "")


# The settings.


def _settings(defines: Defines, front_end: FrontEnd, remarks: list[HeaderProblem]) -> Settings:
    """Settings that become exactly these integers on the front end."""
    settings, problems = DEFAULTS, []
    for key in DEFAULTS:
        fields = OF_KEY[key]
        first = defines[fields[0].macro]
        value, computed = _value(fields, defines, front_end)
        if value is None:
            problems.append(first.problem(f"can't come from any value of {key} on this sensor.", _remedy(key)))
            continue
        settings = settings.with_value(key, value)
        remarks += [_recomputed(define, key, value) for define in computed]
    if not problems:
        problems = _not_these_integers(settings, front_end, defines)
    if problems:
        raise HeaderRefused(problems)
    return settings


def _remedy(key: str) -> str:
    if len(OF_KEY[key]) == 2:
        return "The band's two ends are equally far below and above 1 g: change both."
    return "Write an integer that the sensor's resolution can hold."


def _not_these_integers(settings: Settings, front_end: FrontEnd, defines: Defines) -> list[HeaderProblem]:
    try:
        rule = rule_of(settings, front_end)
    except BadSetting as bad:
        return [defines[OF_KEY[bad.key][0].macro].problem(bad.message, bad.remedy)]
    return [defines[f.macro].problem("can't come from any value on this sensor.",
                                     f"The nearest is {literal(f, f.integer(rule))}.")
            for f in FIELDS if f.integer(rule) != defines[f.macro].value]


def _value(fields: Sequence[Field], defines: Defines, front_end: FrontEnd) -> tuple[Value | None, list[Define]]:
    """The value that becomes a setting's integers, or None; and the lines whose requested value did not."""
    found = [defines[field.macro] for field in fields]
    row, integer = fields[0].row, found[0].value
    if row.unit is Unit.SWITCH:
        return bool(integer), []
    if row.unit is Unit.CHOICE:
        return row.choice_of(integer), []
    whole = defines[OF_KEY[row.share_of][0].macro].value if row.unit is Unit.PERCENT else 0
    if row.unit is not Unit.VECTOR:
        return _number(fields, found, front_end, whole)
    parts: list[float] = []
    computed = []
    for field, define in zip(fields, found, strict=True):
        part, lines = _number((field,), [define], front_end, whole)
        if part is None:
            return None, lines
        parts.append(part)
        computed += lines
    x, y, z = parts
    return (x, y, z), computed


def _number(fields: Sequence[Field], found: list[Define], front_end: FrontEnd,
            whole: int) -> tuple[float | None, list[Define]]:
    """The number that becomes all of these integers: as requested beside one of them, or from one, or half way."""
    def fits(value: float) -> bool:
        return all(_becomes(field, value, front_end, whole) == define.value
                   for field, define in zip(fields, found, strict=True))

    for define in found:
        requested = _requested(define)
        if requested is not None and fits(requested):
            return requested, []
    values = [physical(field.row, field.one, define.value, front_end, whole)
              for field, define in zip(reversed(fields), reversed(found), strict=True)]
    if len(fields) > 1:
        values.append(_half_way(fields, found, front_end))
    return next((value for value in values if fits(value)), None), found


def _becomes(field: Field, value: float, front_end: FrontEnd, whole: int) -> int | None:
    """The integer of a value as detect.rule.integers makes it; None where the value is impossible."""
    most = {Unit.DEGREE: 180, Unit.PERCENT: 100}.get(field.unit)
    if most is not None and not 0 <= value <= most:
        return None
    return becomes(field.one, value, front_end, whole)


def _half_way(fields: Sequence[Field], found: Sequence[Define], front_end: FrontEnd) -> float:
    """Of the values that become each of the integers, the middle of those that become all; in g."""
    lowest, highest = [], []
    for field, define in zip(fields, found, strict=True):
        one = field.one
        ends = sorted(((define.value + half) / front_end.k - one.offset) * one.factor for half in (-0.5, 0.5))
        lowest.append(ends[0])
        highest.append(math.inf if one.factor < 0 and define.value == one.least else ends[1])
    return (max(lowest) + min(highest)) / 2

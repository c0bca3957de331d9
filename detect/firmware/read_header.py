"""Read plumbfall_params.h back: ours exactly, a hand-edited one line by line.

The integers are the authority. The value asked for, in the comment of the same line, stands while it still
becomes the integer beside it; else the physical value is computed from the integer, and a remark says so.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from detect.firmware.fields import FIELDS, PREFILTERS, Field
from detect.firmware.header import FRONT_END_MACROS, front_end_integers, identity, literal
from detect.firmware.header_lines import DIGESTS, IDENTITY, Define, HeaderProblem, HeaderRefused, parse
from detect.frontend import FrontEnd
from detect.integers import becomes, physical
from detect.rule import rule_of
from detect.settings import DEFAULTS, BadSetting, Settings, Unit, Value

__all__ = ["HeaderProblem", "HeaderRefused", "ReadHeader", "looks_like_header", "read_header"]

Defines = Mapping[str, Define]


@dataclass(frozen=True)
class ReadHeader:
    """What a header says. Remarks are no obstacles: an integer or the identity no longer matches."""

    settings: Settings
    front_end: FrontEnd
    recordings_sha256: str
    labels_sha256: str
    remarks: tuple[HeaderProblem, ...] = ()


def looks_like_header(text: str) -> bool:
    """Whether a text is one of these headers at all, to tell a dropped file's kind."""
    return "PLUMBFALL_PARAMS_H" in text


def read_header(text: str) -> ReadHeader:
    """The settings and the front end of a header; HeaderRefused with every reason where it can't be taken."""
    if not looks_like_header(text):
        raise HeaderRefused([HeaderProblem(1, "The text", "is no plumbfall_params.h.",
                                           "Choose a header that Plumbfall exported.")])
    parsed = parse(text)
    problems, defines = parsed.problems, parsed.defines
    problems += _out_of_bounds(defines)
    if problems:
        raise HeaderRefused(problems)
    remarks: list[HeaderProblem] = []
    front_end = _front_end(defines, remarks)
    settings = _settings(defines, front_end, remarks)
    stated, found = defines[IDENTITY], identity(rule_of(settings, front_end), front_end)
    if stated.value != found:
        remarks.append(stated.problem("is not the identity of these settings: the header was edited, "
                                      "and the score in it is not theirs.",
                                      f"Export again; the identity is 0x{found:08X}U."))
    return ReadHeader(settings, front_end, parsed.digests[DIGESTS[0]], parsed.digests[DIGESTS[1]],
                      tuple(sorted(remarks, key=lambda r: r.line)))


def _out_of_bounds(defines: Defines) -> list[HeaderProblem]:
    problems = []
    bounds = [(f.macro, f.least, f.most) for f in FIELDS if f.key != "prefilter_samples"]
    bounds += [(IDENTITY, 0, 0xFFFFFFFF), *((macro, 1, 0xFFFFFFFF) for macro in FRONT_END_MACROS)]
    for macro, least, most in bounds:
        if macro in defines and not least <= defines[macro].value <= most:
            problem = defines[macro].problem(f"is outside {least} ... {most}.", "Write an integer inside.")
            problems.append(problem)
    length = defines.get("PLF_PREFILTER_SAMPLES")
    if length and length.value not in PREFILTERS:
        problems.append(length.problem("is no length of the pre-filter.",
                                       f"Write one of {', '.join(map(str, PREFILTERS))}."))
    most_busy, window = defines.get("PLF_BUSY_MOST_SAMPLES"), defines.get("PLF_BUSY_WINDOW_SAMPLES")
    if most_busy and window and most_busy.value > window.value:
        problems.append(most_busy.problem(f"is more than the window of {window.value} samples.",
                                          "Write at most that many."))
    return problems


# The front end.


def _front_end(defines: Defines, remarks: list[HeaderProblem]) -> FrontEnd:
    rate_macro, width_macro, range_macro, scale_macro = FRONT_END_MACROS
    rate = _thousandth(defines[rate_macro], "rate_hz", remarks)
    width, scale = defines[width_macro], defines[scale_macro]
    range_g = _thousandth(defines[range_macro], "range_g", remarks)
    try:
        front_end = FrontEnd(range_g, width.value, rate)
        made = dict(front_end_integers(front_end))[scale_macro]
    except BadSetting as bad:
        line = width if bad.key == "bits" else defines[range_macro]
        raise HeaderRefused([line.problem(bad.message, bad.remedy)]) from None
    if "from range and width" not in scale.note:
        return replace(front_end, counts_per_g=_thousandth(scale, "counts_per_g", remarks))
    if scale.value != made:
        raise HeaderRefused([scale.problem("is not what range and width make of it.",
                                           f"Write {made}U, or end its comment with what was asked: "
                                           f"counts_per_g: asked {scale.value / 1000:g}.")])
    return front_end


def _thousandth(define: Define, name: str, remarks: list[HeaderProblem]) -> float:
    """A value of the front end, kept in thousandths."""
    asked = _asked(define, name)
    if asked is not None and math.floor(asked * 1000 + 0.5) == define.value:
        return asked
    remarks.append(_recomputed(define, name, define.value / 1000))
    return define.value / 1000


_ASKED = re.compile(r"(?P<name>[a-z_.]+): asked (?P<value>[^\s,]+)")


def _asked(define: Define, name: str) -> float | None:
    match = _ASKED.search(define.note)
    try:
        value = float(match["value"]) if match and match["name"] == name else math.nan
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _recomputed(define: Define, name: str, value: object) -> HeaderProblem:
    shown = f"{value:.6g}" if isinstance(value, float) else str(value)
    return define.problem(f"is not what was asked for there; {name} is now {shown}.", "")


# The settings.


def _settings(defines: Defines, front_end: FrontEnd, remarks: list[HeaderProblem]) -> Settings:
    """Settings that become exactly these integers on the front end."""
    settings, problems = DEFAULTS, []
    for key in DEFAULTS:
        fields = [field for field in FIELDS if field.key == key]
        first = defines[fields[0].macro]
        value, computed = _value(fields, defines, front_end)
        if value is None:
            problems.append(first.problem(f"stands for no value of {key} on this front end.", _remedy(key)))
            continue
        settings = settings.with_value(key, value)
        remarks += [_recomputed(define, key, value) for define in computed]
    if not problems:
        problems = _not_these_integers(settings, front_end, defines)
    if problems:
        raise HeaderRefused(problems)
    return settings


def _remedy(key: str) -> str:
    if key == "busy_band_g":
        return "PLF_BUSY_LOW_COUNTS and PLF_BUSY_HIGH_COUNTS lie alike below and above 1 g: change both."
    return "Write an integer that the sensor's width can hold."


def _not_these_integers(settings: Settings, front_end: FrontEnd, defines: Defines) -> list[HeaderProblem]:
    try:
        rule = rule_of(settings, front_end)
    except BadSetting as bad:
        return [defines[next(f.macro for f in FIELDS if f.key == bad.key)].problem(bad.message, bad.remedy)]
    return [defines[f.macro].problem("stands for no value on this front end.",
                                     f"The nearest is {literal(f, f.integer(rule))}.")
            for f in FIELDS if f.integer(rule) != defines[f.macro].value]


def _value(fields: list[Field], defines: Defines, front_end: FrontEnd) -> tuple[Value | None, list[Define]]:
    """The value that becomes a setting's integers, or None; and the lines whose asked value did not."""
    found = [defines[field.macro] for field in fields]
    key, integer = fields[0].key, found[0].value
    if fields[0].unit is Unit.SWITCH:
        return bool(integer), []
    if key == "free_fall_rule":
        return ("every_axis" if integer else "magnitude"), []
    if key == "prefilter_samples":
        return integer, []
    if key == "busy_band_g":
        return _band(found[0], found[1], front_end)
    window = defines["PLF_BUSY_WINDOW_SAMPLES"].value
    parts: list[float] = []
    computed = []
    for field, define in zip(fields, found, strict=True):
        asked = _asked(define, field.name)
        if asked is not None and _becomes(field, asked, front_end, window) == define.value:
            parts.append(asked)
        else:
            parts.append(physical(field.unit, define.value, front_end, window))
            computed.append(define)
        if _becomes(field, parts[-1], front_end, window) != define.value:
            return None, computed
    return (parts[0], parts[1], parts[2]) if len(parts) == 3 else parts[0], computed


def _becomes(field: Field, value: float, front_end: FrontEnd, window: int) -> int | None:
    """The integer of a value as detect.rule makes it; None where it is out of the question."""
    most = {Unit.DEGREE: 180, Unit.PERCENT: 100}.get(field.unit)
    if most is not None and not 0 <= value <= most:
        return None
    return becomes(field.unit, value, front_end, window)


def _band(low: Define, high: Define, front_end: FrontEnd) -> tuple[float | None, list[Define]]:
    """The half width of the band that has both ends: as asked, or from one, the other, or half way."""
    def fits(band: float) -> bool:
        return (max(front_end.counts(1 - band), 0), front_end.counts(1 + band)) == (low.value, high.value)

    asked = (_asked(low, "busy_band_g"), _asked(high, "busy_band_g"))
    for band in asked:
        if band is not None and fits(band):
            return band, []
    k = front_end.k
    from_above = ((high.value - 0.5) / k - 1, (high.value + 0.5) / k - 1)
    from_below = (1 - (low.value + 0.5) / k, 1 - (low.value - 0.5) / k if low.value else math.inf)
    half_way = (max(from_above[0], from_below[0]) + min(from_above[1], from_below[1])) / 2
    for band in (front_end.g(high.value) - 1, 1 - front_end.g(low.value), half_way):
        if fits(band):
            return band, [low, high]
    return None, []

"""The part in use: which kind it is, what its numbers come to, what contradicts itself, what a header says of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from detect.device.part.analogue import AnalogPart, analog_part
from detect.device.part.digital import DigitalPart, digital_part, noise_rms_mg, quantisation_rms_mg
from detect.device.quantities import Values, rows_of
from detect.rule.front_end import FrontEnd
from detect.rule.settings import BadSetting, Settings

DIGITAL, ANALOGUE = "digital", "analogue"

SENSOR_AXES = ("x", "y", "z", "-x", "-y", "-z")

FEW_COUNTS = 5
"""Below so many counts a threshold hangs on rounding. Common practice, no source."""

QUANTITIES = rows_of("part", {
    "part.kind": (DIGITAL, ANALOGUE), **{f"part.case_{axis}": SENSOR_AXES for axis in "xyz"}})


@dataclass(frozen=True)
class DerivedFigure:
    """Something that follows from the part's numbers, with its unit and where the reckoning comes from."""

    key: str
    name: str
    value: float
    unit: str
    sentence: str


def case_axes(values: Values) -> tuple[tuple[int, int, int], ...]:
    """Of each axis of the case how much of the sensor's x, y and z goes into it: a turn by right angles.

    BadSetting where an axis is taken twice, or the three make a mirror image, which no turn does.
    """
    rows = []
    for axis in "xyz":
        said = values.text(f"part.case_{axis}")
        of = "xyz".index(said[-1])
        rows.append(tuple((-1 if said.startswith("-") else 1) * (at == of) for at in range(3)))
    turned = round(float(np.linalg.det(np.array(rows))))
    if turned != 1:
        said = ", ".join(values.text(f"part.case_{axis}") for axis in "xyz")
        wrong = "are a mirror image of the sensor's" if turned else "take one of the sensor's axes twice"
        raise BadSetting("part.case_x", said, f"as the case's x, y and z {wrong}.",
                         "Name each axis once; turn one round if they are mirrored.")
    return tuple((x, y, z) for x, y, z in rows)


def part_of(values: Values, front_end: FrontEnd) -> AnalogPart | DigitalPart:
    """The part in use."""
    return analog_part(values) if values.text("part.kind") == ANALOGUE else digital_part(values, front_end)


def front_end_of(values: Values, front_end: FrontEnd) -> FrontEnd:
    """What the rule sees of the part: of a digital one the front end as it is, of an analogue one its codes."""
    part = part_of(values, front_end)
    return part.front_end(front_end.rate_hz) if isinstance(part, AnalogPart) else front_end


def followed(before: Values, after: Values, front_end: FrontEnd) -> FrontEnd:
    """The front end after a number of the part changed: one that was an analogue part's goes along with it."""
    was_its_own = before.text("part.kind") == ANALOGUE and front_end == front_end_of(before, front_end)
    return front_end_of(after, front_end) if was_its_own else front_end


def part_warnings(values: Values, front_end: FrontEnd, settings: Settings) -> tuple[str, ...]:
    """What contradicts itself between part, front end and settings, a sentence each."""
    part = part_of(values, front_end)
    seen = front_end_of(values, front_end)
    own = part.doubts(front_end.rate_hz) if isinstance(part, AnalogPart) else part.doubts()
    if seen != front_end:
        own += (f"The score is of another front end, {in_words(front_end)}; this part is {in_words(seen)}.",)
    return (*own, *threshold_doubts(settings, seen))


def reach_doubt(settings: Settings, front_end: FrontEnd) -> tuple[str, str] | None:
    """Why an impact, or one along an axis, can't come to its threshold, and what to do; None where it can."""
    impact, range_g = settings.number("impact_g"), front_end.range_g
    remedy = "Lower it, or take a larger range."
    if impact > largest_g(front_end):
        return (f"The impact threshold, {impact:g} g, is above all that ±{range_g:g} g can tell, "
                f"{largest_g(front_end):.2f} g on all three axes: no impact is ever seen.", remedy)
    if impact > axis_reach_g(front_end):
        return (f"One axis of ±{range_g:g} g reads at most {axis_reach_g(front_end):.4g} g: an impact along one "
                f"axis does not come to the threshold of {impact:g} g.", remedy)
    return None


def threshold_doubts(settings: Settings, front_end: FrontEnd) -> tuple[str, ...]:
    """Thresholds that a range can't reach, or that are lost in its steps."""
    reach = reach_doubt(settings, front_end)
    found = [] if reach is None else [" ".join(reach)]
    for key, name in (("free_fall_g", "free-fall"), ("still_g", "stillness")):
        counts = front_end.counts(settings.number(key))
        if counts < FEW_COUNTS and settings[{"free_fall_g": "free_fall_on", "still_g": "still_on"}[key]]:
            found.append(f"The {name} threshold, {settings.number(key):g} g, is only {counts} "
                         f"count{'' if counts == 1 else 's'}: half a count of rounding moves it by "
                         f"{50 / max(counts, 1):.0f} %. Take more bits or a smaller range.")
    return tuple(found)


def axis_reach_g(front_end: FrontEnd) -> float:
    """The largest reading of one axis either way: one count short of full scale, or where the part really ends."""
    return min(-front_end.lowest, front_end.highest) / front_end.k


def largest_g(front_end: FrontEnd) -> float:
    """The largest magnitude: √3 times the farther end of an axis."""
    return math.sqrt(3) * max(-front_end.lowest, front_end.highest) / front_end.k


def figures(values: Values, front_end: FrontEnd, settings: Settings) -> tuple[DerivedFigure, ...]:
    """What the part's numbers come to."""
    part, seen = part_of(values, front_end), front_end_of(values, front_end)
    corner = part.cutoff_hz if isinstance(part, AnalogPart) else part.bandwidth_hz
    noise, steps = noise_rms_mg(part.noise_ug, part.noise_band_hz), quantisation_rms_mg(seen.k)
    common = [
        DerivedFigure("counts_per_g", "scale", seen.k, "counts/g",
                      "Codes over the range, or what the converter makes of 1\u00a0g."),
        DerivedFigure("mg_per_count", "one count", 1000 / seen.k, "mg", "The smallest difference that can be told."),
        DerivedFigure("quantisation_mg", "quantisation", steps, "mg RMS",
                      "A count over √12, as of noise spread evenly."),
        DerivedFigure("noise_mg", "noise, in mg", noise, "mg RMS",
               "Density times √(π/2 · corner) of a one-pole filter; without one, of the part's full bandwidth."),
        DerivedFigure("noise_counts", "noise, in counts", noise / 1000 * seen.k, "counts RMS",
                      "The same noise on this scale."),
        DerivedFigure("both_mg", "noise and quantisation", math.hypot(noise, steps), "mg RMS",
                      "Noise and quantisation of one axis at rest, added as squares."),
        DerivedFigure("largest_g", "largest magnitude", largest_g(seen), "g",
                      "All three axes at the farther end: √3 times it."),
        DerivedFigure("free_fall_counts", "free-fall threshold", seen.counts(settings.number("free_fall_g")), "counts",
               "What the current threshold becomes on this part."),
        DerivedFigure("impact_counts", "impact threshold", seen.counts(settings.number("impact_g")), "counts",
               "What the current threshold becomes on this part."),
    ]
    if corner is not None:
        common.insert(3, DerivedFigure("corner_hz", "low-pass corner", corner, "Hz",
                                       "Where the low-pass has lost 3 dB."))
    own = _analog_figures(part) if isinstance(part, AnalogPart) else _digital_figures(part)
    return (*own, *common)


def _analog_figures(part: AnalogPart) -> list[DerivedFigure]:
    low, high = part.ends_g
    return [
        DerivedFigure("zero_v", "output at 0 g", part.zero_v, "V",
                      "The output without acceleration at the supply in use."),
        DerivedFigure("zero_code", "code at 0 g", part.zero_code, "code", "The firmware takes this off each code."),
        DerivedFigure("mv_per_g", "sensitivity", part.v_per_g * 1000, "mV/g", "The sensitivity at the supply in use."),
        DerivedFigure("lowest_g", "lowest reading", low, "g", "Where output or converter end."),
        DerivedFigure("highest_g", "highest reading", high, "g", "Where output or converter end."),
    ]


def _digital_figures(part: DigitalPart) -> list[DerivedFigure]:
    return [DerivedFigure("buffer_s", "buffer holds", part.buffer_s, "s",
                   "Samples kept over the rate: as long may the processor sleep.")]


def in_words(front_end: FrontEnd) -> str:
    """"±4 g, 12 bits, 50 Hz"; with a scale of its own also "409.6 counts/g"."""
    scale = "" if front_end.counts_per_g is None else f", {front_end.counts_per_g:g} counts/g"
    if front_end.lowest_counts is not None or front_end.highest_counts is not None:
        scale += f", from {front_end.lowest / front_end.k:.3g} to {front_end.highest / front_end.k:.3g} g"
    return f"±{front_end.range_g:g} g, {front_end.bits} bits, {front_end.rate_hz:g} Hz{scale}"


def header_lines(values: Values, front_end: FrontEnd, settings: Settings) -> tuple[str, ...]:
    """The part and its numbers, a line each, for a header's comment."""
    kind = values.text("part.kind")
    groups = ("analog",) if kind == ANALOGUE else ("digital",)
    lines = [f"part: {kind}, {in_words(front_end_of(values, front_end))}"]
    for key in values:
        row = values.row(key)
        if row.group in groups:
            value = values[key]
            said = ("yes" if value else "no") if isinstance(value, bool) else \
                value if isinstance(value, str) else f"{value:g} {row.unit}".strip()
            lines.append(f"  {row.title}: {said}")
    lines += [f"  {one.name}: {one.value:.4g} {one.unit}" for one in figures(values, front_end, settings)]
    return tuple(lines)


def with_range(front_end: FrontEnd, range_g: float, bits: int, rate_hz: float) -> FrontEnd:
    """The same kind of part with another range, width and rate.

    A scale and ends of its own go along: a range twice as wide moves the output half as far with each g, between the
    same ends of output and converter.
    """
    if front_end.counts_per_g is None:
        return FrontEnd(range_g, bits, rate_hz)
    finer = 2.0 ** (bits - front_end.bits)
    ends = (None if front_end.lowest_counts is None else max(math.floor(front_end.lowest_counts * finer), -32768),
            None if front_end.highest_counts is None else
            min(math.floor((front_end.highest_counts + 1) * finer) - 1, 32767))
    return FrontEnd(range_g, bits, rate_hz, front_end.counts_per_g * front_end.range_g / range_g * finer, *ends)

"""The part in use: which kind it is, what its numbers come to, what contradicts itself, what a header says of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from detect.device.analog import AnalogPart, analog_part
from detect.device.digital import DigitalPart, digital_part, noise_rms_mg, quantisation_rms_mg
from detect.device.values import PRACTICE, Quantity, Values, choice
from detect.frontend import FrontEnd
from detect.settings import Settings

DIGITAL, ANALOGUE = "digital", "analogue"

FEW_COUNTS = 5
"""Below so many counts a threshold hangs on rounding. Common practice, no source."""

QUANTITIES: tuple[Quantity, ...] = (
    choice("part.kind", (DIGITAL, ANALOGUE), DIGITAL, "kind",
           "A digital part hands over numbers; an analogue one a voltage that a converter reads.", PRACTICE),
)


@dataclass(frozen=True)
class Figure:
    """Something that follows from the part's numbers, with its unit and where the reckoning comes from."""

    key: str
    name: str
    value: float
    unit: str
    sentence: str


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


def doubts(values: Values, front_end: FrontEnd, settings: Settings) -> tuple[str, ...]:
    """What contradicts itself between part, front end and settings, a sentence each."""
    part = part_of(values, front_end)
    seen = front_end_of(values, front_end)
    own = part.doubts(front_end.rate_hz) if isinstance(part, AnalogPart) else part.doubts()
    if seen != front_end:
        own += (f"The score is of another front end, {in_words(front_end)}; this part is {in_words(seen)}.",)
    return (*own, *threshold_doubts(settings, seen))


def threshold_doubts(settings: Settings, front_end: FrontEnd) -> tuple[str, ...]:
    """Thresholds that a range can't reach, or that are lost in its steps."""
    found = []
    impact, range_g = settings.number("impact_g"), front_end.range_g
    if impact > largest_g(front_end):
        found.append(f"The impact threshold, {impact:g} g, is above all that ±{range_g:g} g can tell, "
                     f"{largest_g(front_end):.2f} g on all three axes: no impact is ever seen. Lower it, or take a "
                     "larger range.")
    elif impact > axis_reach_g(front_end):
        found.append(f"One axis of ±{range_g:g} g reads at most {axis_reach_g(front_end):.4g} g: an impact along one "
                     f"axis does not come to the threshold of {impact:g} g. Lower it, or take a larger range.")
    for key, name in (("free_fall_g", "free-fall"), ("still_g", "stillness")):
        counts = front_end.counts(settings.number(key))
        if counts < FEW_COUNTS and settings[{"free_fall_g": "free_fall_on", "still_g": "still_on"}[key]]:
            found.append(f"The {name} threshold, {settings.number(key):g} g, is only {counts} "
                         f"count{'' if counts == 1 else 's'}: half a count of rounding moves it by "
                         f"{50 / max(counts, 1):.0f} %. Take more bits or a smaller range.")
    return tuple(found)


def axis_reach_g(front_end: FrontEnd) -> float:
    """The largest reading of one axis: full scale, or the last count of the width, one short of it."""
    return min(front_end.range_g, (2.0 ** (front_end.bits - 1) - 1) / front_end.k)


def largest_g(front_end: FrontEnd) -> float:
    """The largest magnitude: √3 times full scale, which the negative end of each axis reads."""
    return math.sqrt(3) * min(front_end.range_g, 2.0 ** (front_end.bits - 1) / front_end.k)


def figures(values: Values, front_end: FrontEnd, settings: Settings) -> tuple[Figure, ...]:
    """What the part's numbers come to."""
    part, seen = part_of(values, front_end), front_end_of(values, front_end)
    corner = part.cutoff_hz if isinstance(part, AnalogPart) else part.bandwidth_hz
    bandwidth = seen.rate_hz / 2 * 2 / math.pi if corner is None else corner
    noise, steps = noise_rms_mg(part.noise_ug, bandwidth), quantisation_rms_mg(seen.k)
    common = [
        Figure("counts_per_g", "scale", seen.k, "counts/g", "Width over range, or what the converter makes of 1 g."),
        Figure("mg_per_count", "a count", 1000 / seen.k, "mg", "The smallest difference that can be told."),
        Figure("quantisation_mg", "quantisation", steps, "mg RMS", "A count over √12, as of noise spread evenly."),
        Figure("noise_mg", "noise", noise, "mg RMS",
               "Density times √(π/2 · corner) of a one-pole filter; without a filter, √(half the rate)."),
        Figure("both_mg", "noise and quantisation", math.hypot(noise, steps), "mg RMS", "Of one axis at rest."),
        Figure("largest_g", "largest magnitude", largest_g(seen), "g", "√3 times the range: all axes at their end."),
        Figure("free_fall_counts", "free-fall threshold", seen.counts(settings.number("free_fall_g")), "counts",
               "What the threshold in hand becomes on this part."),
        Figure("impact_counts", "impact threshold", seen.counts(settings.number("impact_g")), "counts",
               "What the threshold in hand becomes on this part."),
    ]
    if corner is not None:
        common.insert(3, Figure("corner_hz", "filter's corner", corner, "Hz", "Where the low-pass has lost 3 dB."))
    own = _analog_figures(part) if isinstance(part, AnalogPart) else _digital_figures(part)
    return (*own, *common)


def _analog_figures(part: AnalogPart) -> list[Figure]:
    low, high = part.ends_g
    return [
        Figure("zero_v", "0 g", part.zero_v, "V", "The output without acceleration at the supply in use."),
        Figure("zero_code", "0 g", part.zero_code, "code", "The firmware takes this off each code."),
        Figure("mv_per_g", "1 g", part.v_per_g * 1000, "mV", "The sensitivity at the supply in use."),
        Figure("lowest_g", "lowest reading", low, "g", "Where output or converter end."),
        Figure("highest_g", "highest reading", high, "g", "Where output or converter end."),
    ]


def _digital_figures(part: DigitalPart) -> list[Figure]:
    return [Figure("buffer_s", "buffer lasts", part.buffer_s, "s",
                   "Samples kept over the rate: as long may the processor sleep.")]


def in_words(front_end: FrontEnd) -> str:
    """"±4 g, 12 bits, 50 Hz"; with a scale of its own also "409.6 counts/g"."""
    scale = "" if front_end.counts_per_g is None else f", {front_end.counts_per_g:g} counts/g"
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


def in_use(front_end: FrontEnd, range_g: float, bits: int, rate_hz: float) -> FrontEnd:
    """A front end of another range, width and rate; a scale of its own goes with it only while range and width stay."""
    if (range_g, bits) == (front_end.range_g, front_end.bits):
        return replace(front_end, rate_hz=rate_hz)
    return FrontEnd(range_g, bits, rate_hz)

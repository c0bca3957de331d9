"""From what a converter wrote to g: raw integers, volts of an analog part, or any unit with a zero and a scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

import numpy as np

from data.problem import Problem
from data.told import BYTES, CODINGS, Own, Raw, Volts
from data.units import CUSTOMARY_RANGES_G, REST_HIGH_G, REST_LOW_G, at_rest


def full_count(raw: Raw) -> int:
    """The largest count in magnitude: 2^(bits−1)."""
    return 1 << (raw.bits - 1)


def mg_per_count(raw: Raw, range_g: float) -> float:
    """What one count is worth, in mg. Raises Problem where nothing says it."""
    if raw.mg_per_count:
        return raw.mg_per_count
    if range_g:
        return 1000 * range_g / full_count(raw)
    raise Problem(
        "scale_unknown",
        "Nothing says what one count is worth.",
        "Write mg_per_count under [raw], or the logger's range_g under [units] and its bits under [raw].",
    )


def decoded(column: np.ndarray, raw: Raw, name: str = "") -> np.ndarray:
    """(n,) float64 counts, right-justified and signed, from the integers of a file, which may be read as signed or
    not. Raises Problem (with its `row`) where one is broken or doesn't fit the width.
    """
    low, high = -(1 << (raw.width - 1)), (1 << raw.width) - 1
    for fault, said in (
        (column != np.floor(column), "is not a whole number"),
        ((column < low) | (column > high), f"doesn't fit in {raw.width} bits"),
    ):
        if fault.any():
            row = int(np.argmax(fault))
            value = f"{column[row]:g}"
            raise Problem(
                "counts_broken",
                f"{value} in column {name} {said}.",
                "Name the unit that it is in (--unit), or correct bits and width under [raw].",
                row=row,
                column=name,
                value=value,
            )
    field = column.astype(np.int64) & ((1 << raw.width) - 1)
    if raw.bytes == "swapped":
        field = _swapped(field, raw.width)
    if raw.justified == "left":
        field >>= raw.width - raw.bits
    return _signed(field & ((1 << raw.bits) - 1), raw).astype(np.float64)


def _signed(field: np.ndarray, raw: Raw) -> np.ndarray:
    half = full_count(raw)
    if raw.coding == "offset binary":
        return field - half
    return (field ^ half) - half


def _swapped(field: np.ndarray, width: int) -> np.ndarray:
    size = width // 8
    parts = field.astype(">u8").view(np.uint8).reshape(-1, 8)[:, 8 - size :][:, ::-1]
    whole = np.zeros((len(field), 8), np.uint8)
    whole[:, 8 - size :] = parts
    return whole.view(">u8").ravel().astype(np.int64)


def raw_to_g(columns: Sequence[np.ndarray], raw: Raw, range_g: float, names: Sequence[str]) -> np.ndarray:
    """(n, 3) float64 in g."""
    scale = mg_per_count(raw, range_g) / 1000
    return np.column_stack([decoded(c, raw, n) for c, n in zip(columns, names, strict=True)]) * scale


def volts_to_g(columns: Sequence[np.ndarray], volts: Volts, supply: np.ndarray | None = None) -> np.ndarray:
    """(n, 3) float64 in g. `supply`: (n,) volts at each sample, where it was logged.

    Raises Problem where codes or a ratiometric part need a supply that nobody named.
    """
    samples = np.column_stack(columns)
    now: np.ndarray | float = volts.supply_v or volts.nominal_v
    if supply is not None:
        if not (supply > 0).all():
            row = int(np.argmax(~(supply > 0)))
            message = f"The supply is {supply[row]:g} V."
            raise Problem("supply", message, "Correct the column under [columns] supply.", row=row)
        now = supply[:, None]
    if volts.codes:
        samples = samples * (now / volts.codes)
    share = now / volts.nominal_v if volts.ratiometric else 1.0
    return np.asarray((samples - volts.zero_g_v * share) / (volts.mv_per_g / 1000 * share))


def own_to_g(columns: Sequence[np.ndarray], own: Own) -> np.ndarray:
    """(n, 3) float64 in g."""
    return np.asarray((np.column_stack(columns) - np.array(own.zero)) / np.array(own.per_g))


def readings_that_rest_at_1_g(columns: Sequence[np.ndarray], raw: Raw, range_g: float) -> list[Raw]:
    """Every other way to read the integers under which |a| at rest is 1 g, likeliest first: the smoothest.

    Justification, byte order and coding are tried; width and worth of a count stay as declared.
    """
    found: list[tuple[float, Raw]] = []
    for justified, order, coding in product(("right", "left"), BYTES, CODINGS):
        other = replace(raw, justified=justified, bytes=order, coding=coding)
        if other == raw or (order == "swapped" and raw.width == 8) or (justified == "left" and raw.bits == raw.width):
            continue
        samples = raw_to_g(columns, other, range_g, ("x", "y", "z"))
        rest = at_rest(samples)
        if REST_LOW_G <= rest.level <= REST_HIGH_G and rest.still:
            found.append((float(np.abs(np.diff(samples, axis=0)).mean()), other))
    return [other for _, other in sorted(found, key=lambda pair: pair[0])]


def reading_in_words(raw: Raw) -> str:
    """What to write under [raw] for this reading."""
    return f'justified = "{raw.justified}", bytes = "{raw.bytes}", coding = "{raw.coding}" under [raw]'


def front_ends_that_fit(counts_at_rest: float) -> list[tuple[int, int]]:
    """Range in g and width in bits of the customary front ends whose counts come to 1 g at rest, nearest first."""
    pairs = [(range_g, bits) for range_g in CUSTOMARY_RANGES_G for bits in range(8, 17)]
    off = {pair: abs(np.log2(counts_at_rest * pair[0] / (1 << (pair[1] - 1)))) for pair in pairs}
    near = [pair for pair in pairs if off[pair] <= np.log2(REST_HIGH_G)]
    customary = (16, 14, 12, 10, 8, 13, 11, 15, 9)
    return sorted(near, key=lambda pair: (customary.index(pair[1]), off[pair]))

"""Settings within their bounds and beyond each of them, for the check that plf_init makes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from detect.firmware.header.fields import FIELDS, OF_KEY
from detect.firmware.header.generated import initialised
from detect.firmware.header.identity import FRONT_END_MACROS, identity_of
from detect.firmware.twins.block import first_out_of_bounds
from detect.firmware.vectors.detector import BASE
from detect.rule.integers import LARGEST_THRESHOLD
from detect.rule.settings import Unit

VECTORS_FRONT_END = dict(zip(FRONT_END_MACROS, (0x1F2E3D4C, 0x5B6A, 0x79889AAB, 0xBCCDDEEF), strict=True))
"""Every byte another, so that none may stand in another's place."""

_AT = {field.member: at for at, field in enumerate(FIELDS)}


@dataclass(frozen=True)
class SettingsCase:
    """Settings as integers in the order of FIELDS, and what they are for."""

    name: str
    numbers: tuple[int, ...]

    @property
    def row(self) -> str:
        items = ", ".join(initialised([str(number) for number in self.numbers]))
        crc = identity_of(VECTORS_FRONT_END, self.numbers)
        return f"    {{ {{ {items} }}, 0x{crc:08X}U, {first_out_of_bounds(self.numbers)} }}, /* {self.name} */"


def settings_cases() -> Iterator[SettingsCase]:
    """The base rule, each integer at its bounds and beyond, and what must hold between two of them on both sides."""
    yield _case("the base rule")
    for field in FIELDS:
        within = (-32768, 32767) if field.signed else (0, 65535)
        for value in sorted({within[0], field.least - 1, field.least, field.most, field.most + 1, within[1]}):
            if within[0] <= value <= within[1]:
                yield _case(f"{field.member} {value}", **{field.member: value})
        if field.numbers:
            for value in range(field.least, field.most + 1):
                yield _case(f"{field.member} {value}, a choice or none", **{field.member: value})
    for fields in OF_KEY.values():
        if fields[0].unit is Unit.VECTOR:
            for alone in (*fields, None):
                numbers = {field.member: int(field is alone) for field in fields}
                yield _case(f"{fields[0].key}, only {alone.member if alone else 'zeros'}", **numbers)
    for most, window in ((6, 6), (7, 6), (4096, 4096), (4096, 4095)):
        yield _case(f"{most} active of {window}", active_most_samples=most, active_window_samples=window)
    for on in (0, 1):
        for every_axis in (0, 1):
            for low, impact in ((301, 301), (302, 301), (174, 300), (175, 300), (LARGEST_THRESHOLD, LARGEST_THRESHOLD),
                                (32768, LARGEST_THRESHOLD), (32769, LARGEST_THRESHOLD), (1, 1), (2, 1)):
                yield _case(f"free fall {'on' if on else 'off'}, {'axes' if every_axis else 'magnitude'} below {low}, "
                            f"impact {impact}", free_fall_on=on, free_fall_every_axis=every_axis,
                            free_fall_counts=low, impact_counts=impact)
    yield _case("two out of bounds", settle_samples=0, hold_off_samples=0)
    yield _case("a bound goes before a choice", prefilter_samples=3, hold_off_samples=0)
    for value in (0, 17):
        yield _case(f"a pre-filter of {value} is a bound", prefilter_samples=value, hold_off_samples=0)
    yield _case("more active than any window is a bound", active_most_samples=4097, hold_off_samples=0)
    yield _case("free fall off has its bound", free_fall_on=0, free_fall_counts=LARGEST_THRESHOLD + 1)
    yield _case("a choice goes before low and impact", prefilter_samples=3, free_fall_counts=400)


def _case(name: str, **members: int) -> SettingsCase:
    numbers = [field.integer(BASE) for field in FIELDS]
    for member, value in members.items():
        numbers[_AT[member]] = value
    return SettingsCase(name, tuple(numbers))

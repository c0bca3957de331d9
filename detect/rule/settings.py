"""The value of every parameter, as asked for in physical units; from and to what files hold."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from detect.rule.parameter_row import Parameter, Unit, Value
from detect.rule.parameters import PARAMETERS

__all__ = ["BY_KEY", "DEFAULTS", "PARAMETERS", "RENAMED_KEYS", "BadSetting", "Parameter", "Settings", "Unit", "Value",
           "from_plain"]

BY_KEY: Mapping[str, Parameter] = MappingProxyType({p.key: p for p in PARAMETERS})


RENAMED_KEYS: Mapping[str, str] = MappingProxyType({
    "busy_on": "active_on",
    "busy_band_g": "active_band_g",
    "busy_window_ms": "active_window_ms",
    "busy_share_pct": "active_share_pct",
})
"""Keys of older study, settings and preset files, and what they are now."""


class BadSetting(ValueError):
    """A setting that the rule can't run with. `key`, `value` and a `remedy` in words."""

    def __init__(self, key: str, value: object, message: str, remedy: str) -> None:
        super().__init__(f"{key} = {value!r}: {message} {remedy}")
        self.key, self.value, self.message, self.remedy = key, value, message, remedy


@dataclass(frozen=True)
class Settings(Mapping[str, Value]):
    """A value asked for, in physical units, for every row of the table. Immutable, hashable, in table order."""

    values_in_order: tuple[Value, ...] = tuple(p.default for p in PARAMETERS)

    def __getitem__(self, key: str) -> Value:
        return self.values_in_order[_POSITION[key]]

    def __iter__(self) -> Iterator[str]:
        return iter(_POSITION)

    def __len__(self) -> int:
        return len(PARAMETERS)

    def number(self, key: str) -> float:
        """The value of a row measured in g, ms, degrees or percent."""
        value = self[key]
        assert isinstance(value, int | float)
        return float(value)

    def with_value(self, key: str, value: object) -> Settings:
        """The same settings but for one row; BadSetting where the value is not of the row's kind."""
        if key not in _POSITION:
            raise BadSetting(key, value, "is not a setting.", f"Known settings: {', '.join(_POSITION)}.")
        values = list(self.values_in_order)
        values[_POSITION[key]] = _checked(BY_KEY[key], value)
        return Settings(tuple(values))

    def plain(self) -> dict[str, bool | int | float | str | list[float]]:
        """Settings as JSON can hold them."""
        return {key: list(v) if isinstance(v := self[key], tuple) else v for key in self}


_POSITION: Mapping[str, int] = MappingProxyType({p.key: i for i, p in enumerate(PARAMETERS)})
DEFAULTS = Settings()


def from_plain(plain: Mapping[str, object]) -> tuple[Settings, tuple[str, ...]]:
    """Settings from plain values, and the keys that were missing and took their default.

    Keys of older files are taken too. An unknown key, one that is there by its old and its new name, or a value of the
    wrong kind raises BadSetting.
    """
    settings, found = DEFAULTS, set()
    for written, value in plain.items():
        key = RENAMED_KEYS.get(written, written)
        if key in found:
            raise BadSetting(written, value, f"is the old name of {key}, which is there too.", "Keep one of the two.")
        settings = settings.with_value(key, value)
        found.add(key)
    return settings, tuple(key for key in settings if key not in found)


def _checked(row: Parameter, value: object) -> Value:
    if row.unit is Unit.SWITCH:
        if not isinstance(value, bool):
            raise BadSetting(row.key, value, "is neither true nor false.", "Write true or false.")
        return value
    if row.unit is Unit.CHOICE:
        for choice in row.choices:
            if value == choice and not isinstance(value, bool):
                return choice
        allowed = ", ".join(str(c) for c in row.choices)
        raise BadSetting(row.key, value, "is not one of the choices.", f"Choose one of: {allowed}.")
    if row.unit is Unit.VECTOR:
        if not isinstance(value, list | tuple) or len(value) != 3:
            raise BadSetting(row.key, value, "is not three numbers.", "Write [x, y, z] in g.")
        x, y, z = (_finite(row, v) for v in value)
        return (x, y, z)
    return _finite(row, value)


def _finite(row: Parameter, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= sys.float_info.max:
        raise BadSetting(row.key, value, "is not a finite number.", f"Write a number in {row.unit.value}.")
    return float(value)

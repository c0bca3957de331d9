"""What a device must do, the one object of a study that says so: parts are held against it, and its report is."""

from __future__ import annotations

from dataclasses import dataclass

from detect.device.quantities import Values, rows_of

ANYWHERE = "anywhere"
PLACEMENTS = (ANYWHERE, "waist", "wrist", "neck", "chest", "ankle")

QUANTITIES = rows_of("require", {"require.placement": PLACEMENTS})


@dataclass(frozen=True)
class Requirements:
    """`days`: how long the battery is to last; of sensitivity a share from 0 to 1."""

    placement: str
    sensitivity: float
    false_per_day: float
    days: float
    response_s: float
    lowest_c: float
    highest_c: float


def requirements_of(values: Values) -> Requirements:
    """Those that a study's numbers say."""
    number = values.number
    return Requirements(values.text("require.placement"), number("require.sensitivity_pct") / 100,
                        number("require.false_per_day"), number("battery.wanted_days"), number("require.response_s"),
                        number("require.lowest_c"), number("require.highest_c"))


@dataclass(frozen=True)
class Held:
    """One requirement against what was found: `met` None where nothing is known; `short`: by how much it is missed, or
    how much there is to spare where negative, in the requirement's unit; `origin`: where the figure comes from."""

    name: str
    wanted: str
    found: str
    met: bool | None
    short: float | None
    origin: str


def at_least(name: str, unit: str, wanted: float, found: float | None, origin: str) -> Held:
    """Held against a least value."""
    return _held(name, f"≥ {wanted:g} {unit}", unit, found, None if found is None else wanted - found, origin)


def at_most(name: str, unit: str, wanted: float, found: float | None, origin: str) -> Held:
    """Held against a largest value."""
    return _held(name, f"≤ {wanted:g} {unit}", unit, found, None if found is None else found - wanted, origin)


def _held(name: str, wanted: str, unit: str, found: float | None, short: float | None, origin: str) -> Held:
    if found is None or short is None:
        return Held(name, wanted.strip(), "no data", None, None, origin)
    return Held(name, wanted.strip(), f"{found:.4g} {unit}".strip(), short <= 1e-9, short, origin)

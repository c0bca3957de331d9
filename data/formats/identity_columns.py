"""Columns that say whose, or of which sensor or trial, a row is: several values in one are several recordings."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from data.formats.joined_files import Gathered
from data.formats.sheet import Sheet
from data.formats.text_layout import MOST_NAME
from data.problem import Problem, shown
from data.recipe.recipe import Recipe

WORDS = {
    "node": ("node", "sensor", "device", "channel", "imu", "mac", "mac address", "serial"),
    "trial": ("trial", "repetition", "rep", "run", "session", "attempt", "take"),
    "person": ("person", "subject", "participant", "volunteer", "user", "wearer", "patient"),
    "activity": ("activity", "task", "motion"),
    "placement": ("placement", "position", "location"),
}
"""What columns are called that part a file, by what they say. An activity may change within one recording."""

QUANTITY_WORDS = ("quantity", "measurement", "measurand", "modality", "sensor type", "sensor kind", "signal",
                  "signal type", "signal kind", "data type", "channel type")
"""What a column is called that says which quantity each row of a long table is."""

_MIXING = tuple(key for key in WORDS if key != "activity")
_BESIDE = re.compile(r"[\s_.-]*\b(id|no|nr|num|number|name|code|type|index)$")


def plain_name(name: str) -> str:
    """"Sensor_ID", "sensorId" and "sensors" as "sensor"."""
    parted = _parted(name)
    return _BESIDE.sub("", parted).removesuffix("s").strip() or parted


def _parted(name: str) -> str:
    """"sensorType", "Sensor_type" as "sensor type"."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name.strip()).replace("_", " ").lower()


def key_of(name: str) -> str:
    """What a column of this name says about a row's recording; empty where it says nothing."""
    if says_quantity(name):
        return ""
    plain = plain_name(name) if len(name) <= MOST_NAME else ""
    return next((key for key, words in WORDS.items() if plain in words), "")


def says_quantity(name: str) -> bool:
    """Whether a column of this name says of which quantity a row is."""
    return len(name) <= MOST_NAME and _parted(name).removesuffix("s").removesuffix(" id") in QUANTITY_WORDS


def refuse_mixed(sheets: Sequence[Sheet], gathered: Gathered, recipe: Recipe) -> None:
    """Raises Problem where a column that is named for a sensor, person, trial or place has several values within what
    would be read as one recording."""
    if recipe.one_recording:
        return
    names = sheets[0].layout.names
    used = {getattr(recipe.columns, key) for key in ("time", "x", "y", "z")} | {
        getattr(recipe.split, key) for key in WORDS} | {recipe.rows.column}
    for place, name in enumerate(names):
        if says_quantity(name) and name not in used and place + 1 not in used and names.count(name) == 1:
            _refuse_quantities(sheets, name)
        key = key_of(name)
        if key not in _MIXING or name in used or place + 1 in used or names.count(name) > 1:
            continue
        values = [cell for sheet in sheets if name in sheet.layout.names
                  for cell in sheet.texts(sheet.layout.names.index(name))]
        parted = list(zip(*gathered.keys.values(), strict=True)) if gathered.keys else [()] * len(gathered)
        mixed = _mixed(values, parted)
        if mixed:
            some = ", ".join(shown(value, 20) for value in mixed[:3]) + (", …" if len(mixed) > 3 else "")
            raise Problem(
                "several_mixed",
                f"Column {name} has {len(mixed)} values ({some}): the rows would be read as one recording.",
                "Split the file by it, or state that all rows are one recording.",
                field="split", fits=f"{key}={name}", column=name, value=some)


def _refuse_quantities(sheets: Sequence[Sheet], name: str) -> None:
    """Raises Problem where rows are of several quantities."""
    values = list(dict.fromkeys(cell for sheet in sheets if name in sheet.layout.names
                                for cell in sheet.texts(sheet.layout.names.index(name)) if cell))
    if len(values) < 2:
        return
    some = ", ".join(shown(value, 20) for value in values[:3]) + (", …" if len(values) > 3 else "")
    raise Problem("several_mixed", f"Column {name} has {len(values)} values ({some}): the rows are of several "
                  "quantities and would be read as one.", "State which value is acceleration.",
                  field="rows", fits=f"{shown(name)}=VALUE", column=name, value=some)


def _mixed(values: Sequence[str], parted: Sequence[tuple[str, ...]]) -> list[str]:
    """The values of a column, in order, if it names recordings and they are several within one part; else none."""
    different = [value for value in dict.fromkeys(values) if value]
    if len(different) < 2 or 2 * len(different) > len(values) or not all(_names_something(one) for one in different):
        return []
    pairs = {pair for pair in zip(parted, values, strict=False) if pair[1]}
    return different if len(pairs) > len({part for part, _ in pairs}) else []


def _names_something(value: str) -> bool:
    """Whole numbers and words name; other numbers measure."""
    try:
        number = float(value)
    except ValueError:
        return True
    return bool(np.isfinite(number)) and number == int(number)

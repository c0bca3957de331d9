"""How fast each sensor turned: columns of a gyroscope in the recordings' own files, or a model that is said."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from app.study.pipeline import Prepared
from app.study.recordings.device_signal import in_g
from app.study.recordings.trim import trimmed
from app.study.state import Item, Study
from data.files import content_of
from data.formats.joined_files import RowPlaces, gather
from data.formats.optional_files import open_sheet
from data.problem import Problem, os_refusals
from data.recordings.model import Recording
from data.recordings.orientation import matrix_of
from detect.device.part.mounting import AXES, STEADY, TOPPLES, Worn, steady_turn, toppling

LONGEST_FALL_S = 5.0
"""So long before the impact a rod that leans by 2° has begun to fall, whatever its length."""

PER_UNIT = {"deg/s": np.pi / 180, "rad/s": 1.0}


@dataclass(frozen=True)
class Gyro:
    """Three columns by name or number, and their unit, a key of PER_UNIT."""

    columns: tuple[str | int, str | int, str | int]
    unit: str = "deg/s"


def gyro_named(columns: str, unit: str) -> Gyro:
    """From "wx,wy,wz". Raises Problem."""
    names = [part.strip() for part in columns.split(",")]
    if len(names) != 3 or not all(names) or unit not in PER_UNIT:
        raise Problem("option", f'A gyroscope has three columns; "{columns}" names {len(names)}.',
                      "Write them as X,Y,Z, by name or by number from 1.", value=columns)
    x, y, z = (int(name) if name.isdigit() else name for name in names)
    return Gyro((x, y, z), unit)


def rates_of(study: Study, prepared: Prepared, worn: Worn, gyro: Gyro | None) \
        -> tuple[np.ndarray, np.ndarray | None] | None:
    """(n, 3) rad/s for every sample of `worn`, on the wearer's axes, and rad/s² of their change where a model knows it;
    None where nothing says how it turns.

    Raises Problem where the gyroscope's columns can't be had.
    """
    device = study.device
    if gyro is not None:
        items = {item.name: item for item in study.items}
        pieces = [piece for name, one in zip(prepared.names, prepared.recordings, strict=True)
                  for piece in in_g(_gyro_of(items[name], one, gyro), study.front_end, study.front_end.k)]
        return np.concatenate([np.empty((0, 3)), *pieces]), None
    kind, axis = device.text("mounting.turns_by"), device.text("mounting.turns_about")
    if kind == STEADY:
        rates = steady_turn(len(worn.g), axis, device.number("mounting.rate_dps"))
        return rates, np.zeros_like(rates)
    if kind != TOPPLES:
        return None
    rates, changes = np.zeros((len(worn.g), 3)), np.zeros((len(worn.g), 3))
    ends = np.append(worn.stretch_first, len(worn.g))
    for event in np.flatnonzero(worn.events.is_fall).tolist():
        at = int(worn.highest[event])
        stretch = int(np.searchsorted(worn.stretch_first, at, side="right")) - 1
        first = int(ends[stretch])
        begun = max(first, at - round(LONGEST_FALL_S * study.front_end.rate_hz))
        rate, change = toppling(at + 1 - begun, at - begun, axis, device.number("mounting.topple_deg"),
                                device.number("mounting.topple_m"), study.front_end.rate_hz)
        rates[begun:at + 1] += rate
        changes[begun:at + 1] += change
    return rates, changes


def said(study: Study, gyro: Gyro | None) -> str:
    """Where the turn rate comes from, in a sentence."""
    device, kind = study.device, study.device.text("mounting.turns_by")
    axis = device.text("mounting.turns_about")
    if gyro is not None:
        return f"The turn rate is the gyroscope's, columns {', '.join(str(one) for one in gyro.columns)}."
    if kind == STEADY:
        return f"A model: it turns about {axis} at {device.number('mounting.rate_dps'):g} °/s all the time."
    if kind == TOPPLES:
        length = device.number("mounting.topple_m")
        return (f"A model: in each labelled fall a rod of {length:g} m falls by "
                f"{device.number('mounting.topple_deg'):g}° about {axis}, ever faster up to its highest sample; "
                "nothing else turns. How it stops is not in it.")
    return "Nothing says how it turns: a distance from the centre adds nothing."


def _gyro_of(item: Item, recording: Recording, gyro: Gyro) -> Recording:
    """The turn rates in rad/s on the recording's own grid, in place of its samples. Raises Problem."""
    if item.recipe.clock.stamps == "bursts" or recording.group:
        raise Problem("gyro", "The rows of this file are not one sample each, in order.",
                      "Gyroscope columns are taken from recordings of one node, not stamped in bursts.", file=item.name)
    columns = replace(item.recipe.columns, **dict(zip(AXES, gyro.columns, strict=True)), temperature="", battery="")
    recipe, files = replace(item.recipe, columns=columns), [Path(path).name for path in (item.path, *item.more)]
    with os_refusals(item.path, "read"):
        raws = [content_of(path) for path in (item.path, *item.more)]
    try:
        sheets = [open_sheet(raw, recipe.table) for raw in raws]
        gathered = gather(sheets, recipe, RowPlaces(sheets, files), files)
    except Problem as problem:
        raise problem.at(item.name) from problem
    rates = np.column_stack(gathered.axes[""]) * PER_UNIT[gyro.unit]
    if len(rates) != len(recording):
        raise Problem("gyro", f"{len(rates)} rows for {len(recording)} samples: rows without a sample were left out.",
                      "Gyroscope columns need a row for every sample.", file=item.name)
    if not np.isfinite(rates).all():
        raise Problem("gyro", "A turn rate is missing or no number.", "Leave this recording out, or mend the file.",
                      file=item.name)
    matrix = matrix_of(item.recipe.axes)
    rates = rates if matrix is None else rates @ matrix.T
    return trimmed(replace(recording, samples=rates, unit="g"), item.trim)

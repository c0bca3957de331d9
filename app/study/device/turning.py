"""How fast each sensor turned: columns of a gyroscope in the recordings' own files, or a model that is said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from app.study.device.in_g import stretches
from app.study.pipeline import Prepared
from app.study.state import Item, Study
from app.study.trimming import trimmed
from data.axes import matrix_of
from data.gathered import Places, gather
from data.opening import open_sheet
from data.problem import Problem, from_os_error
from data.recording import Recording
from detect.device.mounting import AXES, STEADY, TOPPLES, steady_turn, toppling
from detect.device.worn import Worn

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


def rates_of(study: Study, prepared: Prepared, worn: Worn, gyro: Gyro | None) -> np.ndarray | None:
    """(n, 3) rad/s for every sample of `worn`, on the wearer's axes; None where nothing says how it turns.

    Raises Problem where the gyroscope's columns can't be had.
    """
    device = study.device
    if gyro is not None:
        items = {item.name: item for item in study.items}
        pieces = [piece for name, one in zip(prepared.names, prepared.recordings, strict=True)
                  for piece in stretches(_gyro_of(items[name], one, gyro), study.front_end)]
        return np.concatenate([np.empty((0, 3)), *pieces])
    kind, axis = device.text("mounting.turns_by"), device.text("mounting.turns_about")
    if kind == STEADY:
        return steady_turn(len(worn.g), axis, device.number("mounting.rate_dps"))
    if kind != TOPPLES:
        return None
    rates = np.zeros((len(worn.g), 3))
    ends = np.append(worn.stretch_first, len(worn.g))
    for event in np.flatnonzero(worn.events.is_fall).tolist():
        at = int(worn.highest[event])
        stretch = int(np.searchsorted(worn.stretch_first, at, side="right")) - 1
        first, stop = int(ends[stretch]), int(ends[stretch + 1])
        rates[first:stop] += toppling(stop - first, at - first, axis, device.number("mounting.topple_deg"),
                                      device.number("mounting.topple_ms"), study.front_end.rate_hz)
    return rates


def said(study: Study, gyro: Gyro | None) -> str:
    """Where the turn rate comes from, in a sentence."""
    device, kind = study.device, study.device.text("mounting.turns_by")
    axis = device.text("mounting.turns_about")
    if gyro is not None:
        return f"The turn rate is the gyroscope's, columns {', '.join(str(one) for one in gyro.columns)}."
    if kind == STEADY:
        return f"A model: it turns about {axis} at {device.number('mounting.rate_dps'):g} °/s all the time."
    if kind == TOPPLES:
        return (f"A model: each labelled fall turns by {device.number('mounting.topple_deg'):g}° about {axis} within "
                f"{device.number('mounting.topple_ms'):g} ms, up to its highest sample; nothing else turns.")
    return "Nothing says how it turns: a distance from the centre adds nothing."


def _gyro_of(item: Item, recording: Recording, gyro: Gyro) -> Recording:
    """The turn rates in rad/s on the recording's own grid, in place of its samples. Raises Problem."""
    if item.recipe.clock.stamps == "bursts" or recording.group:
        raise Problem("gyro", "The rows of this file are not one sample each, in order.",
                      "Gyroscope columns are taken from recordings of one node, not stamped in bursts.", file=item.name)
    columns = replace(item.recipe.columns, **dict(zip(AXES, gyro.columns, strict=True)), temperature="", battery="")
    recipe, files = replace(item.recipe, columns=columns), [Path(path).name for path in (item.path, *item.more)]
    try:
        sheets = [open_sheet(raw, recipe.table) for raw in _raws(item)]
        gathered = gather(sheets, recipe, Places(sheets, files), files)
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


def _raws(item: Item) -> Sequence[bytes]:
    try:
        return [Path(path).read_bytes() for path in (item.path, *item.more)]
    except OSError as error:
        raise from_os_error(error, item.path, "read") from error

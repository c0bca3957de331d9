"""What an import can be told about a kind of file, part by part; every part may be empty."""

from __future__ import annotations

from dataclasses import dataclass

ACCELERATION_UNITS = ("g", "mg", "m/s2", "counts", "raw", "volts", "own")
"""`counts` are integers of the study's own front end, which pass through unchanged; `raw` integers of another
converter, `volts` an analog part's, `own` anything with a zero and a scale of its own."""

TIME_UNITS = ("s", "ms", "us", "ns", "iso", "ticks", "samples")
STAMPS = ("as-stamped", "bursts", "even")
RENAMED_STAMPS = {"as stamped": "as-stamped"}
"""Words of older recipes, and what they are now."""

REPEATS = ("drop",)
DELIMITERS = (",", ";", "\t", "|", " ")
SETTINGS_OF_USE = ("staged", "free-living")
JUSTIFIED = ("right", "left")
BYTES = ("in order", "swapped")
CODINGS = ("two's complement", "offset binary")
SIDES = ("x", "-x", "y", "-y", "z", "-z")

Column = str | int
"""A column by its name in the header, or by its number from 1."""

MOST_NODES = 32


@dataclass(frozen=True)
class ColumnNames:
    """Which column is what; empty where nobody said. `supply`: volts, of an analog part; `temperature` and `battery`
    are only watched for drift."""

    time: Column = ""
    x: Column = ""
    y: Column = ""
    z: Column = ""
    supply: Column = ""
    temperature: Column = ""
    battery: Column = ""


@dataclass(frozen=True)
class SplitColumns:
    """Columns whose values part one file into several recordings, and say who, what or which node each is of."""

    person: Column = ""
    activity: Column = ""
    trial: Column = ""
    node: Column = ""
    placement: Column = ""


@dataclass(frozen=True)
class RowChoice:
    """Which rows of a long table are acceleration: those with one of `values` in `column`, as they stand there."""

    column: Column = ""
    values: tuple[str, ...] = ()


@dataclass(frozen=True)
class PreambleKeys:
    """Keys of the lines above a table ("Subject: W01") whose values say who, what, where, when and at which rate."""

    person: str = ""
    activity: str = ""
    placement: str = ""
    trial: str = ""
    date: str = ""
    rate: str = ""


@dataclass(frozen=True)
class Node:
    """One of several sensors side by side in a table, with its own three columns."""

    name: str
    x: Column
    y: Column
    z: Column


@dataclass(frozen=True)
class TableLayout:
    """How the file is laid out; empty or None where the content is to tell.

    `sheet`: which of several tables in one file. `missing`: the values that mean "no sample here", "nan" for an
    empty cell; an empty list says that there are none, None that nobody said.
    """

    delimiter: str = ""
    decimal: str = ""
    encoding: str = ""
    sheet: str = ""
    header: bool | None = None
    skip_lines: int = 0
    missing: tuple[float | str, ...] | None = None


@dataclass(frozen=True)
class Units:
    """Units of the columns; `range_g` the logger's own full scale, 0 where nobody said."""

    acceleration: str = ""
    time: str = ""
    range_g: float = 0.0


@dataclass(frozen=True)
class Raw:
    """Integers as a logger's converter gave them: `bits` wide, in a field of `width` bits, at one end of it.

    One count is `mg_per_count`, else what `range_g` under [units] and the width make of it.
    """

    bits: int = 16
    width: int = 16
    justified: str = "right"
    bytes: str = "in order"
    coding: str = "two's complement"
    mg_per_count: float = 0.0


@dataclass(frozen=True)
class Volts:
    """An analog part: what it reads at 0 g and for one g, at the supply that the data sheet names.

    `ratiometric`: both grow with the supply, which is `supply_v` or a column of its own. `codes`: the columns are
    those of a converter with so many codes over the supply, not volts; 0 for volts.
    """

    nominal_v: float = 0.0
    zero_g_v: float = 0.0
    mv_per_g: float = 0.0
    ratiometric: bool = True
    supply_v: float = 0.0
    codes: int = 0


@dataclass(frozen=True)
class Own:
    """Any unit: (value − `zero`) / `per_g` is in g, for all axes or for each."""

    zero: tuple[float, ...] = (0.0,)
    per_g: tuple[float, ...] = (1.0,)


@dataclass(frozen=True)
class Axes:
    """The sensor's orientation: axes of the wearer (x forward, y up, z to the right) out of the sensor's.

    Either `x`, `y` and `z` name a sensor's axis each ("-y"), or `up` and `forward` say which of them points there,
    or `rotation` is the matrix itself, row by row. All empty: as the sensor has them.
    """

    x: str = ""
    y: str = ""
    z: str = ""
    up: str = ""
    forward: str = ""
    rotation: tuple[float, ...] = ()


@dataclass(frozen=True)
class Clock:
    """What the stamps are worth, and the nominal rates that the logger has, in Hz.

    `ticks_hz`: how fast a counter of ticks counts; `wrap`: after how many a counter starts again, 0 for never.
    `repeats`: "drop" leaves out rows that stand there twice, same stamp and same values. Sample numbers as times: the
    sample of number 0 was taken at `offset_s`, and the logger's clock was slow by `drift_ppm`.
    """

    stamps: str = ""
    rates_hz: tuple[float, ...] = ()
    ticks_hz: float = 0.0
    wrap: float = 0.0
    repeats: str = ""
    offset_s: float = 0.0
    drift_ppm: float = 0.0


@dataclass(frozen=True)
class LabelTable:
    """The columns of a table of labels, and how its keys name recordings.

    `name`: the column of the activity; without it the recording's own activity names the event.
    `falls`: the activities that are falls. `time`: the unit of its times; a date and time, or seconds since 1970,
    where recordings know theirs. A table written by another clock was read at `offset_s` + (1 + `drift_ppm` / 10⁶)
    of its times. `fall_field`: what of a recording says whether it is a fall, such as a part of its file's name, in
    place of its activity. In a name of `falls` * stands for any letters. `whole_recordings`: a recording of a fall
    without times is that fall from end to end.
    """

    key: str = ""
    key_pattern: str = ""
    onset: str = ""
    end: str = ""
    duration: str = ""
    name: str = ""
    comment: str = ""
    falls: tuple[str, ...] = ()
    time: str = ""
    offset_s: float = 0.0
    drift_ppm: float = 0.0
    whole_recordings: bool = False
    fall_field: str = ""


@dataclass(frozen=True)
class FrontEndSection:
    """Range ±g, width in bits and rate of the device that a study is for; its scale and its last readings where those
    are given directly."""

    range_g: float
    bits: int
    rate_hz: float
    counts_per_g: float | None = None
    lowest_counts: int | None = None
    highest_counts: int | None = None

    @property
    def per_g(self) -> float:
        """Counts per g."""
        return self.counts_per_g or (1 << (self.bits - 1)) / self.range_g

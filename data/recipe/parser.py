"""The sections of a recipe, taken apart and checked, each from its table of plain values."""

from __future__ import annotations

import math
from dataclasses import fields

from data.formats.text import known_encoding
from data.plain_values import Fields
from data.recipe import sections
from data.recipe.name_pattern import pattern_fault
from data.recordings.model import About
from data.recordings.orientation import axes_fault

RANGES_G, RATES_HZ, MOST_COUNTS_PER_G = (0.01, 100_000.0), (0.01, 1_000_000.0), 1e9
"""No accelerometer has another full scale, output data rate or scale: wider by far than any is."""

MOST_DRIFT_PPM = 100_000
"""No clock of a logger is off by a tenth."""


def pattern(section: Fields, key: str) -> str:
    found = section.text(key)
    fault = pattern_fault(found)
    if fault:
        raise section.fault(key, fault)
    return found


def _column(section: Fields, key: str) -> sections.Column:
    value = section.raw(key, "")
    if isinstance(value, bool) or not isinstance(value, str | int) or (isinstance(value, int) and value < 1):
        raise section.fault(key, "a column's name, or its number from 1")
    return value


def columns_from(section: Fields) -> sections.ColumnNames:
    chosen = {f.name: _column(section, f.name) for f in fields(sections.ColumnNames)}
    named = [v for v in chosen.values() if v != ""]
    if len(set(named)) < len(named):
        raise section.fault("x", "a column of its own, as must all others")
    section.done()
    return sections.ColumnNames(**chosen)


def split_from(section: Fields) -> sections.SplitColumns:
    split = sections.SplitColumns(**{f.name: _column(section, f.name) for f in fields(sections.SplitColumns)})
    section.done()
    return split


def rows_from(section: Fields) -> sections.RowChoice:
    choice = sections.RowChoice(_column(section, "column"), section.texts("values"))
    if (choice.column == "") != (not choice.values):
        raise section.fault("values" if choice.column else "column", "given together with the other: column says the "
                            "quantity of a row, values which of them are acceleration")
    section.done()
    return choice


def names_from(section: Fields) -> tuple[tuple[str, str], ...]:
    """What nodes are called, by what stands in their column."""
    names = tuple((key, section.text(key)) for key in section)
    called = [name for _, name in names]
    for key, name in names:
        if not name or called.count(name) > 1:
            raise section.fault(key, "a name of its own: two nodes of one name would be one recording")
    return names


def preamble_from(section: Fields) -> sections.PreambleKeys:
    keys = sections.PreambleKeys(**{f.name: section.text(f.name) for f in fields(sections.PreambleKeys)})
    section.done()
    return keys


def nodes_from(section: Fields) -> tuple[sections.Node, ...]:
    nodes = []
    for name in section:
        axes = section.raw(name)
        if not isinstance(axes, list) or len(axes) != 3 or len(set(map(str, axes))) < 3 \
                or any(isinstance(a, bool) or not isinstance(a, str | int) or a in ("", 0) for a in axes):
            raise section.fault(name, "a list of three columns, x, y and z, by name or by number from 1")
        nodes.append(sections.Node(name, *axes))
    if len(nodes) > sections.MOST_NODES:
        raise section.fault(nodes[-1].name, f"one of at most {sections.MOST_NODES} nodes")
    return tuple(nodes)


def table_from(section: Fields) -> sections.TableLayout:
    encoding = section.text("encoding")
    if encoding and not known_encoding(encoding):
        raise section.fault("encoding", "the name of a text encoding, such as utf-8 or latin-1")
    skip_lines = section.whole("skip_lines", 0)
    if skip_lines < 0:
        raise section.fault("skip_lines", "0 or more")
    table = sections.TableLayout(
        delimiter=section.text("delimiter", "", sections.DELIMITERS),
        decimal=section.text("decimal", "", (".", ",")),
        encoding=encoding,
        sheet=section.text("sheet"),
        header=section.flag("header", None),
        skip_lines=skip_lines,
        missing=_missing(section) if "missing" in section else None,
    )
    if table.decimal and table.decimal == table.delimiter:
        raise section.fault("decimal", "another sign than the delimiter")
    section.done()
    return table


def _missing(section: Fields) -> tuple[float | str, ...]:
    values = section.raw("missing")
    if not isinstance(values, list) or any(isinstance(v, bool) or not isinstance(v, int | float | str) for v in values):
        raise section.fault("missing", 'a list of numbers, or of "nan" for empty cells')
    if any(v != "nan" if isinstance(v, str) else not math.isfinite(v) for v in values):
        raise section.fault("missing", 'a list of numbers, or of "nan" for empty cells')
    return tuple(v if isinstance(v, str) else float(v) for v in values)


def units_from(section: Fields) -> sections.Units:
    units = sections.Units(
        acceleration=section.text("acceleration", "", sections.ACCELERATION_UNITS),
        time=section.text("time", "", sections.TIME_UNITS),
        range_g=_at_least_nought(section, "range_g", "the logger's full scale in g, above 0"),
    )
    section.done()
    return units


def _at_least_nought(section: Fields, key: str, must: str) -> float:
    value = section.number(key, 0.0)
    if value < 0:
        raise section.fault(key, must)
    return value


def raw_from(section: Fields) -> sections.Raw:
    raw = sections.Raw(
        bits=section.whole("bits", 16),
        width=section.whole("width", 16),
        justified=section.text("justified", "right", sections.JUSTIFIED),
        bytes=section.text("bytes", "in order", sections.BYTES),
        coding=section.text("coding", "two's complement", sections.CODINGS),
        mg_per_count=_at_least_nought(section, "mg_per_count", "above 0"),
    )
    if raw.width not in (8, 16, 24, 32):
        raise section.fault("width", "8, 16, 24 or 32")
    if not 2 <= raw.bits <= raw.width:
        raise section.fault("bits", f"2 to {raw.width}, the width")
    section.done()
    return raw


def volts_from(section: Fields) -> sections.Volts:
    volts = sections.Volts(
        nominal_v=section.number("nominal_v"),
        zero_g_v=section.number("zero_g_v"),
        mv_per_g=section.number("mv_per_g"),
        ratiometric=bool(section.flag("ratiometric", True)),
        supply_v=_at_least_nought(section, "supply_v", "above 0"),
        codes=section.whole("codes", 0),
    )
    for key in ("nominal_v", "zero_g_v", "mv_per_g"):
        if getattr(volts, key) <= 0:
            raise section.fault(key, "above 0")
    if volts.codes < 0:
        raise section.fault("codes", "the number of the converter's codes, or 0 for volts")
    section.done()
    return volts


def own_from(section: Fields) -> sections.Own:
    own = sections.Own(
        zero=section.numbers("zero") if "zero" in section else (0.0,),
        per_g=section.numbers("per_g") if "per_g" in section else (1.0,),
    )
    for key in ("zero", "per_g"):
        if len(getattr(own, key)) not in (1, 3):
            raise section.fault(key, "a list of one number, or of three")
    if 0.0 in own.per_g:
        raise section.fault("per_g", "other than 0")
    section.done()
    return own


def axes_from(section: Fields) -> sections.Axes:
    axes = sections.Axes(
        **{key: section.text(key, "", ("", *sections.SIDES)) for key in ("x", "y", "z", "up", "forward")},
        rotation=section.numbers("rotation"),
    )
    key, fault = axes_fault(axes)
    if fault:
        raise section.fault(key, fault)
    section.done()
    return axes


def clock_from(section: Fields) -> sections.Clock:
    clock = sections.Clock(
        stamps=section.text("stamps", "", sections.STAMPS, sections.RENAMED_STAMPS),
        rates_hz=section.numbers("rates_hz"),
        ticks_hz=_at_least_nought(section, "ticks_hz", "above 0"),
        wrap=_at_least_nought(section, "wrap", "the number of counts at which the counter rolls over"),
        repeats=section.text("repeats", "", (*sections.REPEATS, "")),
        offset_s=section.number("offset_s", 0.0),
        drift_ppm=section.number("drift_ppm", 0.0),
    )
    if any(rate <= 0 for rate in clock.rates_hz):
        raise section.fault("rates_hz", "a list of rates above 0")
    if abs(clock.drift_ppm) > MOST_DRIFT_PPM:
        raise section.fault("drift_ppm", f"a number from −{MOST_DRIFT_PPM} to {MOST_DRIFT_PPM}")
    section.done()
    return clock


def labels_from(section: Fields) -> sections.LabelTable:
    table = sections.LabelTable(
        key=section.text("key"),
        key_pattern=pattern(section, "key_pattern"),
        onset=section.text("onset"),
        end=section.text("end"),
        duration=section.text("duration"),
        name=section.text("name"),
        comment=section.text("comment"),
        falls=section.texts("falls"),
        fall_field=section.text("fall_field"),
        time=section.text("time", "", ("s", "ms", "us", "ns", "iso", "")),
        offset_s=section.number("offset_s", 0.0),
        drift_ppm=section.number("drift_ppm", 0.0),
        whole_recordings=bool(section.flag("whole_recordings", False)),
    )
    if table.end and table.duration:
        raise section.fault("duration", "left out where end is given")
    if abs(table.drift_ppm) > 1e5:
        raise section.fault("drift_ppm", "between -100000 and 100000")
    section.done()
    return table


def front_end_from(section: Fields) -> sections.FrontEndSection:
    """A front end from a table of plain values."""
    front_end = sections.FrontEndSection(
        section.number("range_g"),
        section.whole("bits"),
        section.number("rate_hz"),
        section.maybe_number("counts_per_g"),
        section.maybe_whole("lowest_counts"),
        section.maybe_whole("highest_counts"),
    )
    if front_end.counts_per_g is not None and not 0 < front_end.counts_per_g <= MOST_COUNTS_PER_G:
        raise section.fault("counts_per_g", f"above 0 and at most {MOST_COUNTS_PER_G:g}, or left out")
    for key, (low, high) in (("range_g", RANGES_G), ("rate_hz", RATES_HZ)):
        if not low <= getattr(front_end, key) <= high:
            raise section.fault(key, f"{low:g} to {high:g}")
    if not 8 <= front_end.bits <= 16:
        raise section.fault("bits", "8 to 16")
    section.done()
    return front_end


def about_from(section: Fields) -> About:
    """What is known of a recording, from a table of plain values."""
    about = About(
        person=section.text("person"),
        activity=section.text("activity"),
        placement=section.text("placement"),
        trial=section.text("trial"),
        node=section.text("node"),
        setting=section.text("setting", "", (*sections.SETTINGS_OF_USE, "")),
        properties=_texts_of(section.table("properties")),
    )
    section.done()
    return about


def _texts_of(section: Fields) -> tuple[tuple[str, str], ...]:
    return tuple((key, section.text(key)) for key in section)


def part_from(section: Fields) -> tuple[tuple[str, str], ...]:
    """Which of several recordings in one file: the values of its splitting columns."""
    return tuple((key, section.text(key)) for key in section)

"""Tables as loggers and people write them, each with a recipe that it may be read by: seeds for damage."""

from __future__ import annotations

import io
import wave
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from data.recipe.recipe import Recipe, recipe_from_toml
from data.recipe.sections import (
    Axes,
    Clock,
    ColumnNames,
    FrontEndSection,
    Node,
    Own,
    PreambleKeys,
    Raw,
    RowChoice,
    SplitColumns,
    TableLayout,
    Units,
    Volts,
)
from data.recordings.model import About
from tests.data.made import burst_stamps, csv_text, wearer

Pair = tuple[bytes, Recipe]

WALK = wearer(60)
SECONDS = np.arange(60) * 0.02
PLAIN = Recipe()
AT_50 = Recipe(clock=Clock(rates_hz=(50.0,)))
BY_NUMBER = Recipe(columns=ColumnNames(1, 2, 3, 4), units=Units("g", "s"), clock=Clock(rates_hz=(50.0,)))
ABOVE = "% Subject: W01\n% Position = waist\n\n% Start: 2024-05-31 14:03\n# Rate: 50 Hz\n"
TOLD = Recipe(preamble=PreambleKeys("Subject", placement="Position", date="Start", rate="Rate"))
LONG = recipe_from_toml('''[rows]
column = "sensor type"
values = ["0"]
[split]
node = "sensor id"
[names]
1 = "ankle"
''')


def beside(header: str, *columns: Sequence[object], times: Sequence[float] | np.ndarray = SECONDS,
           walk: np.ndarray = WALK) -> bytes:
    """A table of time, three axes and other columns."""
    rows = zip(times, *walk.T.tolist(), *columns, strict=True)
    return (header + "\n" + "".join(",".join(f"{cell:.9g}" if isinstance(cell, float) else f"{cell}"
                                             for cell in row) + "\n" for row in rows)).encode()


def dated(step_ms: int = 20, form: str = "2024-05-31T14:03:{s:02}.{ms:03}") -> bytes:
    return ("time,x_g,y_g,z_g\n" + "".join(
        f"{form.format(s=i * step_ms // 1000, ms=i * step_ms % 1000)},{x},{y},{z}\n"
        for i, (x, y, z) in enumerate(WALK.tolist()))).encode()


def array(columns: np.ndarray) -> bytes:
    out = io.BytesIO()
    np.save(out, columns)
    return out.getvalue()


def damaged(line: int, text: str) -> bytes:
    lines = csv_text(samples=WALK).split("\n")
    lines[line] = text
    return "\n".join(lines).encode()


def layouts() -> Iterator[Pair]:
    """Delimiters, decimal signs, encodings, headers, units, comments."""
    yield csv_text(samples=WALK).encode(), PLAIN
    yield csv_text(samples=WALK, delimiter=";", decimal=",").encode(), PLAIN
    yield csv_text(samples=WALK, delimiter="\t").encode("utf-16"), PLAIN
    yield csv_text(samples=WALK).encode("utf-16-le"), PLAIN
    yield csv_text(samples=WALK).encode("utf-16-be"), Recipe(table=TableLayout(encoding="utf-16-be"))
    yield csv_text(samples=WALK).encode("utf-8-sig"), PLAIN
    yield csv_text("Zeit (s),größe,x_g,y_g,z_g".replace("größe,", ""), WALK).encode("latin-1"), PLAIN
    yield csv_text("t (µs),x_g,y_g,z_g", WALK, SECONDS * 1e6).encode("latin-1"), PLAIN
    yield csv_text(samples=WALK).encode().replace(b"0.100", b"0.1\xff0", 1), Recipe(table=TableLayout(encoding="utf-8"))
    yield csv_text(samples=WALK, delimiter=" ").encode(), PLAIN
    yield csv_text(samples=WALK, delimiter=" ").replace("\n", " # note\n").encode(), PLAIN
    yield csv_text("", WALK).encode(), BY_NUMBER
    yield csv_text("", WALK).encode(), Recipe(units=Units("g", "s"))
    yield csv_text(samples=WALK).encode(), Recipe(table=TableLayout(header=True, skip_lines=1))
    yield csv_text(samples=WALK).encode(), Recipe(table=TableLayout(delimiter=";", decimal=","))
    yield csv_text(samples=WALK).encode(), replace(BY_NUMBER, table=TableLayout(header=False, skip_lines=1))
    yield ("# a comment\n" + csv_text("t,x,y,z\ns,g,g,g", WALK)).encode(), PLAIN
    yield (ABOVE + "% time_s,x_g,y_g,z_g\n\n" + csv_text("", WALK)).encode(), TOLD
    yield (ABOVE + csv_text("% t,x,y,z\n% s,g,g,g", WALK)).encode(), TOLD
    yield (ABOVE.replace("50 Hz", "fast").replace("2024-05-31 14:03", "noon") + csv_text(samples=WALK)).encode(), TOLD
    yield (ABOVE.replace("50 Hz", "0.05 kHz").replace("2024", "0024") + csv_text(samples=WALK)).encode(), TOLD
    yield ("% Start: 2024-05-31T14:03:09Z\n% Rate: 50\n" + csv_text("x_g,y_g,z_g\n", WALK)).encode(), TOLD
    yield "\n".join(line.partition(",")[2] for line in (csv_text(samples=WALK)).split("\n")).encode(), \
        Recipe(preamble=PreambleKeys(rate="Rate"), clock=Clock("even", (50.0,)))
    yield ("Logger: 7,,,\n\n" + csv_text(samples=WALK)).encode(), PLAIN
    yield b"1,2,3\n4,5,6\n" * 30, PLAIN
    yield "".join(f"{i};{x:.0f};{y:.0f};{z:.0f}\n" for i, (x, y, z) in enumerate((WALK * 999).tolist())).encode(), \
        Recipe(columns=ColumnNames(1, 2, 3, 4), units=Units("mg", "samples"), clock=Clock(rates_hz=(50.0,)))
    yield "".join(f"{i} 0 999\t{y:.0f} 0\n" for i, (_, y, _) in enumerate((WALK * 999).tolist())).encode(), PLAIN
    yield b"a,b\n" + b"1,2\n" * 20, PLAIN
    yield b"a,b,c,d\n", PLAIN
    yield b"# only\n% comments\n", PLAIN
    yield b"time_s,x_g,y_g\n" + b"0,0,1\n" * 3, PLAIN
    yield b'"' + b"x" * 140_000 + b'",1,2,3\n', PLAIN
    for header in ("time_s,x_g,y_g,y_g", "time_s,x_g,y_g,height", "time_s,gx_dps,gy_dps,gz_dps", "time_s,a_g,b_g,c_g",
                   "time_s,time_ms,x_g,y_g", "t,x,y,z", "x,y,z,t", "time_s,acc x [g],acc y [g],acc z [g]",
                   "time_s,ax,ay,az", "t,x (m/s2),y (m/s2),z (m/s2)", f"time_s,{'x' * 300},y_g,z_g"):
        yield csv_text(header, WALK).encode(), PLAIN
    yield csv_text(samples=WALK).encode(), Recipe(columns=ColumnNames("time_s", "x_g", "none", "z_g"))
    yield csv_text("time_s,x_g,y_g,y_g", WALK).encode(), Recipe(columns=ColumnNames("time_s", "x_g", "y_g", 9))
    yield csv_text("time_s,gyr x,gyr y,gyr z", WALK).encode(), \
        Recipe(columns=ColumnNames("time_s", "gyr x", "gyr y", "gyr z"), units=Units("g"))


def cells() -> Iterator[Pair]:
    """Cells that are no number, empty, in quotes, missing."""
    nan = Recipe(table=TableLayout(missing=("nan",)), clock=Clock(rates_hz=(50.0,)))
    for line in ("0.58,abc,1,0", "0.58,,1,0", "0.58,nan,1,0", "0.58,1e999,1,0", "0.58,0,1", "0.58,0,1,0,0",
                 '0.58,"0",1,0', "0.58,-32768,1,0", "0.58,1e15,1,0", ",0,1,0", "0.58,0x1F,1,0",
                 "0.58, \x1f0,1,0", '0.58,"0,1,0'):
        yield damaged(30, line), PLAIN
        yield damaged(30, line), nan
    yield damaged(30, "0.58,nan,nan,nan"), replace(BY_NUMBER, table=TableLayout(missing=("nan", -1.0)))
    yield csv_text(samples=WALK * np.nan).encode(), nan
    yield csv_text(samples=WALK).replace(".", ",").encode(), PLAIN
    yield csv_text(samples=np.where(np.arange(60)[:, None] % 9 == 4, -1.0, WALK)).encode(), \
        Recipe(table=TableLayout(missing=(-1.0,)), clock=Clock("even", (50.0,)))
    yield damaged(30, damaged(29, "").decode().split("\n")[29]), PLAIN
    text = csv_text(samples=WALK).split("\n")
    twice = "\n".join([*text[:30], text[29], *text[30:]]).encode()
    yield twice, Recipe(clock=Clock(repeats="drop"))
    yield twice, Recipe(clock=Clock(repeats="drop"), table=TableLayout(missing=("nan",)))
    yield dated().replace(b"2024-05-31T14:03:00.100,", b",", 1), \
        Recipe(units=Units("g", "iso"), table=TableLayout(missing=("nan",)), clock=Clock(repeats="drop"))
    blocks = csv_text(samples=np.tile(WALK, (642, 1)), times=np.arange(642 * 60) * 0.02)
    yield (blocks[:-30] + "x\n").encode(), PLAIN  # its fault in a second block
    yield csv_text(samples=WALK).replace(",", ' ," ', 0).replace("0.400", '"0.400"').encode(), PLAIN


def columns_beside() -> Iterator[Pair]:
    """What stands beside the axes: temperature, battery, supply, sensors, people, quantities."""
    head = "time_s,x_g,y_g,z_g,"
    warm = [20 + i / 10 for i in range(60)]
    yield beside(head + "temp,battery_v", warm, warm), PLAIN
    yield beside(head + "temp", ["n/a" if i == 9 else i for i in range(60)]), PLAIN
    yield beside(head + "temp", ["x"] * 60), \
        Recipe(columns=ColumnNames("time_s", "x_g", "y_g", "z_g", temperature="temp"))
    volts = Recipe(units=Units("volts"), volts=Volts(3.3, 1.65, 300),
                   columns=ColumnNames("time_s", "x_g", "y_g", "z_g", supply="supply"))
    yield beside(head + "supply", [3.3] * 60, walk=1.65 + 0.3 * WALK), volts
    yield beside(head + "supply", [3.3] * 60, walk=1.65 + 0.3 * WALK), \
        replace(volts, split=SplitColumns(trial="supply"))
    named = [("sensor_id", ["a", "b"]), ("subject", [1, 2]), ("trial", [1.5, 2.5]), ("device", ["", "x"]),
             ("sensor type", ["acc", "gyr"]), ("Modality", ["acc", "acc"]), ("placement", ["hip", "hip"]),
             ("id", [1, 2])]
    for name, (one, other) in named:
        mixed = [one if i % 4 < 2 else other for i in range(60)]
        yield beside(head + name, mixed), AT_50
        yield beside(head + name, mixed), replace(AT_50, one_recording=True)
        yield beside(head + name, sorted(mixed, key=str), times=np.tile(SECONDS[:30], 2)), \
            replace(AT_50, split=SplitColumns(trial=name))
    many = beside(head + "sensor,run", [i // 20 for i in range(60)], [i % 2 for i in range(60)])
    yield many, replace(AT_50, split=SplitColumns(node="sensor"))
    yield many, replace(AT_50, split=SplitColumns(node="sensor", trial="run"), part=(("node", "1"),))
    yield many, replace(AT_50, split=SplitColumns(node="sensor", trial="run"), part=(("node", "7"),))
    yield csv_text(samples=np.tile(WALK, (20, 1))).encode(), Recipe(split=SplitColumns(trial="time_s"))
    both = beside("time_s,left_x_g,left_y_g,left_z_g,right_x_g,right_y_g,right_z_g", *WALK.T.tolist())
    nodes = (Node("left", "left_x_g", "left_y_g", "left_z_g"), Node("right", 5, 6, 7))
    yield both, PLAIN
    yield both, Recipe(nodes=nodes)
    yield both, Recipe(nodes=nodes, part=(("node", "right"),))
    yield both, Recipe(nodes=nodes, part=(("node", "none"),))
    long = beside(head + "sensor type,sensor id", [i % 2 for i in range(60)], [i // 2 % 2 for i in range(60)],
                  times=[i // 4 * 0.02 for i in range(60)])
    yield long, LONG
    yield long.replace(b",0\n", b",7\n").replace(b"x_g", b"x_mg", 1), \
        replace(LONG, rows=RowChoice("sensor type", ("9",)))
    word = long.split(b"\n")
    word[4] = b"0.02,hot,-,,1,0"
    yield b"\n".join(word), LONG
    word[5] = b"0.02,hot,-,,0,0"
    yield b"\n".join(word), LONG
    yield b"\n".join(word).replace(b",", b";").replace(b".", b","), LONG
    late = [9 if i < 50 else 0 for i in range(60)]
    yield beside(head + "kind", late), replace(AT_50, rows=RowChoice("kind", ("0",)))
    yield beside(head + "kind", [0] * 60), replace(AT_50, rows=RowChoice(5, ("0",)))
    tail = beside(head + "kind", [9] * 150 + [0] * 60, times=np.arange(210) * 0.02, walk=wearer(210))
    yield tail, replace(AT_50, rows=RowChoice("kind", ("0",)))


def times() -> Iterator[Pair]:
    """Stamps of every kind: even, in bursts, wrapping, dated, numbered, with gaps, drifting, wrong."""
    def at(stamps: Sequence[float] | np.ndarray, recipe: Recipe = PLAIN,
           header: str = "time_s,x_g,y_g,z_g") -> Pair:
        return beside(header, times=[float(one) for one in stamps], walk=wearer(len(stamps))), recipe

    bursts = burst_stamps(300, 50.0)
    shuffled = np.concatenate([bursts[:100], bursts[120:140], bursts[100:120], bursts[140:]])
    as_bursts = Recipe(clock=Clock("bursts", (50.0,)))
    for stamps in (bursts, shuffled, np.concatenate([bursts, bursts]), bursts + (np.arange(300) > 150) * 9.0,
                   burst_stamps(300, 50.0, late={3: 0.4, 9: 0.9}), np.zeros(300)):
        yield at(stamps)
        yield at(stamps, as_bursts)
        yield at(stamps, Recipe(clock=Clock("even", (40.0, 50.0))))
    gaps = np.arange(60) * 0.02 + np.cumsum(np.arange(60) % 8 == 7) * 0.5
    third = np.delete(np.arange(300) * 0.01, np.arange(2, 300, 3))
    some = np.delete(np.arange(300) * 0.02, np.arange(5, 300, 29))
    drift = np.concatenate([np.arange(1500) * 0.02, 30 + np.arange(1500) * 0.0203])
    uneven = SECONDS + np.where(np.arange(60) % 2, 0.004, 0.0)
    for stamps in (gaps, third, some, drift, uneven, SECONDS * 1000, SECONDS / 1000, SECONDS * 1e6, SECONDS * 0 + 1,
                   -SECONDS, SECONDS + 1.7e9, SECONDS * 1e19, np.arange(60) * 0.0313, np.delete(SECONDS, [7, 8]),
                   np.round(np.arange(300) / 70.0, 2), [0.0], [0.0, 0.02], np.append(SECONDS[:40], SECONDS[:20]),
                   np.arange(60) * 0.02111, np.arange(60) * 0.0206):
        yield at(stamps)
        yield at(stamps, AT_50)
        yield at(stamps, Recipe(clock=Clock("as-stamped", (100.0, 50.0))))
    yield at(SECONDS, Recipe(clock=Clock("even")))
    yield at(SECONDS, Recipe(clock=Clock("even", (50.0,))))
    yield at(SECONDS[:1], Recipe(clock=Clock("even", (40.0, 50.0))))
    yield at(SECONDS * 0, Recipe(clock=Clock("even", (40.0, 50.0))))
    yield csv_text("x_g,y_g,z_g", WALK).encode(), PLAIN
    for unit in ("ms", "us", "ns", "ticks", "samples"):
        yield at(np.arange(60) * 20.0, Recipe(units=Units("g", unit)), "t,x_g,y_g,z_g")
        yield at(np.arange(60) * 20.0, Recipe(units=Units("g", unit), clock=Clock(ticks_hz=1000.0, rates_hz=(50.0,))),
                 "t,x_g,y_g,z_g")
    ticks = Recipe(units=Units("g", "ticks"), clock=Clock(ticks_hz=1000.0))
    over = np.arange(60) * 20 + 64_900
    for stamps in (over % 65_536, over % 65_000, np.concatenate([over % 65_536, [3.0]]), over % 100_000):
        yield at(stamps, ticks, "t,x_g,y_g,z_g")
        yield at(stamps, replace(ticks, clock=Clock(ticks_hz=1000.0, wrap=65_536.0)), "t,x_g,y_g,z_g")
    yield at(np.concatenate([np.arange(30), np.arange(40, 70)]), Recipe(
        units=Units("g", "samples"), clock=Clock(rates_hz=(50.0,), offset_s=3.0, drift_ppm=20.0)), "n,x_g,y_g,z_g")
    yield at(np.arange(60) * 1.5, Recipe(units=Units("g", "samples"), clock=Clock(rates_hz=(50.0,))), "n,x_g,y_g,z_g")
    yield at(np.arange(60), Recipe(units=Units("g", "samples"), clock=Clock("bursts", (50.0,))), "n,x_g,y_g,z_g")
    iso = Recipe(units=Units("g", "iso"))
    for form in ("2024-05-31T14:03:{s:02}.{ms:03}", "2024-05-31 14:03:{s:02}.{ms:03}Z",
                 "2024-05-31T14:03:{s:02}.{ms:03}+02:00", "14:03:{s:02}.{ms:03}", "31.05.2024 14:03:{s:02}.{ms:03}",
                 "9999-12-31T23:59:{s:02}.{ms:03}",
                 "1600-01-01T00:00:{s:02}.{ms:03}", "2024-05-31T14:03:{s:02}"):
        yield dated(form=form), PLAIN
        yield dated(form=form), iso
    yield dated().replace(b"14:03:00.400", b"noon"), iso
    yield dated().replace(b"14:03:00.400", b"NaT"), PLAIN
    yield dated().replace(b"2024-05-31T14:03:00.400", b""), iso
    yield dated(step_ms=21), Recipe(clock=Clock("bursts", (50.0,)))


def scales() -> Iterator[Pair]:
    """Units, counts, volts, axes, arrays."""
    counts = np.round(WALK * 512)
    head = "time_s,x_counts,y_counts,z_counts"
    sensor = FrontEndSection(4, 12, 50)
    yield csv_text(head, counts).replace(".000", "").encode(), Recipe(front_end=sensor)
    yield csv_text(head, counts * 16).encode(), Recipe(front_end=FrontEndSection(64, 12, 50))
    yield csv_text("t,x,y,z", counts).encode(), Recipe(units=Units("raw", "s", 4.0), raw=Raw(12, 16))
    yield csv_text("t,x,y,z", counts).encode(), Recipe(units=Units("own", "s"), own=Own((0, 0, 0), (512,)))
    for factor, unit in ((1000, "mg"), (9.80665, "m/s2"), (1, "mg"), (5, "g")):
        yield csv_text("t,x,y,z", WALK * factor).encode(), Recipe(units=Units(unit, "s"))
    yield csv_text(samples=WALK).encode(), replace(AT_50, axes=Axes(up="-y", forward="z"))
    yield csv_text(samples=WALK).encode(), replace(AT_50, about=About("W01", "fall", "hip", "1", "a"))
    yield csv_text(samples=WALK - (0, 1, 0)).encode(), AT_50
    yield csv_text(samples=wearer(60) + np.random.default_rng(1).normal(0, 0.5, (60, 3))).encode(), AT_50
    yield array(np.column_stack([SECONDS, WALK])), BY_NUMBER
    yield array(np.column_stack([SECONDS, WALK])), PLAIN
    yield array(WALK), Recipe(columns=ColumnNames(x=1, y=2, z=3), units=Units("g"), clock=Clock("even", (50.0,)))
    yield array(np.round(np.column_stack([SECONDS * 1000, WALK * 1000])).astype(np.int32)), \
        Recipe(columns=ColumnNames(1, 2, 3, 4), units=Units("mg", "ms"), split=SplitColumns(trial=4))
    yield array(np.array([["1", "2", "x"]] * 30)), Recipe(columns=ColumnNames(x=1, y=2, z=3), units=Units("g"))
    yield array(np.column_stack([SECONDS, np.where(SECONDS[:, None] == 0.4, np.nan, WALK)])), BY_NUMBER
    yield array(np.column_stack([SECONDS, np.where(SECONDS[:, None] == 0.4, np.nan, WALK)])), \
        replace(BY_NUMBER, table=TableLayout(missing=("nan", -1.0)))
    yield array(np.zeros((0, 4))), BY_NUMBER


def sound() -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(3)
        file.setsampwidth(2)
        file.setframerate(50)
        file.writeframes(np.round(WALK * 8000).astype("<i2").tobytes())
    return out.getvalue()


def rare() -> Iterator[Pair]:
    """What few files have: two columns of a name, a unit alone, sound, records, texts in arrays, odd encodings."""
    head = "time_s,x_g,y_g,z_g,"
    warm = [20.0] * 60
    for names in ("temp,temp", "temp1,temp_2", "sensor,sensor", f"{'sensor ' * 40},note"):
        yield beside(head + names, warm, [i % 2 for i in range(60)]), AT_50
    yield csv_text("temp,x_g,y_g,z_g", WALK).encode(), Recipe(columns=ColumnNames("", "temp", "y_g", "z_g"))
    for below in ("s,deg/s,deg/s,deg/s", "s,g,g", "s,g,g,g"):
        table = ("t,x,y,z\n" + below + "\n" + csv_text("", WALK)).encode()
        yield table, PLAIN
        yield table, Recipe(columns=ColumnNames("t", "x", "y", "z"))
    for name in ("ms", "[s]", "s", "n", "clock", "stamp_us"):
        yield csv_text(f"{name},x_g,y_g,z_g", WALK, SECONDS * 1000).encode(), PLAIN
    by_number = ColumnNames(1, 2, 3, 4)
    yield csv_text("", WALK).encode(), Recipe(columns=by_number, units=Units("g"))
    yield b"\n".join(dated().split(b"\n")[1:]), Recipe(columns=by_number, units=Units("g"))
    for rates in ((), (40.0,)):
        yield sound(), Recipe(columns=ColumnNames(x=1, y=2, z=3), units=Units("own"), own=Own((0,), (8000,)),
                              clock=Clock(rates_hz=rates))
    many = [f"s{i % 5}" for i in range(60)]
    for name in ("sensor", "sensor type", "trial"):
        yield beside(head + name, many), AT_50
        yield beside(head + name, ["" if i % 3 else "7" for i in range(60)]), AT_50
        yield beside(head + name, ["inf" if i % 2 else "nan" for i in range(60)]), AT_50
        yield beside(head + name, list(range(60))), AT_50
    dates = np.datetime64("2024-05-31T14:03:00.000") + np.arange(60) * np.timedelta64(20, "ms")
    records = np.array([(t, *row) for t, row in zip(dates, WALK.tolist(), strict=True)],
                       dtype=[("t", "M8[ms]"), ("x", "f8"), ("y", "f8"), ("z", "f8")])
    named = ColumnNames("t", "x", "y", "z")
    yield array(records), Recipe(columns=named, units=Units("g", "iso"))
    yield array(records), Recipe(columns=named, units=Units("g", "ms"))
    whole = np.array([[f"{cell:.3f}" for cell in row] for row in np.column_stack([SECONDS, WALK]).tolist()])
    for odd in ("0.1", "nan", "x", "-1", ""):
        whole[20, 2] = odd
        yield array(whole), BY_NUMBER
        yield array(whole), replace(BY_NUMBER, table=TableLayout(missing=("nan", -1.0)))
    yield array(np.column_stack([SECONDS, WALK])), replace(BY_NUMBER, split=SplitColumns(trial=4))
    for encoding in ("utf-16", "utf-7", "idna", "punycode", "utf-8", "latin-1"):
        yield csv_text(samples=WALK).encode() + b"\xff", Recipe(table=TableLayout(encoding=encoding))
    yield csv_text(samples=WALK).encode() + b"0\0", PLAIN
    yield csv_text(samples=WALK).encode(), Recipe(table=TableLayout(skip_lines=400))
    yield b"1;2,3;4,5;6\n" * 40, PLAIN
    yield b"1;2;3\n" * 130 + b"1,5;2,5;3,5\n" * 9, BY_NUMBER


def odd_rows() -> Iterator[Pair]:
    """Quotes, comments and blanks in rows that are looked at one by one, and faults told by their line."""
    iso = Recipe(units=Units("g", "iso"))
    text = dated().decode()
    yield text.replace("2024-05-31T14:03:00.400", '"2024-05-31T14:03:00.400"').encode(), iso
    yield text.replace("2024-05-31T14:03:00.400", '"2024-05-31T14:03:00.400').encode(), iso
    yield text.replace("\n", " # note\n", 9).encode(), iso
    yield text.replace("14:03:00.400,", "14:03:00.400,9,").encode(), iso
    for odd in ("1e15", "-9999"):
        for before, after in (("0.200,", '"0.200",'), ("0.200,", "#\n0.200,"), ("0.200,", "\n0.200,")):
            lines = damaged(30, f"0.58,{odd},1,0").decode()
            yield lines.replace(before, after, 1).encode(), BY_NUMBER
            yield lines.replace(before, after, 1).encode(), AT_50
    blanks = csv_text(samples=WALK, delimiter=" ")
    yield blanks.replace("0.400 ", "0.400 x ").encode(), PLAIN
    yield blanks.replace("0.400 ", "# 0.400 ").encode(), AT_50
    yield (blanks + "# end\n1 2\n").encode(), PLAIN
    yield (csv_text(samples=WALK).split("\n")[0] + "\n# none\n\n").encode(), BY_NUMBER
    yield (csv_text(samples=WALK) + '"' + "9" * 140_000 + '",1,2,3\n').encode(), AT_50
    for above in ("% Rate: 50\n% Rate: 60\n", "% Rate = 50 1/s\n", "# Rate: -5 Hz\n", "% Rate: 1e9\n", "; Rate: 50\n",
                  "% Start: 2024-13-45\n", "% Start: 1717163003\n", "% Start: 31.05.2024\n", "% Subject:\n% : x\n",
                  "% Start: 2024-05-31T14:03:09+02:00\n% Subject: W02\n% Position: hip\n"):
        yield (above + csv_text(samples=WALK)).encode(), TOLD
        yield (above + csv_text(samples=WALK)).encode(), replace(TOLD, clock=Clock("even", (50.0,)), about=About("W09"))
        yield above.encode() + dated(), TOLD


def odd_times() -> Iterator[Pair]:
    """Times at the edge of what can be told."""
    def at(stamps: Sequence[float] | np.ndarray, recipe: Recipe, name: str = "t") -> Pair:
        return beside(f"{name},x_g,y_g,z_g", times=[float(one) for one in stamps], walk=wearer(len(stamps))), recipe

    missing = replace(AT_50, table=TableLayout(missing=("nan", -1.0)), units=Units("g", "s"))
    yield beside("t,x_g,y_g,z_g", times=[-1.0 if i % 7 == 3 else i * 0.02 for i in range(60)]), missing
    yield beside("t,x_g,y_g,z_g", times=[-1.0] * 60), missing
    for clock in (Clock("even", (50.0,), repeats="drop"), Clock("bursts", (50.0,), repeats="drop"),
                  Clock(repeats="drop"), Clock("even", (40.0, 50.0)), Clock("even", (90.0,)), Clock("even", (1.0,))):
        for stamps in (np.repeat(SECONDS, 2), SECONDS, SECONDS * 0, SECONDS + 1e9, np.array([0.0])):
            yield at(stamps, Recipe(units=Units("g", "s"), clock=clock, table=TableLayout(missing=("nan",))))
    for unit in ("s", "ms", "us", "ns", "ticks", "samples"):
        for scale in (1e-3, 1.0, 1e3, 1e9, 1e18):
            yield at((SECONDS + 0.02) * scale, Recipe(units=Units("g", unit), clock=Clock(rates_hz=(50.0,))))
            yield at((SECONDS + 1.7e9) * scale, Recipe(units=Units("g", unit), clock=Clock(ticks_hz=scale)))
    for wrap in (0.0, 256.0, 65_536.0):
        for step in (20, 200, 30_000):
            ticks = Recipe(units=Units("g", "ticks"), clock=Clock(ticks_hz=1000.0, wrap=wrap))
            yield at(np.arange(60) * step % 65_536, ticks)
            yield at(np.arange(60) * step % 256, ticks)
    half = np.where(np.arange(300) % 4 == 3, 0.04, 0.02).cumsum()
    coarse = np.round(np.arange(300) / 33.0, 2)
    for stamps in (half, coarse, np.delete(np.arange(300) * 0.03, np.arange(7, 300, 3)), np.arange(300) * 0.0207,
                   np.arange(300) * 0.01 + np.random.default_rng(2).uniform(0, 0.009, 300), burst_stamps(300, 41.7)):
        for rates in ((), (50.0,), (33.3, 25.0), (100.0, 50.0)):
            for stamped in ("", "as-stamped", "bursts"):
                yield at(stamps, Recipe(units=Units("g", "s"), clock=Clock(stamped, rates)))


def pairs() -> list[Pair]:
    kinds = (layouts, cells, columns_beside, times, scales, rare, odd_rows, odd_times)
    return [pair for kind in kinds for pair in kind()]

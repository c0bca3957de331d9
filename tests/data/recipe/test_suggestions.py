"""What an import leaves open: suggestions with reasons, and what every choice would do."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from app.study.importing.sources import Remembered
from data.problem import Problem
from data.recipe import suggestions as suggesting
from data.recipe.pattern_guess import guess_pattern
from data.recipe.preview import HEAD_BYTES, FileHead, head_of, kinds_of, preview
from data.recipe.recipe import Recipe
from data.recipe.sections import STAMPS, Clock, ColumnNames, Own, TableLayout, Units
from data.recipe.suggestions import all_taken, suggestions

RNG = np.random.default_rng(7)


def movement(samples: int = 1000) -> np.ndarray:
    """(n, 3) in g: at rest, then walking."""
    t = np.arange(samples) / 50
    walking = t > 8
    x, y, z = 0.3 * np.sin(11 * t) * walking, 1 + 0.25 * np.sin(9 * t) * walking, 0.05 * np.cos(t) * walking
    g = np.column_stack([x, y, z])
    return g + RNG.normal(0, 0.004, g.shape)


def head(per_g: float = 1.0, time: Callable[[int], str] | None = lambda i: f"{i / 50:.3f}", header: str = "t,ax,ay,az",
         extra: Callable[[int], str] | None = None, name: str = "a.csv") -> FileHead:
    lines = [header] if header else []
    for i, row in enumerate(movement() * per_g):
        cells = [f"{value:.4f}" for value in row]
        lines.append(",".join([*([time(i)] if time else []), *cells, *([extra(i)] if extra else [])]))
    return FileHead(name, ("\n".join(lines) + "\n").encode(), True)


def of(found, field: str):
    return next((one for one in found if one.field == field), None)


@pytest.mark.parametrize(("per_g", "unit", "at_rest"), [(1.0, "g", "1.00 g"), (1000.0, "mg", "1.00 g"),
                                                         (9.80665, "m/s2", "1.00 g")])
def test_the_unit_under_which_rest_is_gravity_is_suggested_with_that_reason(per_g, unit, at_rest):
    one = of(suggestions(preview(head(per_g), Recipe()), Recipe()), "acceleration")
    assert one.words == unit
    assert at_rest in one.reason
    assert one.recipe.units.acceleration == unit


def test_a_unit_that_was_said_wrongly_is_corrected_and_a_right_one_left_alone():
    shown = head(9.80665)
    wrong, right = Recipe(units=Units("g", "s")), Recipe(units=Units("m/s2", "s"))
    assert of(suggestions(preview(shown, wrong), wrong), "acceleration").words == "m/s2"
    assert of(suggestions(preview(shown, right), right), "acceleration") is None


def test_integers_that_no_unit_brings_to_gravity_get_none_but_their_front_ends_are_told():
    shown = head(512.0)
    assert of(suggestions(preview(shown, Recipe()), Recipe()), "acceleration") is None
    assert "1 g for ±2 g in 11 bits, ±4 g in 12, ±8 g in 13" in suggesting.unit_effects(512.0)["counts"]


@pytest.mark.parametrize(("step", "unit"), [(0.02, "s"), (20.0, "ms"), (20_000.0, "us")])
def test_the_unit_of_time_is_the_one_with_a_rate_of_human_movement(step, unit):
    shown = preview(head(time=lambda i: f"{i * step:.3f}"), Recipe())
    one = of(suggestions(shown, Recipe()), "time")
    assert (one.words, "50 Hz" in one.reason) == (unit, True)
    assert suggesting.time_effects(np.arange(10) * step)[unit] == "50 Hz"


def test_a_counter_of_samples_is_told_from_a_time():
    assert of(suggestions(preview(head(time=str), Recipe()), Recipe()), "time").words == "samples"


def test_what_the_file_says_itself_needs_no_suggestion():
    shown = head(header="t_s,ax_g,ay_g,az_g")
    assert suggestions(preview(shown, Recipe()), Recipe()) == ()


def test_without_a_header_time_and_axes_are_found_by_what_they_do():
    shown = head(9.80665, header="", extra=lambda i: f"{25 + (i % 7)}")
    one = of(suggestions(preview(shown, Recipe()), Recipe()), "columns")
    assert one.recipe.columns == ColumnNames(1, 2, 3, 4)
    assert "as gravity does" in one.reason
    assert "1 rises from row to row" in one.reason


def test_of_two_sets_of_axes_the_accelerometers_is_suggested():
    def gyroscope(i: int) -> str:
        return ",".join(f"{value:.2f}" for value in RNG.normal(0, 30, 3))

    shown = head(9.80665, header="t,ax,ay,az,bx,by,bz", extra=gyroscope)
    one = of(suggestions(preview(shown, Recipe()), Recipe()), "columns")
    assert one.recipe.columns == ColumnNames("t", "ax", "ay", "az")


def waist(seed: int, second: float = 1000.0) -> FileHead:
    """Nine integers a line, as some loggers write them: accelerometer, gyroscope, and a second accelerometer of so many
    counts a g. Each line ends with a semicolon."""
    chance = np.random.default_rng(seed)
    g, turning = movement(), chance.normal(0, 25, (1000, 3)) + (30, -200, 60) * chance.normal(0, 1, 3)
    rows = np.hstack([g * 256, turning, g * second + (chance.normal(0, 3, g.shape) if second else turning)])
    text = "".join(",".join(f"{value:4d}" for value in row) + ";\r\n" for row in np.round(rows).astype(int).tolist())
    return FileHead(f"D01_{seed}.txt", text.encode(), True)


def test_a_sign_that_ends_every_line_belongs_to_no_column():
    shown = preview(waist(1), Recipe(columns=ColumnNames("", 7, 8, 9), units=Units("own"), own=Own((0,), (1000,)),
                                     clock=Clock(stamps="even", rates_hz=(50,))))
    assert shown.rows[0][8].strip("-0123456789 ") == ""
    assert shown.facts.rest_g == pytest.approx(1, abs=0.02)
    assert shown.facts.samples == 1000


def test_of_two_accelerometers_none_is_suggested_and_of_groups_of_three_never_what_lies_across_them():
    others = [waist(2), waist(3), waist(4)]
    assert of(suggestions(preview(waist(1), Recipe()), Recipe(), others=others), "columns") is None
    alone = [waist(seed, 0.0) for seed in (1, 2, 3, 4)]
    one = of(suggestions(preview(alone[0], Recipe()), Recipe(), others=alone[1:]), "columns")
    assert one.recipe.columns == ColumnNames("", 1, 2, 3)
    assert "in 4 files, as gravity does" in one.reason


def test_a_column_that_counts_rows_beside_the_time_is_no_axis():
    shown = head(header="", time=lambda i: f"{i},{100 + i / 50:.2f}")
    one = of(suggestions(preview(shown, Recipe()), Recipe()), "columns")
    assert one.recipe.columns == ColumnNames(1, 3, 4, 5)


def burst(i: int) -> str:
    """Five samples a read-out, 2 ms apart; a read-out every 100 ms."""
    return f"{i // 5 * 0.1 + i % 5 * 0.002:.3f}"


def test_bursts_are_seen_and_every_way_to_take_the_stamps_is_told():
    recipe = Recipe(units=Units("g", "s"))
    shown = preview(head(time=burst), recipe)
    assert shown.problem.kind == "stamps_unknown"
    assert of(suggestions(shown, recipe), "stamps").words == "bursts"
    effects = suggesting.stamp_effects(shown, Recipe(units=Units("g", "s"), clock=Clock(rates_hz=(50,))))
    assert set(effects) == set(STAMPS)
    assert effects["even"] == "50 Hz, 20 s"
    assert float(effects["bursts"].split()[0]) == pytest.approx(50, rel=0.01)
    without = suggesting.stamp_effects(shown, recipe)
    assert without["even"] == "Nothing says at which rate the samples were taken."


def test_rates_are_seen_over_several_files():
    recipe = Recipe(units=Units("g", "s"), clock=Clock("bursts"))
    slow = head(time=lambda i: f"{float(burst(i)) * 1.255:.4f}", name="b.csv")
    one = of(suggestions(preview(head(time=burst), recipe), recipe, others=[slow]), "rates")
    assert one.words == "40, 50"
    assert one.recipe.clock.rates_hz == (40.0, 50.0)


def test_no_column_of_times_means_an_even_grid_at_a_rate_that_is_left_to_be_said():
    recipe = Recipe(units=Units("g"))
    shown = head(time=None, header="ax,ay,az")
    one = of(suggestions(preview(shown, recipe), recipe), "stamps")
    assert one.words == "even"
    after = preview(shown, one.recipe)
    assert after.problem.kind == "rate_unknown"
    assert of(suggestions(after, one.recipe), "rates") is None


def test_a_value_that_means_no_sample_is_suggested_as_missing():
    shown = head(extra=None, header="t_s,ax_g,ay_g,az_g")
    raw = shown.raw.replace(b"\n0.200,", b"\n0.200,-32768,-32768,-32768\n0.2000,", 1)
    lines = raw.split(b"\n")
    at = next(i for i, line in enumerate(lines) if b"-32768" in line)
    broken = FileHead("a.csv", b"\n".join([*lines[:at + 1], *lines[at + 2:]]), True)
    found = of(suggestions(preview(broken, Recipe()), Recipe()), "missing")
    assert found.recipe.table.missing == (-32768.0,)
    after = preview(broken, found.recipe)
    assert (after.problem, after.facts.samples) == (None, 999)


def test_all_suggestions_taken_read_the_file():
    shown = head(9.80665, time=burst, header="")
    recipe = all_taken(shown, Recipe())
    after = preview(shown, recipe)
    assert after.problem is None
    assert after.facts.rate_hz == 50
    assert after.facts.rest_g == pytest.approx(1, abs=0.02)
    assert "|a| at rest 1.00 g" in after.facts.sentence()


# Names.


@pytest.mark.parametrize(("names", "pattern"), [
    (["F01/U01_R01_accel.csv", "D02/U01_R02_accel.csv", "D02/U22_R01_accel.csv"],
     "{activity}/U{person}_R{trial}_accel.csv"),
    (["W01_trip_1.csv", "W02_trip_1.csv", "W02_walk_2.csv"], "W{person}_{activity}_{trial}.csv"),
    (["S1/wrist.csv", "S1/hip.csv", "S2/wrist.csv"], "S{person}/{placement}.csv"),
    (["1-sit.csv", "2-sit.csv", "2-fall.csv"], "{person}-{activity}.csv"),
])
def test_a_pattern_is_found_in_names_that_are_built_alike(names, pattern):
    guess = guess_pattern(names)
    assert (guess.pattern, guess.fits, guess.names) == (pattern, len(names), len(names))
    assert len(guess.reasons) == pattern.count("{")


@pytest.mark.parametrize("names", [[], ["a.csv"], ["a.csv", "b_1.csv", "c/d-e.csv", "f g h.csv"]])
def test_names_that_say_nothing_give_no_pattern(names):
    assert guess_pattern(names) is None


def test_a_pattern_says_how_many_names_it_fits():
    names = ["W01_trip_1.csv", "W02_trip_1.csv", "W02_walk_2.csv", "notes.csv"]
    one = of(suggestions(preview(head(), Recipe()), Recipe(), names), "pattern")
    assert one.reason.startswith("it fits 3 of 4 names; person: 2 values, W01, W02")


# Heads, kinds and what is remembered.


def test_only_whole_lines_of_a_long_file_are_looked_at(tmp_path):
    path = tmp_path / "long.csv"
    path.write_text("t_s,ax_g,ay_g,az_g\n" + "".join(f"{i / 50:.2f},0.0000,1.0000,0.0000\n" for i in range(60_000)))
    looked_at = head_of(path)
    assert not looked_at.whole
    assert HEAD_BYTES - 40 < len(looked_at.raw) <= HEAD_BYTES
    assert looked_at.raw.endswith(b"\n")
    assert preview(looked_at, Recipe()).problem is None
    with pytest.raises(Problem, match="not there"):
        head_of(tmp_path / "gone.csv")


def test_a_format_that_cannot_be_cut_is_looked_at_whole(tmp_path):
    path = tmp_path / "a.npy"
    np.save(path, np.tile(movement(50_000).astype(np.float64), (1, 1)))
    assert head_of(path).whole
    recipe = Recipe(columns=ColumnNames("", 1, 2, 3), units=Units("g"), clock=Clock("even", (50,)))
    assert preview(head_of(path), recipe).facts.samples == 50_000


def test_files_of_one_header_are_of_one_kind(tmp_path):
    firsts = {"a": "t,x,y,z", "b": "t,x,y,z", "c": "time;x;y;z", "d": "0.1,0,1,0", "e": "0.2,0,1,9"}
    for name, first in firsts.items():
        (tmp_path / name).write_text(first + "\n1,2,3,4\n")
    kinds = kinds_of([str(path) for path in sorted(tmp_path.iterdir())])
    assert [[Path(path).name for path in kind] for kind in kinds] == [["a", "b"], ["d", "e"], ["c"]]


def test_what_was_said_is_remembered_for_files_with_the_same_header_only(tmp_path):
    remembered = Remembered(tmp_path / "recipes")
    recipe = Recipe(units=Units("mg", "ms"), table=TableLayout(missing=(-32768.0,)), clock=Clock("bursts", (50,)))
    one, other = (preview(head(header=header), Recipe()).sheet.layout for header in ("t,ax,ay,az", "t,bx,by,bz"))
    assert remembered.get(one) is None
    remembered.put(one, recipe)
    assert remembered.get(one).recipe == recipe
    assert remembered.get(other) is None
    (path,) = (tmp_path / "recipes").iterdir()
    assert path.read_text().startswith("# t, ax, ay, az\n")
    path.write_text("[units]\nacceleration = 'furlongs'\n")
    assert remembered.get(one) is None, "a memory that makes no sense is none"


def test_a_place_that_cannot_be_written_loses_no_import(tmp_path):
    (tmp_path / "recipes").write_text("in the way")
    Remembered(tmp_path / "recipes").put(preview(head(), Recipe()).sheet.layout, Recipe())


def test_kinds_in_file_names_are_suggested_as_what_says_falls():
    names = [f"W0{who}_{kind}_{trial}.csv" for who in (1, 2) for kind in ("ADL", "Fall") for trial in (1, 2)]
    found = guess_pattern(names)
    assert found.pattern == "W{person}_{kind}_{trial}.csv"
    recipe = Recipe(pattern=found.pattern)
    shown = preview(head(name="W01_ADL_1.csv"), recipe)
    (one,) = [one for one in suggestions(shown, recipe, names) if one.field == "labels"]
    assert (one.recipe.labels.falls, one.recipe.labels.fall_field) == (("Fall",), "kind")
    assert one.reason == "{kind} in the files' names is Fall or ADL."

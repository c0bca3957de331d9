"""Recipes: what was told about a kind of file, written and read back, and refused with file, line and key."""

from __future__ import annotations

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.cli.read import columns_named, with_options
from data.problem import Problem
from data.recipe import sections
from data.recipe.name_pattern import PARTS, match, pattern_fault
from data.recipe.recipe import (
    Recipe,
    read_recipe,
    recipe_from_plain,
    recipe_from_toml,
    recipe_to_plain,
    recipe_to_toml,
    write_recipe,
)
from data.recordings.model import About

TEXTS = st.text(st.characters(blacklist_categories=("Cs",)), max_size=12)
NUMBERS = st.floats(0.001, 1e6)
COLUMNS = st.lists(TEXTS.filter(bool) | st.integers(1, 99), min_size=4, max_size=4, unique=True)

RECIPES = st.builds(
    Recipe,
    pattern=st.sampled_from(["", "*.csv", "{activity}/U{person}_R{trial}.csv", "**/{node}_{placement}*.txt"]),
    columns=COLUMNS.map(lambda four: sections.ColumnNames(*four)) | st.just(sections.ColumnNames()),
    table=st.builds(
        sections.TableLayout,
        delimiter=st.sampled_from(["", ";", "\t"]),
        decimal=st.sampled_from(["", ".", ","]),
        encoding=st.sampled_from(["", "utf-8", "latin-1"]),
        header=st.sampled_from([None, True, False]),
        skip_lines=st.integers(0, 9),
        missing=st.none() | st.lists(NUMBERS | st.just("nan"), max_size=3).map(tuple),
    ),
    units=st.builds(
        sections.Units,
        acceleration=st.sampled_from(["", *sections.ACCELERATION_UNITS]),
        time=st.sampled_from(["", *sections.TIME_UNITS]),
        range_g=NUMBERS | st.just(0.0),
    ),
    clock=st.builds(sections.Clock, stamps=st.sampled_from(["", *sections.STAMPS]),
                    rates_hz=st.lists(NUMBERS, max_size=3).map(tuple)),
    labels=st.builds(
        sections.LabelTable, key=TEXTS, onset=TEXTS, end=TEXTS, name=TEXTS, falls=st.lists(TEXTS, max_size=3).map(tuple)
    ),
    front_end=st.none() | st.builds(sections.FrontEndSection, range_g=st.floats(0.01, 1e5), bits=st.integers(8, 16),
                                             rate_hz=st.floats(0.01, 1e6)),
    about=st.builds(About, person=TEXTS, placement=TEXTS, setting=st.sampled_from(["", "staged", "free-living"]),
                    properties=st.dictionaries(TEXTS, TEXTS, max_size=2).map(lambda d: tuple(d.items()))),
    raw=st.none() | st.builds(sections.Raw, bits=st.integers(2, 16), justified=st.sampled_from(sections.JUSTIFIED),
                              coding=st.sampled_from(sections.CODINGS), mg_per_count=NUMBERS),
    volts=st.none() | st.builds(sections.Volts, NUMBERS, NUMBERS, NUMBERS, st.booleans(), NUMBERS,
                                st.integers(0, 4096)),
    own=st.none() | st.builds(sections.Own, st.tuples(NUMBERS), st.tuples(NUMBERS, NUMBERS, NUMBERS)),
    axes=st.sampled_from([sections.Axes(), sections.Axes("y", "-x", "z"), sections.Axes(up="-y", forward="z")]),
    split=st.builds(sections.SplitColumns, node=TEXTS, trial=TEXTS | st.integers(1, 9)),
    nodes=st.dictionaries(TEXTS, COLUMNS, max_size=3).map(
        lambda d: tuple(sections.Node(n, *c[:3]) for n, c in d.items())),
    preamble=st.builds(sections.PreambleKeys, person=TEXTS, date=TEXTS, rate=TEXTS),
    rows=st.just(sections.RowChoice()) | st.builds(sections.RowChoice, TEXTS.filter(bool) | st.integers(1, 9),
                                          st.lists(TEXTS, min_size=1, max_size=3).map(tuple)),
    names=st.dictionaries(TEXTS, TEXTS.filter(bool), max_size=3).filter(lambda d: len(set(d.values())) == len(d)).map(
        lambda d: tuple(d.items())),
    part=st.dictionaries(TEXTS, TEXTS, max_size=2).map(lambda d: tuple(d.items())),
)


@given(RECIPES)
def test_a_recipe_comes_back_from_its_file_and_from_its_plain_values(recipe):
    assert recipe_from_toml(recipe_to_toml(recipe)) == recipe
    assert recipe_from_plain(recipe_to_plain(recipe)) == recipe


def test_a_recipe_is_written_and_read(tmp_path):
    recipe = with_options(Recipe(), unit="mg", rates_hz=[50, 100])
    write_recipe(recipe, tmp_path / "logger.toml")
    assert read_recipe(tmp_path / "logger.toml") == recipe


BAD_RECIPES = [
    ('[units]\nacceleration = "g"\ntime = "hours"', 3, "units.time"),
    ("[units]\nrange_g = -1", 2, "units.range_g"),
    ('[time]\n\nstamp = "bursts"', 3, "time.stamp"),
    ("[time]\nrates_hz = 50", 2, "time.rates_hz"),
    ("[time]\nrates_hz = [50, 0]", 2, "time.rates_hz"),
    ("[time]\nrates_hz = [true]", 2, "time.rates_hz"),
    ('[files]\npattern = "{activty}.csv"', 2, "files.pattern"),
    ('[files]\npattern = "{trial}{trial}.csv"', 2, "files.pattern"),
    ('[files]\npattern = "{trial.csv"', 2, "files.pattern"),
    ("[columns]\nx = 0", 2, "columns.x"),
    ('[columns]\nx = "a"\ny = "a"', 2, "columns.x"),
    ("[columns]\ntime = 1.5", 2, "columns.time"),
    ('[table]\ndelimiter = "x"', 2, "table.delimiter"),
    ('[table]\ndelimiter = ";"\ndecimal = ";"', 3, "table.decimal"),
    ('[table]\nencoding = "klingon"', 2, "table.encoding"),
    ('[table]\nencoding = "base64"', 2, "table.encoding"),
    ('[table]\nmissing = ["x"]', 2, "table.missing"),
    ("[table]\nmissing = [inf]", 2, "table.missing"),
    ("[front_end]\nrange_g = 4\nbits = 7\nrate_hz = 40", 3, "front_end.bits"),
    ("[front_end]\nrange_g = 4\nrate_hz = 40", 1, "front_end.bits"),
    ('[about]\nsetting = "at home"', 2, "about.setting"),
    ('[labels]\nend = "e"\nduration = "d"', 3, "labels.duration"),
    ('[labels]\nfalls = "F01"', 2, "labels.falls"),
    ("[raw]\nbits = 17", 2, "raw.bits"),
    ("[raw]\nwidth = 12", 2, "raw.width"),
    ('[raw]\ncoding = "gray"', 2, "raw.coding"),
    ("[volts]\nnominal_v = 3.0\nzero_g_v = 1.5", 1, "volts.mv_per_g"),
    ("[own]\nper_g = [0]", 2, "own.per_g"),
    ("[own]\nzero = [1, 2]", 2, "own.zero"),
    ('[axes]\nup = "y"\nforward = "-y"', 2, "axes.up"),
    ('[axes]\nup = "north"', 2, "axes.up"),
    ("[time]\nwrap = -1", 2, "time.wrap"),
    ('[nodes]\nankle = ["a", "b"]', 2, "nodes.ankle"),
    ('[rows]\ncolumn = "type"', 1, "rows.values"),
    ('[rows]\nvalues = ["0"]', 1, "rows.column"),
    ('[rows]\ncolumn = "type"\nvalues = [0]', 3, "rows.values"),
    ('[names]\n1 = "a"\n2 = "a"', 2, "names.1"),
    ('[names]\n1 = ""', 2, "names.1"),
    ('[preamble]\nwho = "Subject"', 2, "preamble.who"),
    ('[preamble]\nrate = 50', 2, "preamble.rate"),
    ('[split]\nnode = 0', 2, "split.node"),
    ('[labels]\ndrift_ppm = 1e9', 2, "labels.drift_ppm"),
    ("[colums]\nx = 1", 1, "colums"),
    ("units = 3", 1, "units"),
]
"""Each with the line and the key that its refusal names."""


@pytest.mark.parametrize(("text", "line", "key"), BAD_RECIPES)
def test_a_recipe_that_says_something_unknown_or_impossible_is_refused_with_line_and_key(text, line, key):
    with pytest.raises(Problem) as caught:
        recipe_from_toml(text, "logger.toml")
    assert (caught.value.file, caught.value.line, caught.value.column) == ("logger.toml", line, key)
    assert key in caught.value.message


def test_what_is_not_toml_is_refused_with_its_line():
    with pytest.raises(Problem, match=r"logger.toml, line 2: The recipe is not TOML"):
        recipe_from_toml("[units]\nacceleration = g\n", "logger.toml")


def test_a_recipe_that_is_not_there_or_not_text_is_refused(tmp_path):
    with pytest.raises(Problem, match="not there"):
        read_recipe(tmp_path / "none.toml")
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(Problem, match="UTF-8"):
        read_recipe(tmp_path / "bad.toml")


@pytest.mark.parametrize(
    ("pattern", "name", "parts"),
    [
        ("{activity}/U{person}_R{trial}_accel.csv", "F01/U07_R02_accel.csv", ("F01", "07", "02", None, None)),
        ("{activity}/U{person}_R{trial}_accel.csv", "a/F01/U07_R02_accel.csv", None),
        ("**/{activity}/U{person}_*.csv", "a/b/F01/U07_R02.csv", ("F01", "07", None, None, None)),
        ("**/{activity}/U{person}_*.csv", "F01/U07_R02.csv", ("F01", "07", None, None, None)),
        ("*/{person}.csv", "a/b.csv", (None, "b", None, None, None)),
        ("*.csv", "a/b.csv", None),
        ("**.csv", "a/b.csv", (None, None, None, None, None)),
        ("{placement}-{node}.(1).csv", "hip-2.(1).csv", (None, None, None, "2", "hip")),
    ],
)
def test_patterns_take_names_apart(pattern, name, parts):
    assert pattern_fault(pattern) == ""
    expected = None if parts is None else {p: found for p, found in zip(PARTS, parts, strict=False) if found}
    assert match(pattern, name) == expected


def test_any_other_name_is_a_property_but_for_slips_of_the_hand():
    pattern = "{date}/{kind}_{dominant hand}_{person}.csv"
    assert pattern_fault(pattern) == ""
    parts = match(pattern, "2024-03/ADL_left_W01.csv")
    assert parts == {"date": "2024-03", "kind": "ADL", "dominant hand": "left", "person": "W01"}
    about = About(trial="1").with_told(parts)
    assert about == About(person="W01", trial="1",
                          properties=(("date", "2024-03"), ("kind", "ADL"), ("dominant hand", "left")))
    assert (about.told("kind"), about.told("person"), about.told("shoe"), about.told("properties")) == (
        "ADL", "W01", "", "")
    for slip in ("persn", "Activity", "trail", "nodes", "1", "", "a/b", "x" * 41, "setting"):
        assert pattern_fault(f"{{{slip}}}.csv")


@given(st.text(alphabet="ab{}*/._", max_size=15), st.text(alphabet="ab{}*/._", max_size=15))
def test_any_pattern_is_refused_or_matched(pattern, name):
    if not pattern_fault(pattern):
        match(pattern, name)


@pytest.mark.parametrize("text", ["", "1", "1,2", "1,2,3,4,5", "1,1,2", "0,1,2", "a,,b"])
def test_columns_that_do_not_name_three_axes_are_refused(text):
    with pytest.raises(Problem, match="--columns"):
        columns_named(text)


def test_options_overlay_a_recipe_and_leave_the_rest():
    recipe = recipe_from_toml('[columns]\ntime = "t"\n[units]\nacceleration = "g"\ntime = "ms"\n')
    laid = with_options(recipe, unit="mg", columns="a,b,3")
    assert laid.columns == sections.ColumnNames("t", "a", "b", 3)
    assert (laid.units.acceleration, laid.units.time) == ("mg", "ms")
    with pytest.raises(Problem, match="--unit must be one of"):
        with_options(recipe, unit="furlongs")


def test_a_problem_keeps_its_address_between_processes():
    problem = Problem("sentinel", "It is.", "Mend it.", file="a.csv", line=7, column="x", value="9999", row=5)
    again = pickle.loads(pickle.dumps(problem))
    assert vars(again) == vars(problem)
    assert str(again) == "a.csv, line 7: It is. Mend it."
    assert problem.at("b.csv").file == "a.csv"
    assert Problem("option", "It is.", "Mend it.").at("b.csv").on(3).sentence() == "b.csv, line 3: It is. Mend it."

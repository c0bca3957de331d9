"""A recipe drafted from files: nothing in it holds before a person takes the # away, and the page names every key."""

from __future__ import annotations

import re
import tomllib
from contextlib import suppress
from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.__main__ import main
from data.problem import Problem
from data.recipe import sections
from data.recipe.draft import PAGE, draft
from data.recipe.recipe import Recipe, read_recipe, recipe_from_toml
from data.recordings.batch import read_sources
from data.recordings.model import About
from tests.data.made import burst_stamps, csv_text, wearer


def write(folder) -> None:
    for who in (1, 2, 3):
        path = folder / f"W0{who}_walk_1.csv"
        path.write_text("% Position: waist\n" + csv_text("t,ax,ay,az", 9.81 * wearer(600), burst_stamps(600, 49.9)))


def freed(text: str) -> str:
    """With the # of every key taken away."""
    return re.sub(r"^# (?=[\w\"]+ = )", "", text, flags=re.MULTILINE)


def test_nothing_holds_before_a_person_says_so_and_then_the_files_read(tmp_path):
    write(tmp_path)
    found = draft([tmp_path])
    assert recipe_from_toml(found.text) == Recipe()
    assert recipe_from_toml(freed(found.text)) == found.recipe
    assert (found.open, found.files, found.others) == (None, 3, 0)
    assert "# - acceleration: m/s2. At rest |a| is 9.8" in found.text
    batch = read_sources([tmp_path], found.recipe)
    assert [(one.recording.about.person, one.recording.about.placement) for one in batch.read] == [
        ("01", "waist"), ("02", "waist"), ("03", "waist")]


def test_what_stays_open_is_said(tmp_path):
    (tmp_path / "a.csv").write_text(csv_text("", wearer(200)).replace("0.000,", "0.000,", 1))
    (tmp_path / "b.csv").write_text("\n".join(",".join(line.split(",")[1:]) for line in csv_text("").splitlines()))
    found = draft([tmp_path / "b.csv"])
    assert found.open is not None
    assert found.open.kind == "rate_unknown"
    assert "# Still open then: " in found.text


def test_files_of_another_kind_are_counted(tmp_path):
    write(tmp_path)
    (tmp_path / "other.csv").write_text(csv_text())
    assert (draft([tmp_path]).files, draft([tmp_path]).others) == (3, 1)
    (tmp_path / "none").mkdir()
    with pytest.raises(Problem, match="hold no file"):
        draft([tmp_path / "none"])


@given(st.text(max_size=12).filter(lambda text: "\0" not in text))
def test_a_header_of_any_letters_gives_a_draft_that_is_toml(tmp_path_factory, name):
    path = tmp_path_factory.mktemp("made") / "a.csv"
    path.write_text(f'"{name.replace(chr(34), "")}",x,y,z\n' + csv_text(""), encoding="utf-8", errors="replace")
    with suppress(Problem):
        tomllib.loads(draft([path]).text)


def test_the_command_writes_it_once_and_says_what_is_open(tmp_path, capsys):
    write(tmp_path)
    to = tmp_path / "logger.toml"
    assert main(["recipe", str(tmp_path), "--to", str(to)]) == 0
    assert "Drafted from 3 files" in capsys.readouterr().out
    to.write_text(freed(to.read_text()))
    assert read_recipe(to).units.acceleration == "m/s2"
    assert main(["recipe", str(tmp_path), "--to", str(to)]) == 2
    assert "may be completed by hand" in capsys.readouterr().err
    assert main(["recipe"]) == 2


def test_help_and_command_name_the_page(capsys):
    assert main(["recipe", "--page"]) == 0
    assert capsys.readouterr().out == PAGE.read_text(encoding="utf-8")
    for words in (["--help"], ["read", "--help"], ["recipe", "--help"]):
        with pytest.raises(SystemExit):
            main(words)
        assert "--page" in capsys.readouterr().out


SECTIONS = {
    "columns": sections.ColumnNames, "preamble": sections.PreambleKeys, "rows": sections.RowChoice,
    "split": sections.SplitColumns, "table": sections.TableLayout, "units": sections.Units, "raw": sections.Raw,
    "volts": sections.Volts, "own": sections.Own, "axes": sections.Axes, "time": sections.Clock,
    "labels": sections.LabelTable, "front_end": sections.FrontEndSection, "about": About}


@pytest.mark.parametrize("section", [*SECTIONS, "files", "names", "nodes"])
def test_the_page_names_every_key(section):
    parts = re.split(r"^## ", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    (part,) = [one for one in parts if f"[{section}]" in one.partition("\n")[0]]
    for key in fields(SECTIONS[section]) if section in SECTIONS else ():
        assert f"`{key.name}`" in part

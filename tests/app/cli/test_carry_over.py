"""`plumbfall carry-over`: a cell is what a score says, and where the settings were found, what people left out say."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from app.__main__ import main
from app.study.results.carry_over import within
from app.study.session import Session
from tests.app.cli.test_tune import KEYS, everybody, fewer_searches, old_people, soft_falls, written

__all__ = ["fewer_searches"]


@pytest.fixture
def studies(tmp_path, capsys):
    """One that was tuned, and another."""
    tuned = written(tmp_path / "tuned", old_people(soft_falls()))
    other = written(tmp_path / "other", old_people(everybody()))
    for path, name in ((tuned, "tuned"), (other, "other")):
        path.rename(path.with_stem(name))
    tuned, other = tuned.with_stem("tuned"), other.with_stem("other")
    capsys.readouterr()
    assert main(["tune", str(tuned), "--keys", *KEYS, "--workers", "1", "--apply", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    return tuned, other, said


def test_every_study_stands_under_the_settings_of_every_other(studies, capsys):
    tuned, other, said = studies
    assert main(["carry-over", str(tuned), str(other), "--json"]) == 0
    cells = {(one["study"], one["settings"]): one for one in json.loads(capsys.readouterr().out)["cells"]}
    assert {pair: one["basis"] for pair, one in cells.items()} == {
        ("tuned", "tuned"): "left out", ("tuned", "other"): "not tuned on", ("other", "tuned"): "not tuned on",
        ("other", "other"): "not tuned on"}
    assert cells["tuned", "tuned"]["matrix"] == said["left_out"]["matrix"]
    assert cells["tuned", "tuned"]["by_people"] == said["left_out"]["by_people"]
    for study, path in (("tuned", tuned), ("other", other)):
        for settings, file in (("tuned", tuned), ("other", other)):
            if (study, settings) == ("tuned", "tuned"):
                continue
            assert main(["score", str(path), "--settings", str(file), "--json"]) == 0
            score = json.loads(capsys.readouterr().out)
            for name in ("matrix", "youden_j", "by_people"):
                assert cells[study, settings][name] == score[name]
    assert cells["other", "tuned"]["matrix"] != cells["other", "other"]["matrix"]


def test_settings_files_are_more_columns_and_the_table_says_who_the_people_are(studies, tmp_path, capsys):
    tuned, other, said = studies
    (tmp_path / "found.json").write_text(json.dumps({"settings": said["settings"], "front_end": said["front_end"]}))
    before = tuned.read_bytes()
    assert main(["carry-over", str(other), str(tuned), "--settings", str(tmp_path / "found.json")]) == 0
    out = capsys.readouterr().out.splitlines()
    rows = [line.split()[:3] for line in out[1:7]]
    assert rows == [["other", "other", "not"], ["other", "tuned", "not"], ["other", "found", "not"],
                    ["tuned", "other", "not"], ["tuned", "tuned", "left"], ["tuned", "found", "left"]]
    m = said["left_out"]["matrix"]
    assert f"{m['tp']} of {m['tp'] + m['fn']}" in out[5]
    assert tuned.read_bytes() == before


def test_what_was_tuned_on_these_people_and_changed_since_is_told(studies, capsys):
    tuned, other, _said = studies
    plain = json.loads(tuned.read_text())
    plain["settings"]["settle_ms"] += 200
    tuned.write_text(json.dumps(plain))
    assert main(["carry-over", str(tuned), str(other), "--json"]) == 0
    cells = {(one["study"], one["settings"]): one for one in json.loads(capsys.readouterr().out)["cells"]}
    assert cells["tuned", "tuned"]["basis"] == "tuned on"
    assert cells["other", "tuned"]["basis"] == "not tuned on"


def test_a_file_that_is_none_is_refused_in_a_sentence(studies, tmp_path, capsys):
    (tmp_path / "bad.json").write_text("{")
    assert main(["carry-over", str(studies[0]), "--settings", str(tmp_path / "bad.json")]) == 2
    assert "bad.json" in capsys.readouterr().err


def test_what_people_left_out_came_to_is_no_figure_of_another_node(studies):
    """The search knew one node; another of the same recordings has the same files and labels."""
    session = Session.opened(studies[0])
    items = tuple(replace(item, group=item.name.rsplit(" ", 1)[0] if " trip " in item.name else "",
                          about=replace(item.about, node="left" if item.name.endswith("1") else "right"))
                  for item in session.study.items)
    session.history.everywhere(lambda study: replace(study, items=items))
    tuned = (replace(session.study.tuned[0], scoring=session.scoring()),)
    session.history.everywhere(lambda study: replace(study, tuned=tuned))
    assert session.worth().stale == ()
    (cell,) = within("tuned", session)
    assert (cell.study, cell.basis) == ("tuned, node right", "tuned on")

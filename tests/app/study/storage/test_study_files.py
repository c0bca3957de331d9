"""What a study file holds comes back from a session as it was."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from app.study import actions
from app.study.session import Session
from app.study.storage import study_files
from data.study import study_file
from tests.app.study_made import made, session_of


def test_people_put_aside_stay_put_aside_when_the_study_is_saved_again(tmp_path: Path) -> None:
    path = tmp_path / "study.json"
    study_file.save(replace(study_files.to_file(session_of(made()).study), sealed=("W01", "W07")), path)
    session = Session(study_files.load(path), path)
    session.act(actions.set_value(session.study, "impact_g", 3.0), "impact")
    session.save(path)
    assert study_file.load(path).sealed == ("W01", "W07")

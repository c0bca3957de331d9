"""A study to tune, for the tests of the commands that do."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.app.cli.tune_made import everybody, old_people, written


@pytest.fixture
def study(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    path = written(tmp_path / "made", old_people(everybody()))
    capsys.readouterr()
    return path

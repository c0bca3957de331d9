"""Many files are read by several processes, with the same outcome as by one, and can be cancelled."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from app.study import importing, workers
from data.recipe import Recipe
from tests.data.made import csv_text, wearer


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(workers, "WORTH_FILES", 20)
    for i in range(30):
        (tmp_path / f"{i:02d}.csv").write_text(csv_text(samples=wearer(100, seed=i)))
    (tmp_path / "30.csv").write_text("time_s,x_g,y_g,z_g\n0,0,1,x\n")
    return tmp_path


def test_workers_are_started_where_they_pay_and_read_the_same(folder, monkeypatch):
    with workers.workers_for([folder]) as pool:
        assert pool is not None
    together = importing.read([folder], Recipe())
    monkeypatch.setattr(workers, "WORTH_FILES", 1000)
    with workers.workers_for([folder]) as pool:
        assert pool is None
    alone = importing.read([folder], Recipe())
    assert [file.source.name for file in together.files] == [file.source.name for file in alone.files]
    assert all(np.array_equal(one.recording.samples, other.recording.samples)
               for one, other in zip(together.read, alone.read, strict=True))
    assert together.refused[0].problem.sentence() == alone.refused[0].problem.sentence()


def test_reading_by_workers_can_be_cancelled(folder):
    asked = iter([False, True])
    batch = importing.read([folder], Recipe(), cancelled=lambda: next(asked, True))
    assert batch.cancelled
    assert len(batch.files) < 31

"""A second score takes the counts that were kept, comes to the same, and never takes what is stale or damaged."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from app.__main__ import main
from app.study import pipeline
from app.study.recordings import kept_counts
from app.study.recordings.kept_counts import cache_folder
from app.study.recordings.trim import trim
from app.study.session import Session
from tests.data.made import csv_text, wearer

RECIPE = '''[files]
pattern = "{person}_{activity}.csv"
[time]
rates_hz = [50]
[labels]
falls = ["f*"]
whole_recordings = true
[front_end]
range_g = 4
bits = 12
rate_hz = 40
'''


@pytest.fixture
def study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Three recordings at 50 Hz, one of them with a gap, for a sensor of 40 Hz."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(kept_counts, "WORTH_RECORDINGS", 2)
    folder = tmp_path / "files"
    folder.mkdir()
    for number, name in enumerate(("A_fall", "A_sit", "B_sit")):
        times = np.arange(900) * 0.02 + (np.arange(900) > 500) * 4.0 * (number == 1)
        (folder / f"{name}.csv").write_text(csv_text(samples=wearer(900) + number / 100, times=times))
    (tmp_path / "recipe.toml").write_text(RECIPE)
    path = tmp_path / "study.json"
    assert main(["read", str(folder), "--study", str(path), "--recipe", str(tmp_path / "recipe.toml")]) == 0
    return path


@pytest.fixture
def prepared(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Recordings that are brought to counts, from here on."""
    names: list[str] = []
    seen_through = pipeline.seen_through

    def noted(item, recording, front_end):
        names.append(recording.name)
        return seen_through(item, recording, front_end)

    monkeypatch.setattr(pipeline, "seen_through", noted)
    return names


def scored(path: Path, capsys: pytest.CaptureFixture[str]) -> dict:
    capsys.readouterr()
    assert main(["score", str(path), "--json", "--attempts"]) == 0
    return json.loads(capsys.readouterr().out)


def counts_file() -> Path:
    found, = [path for path in cache_folder().glob("*.kept") if path.read_bytes().startswith(b"plumbfall counts")]
    return found


def test_the_second_score_prepares_and_fetches_nothing_and_is_the_same(study, prepared, capsys):
    first = scored(study, capsys)
    assert len(prepared) == 3
    session = Session.opened(study)
    again = session.prepare()
    assert len(prepared) == 3
    assert not any("samples" in vars(one) for one in session.library.values())
    assert scored(study, capsys) == first
    anew = [pipeline.seen_through(session.study.item(name), one, session.study.front_end)
            for name, one in session.library.items()]
    for kept, made in zip(again.seen, anew, strict=True):
        assert np.array_equal(kept.counts, made.counts)
        assert all(np.array_equal(getattr(kept.timeline, name), getattr(made.timeline, name))
                   for name in ("first", "start_s", "step_s", "count"))


def cut(raw: bytes) -> bytes:
    return raw[:-6]


def turned(at: int) -> Callable[[bytes], bytes]:
    return lambda raw: raw[:at] + bytes([raw[at] ^ 64]) + raw[at + 1:]


def count_of(most: int) -> Callable[[bytes], bytes]:
    """A first recording of that many samples."""
    return lambda raw: raw[:92] + most.to_bytes(8, "little", signed=True) + raw[100:]


@pytest.mark.parametrize("damage", [cut, turned(0), turned(30), turned(85), turned(120), turned(-1), count_of(2 ** 62),
                                    count_of(-5), lambda raw: b"", lambda raw: raw + b"\0"])
def test_what_is_damaged_is_prepared_anew(study, prepared, capsys, damage):
    first = scored(study, capsys)
    whole = counts_file().read_bytes()
    counts_file().write_bytes(damage(whole))
    prepared.clear()
    assert scored(study, capsys) == first
    assert len(prepared) == 3


def test_another_sensor_or_another_trim_is_prepared_anew(study, prepared):
    session = Session.opened(study)
    session.results()
    prepared.clear()
    name = session.study.items[0].name
    session.act(trim(session.study, session.library, [name], start_s=1.0).study, "trim")
    assert session.prepare().seen[0].timeline.count == 680
    assert len(prepared) == 3
    prepared.clear()
    Session.opened(study).prepare()
    assert not prepared


def test_a_study_of_few_keeps_no_counts(study, prepared, capsys, monkeypatch):
    monkeypatch.setattr(kept_counts, "WORTH_RECORDINGS", 50)
    scored(study, capsys)
    scored(study, capsys)
    assert len(prepared) == 6

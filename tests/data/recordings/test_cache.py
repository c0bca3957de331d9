"""What the shelf keeps is what was read, and nothing stale or torn is ever taken for it."""

from __future__ import annotations

import pickle
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest

from data.recipe.recipe import Recipe
from data.recipe.sections import Clock, ColumnNames, Units
from data.recordings.cache import Shelf
from data.recordings.model import About, Recording
from data.recordings.reading import read_recording

RECIPE = Recipe(columns=ColumnNames("t", "x", "y", "z"), units=Units("g", "s"), clock=Clock("as-stamped", (50.0,)))


@pytest.fixture
def recording() -> Recording:
    rng = np.random.default_rng(5)
    rows = [f"{i / 50:.2f},{a:.3f},{b:.3f},{c:.3f}" for i, (a, b, c) in enumerate(rng.normal((0, 1, 0), 0.1, (80, 3)))]
    gap = [f"{float(row.partition(',')[0]) + 3:.2f},{row.partition(',')[2]}" for row in rows]
    text = "\n".join(["t,x,y,z", *rows, *gap]) + "\n"
    found, _ = read_recording(text.encode(), "walk", RECIPE, About(person="A"))
    return found


def _same(one: Recording | None, other: Recording) -> bool:
    assert one is not None
    return np.array_equal(one.samples, other.samples) and one.stretches == other.stretches \
        and one.remarks == other.remarks and one.rate_hz == other.rate_hz and one.about == other.about


def test_what_was_put_comes_back_as_it_was_read(tmp_path: Path, recording: Recording) -> None:
    shelf = Shelf(tmp_path / "shelf")
    shelf.put(recording, RECIPE)
    assert recording.gaps == 1
    assert _same(shelf.get(recording.sha256, RECIPE, "walk", About(person="A")), recording)


def test_samples_are_fetched_when_they_are_asked_for(tmp_path: Path, recording: Recording) -> None:
    shelf = Shelf(tmp_path)
    shelf.put(recording, RECIPE)

    def anew() -> np.ndarray:
        raise AssertionError("what was kept is whole")

    found = shelf.get(recording.sha256, RECIPE, "walk", About(person="A"), anew)
    assert found is not None
    assert (len(found), found.duration_s) == (len(recording), recording.duration_s)
    assert "samples" not in vars(found)
    assert _same(pickle.loads(pickle.dumps(found)), recording)
    assert _same(found, recording)
    assert found.content == sha256(recording.samples.tobytes()).hexdigest()
    assert replace(found, samples=recording.samples * 2).content == ""
    assert not hasattr(found, "anything")


@pytest.mark.parametrize("damage", [lambda raw: raw[:-1] + bytes([raw[-1] ^ 1]), lambda raw: raw[:-48],
                                    lambda raw: None])
def test_samples_that_were_damaged_meanwhile_are_read_anew(tmp_path: Path, recording: Recording, damage) -> None:
    shelf = Shelf(tmp_path)
    shelf.put(recording, RECIPE)
    found = shelf.get(recording.sha256, RECIPE, "walk", About(), lambda: recording.samples + 1)
    kept, = tmp_path.glob("*.kept")
    left = damage(kept.read_bytes())
    kept.unlink() if left is None else kept.write_bytes(left)
    assert found is not None
    assert np.array_equal(found.samples, recording.samples + 1)


def test_another_file_or_another_recipe_finds_nothing(tmp_path: Path, recording: Recording) -> None:
    shelf = Shelf(tmp_path)
    shelf.put(recording, RECIPE)
    assert shelf.get("0" * 64, RECIPE, "walk", About()) is None
    other = replace(RECIPE, units=Units("mg", "s"))
    assert shelf.get(recording.sha256, other, "walk", About()) is None


@pytest.mark.parametrize("cut", [0, 10, 100, 500])
def test_a_torn_or_changed_copy_is_not_taken(tmp_path: Path, recording: Recording, cut: int) -> None:
    shelf = Shelf(tmp_path)
    shelf.put(recording, RECIPE)
    kept, = tmp_path.glob("*.kept")
    whole = kept.read_bytes()
    kept.write_bytes(whole[:cut])
    assert shelf.get(recording.sha256, RECIPE, "walk", About()) is None
    kept.write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]))
    assert shelf.get(recording.sha256, RECIPE, "walk", About()) is None


def test_a_shelf_that_cannot_be_written_is_no_obstacle(tmp_path: Path, recording: Recording) -> None:
    place = tmp_path / "file"
    place.write_bytes(b"")
    shelf = Shelf(place / "shelf")
    shelf.put(recording, RECIPE)
    assert shelf.get(recording.sha256, RECIPE, "walk", About()) is None


@pytest.mark.parametrize(("was", "now"), [(b'"rate_hz": 50', b'"rate_hz": 25'), (b'"clipped": 0', b'"clipped": 9'),
                                          (b'"start_s": 0.0', b'"start_s": 7.0')])
def test_a_header_that_was_altered_is_not_taken(tmp_path: Path, recording: Recording, was: bytes, now: bytes) -> None:
    shelf = Shelf(tmp_path)
    shelf.put(recording, RECIPE)
    kept, = tmp_path.glob("*.kept")
    assert was in kept.read_bytes()
    kept.write_bytes(kept.read_bytes().replace(was, now))
    assert shelf.get(recording.sha256, RECIPE, "walk", About()) is None


@pytest.mark.parametrize("content", [b"{}\n", b"[1]\n", b"not JSON\n", b'{"kind": "q"}\n', b"\xff\n", b"[" * 100_000])
def test_whole_but_of_another_making_is_read_anew(tmp_path: Path, recording: Recording, content: bytes) -> None:
    shelf = Shelf(tmp_path)
    shelf.put(recording, RECIPE)
    kept, = tmp_path.glob("*.kept")
    magic = kept.read_bytes().partition(b"\n")[0]
    kept.write_bytes(magic + b"\n" + sha256(content.removesuffix(b"\n")).hexdigest().encode() + b"\n" + content)
    assert shelf.get(recording.sha256, RECIPE, "walk", About()) is None

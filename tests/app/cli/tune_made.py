"""Studies to tune, made in memory or as files, and the command that tunes them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from app.__main__ import main
from app.study.state import Item
from app.study.storage import study_files
from data.recordings.model import Label
from tests.app.study_made import FALL, RATE_HZ, one, story, walk

KEYS = ("impact_g", "tilt_deg", "still_g")
OTHER, WHOLE = Label("other", "flop", None, None), Label("other", "walk", None, None)

Made = list[tuple[Item, Any]]


def everybody(people: int = 4) -> Made:
    """People who fall with small impacts, flop on a bed with nearly as large ones, and walk."""
    made = []
    for i in range(people):
        who = f"W{i:02d}"
        made += [one(f"{who} trip {trial}", story(impact_g=1.7 + 0.3 * i + 0.2 * trial), [FALL]) for trial in (1, 2)]
        made.append(one(f"{who} flop 1", story(impact_g=1.4 + 0.35 * i), [OTHER]))
        made.append(one(f"{who} walk 1", walk(), [WHOLE]))
    return made


def soft_falls(people: int = 4) -> Made:
    """People whose falls the defaults all miss, and other settings tell from their flops."""
    made = []
    for i in range(people):
        who = f"W{i:02d}"
        made += [one(f"{who} trip {trial}", story(impact_g=1.7 + 0.05 * i), [FALL]) for trial in (1, 2)]
        made.append(one(f"{who} flop 1", story(impact_g=1.3 + 0.02 * i), [OTHER]))
    return made


def old_people(made: Made) -> Made:
    """Beside them two who only walk and flop."""
    return [*made, one("X01 walk 1", walk(), [WHOLE]), one("X02 flop 1", story(impact_g=1.5), [OTHER])]


def written(folder: Path, made: Made) -> Path:
    """The study as a file, its recordings beside it."""
    folder.mkdir(exist_ok=True)
    for item, samples in made:
        seconds = np.arange(len(samples.samples)) / RATE_HZ
        rows = np.column_stack([seconds, samples.samples])
        np.savetxt(folder / f"{item.name}.csv", rows, "%.6f", ",", header="time_s,x_g,y_g,z_g", comments="",
                   footer=f"# {item.name}")  # the same walk is no other's copy
    assert main(["read", str(folder), "--study", str(folder / "study.json"), "--unit", "g"]) == 0
    study = study_files.load(folder / "study.json")
    by_name = {item.name: item for item, _ in made}
    items = tuple(study_files.replace(item, about=by_name[item.name].about, labels=by_name[item.name].labels)
                  for item in study.items)
    study_files.save(study_files.replace(study, items=items), folder / "study.json")
    return folder / "study.json"


def tune(study: Path, capsys: pytest.CaptureFixture[str], *words: str, keys: Sequence[str] = KEYS) -> str:
    """What it prints. One worker unless told."""
    workers = () if "--workers" in words else ("--workers", "1")
    assert main(["tune", str(study), "--keys", *keys, *workers, *words]) == 0
    out = capsys.readouterr().out
    assert "NaN" not in out
    assert "Infinity" not in out
    return out

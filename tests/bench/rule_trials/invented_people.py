"""People for the demo's plan, drawn by chance: the demo's own eight are too few to leave many out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from data.demo.logger import PEOPLE, Person
from data.demo.plan import ROWS, PlanRow
from data.demo.write import FOLDER_NAME, STUDY_NAME, DemoRecording, study, take
from data.study.study_file import save

SEED = 700


def invented(group: int) -> dict[str, Person]:
    """A group of eight: each of the demo's wearers with everything about them drawn anew, as far as people differ."""
    rng = np.random.default_rng([SEED, group])
    found = {}
    for like in PEOPLE:
        about = rng.uniform(0.75, 1.3, 6)
        found[like.name] = replace(
            like, stature_m=float(rng.uniform(1.5, 1.95)), briskness=float(rng.uniform(0.5, 0.6)),
            vigour_g=like.vigour_g * about[0], heel_g=like.heel_g * about[1], limp=like.limp * about[2],
            tremor_g=like.tremor_g * about[3], tremor_hz=like.tremor_hz * about[4],
            breaths_hz=like.breaths_hz * about[5],
            worn_deg=tuple(rng.uniform(-12, 12, 3).tolist()), offset_mg=tuple(rng.uniform(-25, 25, 3).tolist()))
    return found


def trials_of(group: int, rows: Sequence[PlanRow] = ROWS, wearers: int = len(PEOPLE)) -> Iterator[DemoRecording]:
    """The demo's plan, or some rows of it, carried out by a group or by so many of it; recordings and people are
    called after it."""
    people = invented(group)
    chosen = np.random.default_rng([SEED, group, 1]).permutation(list(people))[:wearers]
    for row in rows:
        trials: dict[str, int] = {}
        for wearer in row.wearers.split():
            trials[wearer] = trials.get(wearer, 0) + 1
            if wearer not in chosen:
                continue
            made = take(row, people[wearer], trials[wearer], SEED + group)
            about = replace(made.recording.about, person=f"G{group}{wearer}")
            yield replace(made, recording=replace(made.recording, name=f"G{group}{made.recording.name}", about=about))


def write_groups(folder: Path, groups: Iterable[int], rows: Sequence[PlanRow] = ROWS,
                 wearers: int = len(PEOPLE)) -> Path:
    """A study of these groups as files; the path of the study."""
    path = folder / STUDY_NAME
    (folder / FOLDER_NAME).mkdir(parents=True, exist_ok=True)
    written = []
    for group in groups:
        for made in trials_of(group, rows, wearers):
            (folder / FOLDER_NAME / made.file_name).write_bytes(made.csv)
            written.append(made)
    save(study(written, folder), path)
    return path

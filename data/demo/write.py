"""The demo study as ordinary files: recordings, one table of labels, a recipe, a README and the study."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from data.demo.hard_cases import HARD_CASES
from data.demo.logger import BITS, RANGE_G
from data.demo.plan import recordings_planned
from data.demo.scene import RATE_HZ
from data.demo.study import SEED, Take, takes
from data.labels import EVENTS, write_events
from data.problem import from_os_error
from data.recipe import Clock, Columns, FrontEnd, Recipe, Table, Units, write_recipe
from data.recording import About
from data.study_file import RecordingEntry, StudyFile, save

STUDY_NAME = "synthetic_porch_study.json"
RECIPE_NAME = "synthetic_recipe.toml"
EVENTS_NAME = "synthetic_events.tsv"
FOLDER_NAME = "recordings"

NOTES = (
    "Synthetic demo study: made from body mechanics by a seeded generator. Nobody fell, nobody wore a device, the "
    "wearers W01 to W08 are invented. Good for learning the workbench, not for judging a detector."
)

FRONT_END = FrontEnd(RANGE_G, BITS, float(RATE_HZ))
RECIPE = Recipe(
    pattern=f"{FOLDER_NAME}/{{person}}_{{activity}}_{{trial}}.csv",
    columns=Columns("time_s", "ax_g", "ay_g", "az_g"),
    table=Table(delimiter=",", decimal=".", encoding="utf-8", header=True, skip_lines=1, missing=()),
    units=Units("g", "s", RANGE_G),
    clock=Clock("as stamped", (float(RATE_HZ),)),
    labels=EVENTS,
    front_end=FRONT_END,
    about=About(placement="waist"),
)


def write_demo(folder: Path, progress: Callable[[float], None] | None = None, seed: int = SEED) -> Path:
    """Write the demo into a folder, made if need be, and return the study's path.

    The study comes last: where it stands, everything stands. `progress` is told the share done, 0 to 1.
    The same seed writes the same bytes. Raises Problem where the place can't be written.
    """
    written: list[Take] = []
    total = recordings_planned()
    try:
        (folder / FOLDER_NAME).mkdir(parents=True, exist_ok=True)
        for take in takes(seed):
            (folder / FOLDER_NAME / take.file_name).write_bytes(take.csv)
            written.append(take)
            if progress is not None:
                progress(len(written) / total)
        (folder / EVENTS_NAME).write_bytes(_events(written).encode())
        (folder / "README.md").write_bytes(readme(written, seed).encode())
    except OSError as error:
        raise from_os_error(error, str(error.filename or folder), "save") from error
    write_recipe(RECIPE, folder / RECIPE_NAME)
    save(study(written, folder), folder / STUDY_NAME)
    return folder / STUDY_NAME


def study(written: list[Take], folder: Path) -> StudyFile:
    """The study of these recordings, which lie in `folder`. Settings are left to their defaults."""
    entries = tuple(
        RecordingEntry(
            name=take.recording.name,
            path=str(folder.absolute() / FOLDER_NAME / take.file_name),
            sha256=take.recording.sha256,
            about=take.recording.about,
            labels=take.labels,
            recipe=RECIPE,
        )
        for take in written
    )
    return StudyFile(front_end=FRONT_END, recordings=entries, notes=NOTES)


def _events(written: list[Take]) -> str:
    """Keyed by the files' names without their suffix, as an import names recordings."""
    by_stem = {take.file_name.removesuffix(".csv"): take for take in written}
    return write_events({stem: take.labels for stem, take in by_stem.items()},
                        {stem: take.recording for stem, take in by_stem.items()})


def readme(written: list[Take], seed: int) -> str:
    """What lies in the folder, and what to expect of it."""
    hours = sum(take.recording.duration_s for take in written) / 3600
    labels = [label for take in written for label in take.labels]
    falls = sum(label.kind == "fall" for label in labels)
    rows = "\n".join(f"| {c.recording} | {c.event} | {c.outcome} | {c.how} | {c.why} |" for c in HARD_CASES)
    return f"""# A synthetic study of falls in home and garden
{NOTES}

{len(written)} recordings of 8 invented wearers, {hours:.1f} h, {falls} falls and {len(labels) - falls} other events,
seed {seed}. A device at the waist, {RATE_HZ} Hz, ±{RANGE_G:g} g in {BITS} bits; x to the wearer's left, y up, z
forward, each device worn a little askew. Two recordings are hours long and mostly unlabelled.

- `{FOLDER_NAME}/`: a CSV file a recording: `time_s`, then `ax_g`, `ay_g`, `az_g` in g with gravity.
- `{EVENTS_NAME}`: what happened when, in seconds of each recording. A fall's comment says how far the waist drops.
- `{RECIPE_NAME}`: how to read them. `{STUDY_NAME}`: all of it as one study.

## What the default settings make of it
Some events are hard on purpose, one for each way in which thresholds fail:

| recording | event | outcome | how | why |
|---|---|---|---|---|
{rows}
"""

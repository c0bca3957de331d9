"""The demo study as ordinary files: recordings, one table of labels, a recipe, a README and the study.

The plan is carried out, logged and labelled. Text is made by table look-up: an axis has only 4 096 values.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from data.demo import NOTES, STUDY_NAME
from data.demo.everyday import stand
from data.demo.logger import (
    BITS,
    BY_NAME,
    HIGHEST,
    LOWEST,
    RANGE_G,
    Person,
    logged,
    worn,
    written_g,
    written_thousandths,
)
from data.demo.plan import HARD_CASES, OTHERS, ROWS, PlanRow, recordings_planned
from data.demo.scene import RATE_HZ, Descent, Scene
from data.labels.table import EVENTS, write_events
from data.problem import from_os_error
from data.recipe.recipe import Recipe, write_recipe
from data.recipe.sections import Axes, Clock, ColumnNames, FrontEndSection, TableLayout, Units
from data.recordings.model import About, Label, Recording, Remark, Stretch
from data.study.study_file import RecordingEntry, StudyFile, save

HEADER = b"# synthetic recording, made by the demo's generator; nobody wore this\ntime_s,ax_g,ay_g,az_g\n"


def csv_bytes(counts: np.ndarray) -> bytes:
    """A recording's file: (n, 3) int16 counts as time in s and three axes in g, a row a sample."""
    n = len(counts)
    axes = _AXIS_TEXT[counts.astype(np.int32) - LOWEST].reshape(n, -1)
    axes[:, -1] = ord("\n")
    rows = np.concatenate((_times(n), axes), axis=1)
    return HEADER + rows[rows != 0].tobytes()


def _times(n: int) -> np.ndarray:
    """(n, 9) uint8: "0.00,", "0.02,", … with zero bytes for leading places that are not written."""
    hundredths = np.arange(n, dtype=np.int64) * (100 // RATE_HZ)
    text = np.zeros((n, 9), dtype=np.uint8)
    places = (100000 * 10, 10000 * 10, 1000 * 10, 100 * 10, 100, 0, 10, 1)
    for column, place in enumerate(places):
        if place:
            digit = (hundredths // place % 10 + ord("0")).astype(np.uint8)
            text[:, column] = digit if place <= 100 else np.where(hundredths >= place, digit, 0)
    text[:, 5] = ord(".")
    text[:, 8] = ord(",")
    return text


def _axis_text() -> np.ndarray:
    """(4096, 7) uint8: every count as g with three decimals and a comma last, zero bytes between."""
    texts = [f"{'-' if t < 0 else ''}{abs(t) // 1000}.{abs(t) % 1000:03d}" for t in written_thousandths()]
    table = np.zeros((HIGHEST - LOWEST + 1, 7), dtype=np.uint8)
    for row, text in zip(table, texts, strict=True):
        row[: len(text)] = np.frombuffer(text.encode(), dtype=np.uint8)
    table[:, -1] = ord(",")
    return table


_AXIS_TEXT = _axis_text()

SEED = 1583
SYNTHETIC = Remark("synthetic", "Synthetic: made from body mechanics; nobody wore the device.")


@dataclass(frozen=True)
class DemoRecording:
    """One recording of the demo with its labels, the mechanics of every drop in it, and its file's bytes."""

    recording: Recording
    labels: tuple[Label, ...]
    descents: tuple[Descent, ...]
    csv: bytes

    @property
    def file_name(self) -> str:
        return self.recording.name.replace(" ", "_") + ".csv"


def takes(seed: int = SEED) -> Iterator[DemoRecording]:
    """Every recording of the plan, in its order. The same seed gives the same bytes."""
    for row in ROWS:
        trials: dict[str, int] = {}
        for wearer in row.wearers.split():
            trials[wearer] = trials.get(wearer, 0) + 1
            yield take(row, BY_NAME[wearer], trials[wearer], seed)


def take(row: PlanRow, person: Person, trial: int, seed: int = SEED) -> DemoRecording:
    """One recording. It draws from a stream of its own: one more row in the plan changes no other recording."""
    name = f"{person.name} {row.activity} {trial}"
    rng = np.random.default_rng([seed, zlib.crc32(name.encode())])
    scene = Scene(person, rng)
    if row in OTHERS:
        stand(scene)
        row.script(scene, row.activity)
        stand(scene)
    else:
        row.script(scene, row.activity)
    counts = logged(scene.readings(), person, rng)
    csv = csv_bytes(counts)
    recording = Recording(
        name=name,
        samples=written_g(counts),
        unit="g",
        rate_hz=float(RATE_HZ),
        fitted_rate_hz=float(RATE_HZ),
        rate_known=True,
        stretches=(Stretch(0, 0.0, 1 / RATE_HZ),),
        clipped=int(np.count_nonzero(((counts == LOWEST) | (counts == HIGHEST)).any(axis=1))),
        remarks=(SYNTHETIC,),
        sha256=hashlib.sha256(csv).hexdigest(),
        about=About(person.name, row.activity, "waist", str(trial), setting=row.setting),
    )
    return DemoRecording(recording, tuple(scene.labels), tuple(_seen(d, person) for d in scene.descents), csv)


def _seen(descent: Descent, person: Person) -> Descent:
    """The same with its push in the sensor's axes instead of the wearer's."""
    x, y, z = worn(person) @ np.array(descent.push)
    return replace(descent, push=(float(x), float(y), float(z)))


RECIPE_NAME = "synthetic_recipe.toml"
EVENTS_NAME = "synthetic_events.tsv"
FOLDER_NAME = "recordings"

FRONT_END = FrontEndSection(RANGE_G, BITS, float(RATE_HZ))
RECIPE = Recipe(
    pattern=f"{FOLDER_NAME}/{{person}}_{{activity}}_{{trial}}.csv",
    columns=ColumnNames("time_s", "ax_g", "ay_g", "az_g"),
    table=TableLayout(delimiter=",", decimal=".", encoding="utf-8", header=True, skip_lines=1, missing=()),
    units=Units("g", "s", RANGE_G),
    axes=Axes(up="y", forward="x"),
    clock=Clock("as-stamped", (float(RATE_HZ),)),
    labels=EVENTS,
    front_end=FRONT_END,
    about=About(placement="waist"),
)


def write_demo(folder: Path, progress: Callable[[float], None] | None = None, seed: int = SEED) -> Path:
    """Write the demo into a folder, made if need be, and return the study's path.

    The study comes last: where it stands, everything stands. `progress` is told the share done, 0 to 1.
    The same seed writes the same bytes. Raises Problem where the place can't be written.
    """
    written: list[DemoRecording] = []
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


def study(written: list[DemoRecording], folder: Path) -> StudyFile:
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


def _events(written: list[DemoRecording]) -> str:
    """Keyed by the files' names without their suffix, as an import names recordings."""
    by_stem = {take.file_name.removesuffix(".csv"): take for take in written}
    return write_events({stem: take.labels for stem, take in by_stem.items()},
                        {stem: take.recording for stem, take in by_stem.items()})


def readme(written: list[DemoRecording], seed: int) -> str:
    """What lies in the folder, and what to expect of it."""
    hours = sum(take.recording.duration_s for take in written) / 3600
    labels = [label for take in written for label in take.labels]
    falls = sum(label.kind == "fall" for label in labels)
    rows = "\n".join(f"| {c.recording} | {c.event} | {c.outcome} | {c.how} | {c.why} |" for c in HARD_CASES)
    return f"""# A synthetic study of falls in home and garden
{NOTES}

{len(written)} recordings of 8 invented wearers, {hours:.1f} h, {falls} falls and {len(labels) - falls} other events,
seed {seed}. A device at the waist, {RATE_HZ} Hz, ±{RANGE_G:g} g in {BITS} bits; x forward, y up and z to the
wearer's right (the recipe says so under [axes]), each device worn a little askew. Two recordings are hours
long and mostly unlabelled.

- `{FOLDER_NAME}/`: a CSV file a recording: `time_s`, then `ax_g`, `ay_g`, `az_g` in g with gravity.
- `{EVENTS_NAME}`: what happened when, in seconds of each recording. A fall's comment says how far the waist drops.
- `{RECIPE_NAME}`: how to read them. `{STUDY_NAME}`: all of it as one study.

## What the default settings make of it
Some events are hard on purpose, one for each way in which thresholds fail:

| recording | event | outcome | how | why |
|---|---|---|---|---|
{rows}
"""

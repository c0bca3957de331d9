"""The demo study: the plan carried out, logged, labelled as synthetic, and written as ordinary files."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from data.demo.everyday import stand
from data.demo.files import csv_bytes
from data.demo.logger import HIGHEST, LOWEST, logged, worn, written_g
from data.demo.people import BY_NAME, Person
from data.demo.plan import OTHERS, ROWS, Row
from data.demo.scene import RATE_HZ, Descent, Scene
from data.recording import About, Label, Recording, Remark, Stretch

SEED = 1583
SYNTHETIC = Remark("synthetic", "Synthetic: made from body mechanics; nobody wore the device.")


@dataclass(frozen=True)
class Take:
    """One recording of the demo with its labels, the mechanics of every drop in it, and its file's bytes."""

    recording: Recording
    labels: tuple[Label, ...]
    descents: tuple[Descent, ...]
    csv: bytes

    @property
    def file_name(self) -> str:
        return self.recording.name.replace(" ", "_") + ".csv"


def takes(seed: int = SEED) -> Iterator[Take]:
    """Every recording of the plan, in its order. The same seed gives the same bytes."""
    for row in ROWS:
        trials: dict[str, int] = {}
        for wearer in row.wearers.split():
            trials[wearer] = trials.get(wearer, 0) + 1
            yield take(row, BY_NAME[wearer], trials[wearer], seed)


def take(row: Row, person: Person, trial: int, seed: int = SEED) -> Take:
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
    return Take(recording, tuple(scene.labels), tuple(_seen(d, person) for d in scene.descents), csv)


def _seen(descent: Descent, person: Person) -> Descent:
    """The same with its push in the sensor's axes instead of the wearer's."""
    x, y, z = worn(person) @ np.array(descent.push)
    return replace(descent, push=(float(x), float(y), float(z)))

"""Real recordings without a fall in them, read as anybody's files: what the default settings do on them, counted.

Sources: a record of the Daphnet freezing-of-gait data set as the package aeon 1.6.0 carries it (a person with
Parkinson's disease walking; ankle, thigh and trunk, mg, 64 Hz, ISO times); shoulder exercises worn on the wrist as
the package seglearn 1.2.5 carries them (10 people, both sides, 7 exercises, g, 50 Hz). Every alarm is a false one.
"""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest

from app.study.importing import sources
from app.study.session import Session
from data.recipe.recipe import Recipe
from data.recipe.sections import Clock, ColumnNames, Units
from data.recordings.model import About
from detect.rule.integers import rule_of
from detect.rule.reference import attempts_of
from detect.scoring.intervals import garwood
from tests.registry import package_folder

ALLOWED = {("numpy.core.multiarray", "_reconstruct"), ("numpy", "ndarray"), ("numpy", "dtype"), ("_codecs", "encode")}


class ArraysOnly(pickle.Unpickler):
    """A pickle can run anything; this one can only make arrays."""

    def find_class(self, module: str, name: str) -> object:
        if (module, name) not in ALLOWED:
            raise pickle.UnpicklingError(f"{module}.{name} is not an array's part")
        return super().find_class(module.replace("numpy.core", "numpy._core"), name)


def tell(capsys: pytest.CaptureFixture[str], what: str, session: Session) -> None:
    """The count with its Garwood interval, beside the hours it comes from: a zero in two minutes says little."""
    score = session.found().score
    alarms, hours = sum(score.unlabelled), sum(score.unlabelled_hours)
    bound = garwood(alarms, hours / 24)
    assert bound is not None
    with capsys.disabled():
        print(f"\n{what}: {alarms} false alarms in {hours * 60:.1f} min by the default settings, "
              f"so {bound.low:.0f} to {bound.high:.0f} in 24 h (95 %)")


def alarms_by_the_specification(session: Session) -> int:
    """The same recordings through the reference, sample by sample."""
    rule = rule_of(session.study.settings, session.study.front_end)
    prepared = session.prepare()
    return sum(attempt.ended == "alarm" for seen in prepared.seen
               for attempt in attempts_of(rule, [s.tolist() for s in seen.stretches()]))


@pytest.mark.parametrize("node", ["ankle", "leg", "trunk"])
def test_a_walk_with_parkinsons_disease_reads_from_its_own_file_and_its_false_alarms_are_counted(
        pytestconfig, capsys, node):
    path = package_folder("aeon", pytestconfig) / "datasets/data/Daphnet_S06R02E0/S06R02E0.csv"
    axes = [f"{node}_{axis}" for axis in ("horiz_fwd", "vert", "horiz_lateral")]
    recipe = Recipe(columns=ColumnNames("timestamp", *axes),
                    units=Units("mg", "iso"), about=About(placement=node))
    batch = sources.read([path], recipe)
    (read,) = batch.read
    assert (len(read.recording), read.recording.rate_hz, read.recording.gaps) == (7040, 64, 0)
    first = path.read_text().splitlines()[1].split(",")
    expected = [float(cell) / 1000 for cell in first[{"ankle": 1, "leg": 4, "trunk": 7}[node]:][:3]]
    assert read.recording.samples[0].tolist() == expected
    session = Session()
    session.take_batch(batch, recipe)
    tell(capsys, f"walking, {node}", session)
    assert sum(session.found().score.unlabelled) == alarms_by_the_specification(session)


def test_wrist_exercises_read_as_ordinary_files_and_their_false_alarms_are_counted(pytestconfig, capsys, tmp_path):
    with (package_folder("seglearn", pytestconfig) / "data/watch_dataset.npy").open("rb") as file:
        np.lib.format.read_magic(file)
        np.lib.format.read_array_header_1_0(file)
        watch = ArraysOnly(file, encoding="latin1").load().item()
    for i, (samples, person, side) in enumerate(zip(watch["X"], watch["subject"], watch["side"], strict=True)):
        folder = tmp_path / f"{int(person):02d}"
        folder.mkdir(exist_ok=True)
        np.savetxt(folder / f"{int(side)}_{i:03d}.csv", samples[:, :3], "%.6f", ",", header="ax,ay,az", comments="")
    recipe = Recipe(pattern="{person}/{node}_{trial}.csv", units=Units("g"), clock=Clock("even", (50.0,)),
                    about=About(placement="wrist"))
    batch = sources.read([tmp_path], recipe)
    assert (len(batch.read), batch.refused) == (140, ())
    assert sum(len(file.recording) for file in batch.read) == sum(len(x) for x in watch["X"])
    assert len({file.recording.about.person for file in batch.read}) == 10
    session = Session()
    session.take_batch(batch, recipe)
    assert sum(session.found().score.unlabelled_hours) * 60 == pytest.approx(81, abs=1)
    tell(capsys, "exercises, wrist", session)
    assert sum(session.found().score.unlabelled) == alarms_by_the_specification(session)


def test_a_pickle_that_would_run_something_is_not_let():
    with pytest.raises(pickle.UnpicklingError):
        ArraysOnly(__import__("io").BytesIO(pickle.dumps(Path("x")))).load()

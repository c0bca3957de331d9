"""The demo study: synthetic, reproducible, and true to the mechanics that each fall states."""

from __future__ import annotations

import math
import re
from collections import defaultdict
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from data.demo import STUDY_NAME
from data.demo.logger import COUNTS_PER_G, DECIMALS, HIGHEST, LOWEST, PEOPLE, written_g
from data.demo.mechanics import Rod, arrival_mps, flight_s, half_sine
from data.demo.plan import FALLS, HARD_CASES, OTHERS, recordings_planned
from data.demo.scene import RATE_HZ, Descent
from data.demo.write import EVENTS_NAME, RECIPE_NAME, DemoRecording, take, takes, write_demo
from data.labels.table import time_range
from data.problem import Problem
from data.recipe.recipe import read_recipe
from data.recordings.batch import read_sources
from data.recordings.model import STANDARD_GRAVITY as GRAVITY
from data.recordings.reading import read_recording
from data.study.study_file import load


@pytest.fixture(scope="module")
def demo() -> list[DemoRecording]:
    return list(takes())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo written into a folder with a space in its name."""
    here = tmp_path_factory.mktemp("demo") / "with a space"
    write_demo(here)
    return here


def drops(demo: list[DemoRecording], kind: str = "fall") -> list[tuple[DemoRecording, Descent]]:
    """Every drop that lies in an event of that kind."""
    return [
        (take, drop)
        for take in demo
        for drop in take.descents
        if any(label.kind == kind and label.onset_s <= drop.ground_s <= label.end_s for label in take.labels)
    ]


# Mechanics. The figures are those of free fall from 0.5 m and 1 m at standard gravity, g = 9.80665 m/s²
# (ISO 80000-3), of the half-sine shocks of IEC 60068-2-27, test Ea (Δv = 2AD/π), and of the toppling rod of
# classical mechanics (compare Varieschi & Kamiya, American Journal of Physics 71:1025, 2003).


@pytest.mark.parametrize(("height_m", "ms", "mps"), [(0.5, 319.3, 3.132), (1.0, 451.6, 4.429)])
def test_a_free_fall_takes_and_gains_what_gravity_gives(height_m: float, ms: float, mps: float) -> None:
    assert flight_s(height_m) * 1000 == pytest.approx(ms, abs=0.05)
    assert arrival_mps(height_m) == pytest.approx(mps, abs=0.0005)


@pytest.mark.parametrize(("peak_g", "ms", "mps"), [(50, 11, 3.43), (30, 18, 3.37)])
def test_a_half_sine_of_that_area_has_the_peak_of_the_shock_standard(peak_g: float, ms: float, mps: float) -> None:
    pulse = half_sine(mps / GRAVITY, ms / 1000, 100_000)
    assert pulse.max() == pytest.approx(peak_g, rel=0.002)
    assert pulse.sum() / 100_000 * GRAVITY == pytest.approx(mps)


def test_the_rod_reads_nothing_at_48_degrees_and_2_g_lying_with_the_sensor_at_two_thirds() -> None:
    rod = Rod.with_sensor_at(1.0)
    theta = np.radians([1e-3, 48.1897, 90.0])
    along, across = rod.reading(theta, rod.omega(theta, 0.0, 0.0))
    assert across == pytest.approx(0.0, abs=1e-12)
    assert along == pytest.approx([1.0, 0.0, -2.0], abs=1e-5)


def test_the_rod_turns_as_its_equation_of_motion_says() -> None:
    rod, rate = Rod(1.5, 1.0), 10_000
    theta, omega = rod.topple(math.radians(10), 0.0, math.radians(85), rate)
    acceleration = np.gradient(omega, 1 / rate)[50:-50]
    asked = 3 * GRAVITY / (2 * rod.length_m) * np.sin(theta)[50:-50]
    assert acceleration == pytest.approx(asked, rel=0.01)
    assert np.gradient(theta, 1 / rate)[50:-50] == pytest.approx(omega[50:-50], rel=0.01)


def test_every_fall_states_an_arrival_that_its_height_allows(demo: list[DemoRecording]) -> None:
    for take_, drop in drops(demo) + drops(demo, "other"):
        asked = math.sqrt(drop.start_mps**2 + 2 * GRAVITY * (1 - drop.support) * drop.height_m)
        assert drop.arrival_mps == pytest.approx(asked), take_.recording.name


def free_flights(demo: list[DemoRecording]) -> list[tuple[DemoRecording, Descent]]:
    """Drops through the air, from rest: √(2h/g) and √(2gh) hold of them as they stand."""
    return [(t, d) for t, d in drops(demo) if not d.topples and d.support == 0.0 and d.start_mps == 0.0]


def test_a_free_fall_lasts_as_long_as_its_stated_height_asks(demo: list[DemoRecording]) -> None:
    """The low phase measured on the samples, below half a g, is t = √(2h/g) and at most four samples more:
    the end of the unloading before it and the first rise of the landing, slow in a heap, are low too.
    """
    checked = free_flights(demo)
    assert len(checked) >= 25
    for take_, drop in checked:
        asked = math.sqrt(2 * drop.height_m / GRAVITY)
        assert drop.ground_s - drop.from_s == pytest.approx(asked, abs=0.001), take_.recording.name
        low = np.linalg.norm(take_.recording.samples, axis=1) < 0.5
        middle = round((drop.from_s + drop.ground_s) / 2 * RATE_HZ)
        first = middle - int(np.argmin(low[middle::-1]))
        last = middle + int(np.argmin(low[middle:]))
        assert -0.02 <= (last - first - 1) / RATE_HZ - asked <= 0.08, take_.recording.name


def test_every_landing_takes_the_speed_of_arrival(demo: list[DemoRecording]) -> None:
    """The area of the impact along its push, less gravity's share, is the arrival speed and the rebound, to
    0.15 m/s: what a zero error of 20 mg adds up to in the longest landing.
    """
    checked = 0
    for take_, drop in drops(demo):
        first = math.floor(drop.ground_s * RATE_HZ)
        last = math.ceil(drop.end_s * RATE_HZ)
        pulse = take_.recording.samples[first:last]
        clipped = np.abs(pulse).max() >= written_g(np.array([HIGHEST]))[0]
        if clipped:
            continue
        area = (pulse @ np.array(drop.push)).sum() / RATE_HZ * GRAVITY
        taken = area - drop.gravity_share * (drop.end_s - drop.ground_s) * GRAVITY
        assert taken == pytest.approx(drop.arrival_mps + drop.rebound_mps, abs=0.15), take_.recording.name
        checked += 1
    assert checked >= 30


def test_a_toppling_wearer_reads_next_to_nothing_halfway_down(demo: list[DemoRecording]) -> None:
    toppled = [(t, d) for t, d in drops(demo) if d.topples]
    assert len(toppled) >= 10
    for take_, drop in toppled:
        way = take_.recording.samples[round(drop.from_s * RATE_HZ) : round(drop.ground_s * RATE_HZ)]
        assert np.linalg.norm(way, axis=1).min() < 0.35, take_.recording.name


# Size, people, determinism.


def test_it_is_large_enough_to_learn_on(demo: list[DemoRecording]) -> None:
    assert len(demo) == recordings_planned() >= 100
    assert sum(t.recording.duration_s for t in demo) >= 6 * 3600
    assert {t.recording.about.person for t in demo} == {person.name for person in PEOPLE}
    assert len(PEOPLE) == 8
    long = [t for t in demo if t.recording.duration_s > 3600]
    assert len(long) == 2
    assert all(t.recording.about.setting == "free-living" for t in long)
    for t in long:
        labelled = sum(label.end_s - label.onset_s for label in t.labels)
        assert 0 < labelled < 0.1 * t.recording.duration_s


def test_every_wearer_falls_and_does_not_fall(demo: list[DemoRecording]) -> None:
    kinds = defaultdict(set)
    for t in demo:
        kinds[t.recording.about.person] |= {label.kind for label in t.labels}
    assert all(some == {"fall", "other"} for some in kinds.values())


def test_rows_of_the_plan_stage_what_they_are_filed_under(demo: list[DemoRecording]) -> None:
    kinds = {t.recording.about.activity: {label.kind for label in t.labels} for t in demo}
    assert all(kinds[row.activity] == {"fall"} for row in FALLS)
    assert all(kinds[row.activity] == {"other"} for row in OTHERS)


def test_the_same_seed_gives_the_same_bytes_and_another_does_not() -> None:
    row, person = FALLS[0], PEOPLE[0]
    once, again, other = take(row, person, 1, 7), take(row, person, 1, 7), take(row, person, 1, 8)
    assert once.csv == again.csv
    assert once.labels == again.labels
    assert once.csv != other.csv


def test_two_trials_of_one_person_differ() -> None:
    assert take(FALLS[0], PEOPLE[3], 1).csv != take(FALLS[0], PEOPLE[3], 2).csv


def test_labels_lie_inside_their_recordings_and_apart(demo: list[DemoRecording]) -> None:
    for t in demo:
        start, end = time_range(t.recording)
        edges = [
            edge for label in sorted(t.labels, key=lambda some: some.onset_s) for edge in (label.onset_s, label.end_s)
        ]
        assert edges, t.recording.name
        assert start <= edges[0], t.recording.name
        assert edges[-1] <= end + 1 / RATE_HZ, t.recording.name
        assert all(a < b for a, b in pairwise(edges)), t.recording.name


def test_a_few_recordings_clip_and_most_do_not(demo: list[DemoRecording]) -> None:
    clipped = sum(t.recording.clipped > 0 for t in demo)
    assert 3 <= clipped <= len(demo) // 5


def test_a_wearer_at_rest_reads_gravity(demo: list[DemoRecording]) -> None:
    for t in demo:
        size = np.linalg.norm(t.recording.samples, axis=1)
        assert np.median(size) == pytest.approx(1.0, abs=0.05), t.recording.name


# Files.


def test_the_files_state_counts_of_the_logger_and_nothing_in_between() -> None:
    every = np.arange(LOWEST, HIGHEST + 1)
    stated = written_g(every)
    assert np.array_equal(np.floor(stated * COUNTS_PER_G + 0.5), every)
    assert np.array_equal(stated, np.round(stated, DECIMALS))


def test_every_file_reads_back_as_it_was_made(demo: list[DemoRecording], folder: Path) -> None:
    study = load(folder / STUDY_NAME)
    assert [entry.name for entry in study.recordings] == [t.recording.name for t in demo]
    for entry, t in zip(study.recordings, demo, strict=True):
        read, _ = read_recording(Path(entry.path).read_bytes(), entry.name, entry.recipe, entry.about)
        made = t.recording
        assert np.array_equal(read.samples, made.samples), entry.name
        assert (read.sha256, read.rate_hz, read.rate_known) == (made.sha256, made.rate_hz, True)
        assert [(s.first, s.start_s, s.step_s) for s in read.stretches] == [pytest.approx((0, 0.0, 0.02))]
        assert read.clipped == made.clipped
        assert read.about == made.about
        assert entry.sha256 == made.sha256
        assert entry.labels == t.labels


def test_dropping_the_folder_finds_the_same_recordings_and_labels(demo: list[DemoRecording], folder: Path) -> None:
    batch = read_sources([folder], read_recipe(folder / RECIPE_NAME))
    assert not batch.refused
    assert not batch.label_problems
    made = {t.file_name.removesuffix(".csv"): t for t in demo}
    assert {Path(file.recording.name).name for file in batch.read} == set(made)
    for file in batch.read:
        labels = made[Path(file.recording.name).name].labels
        assert [(label.kind, label.name) for label in file.labels] == [(label.kind, label.name) for label in labels]
        for found, label in zip(file.labels, labels, strict=True):
            assert (found.onset_s, found.end_s) == pytest.approx((label.onset_s, label.end_s), abs=1e-6)


def test_every_text_says_that_it_is_synthetic(demo: list[DemoRecording], folder: Path) -> None:
    files = [path for path in folder.rglob("*") if path.is_file()]
    assert len(files) == len(demo) + 4
    for path in files:
        with path.open() as file:
            assert "ynthetic" in path.name or "ynthetic" in file.read(4000), path.name
    assert "ynthetic" in load(folder / STUDY_NAME).notes
    assert all("synthetic" in label.comment for t in demo for label in t.labels)
    assert all("ynthetic" in t.recording.remarks[0].sentence for t in demo)


def test_the_readme_tells_every_hard_case(folder: Path) -> None:
    text = (folder / "README.md").read_text()
    assert all(case.recording in text and case.why in text for case in HARD_CASES)


def test_written_twice_the_files_are_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    shares: list[float] = []
    write_demo(tmp_path / "again", shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    one = {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    two = {
        path.relative_to(tmp_path / "again"): path.read_bytes()
        for path in (tmp_path / "again").rglob("*")
        if path.is_file()
    }
    assert one == two
    assert str(folder).encode() not in one[Path(STUDY_NAME)]


def test_a_fall_tells_in_its_comment_how_far_the_waist_drops(demo: list[DemoRecording]) -> None:
    for t in demo:
        for label in t.labels:
            stated = [float(m) for m in re.findall(r"(\d+\.\d\d) m", label.comment)]
            inside = [d.height_m for d in t.descents if label.onset_s <= d.ground_s <= label.end_s]
            if label.kind == "fall":
                assert stated == pytest.approx(inside, abs=0.006), t.recording.name


def test_a_place_that_cannot_be_written_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file where a folder should be")
    with pytest.raises(Problem) as told:
        write_demo(tmp_path / "taken")
    assert str(tmp_path / "taken") in told.value.sentence()


def test_the_labels_table_is_named_as_events_are(folder: Path) -> None:
    header = (folder / EVENTS_NAME).read_text().splitlines()[0].split("\t")
    assert header[:3] == ["onset", "duration", "trial_type"]
    assert "recording" in header

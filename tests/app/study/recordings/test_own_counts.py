"""Counts of a sensor that the recipe states stay what they are, whatever sensor the study is for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from app.study import actions
from app.study.importing import sources
from app.study.recordings.device_signal import seen_through
from app.study.session import Session
from data.recipe.recipe import Recipe
from data.recipe.sections import FrontEndSection, Units
from detect.rule.front_end import FrontEnd
from tests.app.study_made import RATE_HZ, one, walk

OWN = FrontEndSection(16.0, 13, RATE_HZ)
"""256 counts per g."""


def in_counts(g: np.ndarray, stated: FrontEndSection | None):
    item, recording = one("W01 walk 1", g, [])
    recipe = replace(item.recipe, units=Units(acceleration="counts"), front_end=stated)
    counts = np.floor(g * OWN.per_g + 0.5).astype(np.int16)
    return replace(item, recipe=recipe), replace(recording, samples=counts, unit="counts")


def largest(item, recording, front_end: FrontEnd) -> float:
    return float(np.abs(seen_through(item, recording, front_end).counts).max() / front_end.k)


@pytest.mark.parametrize(("front_end", "seen_g"), [
    (FrontEnd(16.0, 13, RATE_HZ), 12.0), (FrontEnd(8.0, 12, RATE_HZ), 8.0), (FrontEnd(4.0, 12, RATE_HZ), 4.0),
    (FrontEnd(16.0, 16, RATE_HZ), 12.0), (FrontEnd(16.0, 13, RATE_HZ / 2), 12.0)])
def test_another_range_clips_and_rescales_nothing(front_end, seen_g):
    g = walk()
    g[200:280] = 0.0, 12.0, 0.0
    item, recording = in_counts(g, OWN)
    assert largest(item, recording, front_end) == pytest.approx(seen_g, rel=0.08)
    still = np.median(np.sqrt((seen_through(item, recording, front_end).counts.astype(float) ** 2).sum(axis=1)))
    assert still / front_end.k == pytest.approx(1.0, abs=0.05)


def test_in_the_sensor_that_they_are_of_they_pass_through_untouched():
    item, recording = in_counts(walk(), OWN)
    assert np.array_equal(seen_through(item, recording, FrontEnd(16.0, 13, RATE_HZ)).counts, recording.samples)


def test_without_one_stated_they_are_of_the_studys_own_sensor():
    item, recording = in_counts(walk(), None)
    for range_g in (16.0, 4.0):
        assert np.array_equal(seen_through(item, recording, FrontEnd(range_g, 13, RATE_HZ)).counts, recording.samples)


def test_a_study_of_refused_files_alone_takes_the_front_end_of_what_is_read_then():
    session = Session()
    refused, _ = one("W01 walk 1", walk(), [])
    session.act(actions.add_items(session.study, [replace(refused, refused="Nothing says what the unit is.")]), "read")
    study = sources.started_by(session.study, Recipe(front_end=OWN))
    assert (study.front_end.range_g, study.front_end.bits) == (16.0, 13)
    read, _ = one("W01 walk 2", walk(), [])
    study = actions.add_items(session.study, [read])
    assert sources.started_by(study, Recipe(front_end=OWN)).front_end == study.front_end

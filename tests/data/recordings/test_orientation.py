"""Axes in another order, with other signs, or turned, become the wearer's: x forward, y up, z to the right."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from data.problem import Problem
from data.recipe.recipe import Recipe, recipe_from_toml, recipe_to_toml
from data.recipe.sections import SIDES, Axes, FrontEndSection
from data.recordings.orientation import as_axes, axes_fault, matrix_of, turned, upright_rotation
from data.recordings.reading import read_recording
from tests.data.made import csv_text, wearer

PAIRS = [(up, forward) for up in SIDES for forward in SIDES if up[-1] != forward[-1]]


@pytest.mark.parametrize(("up", "forward"), PAIRS)
def test_up_and_forward_by_name_make_a_rotation_that_brings_them_there(up, forward):
    matrix = matrix_of(Axes(up=up, forward=forward))
    assert np.linalg.det(matrix) == pytest.approx(1)
    sign = {True: -1.0, False: 1.0}
    sensor = np.zeros(3)
    sensor["xyz".index(up[-1])] = sign[up.startswith("-")]
    assert (matrix @ sensor).tolist() == [0, 1, 0]
    sensor = np.zeros(3)
    sensor["xyz".index(forward[-1])] = sign[forward.startswith("-")]
    assert (matrix @ sensor).tolist() == [1, 0, 0]


def test_axes_named_one_by_one_are_exchanged_and_counts_stay_counts():
    counts = np.array([[1, 2, 3], [-2048, 5, 2047]], np.int16)
    found = turned(counts, matrix_of(Axes("-x", "z", "y")), 2047)
    assert found.dtype == np.int16
    assert found.tolist() == [[-1, 3, 2], [2047, 2047, 5]]


def test_counts_are_not_turned_by_an_angle():
    rotation, _ = upright_rotation(np.tile([0.3, 0.95, 0.0], (20, 1)))
    with pytest.raises(Problem, match="unchanged"):
        turned(np.zeros((3, 3), np.int16), rotation)


@given(st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1))
def test_a_still_upright_stretch_reads_up_afterwards(direction):
    up = np.array(direction) / np.linalg.norm(direction)
    still = up + np.random.default_rng(0).normal(0, 0.002, (100, 3))
    rotation, angle = upright_rotation(still)
    assert rotation @ rotation.T == pytest.approx(np.eye(3), abs=1e-9)
    assert np.linalg.det(rotation) == pytest.approx(1)
    mean = turned(still, rotation).mean(axis=0)
    assert mean / np.linalg.norm(mean) == pytest.approx([0, 1, 0], abs=1e-9)
    assert angle == pytest.approx(np.degrees(np.arccos(up[1])), abs=0.5)


def test_forward_by_name_is_brought_as_far_forward_as_a_tilted_sensor_allows():
    tilt = np.radians(25)
    rotation, _ = upright_rotation(np.tile([np.sin(tilt), 0.0, np.cos(tilt)], (50, 1)), "x")
    ahead = rotation @ [np.cos(tilt), 0.0, -np.sin(tilt)]
    assert ahead == pytest.approx([1, 0, 0])
    with pytest.raises(Problem, match="can't point forward"):
        upright_rotation(np.tile([0.0, 0.0, 1.0], (50, 1)), "z")


def test_a_stretch_that_moves_is_no_stretch_to_stand_upright_in():
    with pytest.raises(Problem) as caught:
        upright_rotation(wearer(100) + np.random.default_rng(0).normal(0, 0.2, (100, 3)))
    assert caught.value.kind == "not_still"


@pytest.mark.parametrize(
    ("axes", "key"),
    [
        (Axes(x="y"), "x"),
        (Axes("x", "y", "-y"), "x"),
        (Axes(up="y"), "up"),
        (Axes(up="y", forward="-y"), "up"),
        (Axes("x", "y", "z", up="y", forward="x"), "up"),
        (Axes(rotation=(1.0,) * 9), "rotation"),
        (Axes(rotation=(1.0, 0.0)), "rotation"),
        (Axes(rotation=(-1.0, 0, 0, 0, 1, 0, 0, 0, 1)), "rotation"),
    ],
)
def test_axes_that_are_none_are_told_by_their_key(axes, key):
    assert axes_fault(axes)[0] == key


def test_a_recipe_turns_what_is_read_and_comes_back_from_its_file():
    rotation, _ = upright_rotation(np.tile([0.6, 0.8, 0.0], (20, 1)))
    recipe = Recipe(axes=as_axes(rotation))
    assert recipe_from_toml(recipe_to_toml(recipe)) == recipe
    tilted = wearer(200) @ rotation  # the sensor's reading of a wearer that stands
    recording, _ = read_recording(csv_text(samples=tilted).encode(), "a", recipe)
    assert recording.samples == pytest.approx(wearer(200), abs=2e-3)


def test_counts_with_whole_axes_exchanged_pass_through_to_the_count():
    counts = np.round(wearer(200) * 512).astype(np.int16)
    recipe = recipe_from_toml('[axes]\nup = "y"\nforward = "z"\n[front_end]\nrange_g = 4\nbits = 12\nrate_hz = 50\n')
    assert recipe.front_end == FrontEndSection(4, 12, 50)
    recording, _ = read_recording(csv_text("time_s,x_counts,y_counts,z_counts", counts).encode(), "a", recipe)
    assert np.array_equal(recording.samples, np.column_stack([counts[:, 2], counts[:, 1], -counts[:, 0]]))

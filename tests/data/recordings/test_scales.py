"""Raw integers, volts and own scales become g, and the integers are read only one way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.cli.output import OPTIONS
from app.ui.importing.form import TITLES
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import BYTES, CODINGS, JUSTIFIED, Clock, ColumnNames, Own, Raw, Units, Volts
from data.recordings.reading import read_recording
from data.recordings.sampling import decoded, front_ends_that_fit, mg_per_count, own_to_g, volts_to_g
from tests.data.made import csv_text, wearer


def written(counts: np.ndarray, raw: Raw) -> np.ndarray:
    """The integers of a file, by hand: signed counts into a field of the declared kind, read as unsigned."""
    found = []
    for count in counts.ravel().tolist():
        code = int(count) + (1 << (raw.bits - 1)) if raw.coding == "offset binary" else int(count) % (1 << raw.bits)
        if raw.justified == "left":
            code <<= raw.width - raw.bits
        size = raw.width // 8
        stored = code.to_bytes(size, "big")
        found.append(int.from_bytes(stored, "little" if raw.bytes == "swapped" else "big"))
    return np.array(found, dtype=float).reshape(counts.shape)


RAWS = st.builds(
    lambda width, share, *how: Raw(max(2, round(width * share)), width, *how, mg_per_count=1),
    st.sampled_from([8, 16, 24, 32]), st.floats(0.3, 1), st.sampled_from(JUSTIFIED), st.sampled_from(BYTES),
    st.sampled_from(CODINGS))  # fmt: skip


@given(RAWS, st.data())
def test_integers_come_back_whatever_their_justification_byte_order_and_coding(raw, data):
    most = 1 << (raw.bits - 1)
    counts = np.array(data.draw(st.lists(st.integers(-most, most - 1), min_size=1, max_size=20)))
    stored = written(counts, raw)
    assert np.array_equal(decoded(stored, raw), counts)
    signed = np.where(stored >= 1 << (raw.width - 1), stored - (1 << raw.width), stored)
    assert np.array_equal(decoded(signed, raw), counts)


def recipe(raw: Raw | None, range_g: float = 4.0, **more) -> Recipe:
    return Recipe(units=Units("raw", "", range_g), raw=raw, clock=Clock(rates_hz=(50.0,)), **more)


def raw_text(raw: Raw, per_g: float = 512.0) -> str:
    counts = np.round(wearer(400) * per_g).astype(int)
    return csv_text("time_s,x,y,z", written(counts, raw))


@pytest.mark.parametrize("justified", JUSTIFIED)
@pytest.mark.parametrize("order", BYTES)
@pytest.mark.parametrize("coding", CODINGS)
def test_a_logger_of_any_kind_is_read_by_what_its_recipe_says(justified, order, coding):
    raw = Raw(12, 16, justified, order, coding)
    recording, _ = read_recording(raw_text(raw).encode(), "a", recipe(raw))
    assert recording.unit == "g"
    assert recording.samples == pytest.approx(np.round(wearer(400) * 512) / 512)


@pytest.mark.parametrize(
    ("wrong", "right"),
    [
        (Raw(12, 16), Raw(12, 16, "left")),
        (Raw(12, 16), Raw(12, 16, "right", "swapped")),
        (Raw(12, 16), Raw(12, 16, "right", "in order", "offset binary")),
        (Raw(12, 16, "left"), Raw(12, 16, "left", "swapped", "offset binary")),
    ],
)
def test_integers_read_the_wrong_way_are_refused_and_the_way_that_rests_at_1_g_is_offered(wrong, right):
    with pytest.raises(Problem) as caught:
        read_recording(raw_text(right).encode(), "a", recipe(wrong))
    assert caught.value.kind == "raw_doubtful"
    for said in (right.justified, right.bytes, right.coding):
        assert f'"{said}"' in caught.value.remedy


def test_raw_integers_of_which_nobody_said_the_worth_are_asked_about():
    for raw in (None, Raw(12, 16)):
        with pytest.raises(Problem) as caught:
            read_recording(raw_text(Raw(12, 16)).encode(), "a", recipe(raw, range_g=0))
        assert caught.value.kind == "scale_unknown"


def test_plus_minus_16_g_in_12_bits_is_7_8125_mg_a_count():
    assert mg_per_count(Raw(12), 16.0) == 7.8125  # by hand: 32 g / 4096


def test_a_count_too_wide_for_its_field_is_refused_with_its_line():
    text = raw_text(Raw(12, 16)).split("\n")
    text[30] = "0.58,70000,512,0"
    with pytest.raises(Problem) as caught:
        read_recording("\n".join(text).encode(), "a", recipe(Raw(12, 16)))
    assert (caught.value.kind, caught.value.line, caught.value.value) == ("counts_broken", 31, "70000")


def test_an_analog_part_reads_2048_at_0_g_and_409_6_codes_a_g_and_the_same_at_a_lower_supply():
    """By hand: 3.0 V, 300 mV/g, zero g at half supply, a converter of 4096 codes over the supply. Ratiometric to the
    supply: common practice, no source."""
    part = Volts(nominal_v=3.0, zero_g_v=1.5, mv_per_g=300, codes=4096)
    codes = [np.array([2048.0, 2048 + 409.6, 2048 - 409.6])] * 3
    assert volts_to_g(codes, part)[:, 0] == pytest.approx([0, 1, -1])
    flat = Volts(nominal_v=3.0, zero_g_v=1.5, mv_per_g=300, codes=4096, supply_v=2.7)
    assert volts_to_g(codes, flat)[:, 0] == pytest.approx([0, 1, -1])


@pytest.mark.parametrize(("ratiometric", "volts"), [(True, 1.35 + 0.27), (False, 1.5 + 0.3)])
def test_volts_follow_the_supply_only_where_the_part_does(ratiometric, volts):
    part = Volts(3.0, 1.5, 300, ratiometric, supply_v=2.7)
    assert volts_to_g([np.array([volts])] * 3, part)[0] == pytest.approx([1, 1, 1])


def test_a_supply_that_was_logged_is_followed_sample_by_sample():
    supply = np.linspace(3.0, 2.4, 200)
    volts = supply[:, None] * (0.5 + 0.1 * wearer(200))
    rows = [f"{i * 0.02:.2f},{x:.6f},{y:.6f},{z:.6f},{s:.6f}" for i, ((x, y, z), s) in
            enumerate(zip(volts, supply, strict=True))]
    told = Recipe(columns=ColumnNames(supply="supply"), volts=Volts(3.0, 1.5, 300))
    recording, _ = read_recording(("time_s,x_V,y_V,z_V,supply\n" + "\n".join(rows)).encode(), "a", told)
    assert recording.samples == pytest.approx(wearer(200), abs=1e-4)


def test_an_own_scale_is_zero_and_counts_a_g_for_each_axis():
    own = Own((10.0, 20.0, 30.0), (100.0, -200.0, 50.0))
    columns = [np.array([110.0]), np.array([220.0]), np.array([55.0])]
    assert own_to_g(columns, own)[0].tolist() == [1.0, -1.0, 0.5]
    text = csv_text("time_s,x,y,z", wearer(200) * (100, -200, 50) + (10, 20, 30))
    recording, _ = read_recording(text.encode(), "a", Recipe(units=Units("own"), own=own))
    assert recording.samples == pytest.approx(wearer(200), abs=1e-4)


@pytest.mark.parametrize("unit", ["volts", "own"])
def test_a_scale_that_nobody_gave_is_asked_for(unit):
    with pytest.raises(Problem, match=rf"\[{unit}\]"):
        read_recording(csv_text("time_s,x,y,z").encode(), "a", Recipe(units=Units(unit)))


def test_counts_without_a_front_end_are_read_and_the_front_ends_that_rest_at_1_g_named():
    counts = np.round(wearer(200) * 512).astype(int)
    recording, _ = read_recording(csv_text("time_s,x_counts,y_counts,z_counts", counts).encode(), "a", Recipe())
    remark = next(r for r in recording.remarks if r.kind == "front_end")
    assert "±2 g in 11 bits, ±4 g in 12, ±8 g in 13, ±16 g in 14, ±32 g in 15." in remark.sentence
    assert remark.advice(OPTIONS).endswith("range_g, bits and rate_hz under [front_end] in a recipe.")
    assert remark.advice(TITLES).endswith("described: Sensor range ±g, bits and Nominal rates, Hz.")
    assert np.array_equal(recording.samples, counts)
    assert (4, 12) in front_ends_that_fit(512)
    assert (16, 13) in front_ends_that_fit(256)
    assert (2, 16) not in front_ends_that_fit(512)
    assert front_ends_that_fit(0) == []

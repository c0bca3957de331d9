"""A logger's table, whatever its layout, becomes the same recording."""

from __future__ import annotations

import io

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.cli.output import OPTIONS
from app.cli.read import with_options
from app.ui.importing.form import CONTROLS
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import FrontEndSection, Own, TableLayout, Units
from data.recordings.model import Recording
from data.recordings.reading import read_recording
from tests.data.made import burst_stamps, csv_text, wearer


def read(text: str | bytes, recipe: Recipe | None = None):
    raw = text.encode() if isinstance(text, str) else text
    return read_recording(raw, "W01_rake_1.csv", recipe or Recipe())


def kinds(recording) -> set[str]:
    return {remark.kind for remark in recording.remarks}


def test_what_the_header_says_beyond_doubt_is_taken_and_said():
    recording, recipe = read(csv_text())
    assert np.array_equal(recording.samples, wearer(200))
    assert (recording.unit, recording.rate_hz, recording.rate_known, recording.gaps) == ("g", 50, True, 0)
    assert (recipe.columns.time, recipe.columns.x, recipe.units.acceleration) == ("time_s", "x_g", "g")
    assert {"columns", "unit", "time_unit", "rate_from_stamps"} <= kinds(recording)
    assert len(recording.sha256) == 64


def test_the_completed_recipe_reads_the_same_without_a_word():
    text = csv_text("Time (s);Acc X [g];Acc Y [g];Acc Z [g]", delimiter=";", decimal=",")
    first, recipe = read(text)
    again, same = read(text, recipe)
    assert np.array_equal(first.samples, again.samples)
    assert same == recipe
    assert not kinds(again) & {"columns", "unit", "time_unit", "layout"}


@pytest.mark.parametrize(
    "header",
    [
        "time_s,x_g,y_g,z_g",
        "t [s],ax [g],ay [g],az [g]",
        "Time (seconds),Acceleration x (g),Acceleration y (g),Acceleration z (g)",
        "timestamp [sec],accX [g],accY [g],accZ [g]",
        "time_s,acc_x_g,acc_y_g,acc_z_g",
        '"time_s","x_g","y_g","z_g"',
    ],
)
def test_many_ways_of_naming_columns_are_understood(header):
    recording, _ = read(csv_text(header))
    assert np.array_equal(recording.samples, wearer(200))


@pytest.mark.parametrize(
    ("unit", "factor"), [("mg", 1000.0), ("m/s2", 9.80665), ("m/s^2", 9.80665), ("m/s²", 9.80665), ("g", 1.0)]
)
def test_units_are_converted(unit, factor):
    still = np.tile([0.0, 1.0, 0.1], (100, 1))
    recording, _ = read(csv_text(f"time_s,x [{unit}],y [{unit}],z [{unit}]", still * factor))
    assert recording.samples == pytest.approx(still, abs=1e-3)


@pytest.mark.parametrize(("unit", "factor"), [("s", 1.0), ("ms", 1e3), ("us", 1e6)])
def test_times_are_converted(unit, factor):
    recording, _ = read(csv_text(f"time_{unit},x_g,y_g,z_g", times=np.arange(200) * 0.02 * factor))
    assert recording.rate_hz == 50
    assert recording.stretches[0].start_s == pytest.approx(0, abs=1e-9)


def test_dates_and_times_are_seconds_from_the_first():
    rows = [f"2031-03-30T01:59:59.{i * 20:03d}Z,0,1,0" for i in range(49)]
    recording, _ = read("when time,x_g,y_g,z_g\n" + "\n".join(rows))
    assert recording.rate_hz == 50
    assert recording.stretches[0].start_s == pytest.approx(0, abs=1e-9)
    assert "clock" in kinds(recording)


def test_calendar_milliseconds_are_seconds_from_the_first():
    times = 1_900_000_000_000 + np.arange(200) * 20
    recording, _ = read(csv_text("time_ms,x_g,y_g,z_g", times=times))
    assert recording.rate_hz == 50
    assert recording.stretches[0].start_s == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize(
    ("delimiter", "decimal"), [(",", "."), (";", ","), (";", "."), ("\t", "."), ("\t", ","), (" ", ".")]
)
def test_delimiters_decimal_signs_and_line_ends_are_found_out(delimiter, decimal, end):
    text = csv_text(delimiter.join(["time_s", "x_g", "y_g", "z_g"]), None, None, delimiter, decimal, end)
    recording, recipe = read(text)
    assert np.array_equal(recording.samples, wearer(200))
    assert (recipe.table.delimiter, recipe.table.decimal) == (delimiter, decimal)


def test_mixed_line_ends_and_blank_lines_are_no_matter():
    lines = csv_text().split("\n")
    ends = ["\r\n", "\n", "\r", "\n\n"]
    text = "".join(line + ends[i % 4] for i, line in enumerate(lines[:-1]))
    recording, _ = read(text)
    assert np.array_equal(recording.samples, wearer(200))


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "latin-1", "cp1252"]
)
def test_encodings_are_found_out(encoding):
    text = csv_text("time_s,x_g,y_g,z_g,müde").replace("\n", ",0\n").replace("müde,0", "müde")
    recording, _ = read(text.encode(encoding))
    assert np.array_equal(recording.samples, wearer(200))


def test_lines_above_the_table_and_comments_are_passed_over_and_said():
    text = "Logger: number 7\nWorn: waist\n\n# exported\n" + csv_text()
    recording, _ = read(text)
    assert np.array_equal(recording.samples, wearer(200))
    assert "lines_above" in kinds(recording)


def test_other_columns_are_left_alone_even_where_they_are_text():
    text = csv_text("time_s,x_g,y_g,z_g,note").replace("\n", ",all well\n").replace("note,all well", "note")
    recording, _ = read(text)
    assert np.array_equal(recording.samples, wearer(200))


def test_a_gyroscope_beside_it_is_not_taken_for_the_accelerometer():
    lines = csv_text("time_s,acc_x_g,acc_y_g,acc_z_g").split("\n")[:-1]
    text = "\n".join([lines[0] + ",gyr_x,gyr_y,gyr_z", *(line + ",1,2,3" for line in lines[1:])])
    recording, recipe = read(text)
    assert recipe.columns.y == "acc_y_g"
    assert np.array_equal(recording.samples, wearer(200))


def test_options_say_what_a_bare_table_leaves_open():
    recipe = with_options(Recipe(), unit="g", time_unit="s", columns="1,2,3,4")
    recording, _ = read(csv_text(""), recipe)
    assert np.array_equal(recording.samples, wearer(200))
    three = "\n".join(line.split(",", 1)[1] for line in csv_text("").strip().split("\n"))
    recording, _ = read(three, with_options(Recipe(), unit="g", rates_hz=[25], columns="1,2,3"))
    assert (recording.rate_hz, len(recording), recording.rate_known) == (25, 200, True)


@pytest.mark.parametrize(
    ("header", "kind", "field"),
    [
        ("time_s,x,y,z", "unit_unknown", "units.acceleration"),
        ("time,x_g,y_g,z_g", "time_unit_unknown", "units.time"),
        ("time_s,one,two,three", "columns_unknown", "columns"),
        ("time_s,x_g,y_g,w_g", "column_missing", "columns"),
        ("", "columns_unknown", "columns"),
        ("number,x_g,y_g,z_g", "rate_unknown", "time.rates_hz"),
    ],
)
def test_what_stays_open_names_what_can_be_said_about_it(header, kind, field):
    with pytest.raises(Problem) as caught:
        read(csv_text(header))
    assert caught.value.kind == kind
    assert caught.value.field == field
    assert OPTIONS[field].replace("{}", "").replace(" ,", ",") in caught.value.sentence(OPTIONS)
    assert f"{CONTROLS[field]}." in caught.value.sentence(CONTROLS)
    assert "--" not in caught.value.sentence()


def test_burst_stamps_are_never_guessed():
    text = csv_text(times=burst_stamps(200, 49.4))
    with pytest.raises(Problem) as refused:
        read(text)
    assert (refused.value.field, refused.value.fits) == ("time.stamps", "bursts")
    assert "--stamps bursts" in refused.value.sentence(OPTIONS)
    recording, _ = read(text, with_options(Recipe(), stamps="bursts", rates_hz=[50]))
    assert recording.rate_hz == 50
    assert recording.fitted_rate_hz == pytest.approx(49.4, rel=0.005)


def test_samples_of_bursts_out_of_order_follow_their_stamps():
    stamps, samples = burst_stamps(600, 49.4), wearer(600)
    begins = np.flatnonzero(np.diff(stamps) > 0.02) + 1
    a, b, c = begins[20], begins[23], begins[40]
    stored = np.concatenate([np.arange(a), np.arange(b, c), np.arange(a, b), np.arange(c, 600)])
    text = csv_text(samples=samples[stored], times=stamps[stored])
    recording, _ = read(text, with_options(Recipe(), stamps="bursts", rates_hz=[50]))
    assert np.array_equal(recording.samples, samples)
    assert "order" in kinds(recording)


def test_counts_of_the_studys_front_end_pass_through_unchanged():
    counts = np.round(wearer(200) * 512).astype(np.int16)
    counts[100] = (2047, -2048, 5)
    recipe = Recipe(front_end=FrontEndSection(4, 12, 50))
    recording, _ = read(csv_text("time_s,x_counts,y_counts,z_counts", counts), recipe)
    assert recording.unit == "counts"
    assert recording.samples.dtype == np.int16
    assert np.array_equal(recording.samples, counts)
    assert recording.clipped == 1


def test_samples_at_the_loggers_limit_are_counted():
    samples = np.round(wearer(200) * 9.80665, 1)
    samples[50] = (39.2, -39.2, 0)
    samples[51] = (39.2, 5, 0)
    samples[120] = (0, 0, -39.2)
    recording, _ = read(csv_text("time_s,x [m/s2],y [m/s2],z [m/s2]", samples))
    assert recording.clipped == 3
    assert "clipped" in kinds(recording)


def test_a_peak_below_any_limit_is_not_called_clipped():
    samples = wearer(200)
    samples[50] = (3.7, 0, 0)
    recording, _ = read(csv_text(samples=samples))
    assert recording.clipped == 0


def test_a_declared_value_for_no_sample_becomes_a_gap():
    samples = wearer(200)
    samples[80:120] = 9999
    recording, _ = read(csv_text(samples=samples), Recipe(table=TableLayout(missing=(9999.0,))))
    assert len(recording) == 160
    assert [s.first for s in recording.stretches] == [0, 80]
    assert recording.stretches[1].start_s == pytest.approx(2.4, abs=0.01)
    assert "missing" in kinds(recording)


def test_empty_cells_become_a_gap_where_declared():
    lines = csv_text().split("\n")
    for i in range(50, 60):
        lines[i] = lines[i].split(",")[0] + ",,,"
    recording, _ = read("\n".join(lines), Recipe(table=TableLayout(missing=("nan",))))
    assert len(recording) == 190
    assert recording.gaps == 1


@pytest.mark.parametrize("level", [0.45, 1.5, 2.5])
def test_somebody_who_never_was_at_rest_is_read_with_a_word(level):
    turn = np.arange(400) * 0.4
    samples = wearer(400) * level + np.column_stack([np.sin(turn), np.cos(1.7 * turn), np.sin(turn + 1)]) * 0.3 * level
    recording, _ = read(csv_text(samples=samples))
    assert "rest" in kinds(recording)


def test_a_sensor_at_rest_that_reads_nearly_three_g_is_refused():
    with pytest.raises(Problem) as caught:
        read(csv_text(samples=wearer(400) * 2.7))
    assert caught.value.kind == "unit_doubtful"


@given(st.lists(st.tuples(*[st.floats(-0.2, 0.2)] * 3), min_size=20, max_size=40), st.booleans())
def test_numbers_are_those_that_pandas_reads_also_where_cells_are_looked_at_one_by_one(rows, one_by_one):
    """Reference: pandas.read_csv."""
    lines = [f"{i * 0.02:.2f},{x!r},{1 + y!r},{z!r}" for i, (x, y, z) in enumerate(rows)]
    reference = pd.read_csv(io.StringIO("\n".join(lines)), header=None)
    if one_by_one:
        lines[3] = lines[3].replace(",", ",\x1f", 1)  # the C reader balks at this blank
    text = "time_s,x,y,z\n" + "\n".join(lines)
    recording, _ = read(text, Recipe(units=Units("own"), own=Own(per_g=(1.0,)), table=TableLayout(missing=())))
    assert recording.samples == pytest.approx(reference[[1, 2, 3]].to_numpy(), rel=1e-14)


def dated(cells: dict[int, str] | None = None) -> str:
    """A table of 200 dated samples at 50 Hz, some times replaced."""
    stamps = pd.date_range("2024-05-31T14:03:07", periods=200, freq="20ms")
    times = {i: stamp.isoformat() for i, stamp in enumerate(stamps)} | (cells or {})
    return "time,x_g,y_g,z_g\n" + "".join(
        f"{times[i]},{x},{y},{z}\n" for i, (x, y, z) in enumerate(wearer(200).tolist()))


@pytest.mark.parametrize("cell", ["", "NaT", "nan", "now", "today", "2024", "14:03", "5", "9999-12-31T00:00:00",
                                  "0001-01-01T00:00:00", "2024-13-01T00:00:00", "on the hour"])
def test_a_cell_that_is_no_date_is_named_with_its_line(cell):
    with pytest.raises(Problem) as found:
        read(dated({150: cell}))
    assert (found.value.kind, found.value.line) == ("not_a_time", 152)
    assert cell in found.value.value


def test_rows_without_a_date_are_left_out_where_empty_cells_mean_that():
    recording, _ = read(dated({150: "", 151: "NaN"}), Recipe(table=TableLayout(missing=("nan",))))
    assert (len(recording), recording.gaps, recording.rate_hz) == (198, 1, 50)
    assert "missing" in kinds(recording)


@pytest.mark.parametrize("rate", [1e-9, 3.9, 4001.0, 1e5])
def test_a_rate_that_nobody_logs_at_is_refused_however_it_was_said(rate):
    untimed = "x_g,y_g,z_g\n" + "".join(f"{x},{y},{z}\n" for x, y, z in wearer(200).tolist())
    counted = "n,x_g,y_g,z_g\n" + "".join(f"{i},{x},{y},{z}\n" for i, (x, y, z) in enumerate(wearer(200).tolist()))
    for text, unit in ((untimed, ""), (csv_text(), ""), (counted, "samples")):
        recipe = with_options(Recipe(), time_unit=unit, rates_hz=(rate,), stamps="" if unit else "even",
                              columns="n,x_g,y_g,z_g" if unit else "")
        with pytest.raises(Problem) as found:
            read(text, recipe)
        assert (found.value.kind, found.value.field) == ("rate_doubtful", "time.rates_hz")


def test_dates_a_minute_apart_are_not_taken_for_a_rate():
    stamps = pd.date_range("2024-05-31T14:03:07", periods=200, freq="60s")
    text = "time,x_g,y_g,z_g\n" + "".join(
        f"{stamp.isoformat()},{x},{y},{z}\n" for stamp, (x, y, z) in zip(stamps, wearer(200).tolist(), strict=True))
    with pytest.raises(Problem, match="By the dates"):
        read(text)


@pytest.mark.parametrize("header", [
    "time_s,gyro_x,gyro_y,gyro_z", "time_s,wx,wy,wz", "time_s,x_dps,y_dps,z_dps",
    "time_s,x [rad/s],y [rad/s],z [rad/s]",
    "time_s,pos_x,pos_y,pos_z", "time_s,x_m,y_m,z_m", "time_s,x (mm),y (mm),z (mm)",
    "time_s,velocity x,velocity y,velocity z",
    "time_s,linearAccX,linearAccY,linearAccZ", "time_s,userAccelerationX,userAccelerationY,userAccelerationZ",
    "time_s,mag_x,mag_y,mag_z", "time_s,x_uT,y_uT,z_uT", "time_s,gravityX,gravityY,gravityZ",
    "time_s,free_acc_x,free_acc_y,free_acc_z"])
def test_columns_of_another_quantity_are_not_taken_though_they_are_near_1(header):
    with pytest.raises(Problem) as found:
        read(csv_text(header), with_options(Recipe(), unit="g"))
    assert found.value.kind == "columns_unknown"
    named = with_options(Recipe(), unit="g", columns=header)
    assert "quantity" in kinds(read(csv_text(header), named)[0])


@pytest.mark.parametrize("header", ["time_s,posterior_x,posterior_y,posterior_z", "time_s,distal_x,distal_y,distal_z",
                                    "time_s,accX,accY,accZ", "time_s,x,y,z", "time_s,wx_g,wy_g,wz_g"])
def test_names_of_places_on_the_body_are_no_other_quantity(header):
    assert not {"quantity", "unit_unchecked"} & kinds(read(csv_text(header), with_options(Recipe(), unit="g"))[0])


def test_a_recording_that_never_rests_says_that_its_unit_could_not_be_checked():
    t = np.arange(500) / 50
    moving = np.stack([1.2 * np.sin(9 * t), 0.9 * np.cos(7 * t), 0.8 * np.sin(11 * t + 1)], axis=1) * 0.75
    assert "unit_unchecked" in kinds(read(csv_text(samples=moving))[0])
    counts = read_recording(("t,x,y,z\n" + "".join(f"{s:.2f},{a},{b},{c}\n" for s, (a, b, c) in zip(
        t, np.round(moving * 512).astype(int).tolist(), strict=True))).encode(), "w", Recipe(
            units=Units("counts", "s"), front_end=FrontEndSection(4, 12, 50)))[0]
    assert "unit_unchecked" in kinds(counts)


def as_counts(samples: np.ndarray, bits: int = 13, range_g: float = 16.0) -> tuple[Recording, Recipe]:
    """Read as counts of the study's own sensor, whose range and resolution are told."""
    rows = np.round(samples * 256).astype(int).tolist()
    text = "t,x,y,z\n" + "".join(f"{i / 50:.2f},{x},{y},{z}\n" for i, (x, y, z) in enumerate(rows))
    told = FrontEndSection(range_g, bits, 50)
    return read_recording(text.encode(), "w", Recipe(units=Units("counts", "s"), front_end=told))


def jogging(level: float) -> np.ndarray:
    """(n, 3) in g: never at rest, and |a| is about `level` in the quietest moments."""
    turn = np.arange(400) * 0.4
    return wearer(400) * level + np.column_stack([np.sin(turn), np.cos(1.7 * turn), np.sin(turn + 1)]) * 0.3 * level


@pytest.mark.parametrize("level", [0.42, 2.2])
def test_counts_of_somebody_who_never_was_at_rest_are_read_with_the_word_that_other_units_get(level):
    recording, _ = as_counts(jogging(level))
    said = next(remark.sentence for remark in recording.remarks if remark.kind == "rest")
    assert "In the quietest moments |a| is" in said
    assert "never at rest, so the unit could not be checked" in said


def test_counts_far_outside_what_movement_explains_are_refused_moving_or_not():
    for samples in (jogging(0.1), wearer(400) * 0.1):
        with pytest.raises(Problem) as caught:
            as_counts(samples)
        assert (caught.value.kind, caught.value.field) == ("unit_doubtful", "front_end")


@pytest.mark.parametrize(("bits", "said"), [(12, "stand 1 bit farther left"), (15, "stand 2 bits farther right")])
def test_counts_of_a_sensor_at_rest_say_how_the_integers_would_be_shifted(bits, said):
    with pytest.raises(Problem, match=said):
        as_counts(wearer(400) * (1.1 if bits == 12 else 1.0), bits)

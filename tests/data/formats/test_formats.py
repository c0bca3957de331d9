"""The same samples come out of every format, and nothing in a file is ever run."""

from __future__ import annotations

import builtins
import importlib
import io
import os
import pickle
import struct
import zipfile
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.io import wavfile

from app.cli.read import with_options
from data.formats.array_files import open_wav
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import Clock, ColumnNames, Raw, TableLayout, Units
from data.recordings.model import Recording
from data.recordings.reading import read_recording
from tests.data.made import csv_text, wearer

ROWS = np.column_stack([np.arange(200) * 0.02, wearer(200)])


def needed(module: str) -> ModuleType:
    """An optional reader's library; a machine without it skips and says so, CI must have it."""
    try:
        return importlib.import_module(module)
    except ImportError:
        if os.environ.get("PLUMBFALL_CI"):
            pytest.fail(f"{module} is not installed")
        pytest.skip(f"{module} is not installed")


def saved(write, *arrays, **named) -> bytes:
    buffer = io.BytesIO()
    write(buffer, *arrays, **named)
    return buffer.getvalue()


def samples(raw: bytes, recipe: Recipe | None = None) -> np.ndarray:
    return read_recording(raw, "a", recipe or Recipe())[0].samples


def refusal(raw: bytes, recipe: Recipe | None = None) -> Problem:
    with pytest.raises(Problem) as caught:
        read_recording(raw, "a", recipe or Recipe())
    return caught.value


BY_NUMBER = with_options(Recipe(), unit="g", time_unit="s", columns="1,2,3,4")


def test_an_array_of_rows_is_a_table_without_names():
    assert np.array_equal(samples(saved(np.save, ROWS), BY_NUMBER), wearer(200))
    assert refusal(saved(np.save, ROWS)).kind == "columns_unknown"


def test_a_record_array_says_its_columns():
    names = ("time_s", "x_g", "y_g", "z_g")
    records = np.array(list(map(tuple, ROWS)), dtype=[(name, float) for name in names])
    assert np.array_equal(samples(saved(np.save, records)), wearer(200))


def test_a_packed_file_of_columns_or_with_one_table_is_read():
    named = dict(zip(("time_s", "x_g", "y_g", "z_g"), ROWS.T, strict=True))
    assert np.array_equal(samples(saved(np.savez_compressed, **named)), wearer(200))
    assert np.array_equal(samples(saved(np.savez, acc=ROWS, about=np.array("left leg")), BY_NUMBER), wearer(200))
    two = saved(np.savez, left=ROWS, right=ROWS * (1, -1, 1, 1))
    assert refusal(two, BY_NUMBER).kind == "sheets"
    right = with_options(Recipe(table=TableLayout(sheet="right")), unit="g", time_unit="s", columns="1,2,3,4")
    assert np.array_equal(samples(two, right), wearer(200) * (-1, 1, 1))


class _Runs:
    def __reduce__(self):
        return os.mkdir, ("it-was-run",)


@pytest.mark.parametrize("write", [np.save, np.savez])
def test_an_array_of_objects_is_refused_and_nothing_in_it_is_run(write, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    raw = saved(write, np.array([_Runs()], dtype=object), allow_pickle=True)
    assert refusal(raw).kind == "pickle"
    assert refusal(pickle.dumps(_Runs())).kind == "not_a_table"
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("shape", [(4,), (3, 200), (200, 2), (2, 3, 4), ()])
def test_an_array_of_another_shape_is_refused_with_its_shape(shape):
    problem = refusal(saved(np.save, np.zeros(shape)), BY_NUMBER)
    assert problem.kind == "not_a_table"
    assert any(str(size) in problem.message for size in shape) or shape == ()


def test_a_value_that_is_none_is_told_by_row_and_column():
    rows = ROWS.copy()
    rows[70, 2] = np.nan
    problem = refusal(saved(np.save, rows), BY_NUMBER)
    assert (problem.kind, problem.row, problem.column) == ("not_finite", 70, "3")
    assert problem.sentence().startswith("Row 71: ")


def wav(counts: np.ndarray, bits: int, rate: int = 50, kind: int = 1, extensible: bool = False) -> bytes:
    size, channels = bits // 8, counts.shape[1]
    body = b"".join(int(c).to_bytes(size, "little", signed=True) for c in counts.ravel())
    form = struct.pack("<HHIIHH", 0xFFFE if extensible else kind, channels, rate, rate * size * channels,
                       size * channels, bits)
    if extensible:
        form += struct.pack("<HHIH", 22, bits, 0, kind) + b"\0\0\0\0\x10\0\x80\0\0\xaa\0\x38\x9b\x71"
    parts = b"fmt " + struct.pack("<I", len(form)) + form + b"LIST\x03\0\0\0abc\0" \
        + b"data" + struct.pack("<I", len(body)) + body
    return b"RIFF" + struct.pack("<I", len(parts) + 4) + b"WAVE" + parts


@pytest.mark.parametrize("extensible", [False, True])
@pytest.mark.parametrize("bits", [16, 24, 32])
def test_a_sound_file_of_three_channels_is_read_to_the_count(bits, extensible):
    scale = 1 << (bits - 4)
    counts = np.round(wearer(200) * scale)
    recipe = Recipe(columns=ColumnNames("", 1, 2, 3), units=Units("raw"),
                    raw=Raw(bits, bits, mg_per_count=1000 / scale))
    recording, full = read_recording(wav(counts, bits, extensible=extensible), "a", recipe)
    assert recording.samples == pytest.approx(counts / scale)
    assert (recording.rate_hz, recording.rate_known, full.clock.stamps) == (50, True, "even")


@given(st.lists(st.tuples(*[st.integers(-32768, 32767)] * 3), min_size=1, max_size=40), st.sampled_from([16, 24, 32]))
def test_sound_files_hold_what_scipy_reads_in_them(rows, bits):
    raw = wav(np.array(rows), bits)
    rate, reference = wavfile.read(io.BytesIO(raw))
    sheet = open_wav(raw, TableLayout())
    found = np.column_stack(sheet.numbers([0, 1, 2], ()))
    assert sheet.rate_hz == rate
    assert np.array_equal(found, reference >> 8 if bits == 24 else reference)


def test_a_sound_file_that_ends_early_keeps_its_whole_samples_and_one_of_two_channels_is_refused():
    counts = np.round(wearer(100) * 1000)
    recipe = Recipe(columns=ColumnNames("", 1, 2, 3), units=Units("mg"))
    assert len(samples(wav(counts, 16)[:-4], recipe)) == 99
    assert refusal(wav(counts[:, :2], 16), recipe).kind == "column_missing"
    assert refusal(wav(counts, 16)[:30], recipe).kind == "not_a_table"


def spreadsheet(rows: list[list[object]], other: bool = False) -> bytes:
    book = needed("openpyxl").Workbook()
    for row in rows:
        book.active.append(row)
    book.active.title = "samples"
    if other:
        book.create_sheet("notes").append(["It rained."])
    return saved(lambda buffer: book.save(buffer))


def test_a_spreadsheet_is_read_with_its_lines_above_and_its_units():
    rows: list[list[object]] = [["Logger", 7], [], ["time", "x", "y", "z"], ["s", "g", "g", "g"], *ROWS.tolist()]
    recording, full = read_recording(spreadsheet(rows), "a", Recipe())
    assert recording.samples == pytest.approx(wearer(200))
    assert recording.rate_hz == 50
    again, _ = read_recording(spreadsheet(rows), "a", full)
    assert np.array_equal(again.samples, recording.samples)


def test_a_spreadsheets_fault_is_told_by_its_row_and_its_sheets_by_name():
    rows: list[list[object]] = [["time_s", "x_g", "y_g", "z_g"], *ROWS.tolist()]
    rows[40] = [0.78, 0, "abc", 0]
    problem = refusal(spreadsheet(rows))
    assert (problem.kind, problem.line, problem.column, problem.value) == ("not_a_number", 41, "y_g", "abc")
    rows[40] = [0.78, 0, 1, 0]
    two = spreadsheet(rows, other=True)
    assert refusal(two).kind == "sheets"
    assert len(samples(two, Recipe(table=TableLayout(sheet="samples")))) == 200


def parquet(**columns: object) -> bytes:
    arrow, write = needed("pyarrow"), needed("pyarrow.parquet").write_table
    return saved(lambda buffer: write(arrow.table(columns), buffer))


def test_a_parquet_file_is_read_with_its_times():
    stamps = np.datetime64("2031-05-01T10:00:00") + (np.arange(200) * 20).astype("timedelta64[ms]")
    raw = parquet(time=stamps, x_g=ROWS[:, 1], y_g=ROWS[:, 2], z_g=ROWS[:, 3], note=["well"] * 200)
    recording, _ = read_recording(raw, "a", Recipe())
    assert np.array_equal(recording.samples, wearer(200))
    assert recording.rate_hz == 50
    assert recording.origin_s == 1_935_396_000 - 0  # 2031-05-01T10:00:00Z
    broken = parquet(time_s=ROWS[:, 0], x_g=[None, *ROWS[1:, 1]], y_g=ROWS[:, 2], z_g=ROWS[:, 3])
    assert refusal(broken).kind == "not_finite"
    assert len(samples(broken, Recipe(table=TableLayout(missing=("nan",))))) == 199


def test_an_edf_file_is_read_with_its_dimensions_and_its_rate():
    edfio = needed("edfio")
    signals = [edfio.EdfSignal(np.round(wearer(200)[:, i], 3), 50, label=f"acc {axis}", physical_dimension="g",
                               physical_range=(-8, 8)) for i, axis in enumerate("xyz")]
    signals.append(edfio.EdfSignal(np.full(4, 36.5), 1, label="temp", physical_range=(0, 50)))
    raw = saved(lambda buffer: edfio.Edf(signals).write(buffer))
    recording, full = read_recording(raw, "a", Recipe())
    assert recording.samples == pytest.approx(wearer(200), abs=16 / 65535)
    assert (recording.rate_hz, full.units.acceleration) == (50, "g")
    assert np.array_equal(samples(raw, full), recording.samples)


@pytest.mark.parametrize(
    ("package", "module", "raw"),
    [("openpyxl", "openpyxl", "xlsx"), ("pyarrow", "pyarrow.parquet", "parquet"), ("edfio", "edfio", "edf")],
)
def test_a_reader_that_is_not_installed_is_asked_for_by_its_extra(package, module, raw, monkeypatch):
    if raw == "xlsx":
        content = saved(lambda buffer: zipfile.ZipFile(buffer, "w").writestr("xl/workbook.xml", ""))
    else:
        content = b"PAR1" + b"\0" * 300 if raw == "parquet" else b"0       " + b" " * 300
    real = builtins.__import__

    def without(name, *arguments, **more):
        if name.split(".")[0] == package:
            raise ImportError(name)
        return real(name, *arguments, **more)

    monkeypatch.setattr(importlib, "import_module", lambda name: without(name))
    problem = refusal(content)
    assert (problem.kind, problem.value) == ("needs_package", package)
    assert "plumbfall[" in problem.remedy


def whole_files() -> dict[str, bytes]:
    named = dict(zip(("time_s", "x_g", "y_g", "z_g"), ROWS[:40].T, strict=True))
    found = {"npy": saved(np.save, ROWS[:40]), "npz": saved(np.savez_compressed, **named),
             "wav": wav(np.round(wearer(40) * 1000), 16), "csv": csv_text(samples=wearer(40)).encode()}
    try:
        found["xlsx"] = spreadsheet([list(named), *ROWS[:40].tolist()])
        found["parquet"] = parquet(**named)
        edfio = importlib.import_module("edfio")
        signals = [edfio.EdfSignal(wearer(50)[:, i], 50, label=axis, physical_dimension="g") for i, axis in
                   enumerate("xyz")]
        found["edf"] = saved(lambda buffer: edfio.Edf(signals).write(buffer))
    except (ImportError, pytest.skip.Exception):
        pass
    return found


FILES = whole_files()


@pytest.mark.parametrize("kind", FILES)
@settings(max_examples=40)
@given(data=st.data())
def test_any_damage_to_a_good_file_is_read_or_refused(kind, data):
    raw = bytearray(FILES[kind])
    if data.draw(st.booleans()):
        raw = raw[: data.draw(st.integers(1, len(raw)))]
    for _ in range(data.draw(st.integers(0, 4))):
        at = data.draw(st.integers(0, max(0, len(raw) - 1)))
        raw[at : at + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=4))
    outcome = read_or_refused(bytes(raw))
    assert outcome.sentence() if isinstance(outcome, Problem) else np.isfinite(outcome.samples).all()


def read_or_refused(raw: bytes) -> Recording | Problem:
    try:
        return read_recording(raw, "a", Recipe(clock=Clock(rates_hz=(50.0,))))[0]
    except Problem as problem:
        return problem

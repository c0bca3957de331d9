"""Spreadsheets, Parquet and EDF: read by libraries that a person installs only if wanted.

Which format a file is in, told by its first bytes and never by its name.
"""

from __future__ import annotations

import datetime
import importlib
import io
import warnings
import zipfile
from collections import Counter
from types import ModuleType
from typing import Any

import numpy as np

from data.formats.array_files import BROKEN_ZIP, check_expansion, open_npy, open_npz, open_wav
from data.formats.sheet import ArraySheet, Sheet, TextSheet
from data.problem import Problem
from data.recipe.sections import TableLayout
from data.recordings.model import Remark

_ANEW = "Export the recording from its logger again, or as a table of text (CSV)."


def _library(module: str, package: str, extra: str, what: str) -> ModuleType:
    """Raises Problem, naming the extra, where the library is not installed."""
    try:
        return importlib.import_module(module)
    except ImportError as error:
        message = f"Reading {what} needs the package {package}, which is not installed."
        remedy = f"Install it (pip install {package}, or plumbfall[{extra}]), or export the file as text (CSV)."
        raise Problem("needs_package", message, remedy, value=package) from error


def is_spreadsheet(raw: bytes) -> bool:
    """Whether a packed file is an .xlsx, by the names of its parts."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as file:
            return any(name.startswith("xl/") for name in file.namelist())
    except BROKEN_ZIP:
        return False


def open_xlsx(raw: bytes, asked: TableLayout) -> TextSheet:
    """One sheet of a workbook, as the table of text that it would be saved as: rows are lines."""
    openpyxl = _library("openpyxl", "openpyxl", "excel", "spreadsheets")
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as file:
            check_expansion(sum(member.file_size for member in file.infolist()), len(raw))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles and dates that are not used here
            book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
            rows = [[_cell(value) for value in row] for row in _chosen(book, asked.sheet).iter_rows(values_only=True)]
            book.close()
    except Problem:
        raise
    except (*BROKEN_ZIP, KeyError, TypeError, AttributeError, SyntaxError, IndexError) as error:
        # What openpyxl raises for damaged workbooks is not one kind of thing.
        raise Problem("not_a_table", "The spreadsheet is damaged or of an unknown kind.", _ANEW) from error
    text = "\n".join("\t".join(row) for row in _as_wide_as_the_table(rows))
    told = TableLayout("\t", ".", "utf-8", asked.sheet, asked.header, asked.skip_lines, asked.missing)
    if not text.strip():
        raise Problem("empty", "There is nothing in the sheet.", "Choose another: sheet under [table] in a recipe.")
    sheet = TextSheet((text + "\n").encode(), told)
    sheet.table = TableLayout(sheet=asked.sheet, header=sheet.table.header, skip_lines=asked.skip_lines,
                        missing=asked.missing)
    return sheet


def _as_wide_as_the_table(rows: list[list[str]]) -> list[list[str]]:
    """A sheet makes all rows as wide as its widest; lines above the table become as short again as they look."""
    filled = [max((i + 1 for i, cell in enumerate(row) if cell), default=0) for row in rows]
    width = Counter(n for n in filled if n >= 3).most_common(1)
    if not width:
        return rows
    (count, _), begins = width[0], filled.index(width[0][0])
    return [row[: n if i < begins else max(n, count)] for i, (row, n) in enumerate(zip(rows, filled, strict=True))]


def _chosen(book: Any, name: str) -> Any:
    """The sheet named; without a name the only one."""
    said = ", ".join(f'"{title}"' for title in book.sheetnames)
    if name and name not in book.sheetnames:
        raise Problem("sheets", f'Sheet "{name}" is missing; there are {said}.', "Correct sheet under [table].")
    if not name and len(book.sheetnames) > 1:
        message = f"There are several sheets in the file: {said}."
        raise Problem("sheets", message, "Name one: sheet under [table] in a recipe.")
    return book[name or book.sheetnames[0]]


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(int(value))
    if isinstance(value, datetime.datetime):
        return value.isoformat()
    return " ".join(str(value).split())


def open_parquet(raw: bytes, asked: TableLayout) -> ArraySheet:
    """The columns of numbers, texts and times; nested ones are left alone."""
    parquet = _library("pyarrow.parquet", "pyarrow", "parquet", "Parquet files")
    arrow = _library("pyarrow", "pyarrow", "parquet", "Parquet files")
    try:
        file = parquet.ParquetFile(io.BytesIO(raw))
        meta = file.metadata
        check_expansion(max(meta.num_rows * meta.num_columns * 8,
                            sum(meta.row_group(i).total_byte_size for i in range(meta.num_row_groups))), len(raw))
        table = file.read()
        columns = {name: _from_arrow(table.column(i), arrow.types) for i, name in enumerate(table.column_names)}
    except (arrow.ArrowException, OSError, ValueError) as error:
        raise Problem("not_a_table", "The Parquet file is damaged or of an unknown kind.", _ANEW) from error
    plain = {name: column for name, column in columns.items() if column is not None}
    if not plain:
        raise Problem("not_a_table", "The Parquet file has no column of numbers.", _ANEW)
    return ArraySheet(list(plain.values()), list(plain), asked)


def _from_arrow(column: Any, types: Any) -> np.ndarray | list[str] | None:
    kind = column.type
    if types.is_timestamp(kind):
        return np.asarray(column.to_numpy())
    if types.is_integer(kind) or types.is_floating(kind) or types.is_boolean(kind):
        return np.asarray(column.to_numpy(), dtype=np.float64)
    if types.is_string(kind) or types.is_large_string(kind):
        return ["" if cell is None else str(cell) for cell in column.to_pylist()]
    return None


def open_edf(raw: bytes, asked: TableLayout) -> ArraySheet:
    """The signals of one sampling rate, named with their physical dimension."""
    edfio = _library("edfio", "edfio", "edf", "EDF files")
    try:
        with warnings.catch_warnings(record=True) as noticed:
            warnings.simplefilter("always")
            file = (edfio.read_bdf if raw.startswith(b"\xffBIOSEMI") else edfio.read_edf)(raw, lazy_load_data=False)
        rates = Counter(float(signal.sampling_frequency) for signal in file.signals)
        rate = _chosen_rate(rates, asked.sheet)
        signals = [signal for signal in file.signals if float(signal.sampling_frequency) == rate]
        names = [_signal_name(signal) for signal in signals]
        columns = [np.asarray(signal.data, dtype=np.float64) for signal in signals]
    except Problem:
        raise
    except (ValueError, KeyError, IndexError, TypeError, NotImplementedError, OSError, EOFError, ZeroDivisionError,
            OverflowError) as error:
        # What the library raises for damaged files is not one kind of thing.
        raise Problem("not_a_table", "The EDF file is damaged, or not continuous.", _ANEW) from error
    said = [Remark("signals", f"An EDF file: {len(signals)} signals at {rate:g} Hz.")]
    said += [Remark("cut_short", str(one.message)) for one in noticed]
    return ArraySheet(columns, names, asked, rate, None, said)


def _chosen_rate(rates: Counter[float], asked: str) -> float:
    """The one rate at which there are three signals or more, or the one that `sheet` names."""
    whole = [rate for rate, count in rates.items() if count >= 3 and (not asked or f"{rate:g}" == asked)]
    if len(whole) == 1:
        return whole[0]
    said = ", ".join(f"{count} at {rate:g} Hz" for rate, count in rates.items()) or "none"
    if not whole:
        raise Problem("column_missing", f"Fewer than three signals have the same rate ({said}).", "Export x, y and z.")
    raise Problem("sheets", f"There are signals of several rates: {said}.",
                  f'Name one: sheet = "{whole[0]:g}" under [table] in a recipe.')


def _signal_name(signal: Any) -> str:
    label, dimension = str(signal.label).strip(), str(signal.physical_dimension).strip()
    return f"{label} [{dimension}]" if dimension else label


_EDF_BEGINNINGS = (b"0       ", b"\xffBIOSEMI")
_EDF_HEADER = 256


def open_sheet(raw: bytes, asked: TableLayout) -> Sheet:
    """The one table in a file. Raises Problem where the file is of no format that is read here, or broken."""
    if not raw:
        raise Problem("empty", "The file is empty.", "Copy it from the logger again.")
    if raw.startswith(b"\x93NUMPY"):
        return open_npy(raw, asked)
    if raw.startswith(b"PK\x03\x04"):
        return open_xlsx(raw, asked) if is_spreadsheet(raw) else open_npz(raw, asked)
    if raw.startswith((b"RIFF", b"RIFX")) and raw[8:12] == b"WAVE":
        return open_wav(raw, asked)
    if raw.startswith(b"PAR1"):
        return open_parquet(raw, asked)
    if raw.startswith(_EDF_BEGINNINGS) and len(raw) > _EDF_HEADER and b"\n" not in raw[:_EDF_HEADER]:
        return open_edf(raw, asked)
    return TextSheet(raw, asked)

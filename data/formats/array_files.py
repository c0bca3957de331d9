"""NumPy arrays and sound files as tables. Nothing in them is ever run: pickles are refused."""

from __future__ import annotations

import io
import struct
import sys
import tokenize
import warnings
import zipfile
import zlib
from collections.abc import Iterator

import numpy as np

from data.formats.sheet import ArraySheet
from data.problem import Problem
from data.recipe.sections import TableLayout
from data.recordings.model import Remark

MOST_EXPANSION = 20
"""A packed file that would come to more than 256 MB and this many times its own size is not unpacked."""

BROKEN_ZIP = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError, struct.error,
              ValueError)
"""What the standard library raises for packed files that are cut short, damaged, locked or of an unknown kind."""

_ROOM = 256 * 1024**2
_EXPORT = "Export the recording from its logger again, or as a table of text (CSV)."


def open_npy(raw: bytes, asked: TableLayout) -> ArraySheet:
    """One array: (samples, columns), or a record array with names."""
    return _sheet_of({"": _array(raw)}, asked)


def open_npz(raw: bytes, asked: TableLayout) -> ArraySheet:
    """Several arrays: one table among them, or columns of one length."""
    arrays = {}
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as file:
            check_expansion(sum(member.file_size for member in file.infolist()), len(raw))
            for member in file.namelist():
                if member.endswith(".npy"):
                    arrays[member.removesuffix(".npy")] = _array(file.read(member))
    except BROKEN_ZIP as error:
        raise Problem("not_a_table", "This packed file is damaged or of an unknown kind.", _EXPORT) from error
    if not arrays:
        raise Problem("not_a_table", "This packed file holds neither an array nor a table.", _EXPORT)
    return _sheet_of(arrays, asked)


def check_expansion(unpacked: int, packed: int) -> None:
    """Refuse what would fill the memory."""
    if unpacked > _ROOM + MOST_EXPANSION * packed:
        message = f"The file would unpack to {unpacked / 1e6:.0f} MB, far more than a recording of its size holds."
        raise Problem("too_large", message, "Split it into several recordings, or export it as text.")


def _array(raw: bytes) -> np.ndarray:
    """Raises Problem for anything but plain numbers, texts and times."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of headers that an old Python wrote
            array: np.ndarray = np.load(io.BytesIO(raw), allow_pickle=False)
    except ValueError as error:
        if "pickle" in str(error) or "Object arrays" in str(error):
            message = "The array holds Python objects, which can run programs when they are opened."
            raise Problem("pickle", message, "Save it as numbers: numpy.save(file, array.astype(float)).") from error
        raise Problem("not_a_table", "This array file is damaged.", _EXPORT) from error
    except (EOFError, OSError, TypeError, SyntaxError, struct.error, MemoryError, OverflowError, RecursionError,
            tokenize.TokenError) as error:  # of a header that does not describe an array
        raise Problem("not_a_table", "This array file is damaged.", _EXPORT) from error
    return array


def _sheet_of(arrays: dict[str, np.ndarray], asked: TableLayout) -> ArraySheet:
    chosen = {asked.sheet: arrays[asked.sheet]} if asked.sheet in arrays else arrays
    tables = {name: a for name, a in chosen.items() if a.ndim == 2 or a.dtype.names}
    if len(tables) > 1:
        said = ", ".join(f'"{name}"' for name in sorted(tables))
        raise Problem("sheets", f"There are several tables in the file: {said}.",
                      "Name one: sheet under [table] in a recipe.")
    if tables:
        (array,) = tables.values()
        return _of_records(array, asked) if array.dtype.names else _of_table(array, asked)
    columns = {name: a for name, a in chosen.items() if a.ndim == 1}
    lengths = {len(a) for a in columns.values()}
    if len(columns) < 3 or len(lengths) > 1:
        shapes = ", ".join(f'"{name}" {a.shape}' if name else f"{a.shape}" for name, a in list(chosen.items())[:5])
        raise Problem("not_a_table", f"The file holds no table of samples, but arrays of shape {shapes}.",
                      "Save one array with a row a sample and a column an axis.")
    return ArraySheet([_plain(a) for a in columns.values()], list(columns), asked)


def _of_table(array: np.ndarray, asked: TableLayout) -> ArraySheet:
    rows, columns = array.shape
    if columns < 3 or (rows < 3 <= columns) or (columns > 100 and columns > rows):
        raise Problem("not_a_table", f"The array has {rows} rows and {columns} columns.",
                      "Save it with a row a sample and a column an axis (array.T, where it lies the other way).")
    return ArraySheet([_plain(array[:, i]) for i in range(columns)], (), asked)


def _of_records(array: np.ndarray, asked: TableLayout) -> ArraySheet:
    if array.ndim != 1:
        raise Problem("not_a_table", f"The records lie in {array.ndim} dimensions.", "Save them in one.")
    names = array.dtype.names or ()
    return ArraySheet([_plain(array[name]) for name in names], names, asked)


def _plain(column: np.ndarray) -> np.ndarray | list[str]:
    if column.ndim != 1:  # a field of records that is an array itself
        raise Problem("not_a_table", f"A column holds arrays of shape {column.shape[1:]}, not a number a row.", _EXPORT)
    if column.dtype.kind in "biufM":
        return column
    if column.dtype.kind in "US":
        if column.dtype.kind == "U" and (_code_points(column) > sys.maxunicode).any():
            raise Problem("not_a_table", "This array file is damaged: its texts hold what no character has.", _EXPORT)
        return [cell.decode("latin-1") if isinstance(cell, bytes) else str(cell) for cell in column.tolist()]
    raise Problem("not_a_table", f"A column holds {column.dtype}, which is not a number.", _EXPORT)


def _code_points(texts: np.ndarray) -> np.ndarray:
    """Every character of an array of texts as a number: Python doesn't check them all when it makes a str of them."""
    return np.ascontiguousarray(texts).view(np.dtype(np.uint32).newbyteorder(texts.dtype.byteorder))


def open_wav(raw: bytes, asked: TableLayout) -> ArraySheet:
    """A sound file whose channels are axes: whole numbers of 8 to 32 bits, or floating point."""
    order = ">" if raw.startswith(b"RIFX") else "<"
    chunks = dict(_chunks(raw, order))
    form, body = chunks.get(b"fmt ", b""), chunks.get(b"data")
    if len(form) < 16 or body is None:
        raise Problem("not_a_table", "The sound file has no format or no samples: it was cut short.", _EXPORT)
    kind, channels, rate, _, _, bits = struct.unpack(order + "HHIIHH", form[:16])
    if kind == 0xFFFE and len(form) >= 26:  # extensible: the kind stands in the sub-format
        (kind,) = struct.unpack(order + "H", form[24:26])
    if channels < 3:
        raise Problem("column_missing", f"The sound file has {channels} channels; an axis is missing.",
                      "Export x, y and z as three channels.")
    samples = _pcm(body, kind, bits, channels, order)
    full = "" if kind == 3 else f" of {bits} bits"
    said = Remark("channels", f"A sound file of {channels} channels{full}, {rate} Hz.")
    return ArraySheet([samples[:, i] for i in range(channels)], (), asked, float(rate), None, [said])


def _chunks(raw: bytes, order: str) -> Iterator[tuple[bytes, bytes]]:
    at = 12
    while at + 8 <= len(raw):
        name, (size,) = raw[at : at + 4], struct.unpack(order + "I", raw[at + 4 : at + 8])
        yield name, raw[at + 8 : at + 8 + size]
        at += 8 + size + size % 2


def _pcm(body: bytes, kind: int, bits: int, channels: int, order: str) -> np.ndarray:
    """(n, channels). A last sample that was cut off is left out."""
    size = bits // 8
    if (kind, bits) not in ((1, 8), (1, 16), (1, 24), (1, 32), (3, 32), (3, 64)):
        message = f"Sound of kind {kind} with {bits} bits is packed in a way that is not read here."
        raise Problem("not_a_table", message, "Save it as uncompressed whole numbers (PCM) of 16 or 24 bits.")
    whole = len(body) // (size * channels) * size * channels
    if bits == 24:
        parts = np.frombuffer(body[:whole], np.uint8).reshape(-1, 3)
        wide = np.zeros((len(parts), 4), np.uint8)
        wide[:, 1:] = parts if order == "<" else parts[:, ::-1]
        samples: np.ndarray = wide.view("<i4").ravel() >> 8
    elif bits == 8:
        samples = np.frombuffer(body[:whole], np.uint8).astype(np.int16) - 128
    else:
        samples = np.frombuffer(body[:whole], f"{order}{'f' if kind == 3 else 'i'}{size}")
    return samples.reshape(-1, channels)

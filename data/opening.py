"""Which format a file is in, told by its first bytes and never by its name."""

from __future__ import annotations

from data.array_files import open_npy, open_npz, open_wav
from data.optional_files import is_spreadsheet, open_edf, open_parquet, open_xlsx
from data.problem import Problem
from data.sheets import Sheet, TextSheet
from data.told import Table

_EDF_BEGINNINGS = (b"0       ", b"\xffBIOSEMI")
_EDF_HEADER = 256


def open_sheet(raw: bytes, asked: Table) -> Sheet:
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

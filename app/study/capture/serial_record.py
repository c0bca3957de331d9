"""The record of a production line: one row of a CSV for every board tested, appended and never changed."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path

from app.study.capture.production import BoardResult, Limits
from data.problem import Problem, from_os_error

AXES = ("x", "y", "z")
COLUMNS = ("when_utc", "serial_number", "result", "against", "node", "firmware", "settings_crc32", "samples", "lost",
           "clock_pct", "battery_mv", *(f"offset_{axis}_mg" for axis in AXES),
           *(f"sensitivity_{axis}_pct" for axis in AXES),
           *(f"self_test_{axis}_g" for axis in AXES), "limit_offset_mg", "limit_sensitivity_pct", "limit_clock_pct",
           "raw_capture")


def row_of(one: BoardResult, limits: Limits, when: str, raw: str) -> list[str]:
    """As COLUMNS; what was not found is empty."""
    hello, found, test = one.hello, one.calibration, one.self_test
    return [when, str(hello.serial_number) if hello else "", "pass" if one.passed else "FAIL", " ".join(one.against),
            str(one.node), hello.firmware if hello else "", f"{hello.settings_crc32:08X}" if hello else "",
            str(one.samples), str(one.lost), _number(one.clock_pct, 3),
            "" if one.battery_mv is None else str(one.battery_mv),
            *([f"{1000 * value:.1f}" for value in found.offset_g] if found else [""] * 3),
            *([f"{100 * (value - 1):.2f}" for value in found.gain] if found else [""] * 3),
            *([f"{value:.4f}" for value in test.deflection_g] if test else [""] * 3),
            f"{limits.offset_mg:g}", f"{limits.sensitivity_pct:g}", f"{limits.clock_pct:g}", raw]


def _number(value: float | None, decimals: int) -> str:
    return "" if value is None else f"{value:.{decimals}f}"


def append(path: Path, rows: list[list[str]]) -> None:
    """One write for all rows, on the disk when it returns. Problem where the file is another table or can't be written.
    """
    try:
        with path.open("a+", encoding="utf-8", newline="") as file:
            file.seek(0)
            head = file.readline()
            if head and head.rstrip("\r\n") != ",".join(COLUMNS):
                raise Problem("serial_record", "The file is not a record of tested boards.",
                              "Choose another file; it is made where it is not there.", file=path.name, line=1)
            text = io.StringIO()
            writer = csv.writer(text, lineterminator="\n")
            writer.writerows([*([] if head else [list(COLUMNS)]), *rows])
            file.write(text.getvalue())
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise from_os_error(error, str(path), "save") from error

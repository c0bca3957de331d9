"""The demo as ordinary files. Text is made by table look-up: an axis has only 4 096 values."""

from __future__ import annotations

import numpy as np

from data.demo.logger import HIGHEST, LOWEST, written_thousandths
from data.demo.scene import RATE_HZ

HEADER = b"# synthetic recording, made by the demo's generator; nobody wore this\ntime_s,ax_g,ay_g,az_g\n"


def csv_bytes(counts: np.ndarray) -> bytes:
    """A recording's file: (n, 3) int16 counts as time in s and three axes in g, a row a sample."""
    n = len(counts)
    axes = _AXIS_TEXT[counts.astype(np.int32) - LOWEST].reshape(n, -1)
    axes[:, -1] = ord("\n")
    rows = np.concatenate((_times(n), axes), axis=1)
    return HEADER + rows[rows != 0].tobytes()


def _times(n: int) -> np.ndarray:
    """(n, 9) uint8: "0.00,", "0.02,", … with zero bytes for leading places that are not written."""
    hundredths = np.arange(n, dtype=np.int64) * (100 // RATE_HZ)
    text = np.zeros((n, 9), dtype=np.uint8)
    places = (100000 * 10, 10000 * 10, 1000 * 10, 100 * 10, 100, 0, 10, 1)
    for column, place in enumerate(places):
        if place:
            digit = (hundredths // place % 10 + ord("0")).astype(np.uint8)
            text[:, column] = digit if place <= 100 else np.where(hundredths >= place, digit, 0)
    text[:, 5] = ord(".")
    text[:, 8] = ord(",")
    return text


def _axis_text() -> np.ndarray:
    """(4096, 7) uint8: every count as g with three decimals and a comma last, zero bytes between."""
    texts = [f"{'-' if t < 0 else ''}{abs(t) // 1000}.{abs(t) % 1000:03d}" for t in written_thousandths()]
    table = np.zeros((HIGHEST - LOWEST + 1, 7), dtype=np.uint8)
    for row, text in zip(table, texts, strict=True):
        row[: len(text)] = np.frombuffer(text.encode(), dtype=np.uint8)
    table[:, -1] = ord(",")
    return table


_AXIS_TEXT = _axis_text()

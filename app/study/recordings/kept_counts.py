"""The counts of a study's recordings as one front end sees them, kept, so that a large study need not resample anew.

A cache like the shelf, in its folder, and emptied and bounded with it: found by the digest of all that the counts are
made of, the code among it, taken only where its own digest is right. Recordings with another past are prepared anew.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Sequence
from contextlib import suppress
from functools import cache
from importlib.metadata import version
from io import BufferedReader
from pathlib import Path

import numpy as np
from platformdirs import user_cache_path

from app.study.recordings.device_signal import DeviceSignal, worn
from app.study.state import Item
from data.recordings.cache import Shelf, reader_digest
from data.recordings.model import LaterRecording, Recording
from detect.rule.front_end import FrontEnd
from detect.rule.timeline import Timeline

WORTH_RECORDINGS, WORTH_SAMPLES = 50, 500_000
"""Less is prepared sooner than anybody waits for."""

_MAGIC = b"plumbfall counts 1\n"


def cache_folder() -> Path:
    """Where recordings as they were read, and counts, are kept for this user."""
    return user_cache_path("plumbfall", appauthor=False) / "shelf"


def place_of(items: Sequence[Item], recordings: Sequence[Recording], front_end: FrontEnd) -> Path | None:
    """The file for the counts of just these; None where they are not worth one, or samples are of unknown origin."""
    if len(items) < WORTH_RECORDINGS and sum(map(len, recordings)) < WORTH_SAMPLES:
        return None
    digest = hashlib.sha256(f"{front_end!r} {_code()}".encode())
    for item, one in zip(items, recordings, strict=True):
        if not (isinstance(one, LaterRecording) and one.content):
            return None
        said = (one.content, len(one), one.unit, one.rate_hz, one.rate_known, one.fitted_rate_hz, one.stretches,
                worn(item), item.recipe.axes, item.recipe.front_end)
        digest.update(repr(said).encode())
    return cache_folder() / f"{digest.hexdigest()}.kept"


@cache
def _code() -> str:
    """Fingerprint of everything that makes counts of a recording."""
    app, detect = Path(__file__).parent, Path(__file__).parents[3] / "detect" / "rule"
    digest = hashlib.sha256(" ".join((reader_digest(), version("numpy"), version("scipy"))).encode())
    for path in (app / "device_signal.py", app / "trim.py", app / "kept_counts.py", detect / "front_end.py",
                 detect / "timeline.py"):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def keep(path: Path, seen: Sequence[DeviceSignal]) -> None:
    """Keep the counts, if the place allows."""
    lines = [one.timeline for one in seen]
    arrays = [np.array([len(seen)], dtype=np.int64), np.array([one.count for one in lines], dtype=np.int64),
              np.array([len(one.first) for one in lines], dtype=np.int64),
              *(np.concatenate([getattr(one, name) for one in lines]) for name in ("first", "start_s", "step_s")),
              np.concatenate([one.counts for one in seen])]
    part = path.with_suffix(f".{os.getpid()}.part")
    with suppress(OSError):  # without a flush to the disk: what a crash tears is found out when it is read
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            file.write(_MAGIC + _digest(arrays))
            for array in arrays:
                file.write(np.ascontiguousarray(array).data)
        os.replace(part, path)
    Shelf(path.parent).tidy()


def _digest(arrays: Iterable[np.ndarray]) -> bytes:
    digest = hashlib.sha256()
    for array in arrays:
        digest.update(np.ascontiguousarray(array).data)
    return digest.hexdigest().encode()


def find(path: Path, recordings: int) -> list[DeviceSignal] | None:
    """What was kept there; None for anything but a whole, undamaged file of so many recordings."""
    try:
        with path.open("rb") as file:
            if file.read(len(_MAGIC)) != _MAGIC:
                return None
            check, left = file.read(64), path.stat().st_size
            arrays = [_read(file, np.int64, 1, left)]
            arrays += [_read(file, np.int64, recordings, left) for _ in range(2)]
            stretches, samples = int(arrays[2].sum()), int(arrays[1].sum())
            arrays += [_read(file, kind, stretches, left) for kind in (np.int64, np.float64, np.float64)]
            arrays.append(_read(file, np.int16, 3 * samples, left))
            if file.read(1):
                return None
        if arrays[0][0] != recordings or _digest(arrays) != check:
            return None
        return _signals(*arrays[1:])
    except (OSError, ValueError):
        return None


def _read(file: BufferedReader, kind: type[np.generic], count: int, most_bytes: int) -> np.ndarray:
    """ValueError where the file can't hold so many."""
    if not 0 <= count * np.dtype(kind).itemsize <= most_bytes:
        raise ValueError(count)
    array = np.empty(count, dtype=kind)
    if file.readinto(array.data.cast("B")) != array.nbytes:
        raise ValueError(count)
    return array


def _signals(count: np.ndarray, stretches: np.ndarray, first: np.ndarray, start_s: np.ndarray, step_s: np.ndarray,
             counts: np.ndarray) -> list[DeviceSignal]:
    """Views of the arrays, a recording each."""
    whole, found, at, sample = counts.reshape(-1, 3), [], 0, 0
    for samples, some in zip(count.tolist(), stretches.tolist(), strict=True):
        mine = slice(at, at + some)
        line = Timeline(first[mine], start_s[mine], step_s[mine], samples)
        found.append(DeviceSignal(whole[sample:sample + samples], line))
        at, sample = at + some, sample + samples
    return found

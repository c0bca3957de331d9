"""Recordings kept as they were read, so that a study opens without reading every table again.

A cache and nothing more: it may be emptied at any time. What lies here is found by the fingerprint of the file, of how
it was told to be read, and of the reader itself, so that nothing stale is ever taken for fresh.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from data.recipe.recipe import Recipe, recipe_to_plain
from data.recordings.model import About, LaterRecording, Recording, Remark, Stretch, WatchedColumn

MOST_BYTES = 4 * 1024**3
MOST_HEAD = 1 << 20
_MAGIC = b"plumbfall shelf 3\n"
_KINDS: dict[str, np.dtype[Any]] = {"f": np.dtype("<f8"), "i": np.dtype("<i2")}


class Shelf:
    """One folder of kept recordings, made when the first is put there."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.grown = False
        """Whether anything was put there since it was last tidied."""

    def get(self, sha256: str, recipe: Recipe, name: str, about: About,
            anew: Callable[[], np.ndarray] | None = None) -> LaterRecording | None:
        """The recording that this file gave under this recipe, now of that name; None where it isn't kept.

        With `anew` its samples are fetched when they are first asked for; `anew` reads them from the file where what
        was kept is gone or damaged by then.
        """
        path = self._path(sha256, recipe)
        said = _head(path)
        if said is None:
            return None

        def fetch() -> np.ndarray:
            samples = _samples(path, said)
            if samples is not None:
                return samples
            if anew is None:
                raise LookupError(path)
            return anew()

        try:
            recording = _recording(said, sha256, name, about, fetch)
            return recording if anew is not None else recording.fetched()
        except (ValueError, KeyError, TypeError, LookupError):  # damaged, or not as this program writes it: read anew
            return None

    def put(self, recording: Recording, recipe: Recipe) -> None:
        """Keep it, if the place allows."""
        path = self._path(recording.sha256, recipe)
        self.grown = True
        part = path.with_suffix(f".{os.getpid()}.part")
        with suppress(OSError):  # without a flush to the disk: what a crash tears is found out when it is read
            path.parent.mkdir(parents=True, exist_ok=True)
            part.write_bytes(_packed(recording))
            os.replace(part, path)

    def tidy(self) -> None:
        """Drop what was used longest ago, as far as there is more than MOST_BYTES."""
        self.grown = False
        with suppress(OSError):
            kept = sorted(((path.stat().st_mtime, path.stat().st_size, path) for path in self._folder.glob("*.kept")),
                          reverse=True)
            room = MOST_BYTES
            for _, size, path in kept:
                room -= size
                if room < 0:
                    path.unlink(missing_ok=True)

    def empty(self) -> None:
        """Drop everything. OSError where something can't be."""
        for path in (*self._folder.glob("*.kept"), *self._folder.glob("*.part")):
            path.unlink(missing_ok=True)

    def _path(self, sha256: str, recipe: Recipe) -> Path:
        return self._folder / f"{hashlib.sha256((sha256 + _told(recipe)).encode()).hexdigest()}.kept"


@lru_cache(maxsize=256)
def _told(recipe: Recipe) -> str:
    """The recipe, and who reads by it; thousands of recordings have the same."""
    return json.dumps([recipe_to_plain(recipe), reader_digest()], sort_keys=True)


@cache
def reader_digest() -> str:
    """Fingerprint of everything that reads: a changed reader finds nothing of the old one's."""
    digest = hashlib.sha256()
    for folder in ("formats", "recipe", "recordings", "timing"):
        for path in sorted((Path(__file__).parents[1] / folder).glob("*.py")):
            digest.update(path.read_bytes())
    return digest.hexdigest()


def _packed(recording: Recording) -> bytes:
    kind = "f" if recording.samples.dtype.kind == "f" else "i"
    samples = np.ascontiguousarray(recording.samples, dtype=_KINDS[kind]).tobytes()
    head = {"kind": kind, "unit": recording.unit, "rate_hz": recording.rate_hz,
            "fitted_rate_hz": recording.fitted_rate_hz, "rate_known": recording.rate_known,
            "stretches": [asdict(stretch) for stretch in recording.stretches], "clipped": recording.clipped,
            "remarks": [asdict(remark) for remark in recording.remarks], "origin_s": recording.origin_s,
            "asides": [asdict(aside) for aside in recording.asides], "group": recording.group,
            "count": len(recording), "content": hashlib.sha256(samples).hexdigest()}
    said = json.dumps(head).encode()
    return b"".join((_MAGIC, hashlib.sha256(said).hexdigest().encode(), b"\n", said, b"\n", samples))


def _head(path: Path) -> dict[str, Any] | None:
    """What is said of a recording before its samples; None for anything but an undamaged one of ours."""
    try:
        with path.open("rb") as file:
            magic, check, said = file.readline(len(_MAGIC)), file.readline(66), file.readline(MOST_HEAD)
    except OSError:
        return None
    said = said.removesuffix(b"\n")
    if magic != _MAGIC or hashlib.sha256(said).hexdigest().encode() != check.removesuffix(b"\n"):
        return None
    try:
        head = json.loads(said)
    except (ValueError, RecursionError):
        return None
    return {**head, "begins": len(_MAGIC) + len(check) + len(said) + 1} if isinstance(head, dict) else None


def _samples(path: Path, said: dict[str, Any]) -> np.ndarray | None:
    """The samples after such a head; None where they are gone, or not those that it speaks of."""
    try:
        with path.open("rb") as file:
            file.seek(said["begins"])
            body = file.read()
        if hashlib.sha256(body).hexdigest() != said["content"]:
            return None
        samples = np.frombuffer(body, dtype=_KINDS[said["kind"]]).reshape(-1, 3)
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return samples if len(samples) == said["count"] else None


def _recording(said: dict[str, Any], sha256: str, name: str, about: About,
               fetch: Callable[[], np.ndarray]) -> LaterRecording:
    return LaterRecording.of(
        said["content"], said["count"], fetch,
        name=name, unit=said["unit"], rate_hz=said["rate_hz"], fitted_rate_hz=said["fitted_rate_hz"],
        rate_known=said["rate_known"], stretches=tuple(Stretch(**stretch) for stretch in said["stretches"]),
        clipped=said["clipped"], remarks=tuple(Remark(**remark) for remark in said["remarks"]), sha256=sha256,
        about=about, origin_s=said["origin_s"], asides=tuple(WatchedColumn(**aside) for aside in said["asides"]),
        group=said["group"])

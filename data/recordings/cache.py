"""Recordings kept as they were read, so that a study opens without reading every table again.

A cache and nothing more: it may be emptied at any time. What lies here is found by the fingerprint of the file, of how
it was told to be read, and of the reader itself, so that nothing stale is ever taken for fresh.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from dataclasses import asdict
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from data.recipe.recipe import Recipe, recipe_to_plain
from data.recordings.model import About, Recording, Remark, Stretch, WatchedColumn

MOST_BYTES = 4 * 1024**3
_MAGIC = b"plumbfall shelf 2\n"
_KINDS: dict[str, np.dtype[Any]] = {"f": np.dtype("<f8"), "i": np.dtype("<i2")}


class Shelf:
    """One folder of kept recordings, made when the first is put there."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def get(self, sha256: str, recipe: Recipe, name: str, about: About) -> Recording | None:
        """The recording that this file gave under this recipe, now of that name; None where it isn't kept."""
        try:
            raw = self._path(sha256, recipe).read_bytes()
        except OSError:
            return None
        return _unpacked(raw, sha256, name, about)

    def put(self, recording: Recording, recipe: Recipe) -> None:
        """Keep it, if the place allows."""
        path = self._path(recording.sha256, recipe)
        part = path.with_suffix(f".{os.getpid()}.part")
        with suppress(OSError):  # without a flush to the disk: what a crash tears is found out when it is read
            path.parent.mkdir(parents=True, exist_ok=True)
            part.write_bytes(_packed(recording))
            os.replace(part, path)

    def tidy(self) -> None:
        """Drop what was used longest ago, as far as there is more than MOST_BYTES."""
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
        told = json.dumps([sha256, _told(recipe), _reader()], sort_keys=True)
        return self._folder / f"{hashlib.sha256(told.encode()).hexdigest()}.kept"


@lru_cache(maxsize=256)
def _told(recipe: Recipe) -> dict[str, object]:
    """The recipe as plain values; thousands of recordings have the same."""
    return recipe_to_plain(recipe)


@cache
def _reader() -> str:
    """Fingerprint of everything that reads: a changed reader finds nothing of the old one's."""
    digest = hashlib.sha256()
    for folder in ("formats", "recipe", "recordings", "timing"):
        for path in sorted((Path(__file__).parents[1] / folder).glob("*.py")):
            digest.update(path.read_bytes())
    return digest.hexdigest()


def _packed(recording: Recording) -> bytes:
    kind = "f" if recording.samples.dtype.kind == "f" else "i"
    samples = np.ascontiguousarray(recording.samples, dtype=_KINDS[kind])
    head = {"kind": kind, "unit": recording.unit, "rate_hz": recording.rate_hz,
            "fitted_rate_hz": recording.fitted_rate_hz, "rate_known": recording.rate_known,
            "stretches": [asdict(stretch) for stretch in recording.stretches], "clipped": recording.clipped,
            "remarks": [asdict(remark) for remark in recording.remarks], "origin_s": recording.origin_s,
            "asides": [asdict(aside) for aside in recording.asides], "group": recording.group}
    content = json.dumps(head).encode() + b"\n" + samples.tobytes()
    return b"".join((_MAGIC, hashlib.sha256(content).hexdigest().encode(), b"\n", content))


def _unpacked(raw: bytes, sha256: str, name: str, about: About) -> Recording | None:
    """None for anything but a whole, undamaged file of ours."""
    if not raw.startswith(_MAGIC):
        return None
    check, _, content = raw[len(_MAGIC):].partition(b"\n")
    if hashlib.sha256(content).hexdigest().encode() != check:
        return None
    try:
        return _recording(content, sha256, name, about)
    except (ValueError, KeyError, TypeError, RecursionError):  # whole, but not as this program writes it: read anew
        return None


def _recording(content: bytes, sha256: str, name: str, about: About) -> Recording:
    head, _, body = content.partition(b"\n")
    said = json.loads(head)
    return Recording(
        name=name, samples=np.frombuffer(body, dtype=_KINDS[said["kind"]]).reshape(-1, 3), unit=said["unit"],
        rate_hz=said["rate_hz"], fitted_rate_hz=said["fitted_rate_hz"], rate_known=said["rate_known"],
        stretches=tuple(Stretch(**stretch) for stretch in said["stretches"]), clipped=said["clipped"],
        remarks=tuple(Remark(**remark) for remark in said["remarks"]), sha256=sha256, about=about,
        origin_s=said["origin_s"], asides=tuple(WatchedColumn(**aside) for aside in said["asides"]),
        group=said["group"])

"""What a search that was cancelled had worked out, kept for whoever asks for the same search again.

Only counts by person are kept, by the hash of a rule. They stand under a digest of all that decides what is asked and
what it comes to: other recordings, labels, bounds, another seed or release is another search.
"""

from __future__ import annotations

import hashlib
import pickle
import sys
from contextlib import suppress
from dataclasses import fields
from io import BytesIO
from zipfile import BadZipFile

import numpy as np
from platformdirs import user_cache_path

from app.study.workers import code_digest
from data.files import write_atomically
from data.problem import Problem
from detect.tuning.space import Space
from detect.tuning.store import Store
from detect.tuning.tally import Tally

MOST_KEPT = 4
"""Searches; the oldest is let go of."""


class Unfinished:
    """One search's place in the user's cache. A cache that can't be read or written only costs time."""

    def __init__(self, tally: Tally, space: Space, request: object) -> None:
        self._folder = user_cache_path("plumbfall", appauthor=False) / "searches"
        self._people = tally.people
        self.path = self._folder / f"{digest(tally, space, request)}.npz"

    def take_up(self, store: Store) -> float:
        """What was kept, into the store; the share of the search that was done then, 0 where nothing was kept."""
        try:
            with self.path.open("rb") as file, np.load(file, allow_pickle=False) as found:
                rules, counts, share = found["rules"], found["counts"], float(found["share"])
        except (OSError, ValueError, KeyError, EOFError, TypeError, BadZipFile):
            return 0.0
        if rules.dtype != np.int64 or counts.dtype != np.int32 or counts.shape != (len(rules), self._people, 3):
            return 0.0
        store.take_up(rules, counts)
        return min(max(share, 0.0), 1.0)

    def keep(self, store: Store, share: float) -> bool:
        """Whether it could be written."""
        rules, counts = store.kept()
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            np.savez(content := BytesIO(), rules=rules, counts=counts, share=share)
            write_atomically(self.path, content.getvalue())
            kept = sorted(self._folder.glob("*.npz"), key=lambda path: path.stat().st_mtime)
            for path in kept[:-MOST_KEPT]:
                path.unlink()
        except (OSError, Problem):
            return False
        return True

    def remove(self) -> None:
        with suppress(OSError):
            self.path.unlink(missing_ok=True)


def digest(tally: Tally, space: Space, request: object) -> str:
    """Of all that a search's questions and answers depend on."""
    found = hashlib.blake2b(digest_size=16)
    for table in (tally.corpus, tally.events):
        for field in fields(table):
            value = getattr(table, field.name)
            found.update(np.ascontiguousarray(value).data if isinstance(value, np.ndarray) else repr(value).encode())
            found.update(field.name.encode())
    for numbers in (tally.person_of_event, tally.person_of_recording):
        found.update(np.ascontiguousarray(numbers).data)
    found.update(pickle.dumps(tally.lend))
    for told in (tally.people, space.start.plain(), space.front_end, space.scales, request,
                 code_digest(), sys.hash_info, sys.version_info[:2]):
        found.update(repr(told).encode() + b"\0")
    return found.hexdigest()

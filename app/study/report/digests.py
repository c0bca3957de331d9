"""SHA-256 of what a study is made from: the same for the same recordings and labels in any order."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable

from app.study.state import Item


def of(items: Iterable[Item], annotator: str | None) -> tuple[str, str]:
    """Of recordings, and of their labels by an annotator, None for everybody's."""
    every = tuple(items)
    return of_recordings(every), of_labels(every, annotator)


def of_recordings(items: Iterable[Item]) -> str:
    """Their content, and what of them is scored."""
    return _digest([[item.name, item.sha256, *_kept(item)] for item in items])


def of_labels(items: Iterable[Item], annotator: str | None) -> str:
    return _digest([[item.name, [one.plain() for one in item.labels if annotator in (None, one.annotator)]]
                    for item in items])


def _kept(item: Item) -> list[float]:
    """What of it was scored, where that is not all."""
    return [item.trim.start_s, item.trim.end_s] if item.trim.total_s else []


def _digest(rows: list) -> str:
    """SHA-256 over the rows in order of name, as compact JSON."""
    text = json.dumps(sorted(rows, key=lambda row: row[0]), ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()

"""A recording whose samples are fetched when they are first asked for.

Most of what is asked of thousands of recordings, how long they are, at which rate, what was noticed, needs none.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any

import numpy as np

from data.recordings.model import Recording


class LaterRecording(Recording):
    """A recording in all else. One that is made of it by `replace`, or sent to another process, has its samples.

    `content`: SHA-256 of the samples; empty for one that is made of it, whose samples may be others.
    """

    content = ""
    _count: int
    _fetch: Callable[[], np.ndarray]

    @classmethod
    def of(cls, content: str, count: int, fetch: Callable[[], np.ndarray], **known: Any) -> LaterRecording:
        """`count`: of samples; `known`: all fields but them."""
        one = cls(samples=np.empty((0, 3)), **known)
        del one.__dict__["samples"]
        one.__dict__.update(content=content, _count=count, _fetch=fetch)
        return one

    def __getattr__(self, name: str) -> Any:
        # Python asks here only for what isn't there.
        if name != "samples" or "_fetch" not in self.__dict__:
            raise AttributeError(name)
        return self.__dict__.setdefault("samples", self._fetch())

    def fetched(self) -> LaterRecording:
        """The same, with its samples."""
        assert self.samples is not None
        return self

    def __len__(self) -> int:
        return len(self.samples) if "samples" in self.__dict__ else self._count

    def __reduce__(self) -> tuple[Any, ...]:
        return Recording, tuple(getattr(self, one.name) for one in fields(Recording))

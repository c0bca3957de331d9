"""What nobody expected goes to a log file, with all its particulars, and is said in one sentence on the screen."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from types import TracebackType

from platformdirs import user_log_path

MOST_BYTES = 1_000_000
"""A log that has grown beyond this begins anew."""


def log_path() -> Path:
    return user_log_path("plumbfall", appauthor=False) / "faults.log"


class FaultLog:
    """Writes faults to one file and tells whoever shows them."""

    def __init__(self, path: Path, tell: Callable[[str], None]) -> None:
        self.path, self._tell = path, tell

    def install(self) -> None:
        """Take over what Python does with an exception that nobody caught."""
        sys.excepthook = self._hook

    def write(self, fault: BaseException) -> None:
        """Log a fault that nobody expected and say so, and where."""
        self._tell("Something went wrong that should not have. Your study is still open; save it under a new name "
                   f"to be safe. {self.record(fault)}")

    def record(self, fault: BaseException) -> str:
        """Log what is told elsewhere. A sentence that says where; where even that fails it says so."""
        text = "".join(traceback.format_exception(fault))
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            grown = self.path.exists() and self.path.stat().st_size > MOST_BYTES
            with self.path.open("w" if grown else "a", encoding="utf-8") as log:
                log.write(f"{datetime.now().isoformat(timespec='seconds')}\n{text}\n")
        except OSError as error:
            return f"Its particulars could not be written to {self.path} ({error.strerror})."
        return f"Its particulars are in {self.path}; please send them along when you report it."

    def _hook(self, kind: type[BaseException], fault: BaseException, trace: TracebackType | None) -> None:
        if issubclass(kind, KeyboardInterrupt):
            sys.__excepthook__(kind, fault, trace)
            return
        self.write(fault)

"""Where things lie in the checkout, and how the set-up says that it can't go on."""

from __future__ import annotations

import os
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
VENV_PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
LOCK = ROOT / "packaging" / "lock.txt"
LOCK_TEST = ROOT / "packaging" / "lock-test.txt"
LOCK_BUNDLE = ROOT / "packaging" / "lock-bundle.txt"


class CannotSetUp(Exception):
    """Something that this machine lacks, in words that say what to do about it."""

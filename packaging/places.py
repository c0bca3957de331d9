"""Where things lie in the checkout."""

import os
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
VENV_PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
LOCK = ROOT / "packaging" / "lock.txt"
LOCK_TEST = ROOT / "packaging" / "lock-test.txt"

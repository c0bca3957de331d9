"""Plumbfall from a checkout: run, test and measure it. Needs Python 3.11 or newer and nothing else.

    python3 packaging/dev.py run [PATH…]        the window; without a display, the demo scored in the terminal
    python3 packaging/dev.py test [--slow] […]  lint, types, import rules and tests; the rest goes to pytest
    python3 packaging/dev.py bench [NAME…]      the benchmarks, or those named
    python3 packaging/dev.py shots [FOLDER]     screenshots of the window
    python3 packaging/dev.py soak […]           the long comparison of the rule's implementations
    python3 packaging/dev.py bundle             a frozen bundle for machines without Python, into dist
    python3 packaging/dev.py lock               make the lock files anew from pyproject.toml

The first start makes `.venv` and fills it from the lock; later starts go straight on.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

OLDEST, NEWEST = 11, 14  # of Python 3: what the locked packages serve


def main(words: list[str]) -> int:
    if not OLDEST <= sys.version_info.minor <= NEWEST or sys.version_info.major != 3:
        return _with_another_python()
    import subcommands
    from places import CannotSetUp

    try:
        if words and words[0] in subcommands.ALL:
            return subcommands.ALL[words[0]](words[1:])
        print(__doc__)
    except (CannotSetUp, OSError) as reason:
        print(reason, file=sys.stderr)
        return 2
    return 0 if words and words[0] in ("-h", "--help", "help") else 2


def _with_another_python() -> int:
    """Start again with a Python that the locked packages serve, where one is installed."""
    for minor in range(NEWEST, OLDEST - 1, -1):
        python = shutil.which(f"python3.{minor}")
        # A version manager may have a stand-in of that name that only says what to install.
        if python and subprocess.run([python, "-c", ""], stderr=subprocess.DEVNULL).returncode == 0:
            os.execv(python, [python, *sys.argv])
    found = ".".join(map(str, sys.version_info[:3]))
    print(f"Plumbfall needs Python 3.{OLDEST} to 3.{NEWEST}; this is Python {found}. Install one beside it.",
          file=sys.stderr)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

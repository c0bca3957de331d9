"""`.venv`: made once, filled from the lock files, then trusted by its stamp: starting again is instant."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import system
from places import LOCK, LOCK_TEST, ROOT, VENV, VENV_PYTHON, CannotSetUp

# `plumbfall` as README writes it. A shebang can't name an interpreter whose path has a space, so a shell looks it up.
_COMMAND = (("plumbfall.cmd", '@"%~dp0python.exe" -P -m app %*\r\n') if os.name == "nt" else
            ("plumbfall", '#!/bin/sh\nexec "$(dirname "$(readlink -f "$0")")/python" -P -m app "$@"\n'))

# Each holds all that the ones before it hold.
STAGES = ("terminal", "window", "tests")


def prepare(stage: str) -> None:
    """Provide what a stage needs; costs a look at one stamp where an earlier start has done so.

    Raises CannotSetUp where the machine lacks something that only its owner can provide.
    """
    stamps = [VENV / f"ready-{later}" for later in STAGES[STAGES.index(stage):]]
    if any(_text(stamp) == _wanted() for stamp in stamps):
        return
    packages = system.missing_for_python()
    if stage != "terminal":
        packages += system.missing_for_window()
    system.provide(packages, system.missing_for_tests() if stage == "tests" else [])
    if not _is_whole():
        _make()
    _install([LOCK, LOCK_TEST] if stage == "tests" else [LOCK])
    _lead_to_checkout()
    _write_command()
    stamps[0].write_text(_wanted(), encoding="utf-8")


def _wanted() -> str:
    """What a stamp must say to be trusted: these locks, this folder, this Python behind `.venv`."""
    places = [os.fsencode(ROOT), os.fsencode(VENV_PYTHON.resolve())]
    parts = [LOCK.read_bytes(), LOCK_TEST.read_bytes(), repr(_COMMAND).encode(), *places]
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def _text(stamp: Path) -> str:
    try:
        return stamp.read_text(encoding="utf-8")
    except FileNotFoundError:
        return ""


def site_packages() -> Path:
    """Where `.venv` keeps its packages."""
    question = "import sysconfig; print(sysconfig.get_path('purelib'))"
    answer = subprocess.run([VENV_PYTHON, "-c", question], capture_output=True, text=True, check=True)
    return Path(answer.stdout.strip())


def _is_whole() -> bool:
    """False where `.venv` was never made, was half made, or has lost its Python to an upgrade."""
    if not VENV_PYTHON.exists():
        return False
    return subprocess.run([VENV_PYTHON, "-c", "import pip"], capture_output=True).returncode == 0


def _make() -> None:
    print(f"Making {VENV}", flush=True)
    made = subprocess.run([sys.executable, "-m", "venv", "--clear", VENV], capture_output=True, text=True)
    if made.returncode:
        raise CannotSetUp(f"Python could not make {VENV}:\n{(made.stdout + made.stderr).strip()}")


def _install(locks: list[Path]) -> None:
    print("Installing the locked packages (this once; a few minutes on a slow line)", flush=True)
    command = [str(VENV_PYTHON), "-m", "pip", "--disable-pip-version-check", "install", "--quiet"]
    command += ["--require-hashes", "--only-binary", ":all:"]
    for lock in locks:
        command += ["--requirement", str(lock)]
    if subprocess.run(command).returncode:
        raise CannotSetUp("pip could not install the locked packages; its reasons stand above. Without a "
                          "network, point pip at a folder of wheels (PIP_FIND_LINKS) and start again.")


def _lead_to_checkout() -> None:
    """Let `.venv` find app, data and detect from any working folder: a .pth file names the checkout."""
    encoding = "utf-8" if os.name == "posix" or sys.version_info >= (3, 13) else "locale"
    (site_packages() / "plumbfall-checkout.pth").write_text(f"{ROOT}\n", encoding=encoding)


def _write_command() -> None:
    """`plumbfall` beside `.venv`'s Python, so that the commands can be typed as README writes them."""
    name, text = _COMMAND
    path = VENV_PYTHON.with_name(name)
    path.write_text(text, encoding="utf-8", newline="")
    path.chmod(0o755)

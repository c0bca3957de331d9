"""What made a result: the release of the program and of the packages that compute."""

from __future__ import annotations

import platform
import tomllib
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

COMPUTING = ("numpy", "scipy", "pandas", "Jinja2")


def program_version() -> str:
    """The installed one's, or the checkout's."""
    try:
        return version("plumbfall")
    except PackageNotFoundError:
        project = Path(__file__).resolve().parents[3] / "pyproject.toml"
        return f"{tomllib.loads(project.read_text('utf-8'))['project']['version']}, from a checkout"


def versions() -> tuple[tuple[str, str], ...]:
    """Name and release."""
    return (("Plumbfall", program_version()), ("Python", platform.python_version()),
            *((name, version(name)) for name in COMPUTING))

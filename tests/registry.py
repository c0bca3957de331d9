"""Real recordings that published packages carry: fetched once by pip into pytest's own cache, held to their hashes."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

PACKAGES = {
    "aeon": ("1.6.0", "d05227086706f80111ac5fee8de4d5d3115bb3bcfd1c786c8629393055816409"),
    "seglearn": ("1.2.5", "ec6b952c85c9627050102854b372d85951563d3b990df677d7c55547e87413dd"),
}
_PATIENCE_S = 300


def package_folder(name: str, config: pytest.Config) -> Path:
    """Where the package lies unpacked, without what it depends on. Skips where no registry can be reached; fails
    instead where PLUMBFALL_CI says that it must be."""
    release, digest = PACKAGES[name]
    cache = getattr(config, "cache", None)  # none where pytest runs without its cache
    folder = cache.mkdir("registry") if cache is not None else Path(tempfile.gettempdir()) / "plumbfall-registry"
    kept = folder / f"{name}-{release}"
    if not kept.is_dir():
        _fetch(f"{name}=={release} --hash=sha256:{digest}", kept)
    return kept / name


def _fetch(pin: str, kept: Path) -> None:
    part = kept.with_name(f"{kept.name}.{os.getpid()}.part")
    part.mkdir(parents=True)
    (part / "pin.txt").write_text(pin + "\n")
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", "install", "--quiet", "--no-deps"]
    command += ["--only-binary", ":all:", "--require-hashes", "--target", str(part), "-r", str(part / "pin.txt")]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=_PATIENCE_S)
        said = "" if done.returncode == 0 else done.stderr.strip()[-400:] or "pip failed"
    except subprocess.TimeoutExpired:
        said = f"no answer in {_PATIENCE_S} s"
    if said:
        reason = f"the registry's {pin.partition(' ')[0]} could not be had: {said}"
        if os.environ.get("PLUMBFALL_CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    try:
        part.rename(kept)
    except OSError:  # another run was quicker
        assert kept.is_dir()

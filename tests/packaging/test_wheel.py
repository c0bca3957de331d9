"""The wheel: built from the project's own files, put in a folder by itself, and run from there."""

import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.app.scheduler_here import scheduler

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("app", "data", "detect")


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with nothing in it but the installed wheel. Building fetches the pinned setuptools."""
    folder = tmp_path_factory.mktemp("wheel")
    source = folder / "source"
    source.mkdir()
    for room in ROOMS:
        shutil.copytree(ROOT / room, source / room, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, source)
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check"]
    built = subprocess.run([*pip, "wheel", "--quiet", "--no-deps", "--wheel-dir", folder, source],
                           capture_output=True, text=True)
    assert built.returncode == 0, built.stderr
    wheel, = folder.glob("plumbfall-*.whl")
    put = subprocess.run([*pip, "install", "--quiet", "--no-deps", "--target", folder / "installed", wheel],
                         capture_output=True, text=True)
    assert put.returncode == 0, put.stderr
    return folder


def start(installed: Path, *words: str) -> "subprocess.CompletedProcess[str]":
    """The installed entry point on some words, far from the checkout."""
    script = installed / "installed" / "bin" / "plumbfall"
    environment = {**os.environ, "PYTHONPATH": str(installed / "installed")}
    return subprocess.run([sys.executable, "-P", script, *words], cwd=installed, env=environment,
                          capture_output=True, text=True)


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="pip lays out a folder otherwise on Windows")
def test_the_wheel_writes_and_scores_the_demo_by_itself(installed: Path) -> None:
    written = start(installed, "demo", "the demo")
    assert written.returncode == 0, written.stderr
    study, = (installed / "the demo").glob("*.json")
    scored = start(installed, "score", str(study))
    assert scored.returncode == 0, scored.stderr
    assert re.search(r"\d+ caught", scored.stdout)


@pytest.mark.slow
def test_the_wheel_holds_every_file_of_the_rooms_and_nothing_of_the_tests(installed: Path) -> None:
    wheel, = installed.glob("plumbfall-*.whl")
    held = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    source = installed / "source"
    lying = {path.relative_to(source).as_posix() for room in ROOMS
             for path in (source / room).rglob("*") if path.is_file()}
    assert held == lying
    assert any(name.endswith(".dist-info/licenses/LICENSE") for name in zipfile.ZipFile(wheel).namelist())


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="pip lays out a folder otherwise on Windows")
def test_the_wheels_extra_sends_a_search_to_workers_that_have_the_wheel(installed: Path, tmp_path: Path) -> None:
    wheel, = installed.glob("plumbfall-*.whl")
    held = zipfile.ZipFile(wheel)
    metadata, = (name for name in held.namelist() if name.endswith(".dist-info/METADATA"))
    assert re.search(r'^Requires-Dist: distributed==[\d.]+; extra == "cluster"$', held.read(metadata).decode(), re.M)
    assert start(installed, "demo", "for the workers").returncode == 0
    study, = (installed / "for the workers").glob("*.json")
    words = ("tune", str(study), "--keys", "impact_g", "tilt_deg", "--json")
    with scheduler(tmp_path, 2, installed / "installed") as here:
        there = start(installed, *words, "--scheduler", here.address)
    alone = start(installed, *words, "--workers", "1")
    assert (there.returncode, there.stderr) == (0, "")
    assert json.loads(there.stdout)["tried"] > 100
    assert there.stdout == alone.stdout

"""The frozen bundle: its recipe, and what was built by it, run without any Python of the machine's."""

import os
import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FROZEN = ROOT / "packaging" / "frozen"
ARCHIVES = sorted((ROOT / "dist").glob("plumbfall-*-linux-*.tar.xz"))
MOST_MEGABYTES = 150


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The newest archive in dist, unpacked; `dev.py bundle` builds it in some minutes, so it is not built here."""
    if not ARCHIVES:
        reason = "no bundle in dist: python3 packaging/dev.py bundle builds it"
        if os.environ.get("PLUMBFALL_BUNDLED"):
            pytest.fail(reason)
        pytest.skip(reason)
    assert ARCHIVES[-1].stat().st_size < MOST_MEGABYTES * 1e6
    folder = tmp_path_factory.mktemp("bundle")
    with tarfile.open(ARCHIVES[-1]) as archive:
        archive.extractall(folder, filter="data")
    return folder / "plumbfall"


def bare(unpacked: Path, home: Path, *words: str, **more: str) -> "subprocess.CompletedProcess[str]":
    """With nothing of this environment: no Python on the path, no variable of ours but `more`."""
    environment = {"PATH": str(home / "nothing here"), "HOME": str(home), "LANG": "C.UTF-8",
                   **{name: os.environ[name] for name in ("DISPLAY", "XAUTHORITY") if name in os.environ}, **more}
    return subprocess.run([unpacked / "plumbfall", *words], cwd=home, env=environment, capture_output=True, text=True)


@pytest.mark.slow
def test_the_bundle_works_without_python(unpacked: Path, tmp_path: Path) -> None:
    assert bare(unpacked, tmp_path, "demo", "demo").returncode == 0
    study, = (tmp_path / "demo").glob("*.json")
    scored = bare(unpacked, tmp_path, "score", str(study))
    assert re.search(r"\d+ caught", scored.stdout), scored.stderr
    words = ("tune", str(study), "--keys", "impact_g", "--folds", "2", "--json")
    two, one = (bare(unpacked, tmp_path, *words, "--workers", number) for number in ("2", "1"))
    assert two.returncode == 0, two.stderr
    assert two.stdout == one.stdout, "workers are the same file started again"
    for command in (("export", str(study), "--to", "firmware"), ("report", str(study), "--to", "report.html")):
        done = bare(unpacked, tmp_path, *command)
        assert done.returncode == 0, done.stderr
    assert (tmp_path / "firmware" / "plumbfall_detector.c").read_bytes() == (
        ROOT / "detect" / "firmware" / "c" / "plumbfall_detector.c").read_bytes()


@pytest.mark.slow
def test_a_library_that_the_bundle_s_window_lacks_is_named_with_what_to_install(unpacked: Path, tmp_path: Path) -> None:
    (tmp_path / "libEGL.so.1").touch()  # found before the system's, and none
    lacking = bare(unpacked, tmp_path, QT_QPA_PLATFORM="offscreen", LD_LIBRARY_PATH=str(tmp_path))
    assert lacking.returncode == 2
    assert "libEGL.so.1" in lacking.stderr
    assert "install libgl1 and libegl1; the commands work without" in lacking.stderr
    assert bare(unpacked, tmp_path, "help", "rule", LD_LIBRARY_PATH=str(tmp_path)).returncode == 0


@pytest.mark.slow
def test_the_bundle_holds_the_licences_of_what_is_in_it(unpacked: Path) -> None:
    licences = unpacked / "licences"
    ours = {path.relative_to(ROOT / "app" / "licences") for path in (ROOT / "app" / "licences").rglob("*.*")}
    assert {path for path in ours if not (licences / path).is_file()} == set()
    assert "bootloader" in (licences / "texts" / "pyinstaller.txt").read_text(errors="replace").casefold()
    assert "Python Software Foundation" in (licences / "texts" / "Python.txt").read_text(errors="replace")
    assert (unpacked / "LICENSE").read_bytes() == (ROOT / "LICENSE").read_bytes()


@pytest.mark.skipif(sys.platform != "linux", reason="desktop entries are Linux's")
def test_the_desktop_entry_is_installed_for_one_user_and_removed_again(tmp_path: Path) -> None:
    folder, home = tmp_path / "a folder" / "plumbfall", tmp_path / "home"
    (folder / "share").mkdir(parents=True)
    for name in ("plumbfall.desktop", "plumbfall.xml"):
        shutil.copy(FROZEN / name, folder / "share")
    shutil.copy(ROOT / "app" / "ui" / "theme" / "icons" / "plumbfall.svg", folder / "share")
    shutil.copy(FROZEN / "install.sh", folder)
    environment = {"PATH": os.environ["PATH"], "HOME": str(home)}
    subprocess.run([folder / "install.sh"], env=environment, check=True)
    entry = (home / ".local/share/applications/plumbfall.desktop").read_text()
    assert f'Exec="{folder}/plumbfall" %F' in entry
    assert (home / ".local/share/icons/hicolor/scalable/apps/plumbfall.svg").is_file()
    assert (home / ".local/bin/plumbfall").is_symlink()
    subprocess.run([folder / "install.sh", "--remove"], env=environment, check=True)
    left = [path for path in home.rglob("*") if "plumbfall" in path.name]
    assert left == []


def test_a_study_begins_as_its_file_type_says() -> None:
    match = ElementTree.parse(FROZEN / "plumbfall.xml").find(".//{*}match")
    assert match is not None
    start, _, end = match.attrib["offset"].partition(":")
    first = next((ROOT / "tests" / "compat" / "files").glob("study.json")).read_bytes()
    at = first.find(match.attrib["value"].encode())
    assert int(start) <= at <= int(end)


def test_the_freezer_is_pinned_and_no_dependency_of_the_program() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pin, = project["optional-dependencies"]["bundle"]
    lock = (ROOT / "packaging" / "lock-bundle.txt").read_text(encoding="utf-8")
    assert re.search(rf"^{re.escape(pin)} ", lock, re.MULTILINE)
    assert pin.split("==")[0] not in (ROOT / "packaging" / "lock.txt").read_text(encoding="utf-8")

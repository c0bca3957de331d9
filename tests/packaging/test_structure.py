"""What the checkout promises of itself: its rooms, its pins, its silence about the machine it was made on."""

import ast
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGING = ROOT / "packaging"


def tracked() -> list[Path]:
    """The files of the checkout, without what tools leave behind; git isn't asked, since a copy may have none."""
    left_behind = {"__pycache__", "build", "dist"}
    return [path for top in ROOT.iterdir() if not top.name.startswith(".") or top.name in (".ci", ".gitignore")
            for path in ([top] if top.is_file() else sorted(top.rglob("*")))
            if path.is_file() and not any(p in left_behind or p.endswith(".egg-info") for p in path.parts)]


def locked(name: str) -> dict[str, str]:
    """Release by normalised package name."""
    pins = re.findall(r"^([\w.-]+)==(\S+)", (PACKAGING / name).read_text(encoding="utf-8"), re.MULTILINE)
    return {normal(package): release for package, release in pins}


def normal(package: str) -> str:
    return re.sub(r"[-_.]+", "-", package).lower()


def test_the_visible_top_level_is_the_rooms_and_four_files() -> None:
    visible = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert visible - {"build", "dist", "plumbfall.egg-info"} == {
        "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "app", "data", "detect", "packaging", "tests"}


def test_detect_and_data_import_with_qt_absent() -> None:
    """Every module of them, in an interpreter where asking for Qt, for plots or for the window is an error."""
    modules = [".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
               for room in ("detect", "data") for path in sorted((ROOT / room).rglob("*.py"))]
    code = """
import importlib, sys
class Absent:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in ("PySide6", "shiboken6", "app"):
            raise ModuleNotFoundError(name)
sys.meta_path.insert(0, Absent())
for name in sys.argv[1:]:
    importlib.import_module(name)
"""
    assert len(modules) > 10
    done = subprocess.run([sys.executable, "-c", code, *modules], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_what_is_random_comes_from_numpys_generators_alone() -> None:
    """NumPy reference, numpy.random.Generator; RandomState and the functions beside it are legacy there."""
    documented = {"default_rng", "Generator", "SeedSequence", "BitGenerator", "PCG64"}
    others = {"random", "secrets"}
    for path in (path for room in ("app", "data", "detect") for path in sorted((ROOT / room).rglob("*.py"))):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
                if node.module == "numpy.random":
                    assert {alias.name for alias in node.names} <= documented, path
            assert others.isdisjoint(names), path
            if isinstance(node, ast.Attribute) and ast.unparse(node.value) in ("np.random", "numpy.random"):
                assert node.attr in documented, f"{path}:{node.lineno}"


def test_the_pins_of_the_project_are_those_of_the_locks() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for lock, pins in (("lock.txt", project["dependencies"]),
                       ("lock-test.txt", project["optional-dependencies"]["test"])):
        held = locked(lock)
        for pin in pins:
            package, release = pin.split("==")
            assert held[normal(package)] == release


def test_the_locks_hold_each_package_once_and_a_hash_for_every_kind_of_machine() -> None:
    runtime, extra = locked("lock.txt"), locked("lock-test.txt")
    assert not runtime.keys() & extra.keys()
    text = (PACKAGING / "lock.txt").read_text(encoding="utf-8")
    hashes = {normal(entry.split("==")[0]): entry.count("--hash=sha256:")
              for entry in re.split(r"\n(?=\w)", text) if "==" in entry}
    assert set(hashes) == set(runtime)
    assert all(hashes.values())
    # A wheel for each Python on each system where one is compiled; one for each system where Qt's bridge is.
    assert all(hashes[package] >= 20 for package in ("numpy", "pandas", "scipy"))
    assert hashes["pyside6-essentials"] >= 5


@pytest.mark.parametrize("name", ["lock.txt", "lock-test.txt"])
def test_a_lock_says_what_and_not_whence(name: str) -> None:
    text = (PACKAGING / name).read_text(encoding="utf-8")
    assert not re.search(r"https?:|file:|@ |--(?:extra-)?index|--find-links", text)


def test_the_page_of_licences_names_every_package_that_runs_and_its_text() -> None:
    folder = ROOT / "app" / "licences"
    rows = re.findall(r"^\| ([\w-]+) \| ([\d.]+) \|.*\| ([^|]+) \|$",
                      (folder / "third-party.md").read_text(encoding="utf-8"), re.MULTILINE)
    assert {normal(package): release for package, release, _ in rows} == locked("lock.txt")
    texts = {text for _, _, cell in rows for text in cell.split(", ")}
    assert all((folder / text).stat().st_size > 500 for text in texts)
    assert {path.relative_to(folder).as_posix() for path in folder.rglob("*.txt")} == texts | {"Plumbfall.txt"}
    assert (folder / "Plumbfall.txt").read_bytes() == (ROOT / "LICENSE").read_bytes()


def test_no_file_names_the_machine_it_was_made_on() -> None:
    # Written in parts, so that this file doesn't name them either.
    forbidden = re.compile("|".join([
        "/" + r"work/", "/" + r"root/", "/" + r"home/\w", "/" + r"opt/py", r"\.\./" + "shared",
        "py" + r"pi\.org", "python" + r"hosted", r"deb\." + "debian",
    ]))
    found = []
    for path in tracked():
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        found += [f"{path.relative_to(ROOT)}: {match[0]}" for match in forbidden.finditer(text)]
    assert not found


def test_no_source_file_is_too_long_to_read() -> None:
    long = {path.relative_to(ROOT).as_posix(): count for room in ("app", "data", "detect", "packaging")
            for path in sorted((ROOT / room).rglob("*.py"))
            if (count := len(path.read_text(encoding="utf-8").splitlines())) > 500}
    assert not long


def test_background_work_is_started_by_controllers_alone() -> None:
    """So that every job is in the register: closed with the window, its failures logged and told."""
    own_threads = {"QThread", "QThreadPool", "QRunnable", "Thread", "Job", "Jobs"}
    made = [f"{path.relative_to(ROOT).as_posix()}:{node.lineno}" for path in sorted((ROOT / "app" / "ui").rglob("*.py"))
            if path.name not in ("jobs.py", "controller.py") and path.parent.name != "device"
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Call) and ast.unparse(node.func).rpartition(".")[2] in own_threads]
    assert not made


def test_every_module_of_the_rooms_says_what_it_is_for() -> None:
    silent = [path.relative_to(ROOT).as_posix() for room in ("app", "data", "detect", "packaging")
              for path in sorted((ROOT / room).rglob("*.py"))
              if (text := path.read_text(encoding="utf-8").lstrip()) and not text.startswith(('"""', '#!', 'r"""'))]
    assert not silent


def test_dev_says_what_it_can_do_from_any_folder(tmp_path: Path) -> None:
    elsewhere = tmp_path / "a folder with spaces"
    elsewhere.mkdir()
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    told = subprocess.run([sys.executable, PACKAGING / "dev.py", "--help"], cwd=elsewhere, env=environment,
                          capture_output=True, text=True)
    assert told.returncode == 0
    assert all(f"dev.py {word}" in told.stdout for word in ("run", "test", "bench", "shots", "soak", "lock"))
    unknown = subprocess.run([sys.executable, PACKAGING / "dev.py", "dance"], cwd=elsewhere, env=environment,
                             capture_output=True, text=True)
    assert unknown.returncode == 2
    assert list(elsewhere.iterdir()) == []


def test_the_wheel_takes_every_kind_of_file_that_lies_in_the_rooms() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    taken = {pattern.removeprefix("*") for pattern in project["tool"]["setuptools"]["package-data"]["*"]}
    lying = {path.suffix for path in tracked() if path.relative_to(ROOT).parts[0] in ("app", "data", "detect")}
    assert lying <= taken | {".py"}

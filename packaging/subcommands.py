"""What `dev.py` does, a function a subcommand: each takes the words after it and returns an exit code."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from display import has_display, private_display
from environment import prepare, site_packages
from halves import run_halves
from places import ROOT, VENV_PYTHON, CannotSetUp

# -P: the working folder is the user's own; a file of theirs named like a module must not be imported.
_PYTHON = [str(VENV_PYTHON), "-P"]
_SLOW_TOO = ["-m", ""]  # no selection, in place of pyproject's


def run(words: list[str]) -> int:
    """The program on what is named; on nothing, the window with the demo or, without a display, its score."""
    if has_display():
        prepare("window")
        return _become([*_PYTHON, "-m", "app", *words])
    prepare("terminal")
    return _become([*_PYTHON, "-m", "app", *words]) if words else _score_demo()


def _score_demo() -> int:
    print("This machine has no display, so the demo study is scored in the terminal. For the window, start\n"
          "this on a desktop, or over ssh -X, or with DISPLAY naming an X server that answers.\n", flush=True)
    study = _demo_study()
    return _become([*_PYTHON, "-m", "app", "score", str(study)])


def _demo_study() -> Path:
    """The demo's study among the user's cached files; written again where the code that makes it has changed."""
    code = hashlib.sha256(b"".join(path.read_bytes() for path in sorted((ROOT / "data").rglob("*.py"))))
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    folder = cache / "plumbfall" / f"demo-{code.hexdigest()[:12]}"
    written = folder / "written.json"
    if not written.exists():
        command = [*_PYTHON, "-m", "app", "demo", str(folder), "--json"]
        done = subprocess.run(command, stdout=subprocess.PIPE, text=True)
        if done.returncode:
            raise CannotSetUp("The demo study could not be written; the reason stands above.")
        written.write_text(done.stdout, encoding="utf-8")  # last, as a sign that the whole demo is there
    return Path(json.loads(written.read_text(encoding="utf-8"))["study"])


def _become(command: list[str]) -> int:
    """Hand this process over to the command, where the system can; its exit code where it can't."""
    if os.name == "posix":
        sys.stdout.flush()
        os.execv(command[0], command)
    return subprocess.run(command).returncode


def test(words: list[str]) -> int:
    """Lint, types, import rules, then pytest on a display of its own; 0 only where all of them pass."""
    prepare("tests")
    tools = VENV_PYTHON.parent
    checks = {
        "ruff": [str(tools / "ruff"), "check", "."],
        "mypy": [*_PYTHON, "-m", "mypy"],
        "import-linter": [str(tools / "lint-imports")],
    }
    # pytest comes last: its closing line, with the count of tests, is the last one printed.
    failed = [name for name, command in checks.items() if subprocess.run(command, cwd=ROOT).returncode]
    if failed:
        print(f"Failed before the tests: {', '.join(failed)}", flush=True)
    chosen = [word for word in words if word != "--slow"]
    command = [*_PYTHON, "-m", "pytest", *chosen, *(_SLOW_TOO if "--slow" in words else [])]
    with private_display() as environment, private_display() as beside:
        if chosen:
            code = subprocess.run(command, cwd=ROOT, env=environment).returncode
        else:
            code = run_halves(command, ROOT, environment, beside)
    return code or (1 if failed else 0)


def bench(words: list[str]) -> int:
    """Every tests/bench/bench_*.py, or those named; one process each, so that memory is its own."""
    prepare("tests")
    names = [path.stem for path in sorted((ROOT / "tests" / "bench").glob("bench_*.py"))]
    unknown = [word for word in words if f"bench_{word}" not in names]
    if unknown:
        there = ", ".join(name.removeprefix("bench_") for name in names)
        raise CannotSetUp(f"Benchmark {unknown[0]!r} does not exist. The benchmarks are: {there}.")
    codes = []
    with private_display() as environment:
        for name in [f"bench_{word}" for word in words] or names:
            code = f"import tests.bench.{name} as bench; bench.main()"
            codes.append(subprocess.run([*_PYTHON, "-c", code], cwd=ROOT, env=environment).returncode)
    return max(codes, default=0)


def shots(words: list[str]) -> int:
    """Screenshots into the folder named, or into a new one outside the checkout."""
    prepare("tests")
    folder = Path(words[0]).resolve() if words else Path(tempfile.mkdtemp(prefix="plumbfall-shots-"))
    folder.mkdir(parents=True, exist_ok=True)
    with private_display() as environment:
        done = subprocess.run([*_PYTHON, "-m", "tests.app.shots", str(folder)], cwd=ROOT, env=environment)
    print(f"Screenshots are in {folder}")
    return done.returncode


def soak(words: list[str]) -> int:
    """The long comparison; its own options are the words, as `--help` says."""
    prepare("tests")
    return _become([*_PYTHON, "-m", "tests.bench.soak", *words])


def bundle(words: list[str]) -> int:
    """A frozen bundle of this system's kind; for whoever hands Plumbfall to people without Python."""
    import bundle as recipe

    print(recipe.build())
    return 0


def lock(words: list[str]) -> int:
    """The lock files anew, and the licences of what they hold; for whoever changes a dependency."""
    from licences import write_licences
    from lock import write_locks

    prepare("terminal")
    try:
        write_locks()
    except LookupError as reason:
        raise CannotSetUp(f"pip could not resolve the pins of pyproject.toml:\n{reason}") from reason
    prepare("terminal")
    write_licences(site_packages())
    print("Licence texts are gathered; app/licences/third-party.md, which names them, is written by hand.")
    return 0


ALL: dict[str, Callable[[list[str]], int]] = {
    "run": run, "test": test, "bench": bench, "shots": shots, "soak": soak, "bundle": bundle, "lock": lock,
}

"""Setting up: what is said where something lacks, and the demo scored where there is no display."""

import importlib
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

PACKAGING = Path(__file__).resolve().parents[2] / "packaging"


@pytest.fixture
def module(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> ModuleType:
    """The module of packaging/ that the test names, found as dev.py finds it."""
    monkeypatch.syspath_prepend(str(PACKAGING))
    return importlib.import_module(request.param)


@pytest.mark.skipif(not shutil.which("Xvfb"), reason="Xvfb is not installed (Debian package xvfb)")
@pytest.mark.parametrize("module", ["display"], indirect=True)
def test_a_private_display_answers_until_it_is_left(module: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    with module.private_display() as environment:
        monkeypatch.delenv("QT_QPA_PLATFORM", raising=False)
        monkeypatch.setenv("DISPLAY", environment["DISPLAY"])
        assert module.has_display()
    assert not module.has_display()


@pytest.mark.parametrize("named", ["", "nonsense", ":987", "localhost:987"])
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a display is asked for on Linux only")
@pytest.mark.parametrize("module", ["display"], indirect=True)
def test_a_display_that_does_not_answer_is_none(
        module: ModuleType, named: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("QT_QPA_PLATFORM", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("DISPLAY", named)
    assert not module.has_display()


@pytest.mark.skipif(os.name != "posix", reason="apt-get and root are asked for on Linux only")
@pytest.mark.parametrize("module", ["system"], indirect=True)
def test_who_may_not_install_is_told_the_one_line(module: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module.shutil, "which", lambda name: f"/bin/{name}")
    monkeypatch.setattr(module.os, "geteuid", lambda: 1000)
    with pytest.raises(module.CannotSetUp) as told:
        module.provide(["libegl1"], ["xvfb"])
    lines = [line for line in str(told.value).splitlines() if "sudo" in line]
    assert len(lines) == 1
    assert lines[0].endswith("apt-get install libegl1 xvfb")


@pytest.mark.parametrize("module", ["system"], indirect=True)
def test_without_apt_get_the_libraries_are_named_and_what_is_optional_stops_nobody(
        module: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(module.shutil, "which", lambda name: None)
    with pytest.raises(module.CannotSetUp, match=re.escape("libEGL.so.1")):
        module.provide(["libegl1"], [])
    module.provide([], ["xvfb"])
    assert "without xvfb" in capsys.readouterr().out


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="libraries are asked for on Linux only")
@pytest.mark.parametrize("module", ["system"], indirect=True)
def test_a_library_that_is_not_there_is_missed(module: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(module.WINDOW_LIBRARIES, "libnever-was.so.9", "libnever-was9")
    assert "libnever-was9" in module.missing_for_window()


@pytest.mark.parametrize("module", ["lock"], indirect=True)
def test_a_machine_without_a_wheel_goes_without_the_package(module: ModuleType) -> None:
    wheels = {module.Wheel("some==1.0", "b" * 64, False), module.Wheel("some==1.0", "a" * 64, False),
              module.Wheel("other==2.0", "c" * 64, True)}
    intel_mac = module.MACHINES[2]
    assert module._entry("some==1.0", [intel_mac], wheels) == (
        'some==1.0 ; (sys_platform != "darwin" or platform_machine != "x86_64") \\\n'
        f"    --hash=sha256:{'a' * 64} \\\n    --hash=sha256:{'b' * 64}\n")


@pytest.mark.parametrize("module", ["lock"], indirect=True)
def test_what_needs_a_missing_wheel_goes_without_it_too(module: ModuleType) -> None:
    needs = module._needs(['Low_Level>=1; python_version < "3.14"', 'never-mind; extra == "all"'])
    assert needs == {"low-level"}
    wheels = {module.Wheel("low.level==1.0", "a" * 64, False), module.Wheel("some==1.0", "b" * 64, True, needs),
              module.Wheel("top==1.0", "c" * 64, True, frozenset({"some"})), module.Wheel("other==1.0", "d" * 64, True)}
    lacking = {"low.level==1.0": [module.MACHINES[2]], "some==1.0": [], "top==1.0": [], "other==1.0": []}
    module._hand_down(lacking, wheels)
    assert lacking == {"low.level==1.0": [module.MACHINES[2]], "some==1.0": [module.MACHINES[2]],
                       "top==1.0": [module.MACHINES[2]], "other==1.0": []}


@pytest.mark.skipif(os.name != "posix", reason="the command is a shell's on Linux and macOS only")
@pytest.mark.parametrize("module", ["environment"], indirect=True)
def test_the_command_is_typed_as_the_readme_writes_it(
        module: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    python = tmp_path / "a folder" / "bin" / "python"
    python.parent.mkdir(parents=True)
    python.symlink_to(sys.executable)
    monkeypatch.setattr(module, "VENV_PYTHON", python)
    module._write_command()
    link = tmp_path / "plumbfall"
    link.symlink_to(python.with_name("plumbfall"))
    paths = os.pathsep.join([str(PACKAGING.parent), *filter(None, sys.path)])
    done = subprocess.run([link, "score", "--help"], cwd=tmp_path, env=os.environ | {"PYTHONPATH": paths},
                          capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "usage: plumbfall score" in done.stdout


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a window always opens off Linux")
def test_without_a_display_the_demo_is_scored_where_the_person_stands(tmp_path: Path) -> None:
    environment = {name: value for name, value in os.environ.items()
                   if name not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")}
    (tmp_path / "data.py").write_text("raise SystemExit('a file of the person was imported')", encoding="utf-8")
    command = [sys.executable, PACKAGING / "dev.py", "run"]
    done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "no display" in done.stdout
    assert re.search(r"\d+ caught +\d+ missed", done.stdout)

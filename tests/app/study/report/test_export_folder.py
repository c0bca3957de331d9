"""An export in its folder: whole or known not to be, and nothing outside of it is ever written."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from app.study.report import handover
from app.study.report.handover import write_folder
from data.problem import Problem
from detect.firmware.export import LIBRARY_JSON, LICENCE, MANIFEST, NAMES, PARAMS_JSON, SIPHASH, SIPHASH_C, write_export
from detect.firmware.header.writer import NAME, SPDX, Provenance
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.app.study_made import made, session_of

ROOT = Path(__file__).resolve().parents[4]


def export(impact_g: float = 2.0) -> dict[str, bytes]:
    return write_export(DEFAULTS.with_value("impact_g", impact_g), FrontEnd(), Provenance(),
                        params_json=f'{{"impact_g": {impact_g}}}\n'.encode())


EVERY = (*NAMES, PARAMS_JSON)


def write(folder: Path, files: dict[str, bytes]) -> list[Path]:
    return write_folder(folder, files, lambda share: None)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_every_file_is_there_and_in_the_manifest(tmp_path):
    new = tmp_path / "a" / "new"
    assert {path.relative_to(new).as_posix() for path in write(new, export())} == set(EVERY)
    found = contents(tmp_path / "a" / "new")
    assert found == export()
    listed = dict(reversed(line.split("  ")) for line in found[MANIFEST].decode().splitlines()[1:])
    assert listed == {name: hashlib.sha256(found[name]).hexdigest() for name in EVERY if name != MANIFEST}


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is not installed")
def test_the_system_s_own_tool_reads_the_manifest(tmp_path):
    write(tmp_path, export())
    check = ["sha256sum", "--check", "--strict", "--quiet", MANIFEST]
    assert subprocess.run(check, cwd=tmp_path, check=False, capture_output=True).returncode == 0
    (tmp_path / PARAMS_JSON).write_text("{}")
    assert subprocess.run(check, cwd=tmp_path, check=False, capture_output=True).returncode == 1


def test_every_file_s_first_line_names_the_licence_whose_text_is_there(tmp_path):
    session = session_of(made()[:2])
    written = {path.relative_to(tmp_path).as_posix(): path.read_text() for path in handover.export(session, tmp_path)}
    assert {name for name, text in written.items() if SPDX not in text.split("\n")[0]} == {
        LICENCE, PARAMS_JSON, LIBRARY_JSON, *SIPHASH}
    assert json.loads(written[PARAMS_JSON])["SPDX-License-Identifier"] == "MIT"
    assert written[LICENCE] == (ROOT / "LICENSE").read_text()
    assert written[LICENCE].startswith("MIT License\n")


class Killed(BaseException):
    """What no code that is being tested catches."""


@pytest.mark.parametrize("after", range(len(EVERY)))
def test_killed_after_any_file_a_new_header_never_lies_beside_old_vectors(after, tmp_path, monkeypatch):
    old, new = export(), export(2.5)
    write(tmp_path, old)
    kept, written = handover.write_atomically, []

    def until_killed(path, content, **how):
        if len(written) == after:
            raise Killed
        written.append(path.name)
        kept(path, content, **how)

    monkeypatch.setattr(handover, "write_atomically", until_killed)
    with pytest.raises(Killed):
        write(tmp_path, new)
    found = contents(tmp_path)
    assert MANIFEST not in found
    if found[NAME] == new[NAME]:
        assert {**found, MANIFEST: new[MANIFEST]} == new


@pytest.mark.skipif(os.name != "posix", reason="links need no rights on POSIX alone")
@pytest.mark.parametrize("name", [NAME, "plumbfall_log.c", SIPHASH_C, PARAMS_JSON, MANIFEST])
@pytest.mark.parametrize("leads_to", ["a file", "nothing", "a folder"])
def test_a_link_among_the_files_is_refused_and_what_it_leads_to_is_left(name, leads_to, tmp_path):
    folder, elsewhere = tmp_path / "export", tmp_path / "elsewhere"
    folder.mkdir()
    if leads_to == "a file":
        elsewhere.write_text("mine")
    elif leads_to == "a folder":
        elsewhere.mkdir()
    (folder / name).parent.mkdir(exist_ok=True)
    (folder / name).symlink_to(elsewhere)
    with pytest.raises(Problem, match=r"is a symbolic link.* Remove the link") as caught:
        write(folder, export())
    assert caught.value.file == str(folder / name)
    assert [path for path in folder.rglob("*") if not path.is_dir() or path.is_symlink()] == [folder / name]
    assert elsewhere.exists() == (leads_to != "nothing")
    if leads_to == "a file":
        assert elsewhere.read_text() == "mine"
    elif leads_to == "a folder":
        assert list(elsewhere.iterdir()) == []


@pytest.mark.skipif(os.name != "posix", reason="links need no rights on POSIX alone")
@pytest.mark.parametrize("inside", [False, True])
def test_a_folder_that_is_a_link_is_refused_too(inside, tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "export").mkdir()
    link = tmp_path / "export" / "siphash" if inside else tmp_path / "link"
    link.symlink_to(tmp_path / "real")
    with pytest.raises(Problem, match="is a symbolic link"):
        write(tmp_path / "export" if inside else link, export())
    assert list((tmp_path / "real").iterdir()) == []


@pytest.mark.skipif(os.name != "posix", reason="links need no rights on POSIX alone")
def test_a_link_put_there_meanwhile_gives_way_and_is_not_followed(tmp_path, monkeypatch):
    folder, elsewhere = tmp_path / "export", tmp_path / "elsewhere"
    elsewhere.write_text("mine")
    kept = handover.write_atomically

    def with_a_link_before(path, content, **how):
        if path.name == NAME:
            path.symlink_to(elsewhere)
        kept(path, content, **how)

    monkeypatch.setattr(handover, "write_atomically", with_a_link_before)
    write(folder, export())
    assert elsewhere.read_text() == "mine"
    assert not (folder / NAME).is_symlink()
    assert contents(folder) == export()

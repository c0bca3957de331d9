"""A header that is not the one its vectors were made for is noticed: each number by one, each digest by one digit."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app.__main__ import main
from detect.firmware.check import check
from detect.firmware.export import PARAMS_JSON, RULE_C, VECTORS_TEST_C, lay, write_export
from detect.firmware.header.device import NAME as DEVICE
from detect.firmware.header.lines import DIGESTS, IDENTITY, MACROS, value_of
from detect.firmware.header.writer import NAME, Provenance
from detect.firmware.statement import device_defines, differences
from detect.firmware.vectors.detector import NAME as VECTORS
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.toolchain import call, needs

SCORED = Provenance("0123456789abcdef" * 4, "fedcba9876543210" * 4, 100, 40)
FILES = write_export(DEFAULTS, FrontEnd(), SCORED, params_json=b'{"sensitivity": 0.5}\n')
HEADER, AROUND, STATED = FILES[NAME].decode(), FILES[DEVICE].decode(), FILES[VECTORS].decode()
INTEGERS = [macro for macro in MACROS if macro not in DIGESTS]
DEFINES = {macro: re.search(rf"^#define {macro} +(\S+)", HEADER, flags=re.M)[1] for macro in MACROS}
DEVICE_DEFINES = device_defines(AROUND)
EDITS = [(macro, value_of(DEFINES[macro]) + by) for macro in INTEGERS for by in (-1, 1)]


def edited(macro: str, value: object, text: str = HEADER) -> str:
    shown = f"({value})" if isinstance(value, int) and value < 0 else str(value)
    new, count = re.subn(rf"^(#define {macro} +)\S+", rf"\g<1>{shown}", text, flags=re.M)
    assert count == 1
    return new


def folder_with(tmp_path: Path, **files: str) -> Path:
    lay(tmp_path, FILES)
    for name, text in files.items():
        (tmp_path / f"plumbfall_{name}.h").write_text(text)
    return tmp_path


def test_as_exported_nothing_differs():
    assert differences(HEADER, AROUND, STATED) == ()
    assert len(INTEGERS) >= 33
    assert all(f"|| {macro} != {DEFINES[macro]}\n" in STATED for macro in INTEGERS)


@pytest.mark.parametrize(("macro", "value"), EDITS)
def test_every_integer_by_one_is_noticed_by_the_check(macro, value):
    found = differences(edited(macro, value), AROUND, STATED)
    assert any(macro in sentence or "identity of version" in sentence for sentence in found)


@pytest.mark.parametrize("macro", DEVICE_DEFINES)
def test_every_number_of_the_device_by_one_is_noticed_by_the_check(macro):
    for by in (-1, 1):
        device = edited(macro, value_of(DEVICE_DEFINES[macro]) + by, AROUND)
        found = differences(HEADER, device, STATED)
        assert any(f"{DEVICE}: {macro} is " in sentence for sentence in found)
        assert any("was edited" in sentence for sentence in found)


@needs("cc")
def test_every_integer_by_one_stops_the_compiler(tmp_path):
    """What the target's own build does: the preprocessor compares, nothing has to run."""
    folder = folder_with(tmp_path)
    light = "-DPLF_VECTORS_PART=6"
    call(folder, "cc", "-std=c99", "-fsyntax-only", light, VECTORS_TEST_C)
    for macro, value in EDITS:
        if value < 0 and "U" in DEFINES[macro]:
            value = "(0U - 1U)"
        (folder / NAME).write_text(edited(macro, value))
        with pytest.raises(AssertionError, match=f"{macro} is not"):
            call(folder, "cc", "-std=c99", "-fsyntax-only", light, VECTORS_TEST_C)
    (folder / NAME).write_text(HEADER)
    for macro, text in DEVICE_DEFINES.items():
        (folder / DEVICE).write_text(edited(macro, value_of(text) + 1, AROUND))
        with pytest.raises(AssertionError, match=f"{macro} is not"):
            call(folder, "cc", "-std=c99", "-fsyntax-only", light, VECTORS_TEST_C)


@pytest.mark.parametrize("macro", DIGESTS)
def test_every_digest_with_one_digit_changed_is_noticed(macro):
    digest = DEFINES[macro].strip('"')
    for at, digit in enumerate(digest):
        other = digest[:at] + ("0" if digit != "0" else "1") + digest[at + 1:]
        assert [sentence for sentence in differences(edited(macro, f'"{other}"'), AROUND, STATED) if macro in sentence]


def ran(folder: Path) -> int:
    """How many vectors of the settings' part fail, as on a target."""
    call(folder, "cc", "-std=c99", "-DPLF_VECTORS_PART=6", "-o", "vectors_test", VECTORS_TEST_C, *RULE_C)
    try:
        said = call(folder, folder / "vectors_test")
    except AssertionError as failed:
        said = str(failed)
    return int(re.search(r" (\d+) failed\n", said)[1])


@needs("cc")
@pytest.mark.parametrize("at", [0, 31, 63])
@pytest.mark.parametrize("macro", DIGESTS)
def test_a_digest_with_one_digit_changed_fails_on_the_target(macro, at, tmp_path):
    digest = DEFINES[macro].strip('"')
    other = digest[:at] + ("a" if digest[at] != "a" else "b") + digest[at + 1:]
    assert ran(folder_with(tmp_path)) == 0
    assert ran(folder_with(tmp_path, params=edited(macro, f'"{other}"'))) == 1
    assert ran(folder_with(tmp_path, params=edited(macro, f'"{digest[:-1]}"'))) == 1


@needs("cc")
def test_header_and_vectors_edited_alike_are_known_by_the_identity_computed_anew(tmp_path):
    """Somebody who changes a number in both has the identity against him, here and on the target."""
    header = edited("PLF_IMPACT_COUNTS", "1025U")
    vectors = STATED.replace("PLF_IMPACT_COUNTS != 1024U", "PLF_IMPACT_COUNTS != 1025U")
    sentence, = differences(header, AROUND, vectors)
    assert f"{IDENTITY} is 0x" in sentence
    assert "the header was edited" in sentence
    assert ran(folder_with(tmp_path, params=header, vectors=vectors)) == 1


def test_a_header_of_version_1_is_named_as_such_and_not_called_edited():
    old = re.sub(r"^#define PLF_IDENTITY_VERSION .*\n", "", HEADER, flags=re.M)
    sentence, = differences(old, AROUND, STATED)
    assert "identity of version 1" in sentence
    assert "edited" not in sentence


def test_vectors_that_state_nothing_are_not_taken_for_agreement():
    without = re.sub(r"^#if !defined PLF.*\n#error.*\n#endif\n", "", STATED, flags=re.M)
    assert "does not state which header" in differences(HEADER, AROUND, without)[0]


@needs("cc")
def test_the_command_answers_with_1_and_names_what_is_edited(tmp_path, capsys):
    folder = folder_with(tmp_path, params=edited("PLF_HOLD_OFF_SAMPLES", "501U"))
    assert main(["check", str(folder)]) == 1
    said = capsys.readouterr()
    assert "the golden vectors are for another header: none was run" in said.out
    assert "not as exported: plumbfall_params.h" in said.out
    assert "PLF_HOLD_OFF_SAMPLES is 501; the vectors are for 500." in said.err
    assert "0 recordings" not in said.out


@needs("cc")
def test_a_folder_without_its_manifest_says_so_and_passes(tmp_path, capsys):
    folder = folder_with(tmp_path)
    (folder / "plumbfall_manifest.txt").unlink()
    report = check(folder)
    assert report.passed
    assert not report.whole
    assert main(["check", str(folder)]) == 0
    assert "The folder has no plumbfall_manifest.txt: the export was cut short" in capsys.readouterr().out


@needs("cc")
def test_figures_edited_beside_the_header_are_noticed(tmp_path, capsys):
    """No vector judges what a study says of its settings, so the manifest must."""
    folder = folder_with(tmp_path)
    assert check(folder).passed
    (folder / PARAMS_JSON).write_text('{"sensitivity": 0.9}\n')
    assert main(["check", str(folder)]) == 1
    said = capsys.readouterr()
    assert f"not as exported: {PARAMS_JSON}" in said.out
    assert f"{PARAMS_JSON} is not as exported: its settings" in said.err
    (folder / PARAMS_JSON).unlink()
    assert check(folder).passed

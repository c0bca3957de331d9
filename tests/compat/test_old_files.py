"""Files of the first layout of keys and words still mean what they meant: every figure, integer and digest.

What lies in `files` was written by the program before its keys were renamed, and `expected` is what it printed of them
then; README.md beside this says which file is what. Neither is ever written anew: a test that fails here is a study of
somebody's that changed under their hands. Only commands are used, so that no module's place matters.
"""

from __future__ import annotations

import json
import re
import shutil
import tarfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from app.__main__ import main
from detect.device.quantity_table import RETIRED
from tests.detect.firmware.toolchain import needs

HERE = Path(__file__).parent
EXPECTED = HERE / "expected"

KEYS = {"unspoken": "skipped", "stray": "unlabelled"}
VALUES = {"busy": "active", "as stamped": "as-stamped"}
OLD_KEY, NEW_KEY = re.compile(r"^busy_"), "active_"
"""What was renamed since: keys of JSON, values that are words of the program, settings and integers. Both sides of a
comparison are brought to the new words."""

SENTENCES = {"sentence", "stopped", "caution", "remarks", "faults", "message", "remedy", "reason", "origin"}
"""Keys whose values are read by people; their wording may change."""


NEW_WARNINGS = {"unit_unchecked"}
"""Kinds of warnings that were not given then."""


def in_new_words(plain: Any) -> Any:
    """Plain values as they are called today, without sentences."""
    if isinstance(plain, dict):
        return {KEYS.get(key, OLD_KEY.sub(NEW_KEY, key)): in_new_words(value) for key, value in plain.items()
                if key not in SENTENCES}
    if isinstance(plain, list):
        return [in_new_words(one) for one in plain
                if not (isinstance(one, dict) and one.get("kind") in NEW_WARNINGS)]
    return VALUES.get(plain, OLD_KEY.sub(NEW_KEY, plain)) if isinstance(plain, str) else plain


def differences(expected: Any, found: Any, at: str = "") -> Iterator[str]:
    """Where two plain values differ. Keys that are only in `found` are new and no difference."""
    if isinstance(expected, dict) and isinstance(found, dict):
        for key, value in expected.items():
            if key in found:
                yield from differences(value, found[key], f"{at}.{key}")
            else:
                yield f"{at}.{key} is gone; it was {value!r}"
    elif isinstance(expected, list) and isinstance(found, list) and len(expected) == len(found):
        for i, (one, other) in enumerate(zip(expected, found, strict=True)):
            yield from differences(one, other, f"{at}[{i}]")
    elif isinstance(expected, float) and isinstance(found, float):
        if found != pytest.approx(expected, rel=1e-9, abs=1e-12):
            yield f"{at} was {expected!r} and is {found!r}"
    elif expected != found:
        yield f"{at} was {expected!r} and is {found!r}"


def was(name: str) -> Any:
    return json.loads((EXPECTED / f"{name}.json").read_text(encoding="utf-8"))


def assert_as_before(expected: Any, found: Any) -> None:
    assert list(differences(in_new_words(expected), in_new_words(found))) == []


@pytest.fixture
def old(tmp_path, monkeypatch) -> Path:
    """The old files in a folder of their own, from which paths are said."""
    folder = tmp_path / "old"
    shutil.copytree(HERE / "files", folder)
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def said(old, capsys):
    """Runs a command with --json in that folder; what it printed, its exit code checked."""

    def run(*words: object, code: int = 0) -> Any:
        capsys.readouterr()
        assert main([*map(str, words), "--json"]) == code
        run.complaints = (captured := capsys.readouterr()).err
        return json.loads(captured.out)

    run.complaints = ""
    return run


# Studies


@pytest.mark.parametrize(("study", "expected"), [
    ("study.json", "score_study"), ("study.json.recovery", "score_study_recovery")])
def test_an_old_study_and_its_recovery_copy_score_as_they_did_every_attempt_of_them(study, expected, said):
    """With all checks on, two annotators, a sensor that was calibrated, one that was turned, labels by another clock,
    ends trimmed, a recording left out, two nodes, an alarm in unlabelled time, and somebody sealed."""
    assert_as_before(was(expected), said("score", study, "--attempts"))
    assert said.complaints == ""


def test_the_recovery_copy_of_a_study_that_was_never_saved_scores_as_it_did(said):
    expected = was("score_unsaved_recovery")
    for figure in ("specificity", "youden_j"):
        # All its other activities are of one person: the interval by people was a point, and is none since.
        expected["by_people"][figure] = {"low": None, "high": None}
    assert_as_before(expected, said("score", "home/unsaved.recovery"))


def test_an_old_study_saved_anew_scores_as_it_did_and_keeps_what_it_held(old, said, capsys):
    """Moved away from its recordings, so that they have to be found, which saves it."""
    (old / "elsewhere").mkdir()
    study = shutil.move(old / "study.json", old / "elsewhere" / "moved.json")
    before = json.loads(study.read_text(encoding="utf-8"))
    found = said(renamed(capsys, "locate", "find"), study, old)
    assert (len(found["found"]), found["missing"], found["sealed"]) == (12, [], {"found": 2, "missing": 0})
    assert_as_before({**was("score_study"), "study": "moved"}, said("score", study, "--attempts"))
    after = json.loads(study.read_text(encoding="utf-8"))
    for one in (before, after):
        one.pop("view")  # where the window was left is no part of the study
        for row in one["recordings"]:
            row.pop("path")
    assert after["plumbfall_study"] >= before.pop("plumbfall_study")
    assert_as_before(before, after)


def renamed(capsys: pytest.CaptureFixture[str], new: str, before: str, *words: str) -> str:
    """A command, or an option of the command in `words`, by its new name; by the one before where it has that still."""
    with pytest.raises(SystemExit):
        main([*words, "--help"])
    return new if re.search(rf"^ +{new}\b", capsys.readouterr().out, re.MULTILINE) else before


def test_an_old_study_is_tuned_wherever_its_sliders_were(old, said, capsys):
    """Also from an impact threshold that catches nobody: the search starts from the defaults. By keys of then."""
    text = (old / "study.json").read_text(encoding="utf-8")
    (old / "deaf.json").write_text(text.replace('"impact_g": 2.15', '"impact_g": 5.0'), encoding="utf-8")
    share = "active_share_pct" if "active_share_pct" in said("score", old / "deaf.json")["settings"] else \
        "busy_share_pct"
    most = renamed(capsys, "--max-settings", "--most", "tune")
    deaf, usual = (said("tune", old / name, "--keys", f"{share}=20:90", "still_g", "impact_g", most, 2, "--seed", 3,
                        "--workers", 1) for name in ("deaf.json", "study.json"))
    assert deaf["settings"]["impact_g"] < 5
    assert {key: one for key, one in deaf.items() if key != "study"} == \
        {key: one for key, one in usual.items() if key != "study"}


# The record of the sealed set


def test_the_record_of_the_sealed_set_is_whole_and_tells_of_the_same_opening(said):
    found = said("seal", "study.json")
    assert found["record_whole"]
    assert_as_before(was("seal"), found)


def test_an_old_record_goes_on_by_its_digests(old, said):
    record = json.loads((old / "study.json").read_text(encoding="utf-8"))["seal"]
    assert said("seal", "study.json", "W05")["record_whole"]
    after = json.loads((old / "study.json").read_text(encoding="utf-8"))["seal"]
    assert after["entries"][:-1] == record["entries"]
    assert after["entries"][-1]["before"] == record["last"]
    opened = said("seal", "study.json", "--open", "--yes")
    first = was("seal")["openings"][0]
    assert opened["settings_sha256"] == first["settings_sha256"]
    assert opened["opening"] == 2
    before, after = said("seal", "study.json")["openings"]
    assert (before["identity_crc32"], before["identity_version"]) == (first["identity_crc32"], 1)
    assert (after["identity_crc32"], after["identity_version"]) == (opened["identity_crc32"], 2)
    assert after["identity_crc32"] != before["identity_crc32"], "another version of the same settings' identity"


# Settings: files, presets, headers, another study


def without_words(one: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in one.items() if key != "noticed_lines"}


SOURCES = {
    "settings.json": "settings.json", "by_hand.json": "by_hand.json", "preset": "home/presets/porch, busy.json",
    "study.json": "study.json", "recovery": "study.json.recovery", "score_output": EXPECTED / "score_study.json",
    **{f"header {name}": f"headers/{name}.h" for name in ("analogue", "busy_odd", "defaults", "edited_by_hand")}}


@pytest.mark.parametrize("name", SOURCES)
def test_settings_from_an_old_file_are_the_same_integers_and_score_the_same(name, said):
    expected = was("settings")[name]
    assert_as_before(without_words(expected), said("score", "study.json", "--settings", SOURCES[name]))
    noticed = [int(line) for line in re.findall(r"line (\d+):", said.complaints)]
    assert noticed == expected["noticed_lines"], "an old header is not taken for one that was edited"


def test_every_file_of_settings_is_looked_at():
    assert set(was("settings")) == set(SOURCES)
    assert {path.stem for path in (HERE / "files" / "headers").iterdir()} == {
        name.removeprefix("header ") for name in SOURCES if name.startswith("header ")}


# Headers: what is exported from an old file


def macros_of(text: str) -> dict[str, str]:
    """The defines that carry a value, in today's names; what the preprocessor computes is left out."""
    found = dict(re.findall(r"^#define (PLF_\w+) +(\S+)(?:  /\*.*)?$", text, re.MULTILINE))
    return {new_macro(macro): value for macro, value in found.items() if not macro.startswith("PLF_RING")}


def new_macro(macro: str) -> str:
    return re.sub(r"^PLF_BUSY_", "PLF_ACTIVE_", macro.replace("PLF_WIDTH_BITS", "PLF_RESOLUTION_BITS"))


def exported(main_words: list[str], folder: Path) -> dict[str, str]:
    assert main(["export", *main_words, "--to", str(folder)]) == 0
    return macros_of((folder / "plumbfall_params.h").read_text(encoding="ascii"))


@pytest.mark.parametrize("study", ["study.json", "study.json.recovery"])
def test_an_old_study_exports_the_same_integers_and_digests(study, old):
    """Digests are of the recordings and of the labels: what the score in a header belongs to. The identity has another
    version since, which the header says."""
    expected = {new_macro(macro): value for macro, value in was("macros")[study].items()}
    found = exported([study], old / "out")
    assert found["PLF_IDENTITY_VERSION"] == "2U"
    assert found["PLF_IDENTITY_CRC32"] != expected.pop("PLF_IDENTITY_CRC32")
    assert list(differences(expected, found)) == []


@pytest.mark.parametrize("name", ["analogue", "busy_odd", "defaults", "edited_by_hand"])
def test_an_old_header_read_and_exported_again_has_the_same_integers(name, old, said):
    chosen = said("score", "study.json", "--settings", f"headers/{name}.h")
    study = json.loads((old / "study.json").read_text(encoding="utf-8"))
    study |= {"settings": chosen["settings"], "front_end": chosen["front_end"]}
    (old / "chosen.json").write_text(json.dumps(study), encoding="utf-8")
    expected = macros_of((old / "headers" / f"{name}.h").read_text(encoding="ascii"))
    found = exported(["chosen.json"], old / "out")
    for macro in ("PLF_RECORDINGS_SHA256", "PLF_LABELS_SHA256"):
        del expected[macro]  # of what it was scored on then
    assert found["PLF_IDENTITY_CRC32"] != expected.pop("PLF_IDENTITY_CRC32")
    assert len(expected) > 25
    assert list(differences(expected, found)) == []


@needs("cc")
def test_an_old_exported_folder_passes_its_check_or_says_that_it_must_be_exported_again(old, capsys):
    folder = old / "exported"
    with tarfile.open(old / "exported.tar.xz") as tar:
        tar.extractall(folder, filter="data")
    code = main(["check", str(folder), "--json"])
    captured = capsys.readouterr()
    if code == 2:
        assert "export again" in captured.err.lower()
        return
    assert code == 0
    assert_as_before({key: was("check")[key] for key in ("passed", "vectors", "vectors_failed", "device_vectors",
                                                         "device_vectors_failed")}, json.loads(captured.out))


# Recipes


RECIPES = sorted(path.stem for path in (HERE / "files" / "recipes").glob("*.toml"))
ELSEWHERE = {"as_stamped": ["recordings", "--labels", "events.tsv"], "two_nodes": ["pair"],
             "labels_by_clock": ["recordings", "--labels", "labels_by_clock.csv"]}


@pytest.mark.parametrize("name", RECIPES)
def test_an_old_recipe_reads_recordings_and_labels_as_it_did(name, old, said):
    sources = ELSEWHERE.get(name, [f"recipes/{name}"])
    read = said("read", *sources, "--study", "new.json", "--recipe", f"recipes/{name}.toml")
    study = json.loads((old / "new.json").read_text(encoding="utf-8"))
    score = said("score", "new.json")
    found = {**score, "files": read["files"], "labels": read["labels"], "recipes": study["recipes"],
             "study_labels": {row["name"]: row["labels"] for row in study["recordings"]}}
    assert_as_before(was(f"read_{name}"), found)


@pytest.mark.parametrize("stored", sorted((HERE / "files" / "home" / "recipes").iterdir()), ids=lambda path: path.stem)
def test_a_recipe_that_the_window_remembered_reads_files_still(stored, said):
    """Their name is the layout's: the window's own tests look whether it is found by that."""
    files = "recipes/volts" if 'acceleration = "volts"' in stored.read_text(encoding="utf-8") else "recordings"
    read = said("read", files, "--study", "new.json", "--recipe", stored)
    assert {one["status"] for one in read["files"]} == {"read"}
    assert {one["rate_hz"] for one in read["files"]} == {50.0}


# The device: its numbers, its log


def test_the_device_of_an_old_study_has_the_same_numbers_and_comes_to_the_same(said):
    expected = was("device")
    # A starting value that was measured anew since: two instructions fewer, by C API 2.
    budget = said("device", "budget", "study.json", "--set", "processor.instructions=131")
    del budget["given"]["processor.instructions"]
    part = said("device", "part", "study.json")
    found = {"given": budget["given"], "mean_ua": budget["budget"]["mean_ua"], "days": budget["budget"]["days"],
             "figures": {key: one["value"] for key, one in part["figures"].items()}}
    # An alarm costs what its sends and windows cost since, 0.29 µAh instead of 1.67; noise is told in counts too.
    assert found.pop("mean_ua") < expected["mean_ua"]
    assert found.pop("days") > expected["days"]
    del found["figures"]["noise_counts"]
    assert_as_before({key: expected[key] for key in found}, found)


def test_no_number_of_an_old_device_is_forgotten_or_refused(said):
    """A study in which each of them is another than it starts with, the choices' words too; together they contradict
    each other, so there is no budget."""
    expected = was("device")
    found = said("device", "budget", "every_number.json", code=1)["given"]
    assert len(expected["every_number"]) > 100
    # But for those that follow from others since.
    assert_as_before({key: value for key, value in expected["every_number"].items() if key not in RETIRED}, found)
    part = said("device", "part", "every_number.json")
    figures = {key: one["value"] for key, one in part["figures"].items()}
    # √3 times the real end of output and converter, 5 g, not of the range of 3.75 g that is promised.
    assert figures.pop("largest_g") == pytest.approx(5.0 * 3 ** 0.5)
    del expected["of_an_analogue_part"]["largest_g"]
    assert_as_before(expected["of_an_analogue_part"], figures)


@pytest.mark.parametrize("words", [["dump.bin"], ["records.bin", "--records"]], ids=["dump", "records"])
def test_the_log_of_an_old_device_is_decoded_as_it_was(words, old, said):
    name = words[0].removesuffix(".bin")
    expected = was(f"decode_{name}")
    found = said("device", "decode", *words, "--to", old / "back")
    assert_as_before({"dumps": expected["dumps"]}, found)
    assert {one["settings_crc32"] for one in found["dumps"][0]["records"]} == {identity_of(old / "headers/defaults.h")}
    assert {one["identity_version"] for one in found["dumps"][0]["records"]} == {1}
    labels = (old / "back" / "device_events.tsv").read_text(encoding="utf-8").splitlines()
    assert [row.split("\t")[:-1] for row in labels] == [row.split("\t")[:-1] for row in expected["label_table"]]
    first = sorted((old / "back" / "recordings").iterdir())[0].read_text(encoding="utf-8").splitlines()
    assert first[1:6] == expected["first_recording"]


def identity_of(header: Path) -> str:
    return macros_of(header.read_text(encoding="ascii"))["PLF_IDENTITY_CRC32"].removesuffix("U")


def test_the_quality_of_old_recordings_is_told_as_it_was(said):
    assert_as_before(was("quality"), said("quality", "study.json", code=1))

"""From the field to the bench: what the device kept of its alarms is read, looked at and scored like any recording."""

from __future__ import annotations

import json
from itertools import islice

import numpy as np
import pytest

from app.__main__ import main
from app.study.device.log_dump import LABELS, RECIPE, RECORDINGS, decode
from app.study.session import Session
from data.demo.write import EVENTS_NAME, RECIPE_NAME, SEED, takes
from data.demo.write import RECIPE as DEMO_RECIPE
from data.labels.table import write_events
from data.problem import Problem
from data.recipe.recipe import write_recipe
from detect.firmware.export import lay, write_export
from detect.firmware.header.writer import Provenance
from detect.firmware.twins.log import Ring
from detect.firmware.twins.record import encoded, record_bytes
from detect.firmware.twins.ring import Flash
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.device_made import alarm_record, built_device, filled_ring
from tests.detect.firmware.toolchain import needs


def said(capsys, *words, code=0):
    assert main([*map(str, words), "--json"]) == code
    return json.loads(capsys.readouterr().out)


def dumped(tmp_path, count=4):
    ring = filled_ring(count, Flash(256, 8, 4))
    ring.set_outcome(2, "cancelled")
    path = tmp_path / "dump.bin"
    path.write_bytes(ring.flash.bytes)
    return path, ring


# The whole way


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """A study of the demo's first recordings: synthetic, some of them falls."""
    folder = tmp_path_factory.mktemp("demo")
    some = [take for take in islice(takes(SEED), 14) if take.recording.duration_s < 120]
    (folder / "recordings").mkdir()
    for take in some:
        (folder / "recordings" / take.file_name).write_bytes(take.csv)
    by_stem = {take.file_name.removesuffix(".csv"): take for take in some}
    (folder / EVENTS_NAME).write_text(write_events({stem: take.labels for stem, take in by_stem.items()},
                                                   {stem: take.recording for stem, take in by_stem.items()}))
    write_recipe(DEMO_RECIPE, folder / RECIPE_NAME)
    assert main(["read", str(folder / "recordings"), "--study", str(folder / "demo.json"), "--recipe",
                 str(folder / RECIPE_NAME), "--labels", str(folder / EVENTS_NAME), "--json"]) == 0
    return folder / "demo.json"


@pytest.fixture(scope="module")
def memory(demo, tmp_path_factory):
    """What the example has in its memory after it wore the demo, and how many alarms the workbench saw there."""
    folder = tmp_path_factory.mktemp("device")
    lay(folder, write_export(DEFAULTS, FrontEnd(), Provenance()))
    device = built_device(folder, "cc", "-std=c99", "-O1")
    session = Session.opened(demo)
    assert session.study.front_end == FrontEnd()
    stretches, alarms = [], 0
    for item in session.study.items:
        explained = session.explained(item.name)
        alarms += sum(one.ended == "alarm" for one in explained.attempts)
        stretches += explained.seen.stretches()
    return device(stretches)[0], alarms


@needs("cc")
def test_a_demo_s_alarms_go_through_the_c_and_its_memory_and_are_found_by_the_score(memory, tmp_path, capsys):
    data, alarms = memory
    assert alarms >= 3
    (tmp_path / "dump.bin").write_bytes(data)
    decoded = said(capsys, "device", "decode", tmp_path / "dump.bin", "--to", tmp_path / "back")
    records = decoded["dumps"][0]["records"]
    assert (len(records), decoded["dumps"][0]["faults"], decoded["remarks"]) == (alarms, [], [])
    read = said(capsys, "read", tmp_path / "back" / RECORDINGS, "--study", tmp_path / "back.json",
                "--recipe", tmp_path / "back" / RECIPE, "--labels", tmp_path / "back" / LABELS)
    assert [one["status"] for one in read["files"]] == ["read"] * alarms
    assert read["labels"] == []
    score = said(capsys, "score", tmp_path / "back.json")
    assert score["matrix"] == {"tp": alarms, "fn": 0, "fp": 0, "tn": 0}
    assert score["unlabelled"]["alarms"] == 0


@needs("cc")
def test_what_came_back_is_the_device_s_counts_one_by_one(memory, tmp_path):
    (tmp_path / "dump.bin").write_bytes(memory[0])
    written = decode([tmp_path / "dump.bin"], tmp_path / "back", over_the_link=False)
    for found, name in zip(written.decoded[0].dump.alarms, written.decoded[0].names, strict=True):
        rows = (tmp_path / "back" / RECORDINGS / f"{name}.csv").read_text().splitlines()[2:]
        g = np.array([[float(cell) for cell in row.split(",")] for row in rows])
        assert np.floor(g[:, 1:] * FrontEnd().k + 0.5).astype(int).tolist() == found.record.samples.tolist()
        assert np.allclose(np.diff(g[:, 0]), 0.02)


# Parts of it


def test_a_cancelled_alarm_is_no_fall_and_the_rest_is_the_device_s_word(tmp_path, capsys):
    path, _ = dumped(tmp_path)
    said(capsys, "device", "decode", path, "--to", tmp_path / "out")
    rows = [line.split("\t") for line in (tmp_path / "out" / LABELS).read_text().splitlines()]
    by_name = {row[3]: dict(zip(rows[0], row, strict=True)) for row in rows[1:]}
    assert by_name["node3_alarm2"]["kind"] == "other"
    assert by_name["node3_alarm2"]["trial_type"] == "alarm cancelled"
    assert by_name["node3_alarm1"]["kind"] == "fall"
    assert {row["annotator"] for row in by_name.values()} == {"device"}
    assert "look before you score" in by_name["node3_alarm1"]["comment"]


def test_damage_is_named_with_its_place_and_the_others_are_written(tmp_path, capsys):
    path, ring = dumped(tmp_path)
    data = bytearray(path.read_bytes())
    data[ring.slot_bytes * 2 + 60] ^= 4
    path.write_bytes(data[:-100])
    assert main(["device", "decode", str(path), "--to", str(tmp_path / "out")]) == 1
    out, err = capsys.readouterr()
    assert f"dump.bin, bytes {2 * ring.slot_bytes} to {3 * ring.slot_bytes - 1}: are no longer a whole record" in err
    assert "by its header it was number 3" in err
    assert "bytes 1948 to 2047: are missing: the memory has 2048 and the dump 1948" in err
    assert "3 records decoded" in out
    assert sorted(one.stem for one in (tmp_path / "out" / RECORDINGS).iterdir()) == [
        "node3_alarm1", "node3_alarm2", "node3_alarm4"]


def test_records_read_over_the_link_are_decoded_too(tmp_path, capsys):
    ring = filled_ring(3, Flash(256, 8, 4))
    path = tmp_path / "records.bin"
    path.write_bytes(b"".join(encoded(one.head, one.samples) for one in ring.records()))
    decoded = said(capsys, "device", "decode", path, "--records", "--to", tmp_path / "out")
    assert [one["number"] for one in decoded["dumps"][0]["records"]] == [1, 2, 3]
    assert said(capsys, "device", "decode", path, "--to", tmp_path / "again", code=1)["dumps"][0]["faults"]


def test_devices_of_one_node_are_told_apart_and_front_ends_that_differ_are_said(tmp_path, capsys):
    one, _ = dumped(tmp_path)
    ring = Ring(Flash(256, 8, 4), record_bytes(20, 10, measured=False))
    made = alarm_record(1, bits=10)
    ring.append(made.head, made.samples)
    other = tmp_path / "other.bin"
    other.write_bytes(ring.flash.bytes)
    decoded = said(capsys, "device", "decode", one, other, "--to", tmp_path / "out")
    assert decoded["dumps"][1]["records"][0]["recording"] == "node3_alarm1_2"
    assert decoded["remarks"] == ["The records are of 2 front ends: give the study's own when you read them."]
    assert "front_end" not in (tmp_path / "out" / RECIPE).read_text()


@pytest.mark.parametrize(("content", "reason"), [
    (b"", "It holds no record"), (b"\xff" * 4096, "It holds no record"),
    (b"hello", "no whole record"), (bytes(5000), "no whole record")])
def test_a_file_without_a_record_is_refused_in_a_sentence(content, reason, tmp_path, capsys):
    path = tmp_path / "dump.bin"
    path.write_bytes(content)
    assert main(["device", "decode", str(path), "--to", str(tmp_path / "out")]) == 2
    err = capsys.readouterr().err
    assert err.startswith("dump.bin: ")
    assert reason in err
    assert not (tmp_path / "out").exists()


def test_a_dump_that_is_not_there_is_a_sentence(tmp_path):
    with pytest.raises(Problem, match=r"nothing\.bin"):
        decode([tmp_path / "nothing.bin"], tmp_path / "out", over_the_link=False)

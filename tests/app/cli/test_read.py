"""`plumbfall read --json`: every file is read or refused with kind, line, value, message and remedy."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from app.__main__ import main
from data.study import study_file
from tests.data.made import burst_stamps, csv_text, wearer


def _saved(array: np.ndarray) -> bytes:
    buffer = io.BytesIO()
    np.save(buffer, array, allow_pickle=True)
    return buffer.getvalue()


@pytest.fixture
def read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    """Reads one text or some bytes as a file of its own; the file's entry in the answer."""

    def one(content: str | bytes, *options: str, name: str = "walk.csv", code: int = 0) -> dict[str, Any]:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        assert main(["read", str(path), "--study", str(tmp_path / "study.json"), "--json", *options]) == code
        answer: dict[str, Any] = json.loads(capsys.readouterr().out)["files"][0]
        return answer

    return one


def test_what_the_times_are_worth_can_be_said_by_option(read):
    text = csv_text(times=burst_stamps(200, 49.4))
    refused = read(text, code=2)
    assert refused["error"]["kind"] == "stamps_unknown"
    assert "--stamps bursts" in refused["error"]["remedy"]
    there = read(text, "--stamps", "bursts", "--rate", "50")
    assert (there["status"], there["rate_hz"], there["rate_known"]) == ("read", 50, True)


@pytest.mark.parametrize("words", [["--rate", "fast"], ["--rate", "50,-1"], ["--columns", "t,x"]])
def test_an_option_that_says_nothing_sensible_is_refused_in_words(tmp_path, capsys, words):
    (tmp_path / "a.csv").write_text(csv_text())
    assert main(["read", str(tmp_path / "a.csv"), "--study", str(tmp_path / "s.json"), *words]) == 2
    said = capsys.readouterr().err
    assert words[0] in said
    assert "Correct it" in said


HEAD, *ROWS = csv_text(samples=wearer(300)).strip().split("\n")


def table(*changes: tuple[int, str], head: str = HEAD) -> str:
    """A sound table with some lines (from 1) replaced."""
    lines = [head, *ROWS]
    for line, text in changes:
        lines[line - 1] = text
    return "\n".join(lines) + "\n"


RAW = "time_s,x,y,z\n" + "\n".join(
    f"{i * 0.02:.2f}," + ",".join(str((int(v) % 4096) << 4) for v in row)
    for i, row in enumerate(np.round(wearer(300) * 512))) + "\n"  # fmt: skip
TOLD_RAW = '[raw]\nbits = 12\n[units]\nacceleration = "raw"\nrange_g = 4\n'

BAD: dict[str, tuple[str | bytes, list[str], str, int | None, str]] = {
    "not a table": ("Dear all,\nthe data is attached.\nBest\n", [], "not_a_table", 1, ""),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", [], "not_a_table", None, ""),
    "empty": (b"", [], "empty", None, ""),
    "header only": (HEAD + "\n", [], "header_only", 1, ""),
    "one axis missing": (table(head="time_s,x_g,y_g,battery"), [], "column_missing", 1, ""),
    "text in a number column": (table((70, "1.36,abc,1,0")), [], "not_a_number", 70, "abc"),
    "NaN": (table((70, "1.36,NaN,1,0")), [], "not_finite", 70, "NaN"),
    "inf": (table((70, "1.36,0,inf,0")), [], "not_finite", 70, "inf"),
    "sentinel -32768": (table((70, "1.36,-32768,1,0")), [], "sentinel", 70, "-32768"),
    "sentinel 9999": (table((70, "1.36,0,9999,0")), [], "sentinel", 70, "9999"),
    "decimal commas between commas": (table(*((i + 2, row.replace(".", ",")) for i, row in enumerate(ROWS))), [],
                                      "", None, ""),
    "a short row": (table((70, "1.36,0,1")), [], "row_length", 70, "1.36,0,1"),
    "wrong encoding": (table().encode().replace(b"0.1", b"0.\xff", 1), [], "", None, ""),
    "unit not said": (table(head="time_s,x,y,z"), [], "unit_unknown", 1, ""),
    "unit wrong": (table(head="time_s,x,y,z"), ["--unit", "m/s2"], "unit_doubtful", None, ""),
    "time unit not said": (table(head="time,x_g,y_g,z_g"), [], "time_unit_unknown", 1, ""),
    "time unit wrong": (table(head="time,x_g,y_g,z_g"), ["--time-unit", "ms"], "time_unit_doubtful", None, ""),
    "raw integers of unknown worth": (RAW, ["--unit", "raw"], "scale_unknown", None, ""),
    "raw integers read the wrong way": (RAW, ["--recipe", TOLD_RAW], "raw_doubtful", None, ""),
    "counts too wide for the front end": (RAW, ["--unit", "counts", "--recipe", "[front_end]\nrange_g = 4\nbits = 12\n"
                                                "rate_hz = 50\n"], "counts_too_wide", None, ""),
    "time not increasing": (table((70, "0.50,0,1,0")), [], "time_order", 70, "0.5"),
    "time twice": (table((70, "1.34,0,1,0")), [], "time_duplicate", 70, "1.34"),
    "a date that is none": (table((70, "31.5.24,0,1,0")), ["--time-unit", "iso"], "not_a_time", None, ""),
    "a counter that wraps": ("\n".join(["time_ms,x_g,y_g,z_g", *(f"{(65000 + 20 * i) % 65536},0,1,0.01" for i in
                                        range(200))]), ["--rate", "50"], "time_wrap", 29, "4"),
    "ticks of unknown rate": (table(head="time_ticks,x_g,y_g,z_g"), [], "ticks_unknown", None, ""),
    "burst stamps not declared": (csv_text(times=burst_stamps(200, 49.4)), [], "stamps_unknown", None, ""),
    "no rate": (table(head="number,x_g,y_g,z_g"), ["--columns", "2,3,4"], "rate_unknown", None, ""),
    "a clock that starts again": (table() + "\n".join(ROWS), ["--stamps", "bursts", "--rate", "50"], "time_restart",
                                  302, "0"),
    "pickled array": (_saved(np.array([{}], dtype=object)), [], "pickle", None, ""),
    "cut array": (_saved(np.zeros((200, 4)))[:99], [], "not_a_table", None, ""),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_with_kind_line_value_message_and_remedy(case, read, tmp_path):
    content, words, kind, line, value = BAD[case]
    if "--recipe" in words:
        (tmp_path / "told.toml").write_text(words[words.index("--recipe") + 1])
        words = [*words[: words.index("--recipe")], "--recipe", str(tmp_path / "told.toml")]
    refused = read(content, *words, code=2)
    assert refused["status"] == "refused"
    error = refused["error"]
    assert set(error) == {"kind", "line", "column", "value", "message", "remedy"}
    assert error["message"].endswith(".")
    assert error["remedy"].endswith((".", ")."))
    assert kind in ("", error["kind"])
    assert line is None or error["line"] == line
    assert value in ("", error["value"])


GOOD: dict[str, tuple[str | bytes, list[str], str]] = {
    "semicolons and decimal commas": (table().replace(",", ";").replace(".", ","), [], "layout"),
    "tabs": (table().replace(",", "\t"), [], "layout"),
    "mixed line ends": (table().replace("\n", "\r\n", 100), [], "columns"),
    "byte-order mark": (b"\xef\xbb\xbf" + table().encode(), [], "columns"),
    "UTF-16": (table().encode("utf-16"), [], "encoding"),
    "Latin-1": (table(head=HEAD + ",größe").replace("\n", ",0\n").replace("größe,0", "größe").encode("latin-1"), [],
                "encoding"),
    "a gap": ("\n".join([HEAD, *ROWS[:100], *ROWS[150:]]), ["--rate", "50"], "gap"),
    "an unlikely rate": (table(), ["--rate", "25"], "rate"),
    "clipping": (table(*((i, f"{(i - 2) * 0.02:.2f},4,1,0") for i in (60, 61, 62))), [], "clipped"),
    "counts of no named front end": (table(*((i + 2, f"{i * 0.02:.2f},0,512,{i % 3}") for i in range(300)),
                                           head="time_s,x_counts,y_counts,z_counts"), [], "front_end"),
    "milliseconds": (table(head="time_ms,x_g,y_g,z_g").replace(".", "", 0), ["--stamps", "even", "--rate", "50"],
                     "even"),
}


@pytest.mark.parametrize("case", GOOD)
def test_what_is_odd_but_sound_is_read_with_a_warning(case, read):
    content, words, kind = GOOD[case]
    there = read(content, *words)
    assert there["status"] == "read"
    assert {"samples", "rate_hz", "duration_s", "unit", "gaps", "clipped", "warnings"} <= set(there)
    assert kind in {warning["kind"] for warning in there["warnings"]}
    assert all(warning["sentence"].endswith((".", ").")) for warning in there["warnings"])


def test_counts_added_to_a_study_are_those_of_its_own_front_end(read):
    counts = table(*((i + 2, f"{i * 0.02:.2f},0,512,{i % 3}") for i in range(300)),
                   head="time_s,x_counts,y_counts,z_counts")
    read(table())
    assert read(counts, name="again.csv")["status"] == "read"  # 1 g on ±4 g in 12 bits
    wide = counts.replace(",512,", ",4096,")
    assert read(wide, name="wide.csv", code=2)["error"]["kind"] == "counts_too_wide"


def test_hundreds_of_files_are_read_and_one_that_vanished_or_may_not_be_read_is_told(tmp_path, capsys):
    for i in range(300):
        (tmp_path / "many" / f"{i // 100}").mkdir(parents=True, exist_ok=True)
        (tmp_path / "many" / f"{i // 100}" / f"{i}.csv").write_text("\n".join([HEAD, *ROWS[:20], f"# {i}"]))
    gone = tmp_path / "gone.csv"
    assert main(["read", str(tmp_path / "many"), str(gone), "--study", str(tmp_path / "s.json"), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert sum(one["status"] == "read" for one in said["files"]) == 300
    assert [one["error"]["kind"] for one in said["files"] if one["status"] == "refused"] == ["vanished"]


@pytest.mark.parametrize("front_end", ["range_g = 1e300\nbits = 12\nrate_hz = 50", "range_g = 1e-300\nbits = 12\n"
                                       "rate_hz = 50", "range_g = 4\nbits = 12\nrate_hz = 1e-9",
                                       "range_g = 4\nbits = 12\nrate_hz = 50\ncounts_per_g = 1e300",
                                       "range_g = 5000\nbits = 8\nrate_hz = 50"])
def test_a_front_end_that_no_study_opens_with_is_refused_before_saving(tmp_path, capsys, front_end):
    (tmp_path / "a.csv").write_text(csv_text())
    (tmp_path / "r.toml").write_text(f"[front_end]\n{front_end}\n")
    words = ["read", str(tmp_path / "a.csv"), "--study", str(tmp_path / "s.json"), "--recipe", str(tmp_path / "r.toml")]
    assert main(words) == 2
    assert "front_end" in capsys.readouterr().err
    assert not (tmp_path / "s.json").exists()


def test_rows_of_two_sensors_are_refused_and_parted_by_an_option(tmp_path, capsys):
    lines = csv_text().splitlines()
    rows = [f"{row},{node}" for row in lines[1:] for node in ("ankle", "wrist")]
    (tmp_path / "day.csv").write_text("\n".join([lines[0] + ",sensor", *rows]))
    words = ["read", str(tmp_path / "day.csv"), "--study", str(tmp_path / "s.json")]
    assert main(words) == 2
    said = capsys.readouterr().err
    assert "Column sensor has 2 values (ankle, wrist)" in said
    assert "--split node=sensor or --one-recording" in said
    assert main([*words, "--split", "where=sensor"]) == 2
    assert main([*words, "--split", "node=sensor"]) == 0
    assert "day:ankle" in capsys.readouterr().out


def test_a_recording_comes_into_a_study_once(tmp_path, capsys):
    for place, seed in (("a", 1), ("b", 1), ("c", 2)):
        (tmp_path / place).mkdir()
        (tmp_path / place / "walk.csv").write_text(csv_text(samples=wearer(200, seed)))
    (tmp_path / "a" / "copy.csv").write_bytes((tmp_path / "a" / "walk.csv").read_bytes())
    study = tmp_path / "s.json"

    def files(*words: str) -> dict[str, str]:
        main(["read", *words, "--study", str(study), "--json"])
        said = json.loads(capsys.readouterr().out)["files"]
        return {one["file"]: one.get("recording") or one["error"]["kind"] for one in said}

    def names() -> list[str]:
        return sorted(entry.name for entry in study_file.load(study).recordings)

    assert files(str(tmp_path / "a" / "walk.csv")) == {"walk.csv": "walk"}
    assert files(str(tmp_path / "a")) == {"copy.csv": "same_content", "walk.csv": "walk"}
    assert files(str(tmp_path / "a" / "copy.csv")) == {"copy.csv": "same_content"}
    assert files(str(tmp_path / "c" / "walk.csv")) == {"walk.csv": "name_taken"}
    assert files(str(tmp_path / "b" / "walk.csv")) == {"walk.csv": "walk"}  # moved: the same recording
    assert names() == ["walk"]
    assert files(str(tmp_path / "a" / "copy.csv"), "--keep-same") == {"copy.csv": "copy"}
    assert names() == ["copy", "walk"]
    assert main(["read", str(tmp_path / "c" / "walk.csv"), "--study", str(study)]) == 2
    assert 'another recording named "walk"' in capsys.readouterr().err


def test_a_table_of_many_more_recordings_is_one_sentence(tmp_path, capsys):
    (tmp_path / "walk.csv").write_text(csv_text())
    (tmp_path / "l.csv").write_text("recording,onset,duration,trial_type\nwalk,1,1,fall\n" + "".join(
        f"other {i},1,1,fall\n" for i in range(175)))
    words = ["read", str(tmp_path / "walk.csv"), "--study", str(tmp_path / "s.json"), "--labels",
             str(tmp_path / "l.csv")]
    assert main(words) == 0
    (sentence,) = capsys.readouterr().err.splitlines()
    assert sentence.startswith('l.csv, 175 times, lines 3, 4, 5, …: "other 0", "other 1", "other 2", …: The study has')
    assert main([*words, "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["labels"]) == 175


def test_files_refused_for_one_reason_are_one_sentence(tmp_path, capsys):
    (tmp_path / "in").mkdir()
    for i in range(40):
        (tmp_path / "in" / f"{i:02}.csv").write_text(csv_text("time_s,x,y,z", wearer(200, i)))
    (tmp_path / "in" / "odd.csv").write_text("nothing")
    assert main(["read", str(tmp_path / "in"), "--study", str(tmp_path / "s.json")]) == 2
    said = capsys.readouterr().err.splitlines()
    assert [line.partition(":")[0] for line in said] == ["40 times, in 00.csv, 01.csv, 02.csv, …", "odd.csv, line 1"]
    assert "--unit" in said[0]

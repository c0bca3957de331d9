"""`plumbfall read --json`: every file is read or refused with kind, line, value, message and remedy."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from app.__main__ import main
from tests.data.made import burst_stamps, csv_text


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

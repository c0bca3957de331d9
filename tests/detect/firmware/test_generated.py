"""What is written out of the table of parameters is what stands in the sources."""

import re
import shutil
from pathlib import Path

import pytest

from detect.firmware.header import generated
from detect.firmware.header.fields import FIELDS
from detect.firmware.header.generated import BLOCKS, DETECT, current

FUZZ_C = Path(__file__).with_name("programs") / "fuzz.c"


@pytest.mark.parametrize("name", BLOCKS)
def test_each_block_is_what_the_table_says(name):
    text = (DETECT / name).read_text(encoding="utf-8")
    assert text == current(name, text), "run python -m detect.firmware.header.generated"


@pytest.mark.parametrize("name", BLOCKS)
def test_the_command_restores_what_was_changed_between_the_marks_and_nothing_else(name, tmp_path, monkeypatch, capsys):
    for one in BLOCKS:
        (tmp_path / one).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(DETECT / one, tmp_path / one)
    monkeypatch.setattr(generated, "DETECT", tmp_path)
    right = (tmp_path / name).read_text(encoding="utf-8")
    before, mark, rest = right.partition(f"{generated.MARK}: begin")
    changed = f"{before}{mark}{rest.replace('impact', 'impakt', 2)}"
    assert changed != right
    (tmp_path / name).write_text(changed, encoding="utf-8")
    assert generated.main() == 0
    assert (tmp_path / name).read_text(encoding="utf-8") == right
    assert capsys.readouterr().out == f"detect/{name} is written anew.\n"
    assert generated.main() == 0
    assert capsys.readouterr().out == ""


def test_a_file_without_the_marks_is_not_written():
    with pytest.raises(ValueError, match=r"detect/firmware/c/plumbfall_settings\.c: the lines .*Restore them"):
        current("firmware/c/plumbfall_settings.c", "/* generated from detect/rule/parameters.py: begin */\n")


def test_the_fuzzer_draws_every_member():
    drawn = re.findall(r"^    s\.(\w+(?:\[\d\])?) = ", FUZZ_C.read_text(), flags=re.M)
    assert drawn == [field.one.c_name for field in FIELDS]

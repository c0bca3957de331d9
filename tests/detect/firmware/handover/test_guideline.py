"""Where the C differs from the usual guideline for critical systems is said once, with a reason, and nowhere else."""

import re
import subprocess

import pytest

from detect.firmware.export import BUILD_MD, FIRMWARE_C, SIPHASH_C
from tests.detect.firmware.handover.sizes import DEVICE_C
from tests.detect.firmware.toolchain import needs


def departures(folder):
    """The rules that the addon finds departed from, each with a file and a line."""
    done = subprocess.run(["cppcheck", "--addon=misra", "--std=c99", "--quiet", "-I", ".", "-I", "example",
                           "--suppress=missingIncludeSystem", *(one for one in FIRMWARE_C if one != SIPHASH_C),
                           *DEVICE_C], cwd=folder, capture_output=True, text=True, timeout=500, check=True)
    return dict(reversed(one) for one in re.findall(r"^(\S+):\d+: style: .*\[misra-c2012-([\d.]+)\]$", done.stderr,
                                                    flags=re.M))


def listed(page):
    section = page[page.index("## Where it differs"):page.index("## Check\n")]
    return dict.fromkeys(re.findall(r"\d+\.\d+", " ".join(re.findall(r"^\| ([\d., ]+) \|", section, flags=re.M))))


@needs("cppcheck")
def test_the_list_is_what_the_addon_finds(exported):
    found, said = departures(exported), listed((exported / BUILD_MD).read_text())
    assert {rule: where for rule, where in found.items() if rule not in said} == {}
    assert [rule for rule in said if rule not in found] == []
    assert len(said) > 15


@needs("cppcheck")
@pytest.mark.slow
@pytest.mark.parametrize(("rule", "code"), [
    ("15.1", "static int back(int n)\n{\nagain:\n    if (n > 9) { n--; goto again; }\n    return n;\n}\n"),
    ("7.1", "static int eight(void)\n{\n    return 010;\n}\n"),
])
def test_another_departure_is_noticed(rule, code, exported):
    path = exported / "plumbfall_crc.c"
    path.write_text(path.read_text() + code)
    assert rule in departures(exported)
    assert rule not in listed((exported / BUILD_MD).read_text())

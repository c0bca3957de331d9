"""A tool that is missing skips its tests with a reason on a user's machine, and fails them in the whole check."""

import sys

from tests.detect.firmware.toolchain import PACKAGES, needs


def test_what_is_there_is_used():
    assert needs(sys.executable).args == (False,)


def test_what_is_missing_is_named_with_its_package(monkeypatch):
    monkeypatch.delenv("PLUMBFALL_CI", raising=False)
    monkeypatch.setitem(PACKAGES, "no-such-tool", "some-package")
    mark = needs("no-such-tool", sys.executable)
    assert mark.name == "skipif"
    assert mark.args == (True,)
    assert mark.kwargs["reason"] == "no-such-tool is not installed (Debian package some-package)"


def test_the_whole_check_skips_nothing(monkeypatch):
    monkeypatch.setenv("PLUMBFALL_CI", "1")
    monkeypatch.setitem(PACKAGES, "no-such-tool", "some-package")
    assert needs("no-such-tool").args == ("no_skipping_here",)

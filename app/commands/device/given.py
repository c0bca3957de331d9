"""`--set KEY=VALUE`: numbers of the device that are other than the study's, for one command."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from app.study.device.part import changed as with_number
from app.study.state import Study
from detect.device.values import Plain
from detect.settings import BadSetting


def add_given(command: argparse.ArgumentParser) -> None:
    command.add_argument("--set", metavar="KEY=VALUE", nargs="+", action="extend", default=[],
                         help="numbers of the device in place of the study's, such as current.running_ua=250")


def with_given(study: Study, given: Sequence[str]) -> Study:
    """The study with these numbers; BadSetting names one that can't be."""
    for one in given:
        key, sign, text = one.partition("=")
        if not sign:
            raise BadSetting(key, "", "has no value.", "Write KEY=VALUE, such as current.running_ua=250.")
        study = with_number(study, key.strip(), value_of(text.strip()))
    return study


def value_of(text: str) -> Plain:
    """A number where it is one, true or false, else the words themselves."""
    if text in ("true", "on"):
        return True
    if text in ("false", "off"):
        return False
    try:
        return float(text)
    except ValueError:
        return text

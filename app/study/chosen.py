"""Settings from a file: a settings file, another study or an exported header."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from app.study import filing
from data.problem import Problem, from_os_error
from detect.firmware.read_header import HeaderRefused, looks_like_header, read_header
from detect.frontend import FrontEnd
from detect.rule import rule_of
from detect.settings import BadSetting, Settings, from_plain


@dataclass(frozen=True)
class Chosen:
    """Settings with the front end they are for, and what was noticed while reading them."""

    settings: Settings
    front_end: FrontEnd
    remarks: tuple[str, ...] = ()


def settings_from(path: Path, front_end: FrontEnd) -> Chosen:
    """Settings of a file; `front_end` is used where it names none. Raises Problem."""
    try:
        text = path.read_text("utf-8-sig")
    except OSError as error:
        raise from_os_error(error, path.name, "read") from error
    except UnicodeDecodeError as error:
        raise Problem("settings", "This is not UTF-8 text.", "Name a settings file, a study or a header.",
                      file=path.name) from error
    if looks_like_header(text):
        return from_header(text, path.name)
    try:
        plain = json.loads(text)
    except json.JSONDecodeError as error:
        raise Problem("settings", f"This is not JSON: {error.msg}.", "Correct the line.", file=path.name,
                      line=error.lineno) from error
    if not isinstance(plain, dict):
        raise Problem("settings", "This is no table of settings.",
                      'Write {"front_end": {…}, "settings": {key: value}}.', file=path.name)
    if "plumbfall_study" in plain:
        study = filing.load(path)
        return Chosen(study.settings, study.front_end)
    return from_settings_file(plain, path.name, front_end)


def from_settings_file(plain: dict, file: str, front_end: FrontEnd) -> Chosen:
    """{"front_end": {…}, "settings": {key: physical value}}; what `plumbfall score --json` prints can be fed back."""
    if not isinstance(plain.get("settings"), dict):
        raise Problem("settings", 'There is no "settings" table.',
                      'Write {"front_end": {…}, "settings": {key: value}}.', file=file)
    values = plain["settings"]
    if isinstance(values.get("physical"), dict):
        values = values["physical"]
    try:
        settings, missing = from_plain(values)
        if isinstance(plain.get("front_end"), dict):
            front_end = _front_end(plain["front_end"], front_end)
        rule_of(settings, front_end)
    except BadSetting as refused:
        raise Problem("setting", f"{refused.key} = {refused.value!r} {refused.message}", refused.remedy, file=file,
                      column=refused.key, value=str(refused.value)) from refused
    remarks = (f"{file}: not given, so by default: {', '.join(missing)}.",) if missing else ()
    return Chosen(settings, front_end, remarks)


def _front_end(plain: dict, otherwise: FrontEnd) -> FrontEnd:
    known = {"range_g", "bits", "rate_hz", "counts_per_g"}
    for key, value in plain.items():
        if key not in known:
            raise BadSetting(key, value, "is nothing a front end has.", f"Known: {', '.join(sorted(known))}.")
    return FrontEnd(plain.get("range_g", otherwise.range_g), plain.get("bits", otherwise.bits),
                    plain.get("rate_hz", otherwise.rate_hz), plain.get("counts_per_g"))


def from_header(text: str, file: str) -> Chosen:
    """Settings of an exported header, hand-edited or not. Raises Problem with every refused line."""
    try:
        found = read_header(text)
    except HeaderRefused as refused:
        first, *others = refused.problems
        message = f"{first.value} {first.message}"
        remedy = " ".join([first.remedy, *(f"Also {other}" for other in others)])
        raise Problem("header", message, remedy, file=file, line=first.line, value=first.value) from refused
    return Chosen(found.settings, found.front_end, tuple(f"{file}, {remark}" for remark in found.remarks))

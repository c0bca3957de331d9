"""Run by test_new_row.py in a copy of the program that has two rows more: what each place says of them, as JSON.

    python -m tests.detect.rule.made_up_row STUDY FOLDER

One check a line, in words of the place; the numbers are for the test to judge.
"""

import argparse
import contextlib
import io
import json
import sys
from pathlib import Path

import numpy as np
from PySide6.QtWidgets import QApplication

from app.__main__ import main, parser
from app.study.results.setting_map import MAPPABLE, axis, switched_off
from app.study.tuning.search_results import choices
from app.ui.settings.panel import SettingsPanel
from detect.firmware.header.reader import HeaderRefused, read_header
from detect.firmware.header.writer import Provenance, write_header
from detect.firmware.twins.detector import Twin
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.reference import attempts_of
from detect.rule.settings import DEFAULTS, from_plain
from detect.tuning.levels import scale

FRONT = FrontEnd()
CHOSEN = from_plain({"nudge_on": True, "nudge_ms": 340.0, "hold_off_ms": 1000.0, "observe_ms": 200.0,
                     "settle_ms": 100.0, "tilt_on": False})[0]


def falls() -> np.ndarray:
    """(n, 3) counts: drops and impacts, each sooner after the one before."""
    one_g, rows = FRONT.counts(1), []
    for rest in range(120, 20, -2):
        rows += [(0, one_g, 0)] * rest + [(0, 0, 0)] * 4 + [(0, 3 * one_g, 0)] + [(0, one_g, 0)] * 15
    return np.array(rows, dtype=np.int16)


def twin() -> dict[str, object]:
    """How the C, told by its job and told by its header, and the reference agree; how many alarms with other values."""
    signal, rule = falls(), rule_of(CHOSEN, FRONT)
    expected = attempts_of(rule, [signal.tolist()])
    header = write_header(CHOSEN, FRONT, Provenance()).encode()
    with Twin() as told, Twin({"plumbfall_params.h": header}) as built:
        numbers = {ms: len(told.attempts([signal], rule_of(CHOSEN.with_value("nudge_ms", ms), FRONT)))
                   for ms in (100.0, 340.0, 700.0)}
        return {"told": told.attempts([signal], rule) == expected, "built": built.attempts([signal]) == expected,
                "attempts": numbers}


def header() -> dict[str, object]:
    text = write_header(CHOSEN, FRONT, Provenance())
    read = read_header(text)
    try:
        read_header(text.replace("PLF_NUDGE_SAMPLES                 17U", "PLF_NUDGE_SAMPLES               4097U"))
        refusal = ""
    except HeaderRefused as refused:
        refusal = str(refused)
    return {"same": read.settings == CHOSEN, "remarks": len(read.remarks), "refusal": refusal,
            "lines": [line for line in text.splitlines() if "NUDGE" in line]}


def panel() -> dict[str, object]:
    shown = SettingsPanel()
    shown.show_settings(CHOSEN, rule_of(CHOSEN, FRONT), FRONT, None)
    row = shown.rows["nudge_ms"]
    on = {"value": row.box.value(), "integer": row.integer.text(), "spoken": row.spoken, "shown": not row.isHidden()}
    shown.show_settings(DEFAULTS, rule_of(DEFAULTS, FRONT), FRONT, None)
    return {**on, "hidden_while_off": row.isHidden()}


def search() -> dict[str, object]:
    levels = scale("nudge_ms", FRONT)
    return {"levels": [one for one in levels.levels if one is not None], "off_first": levels.levels[0] is None,
            "choices": {one.key: [one.title, one.usual, one.bounds] for one in choices() if "nudge" in one.key}}


def command_line(study: str, folder: Path) -> dict[str, object]:
    taken = parser().parse_args(["tune", study, "--keys", "nudge_ms=100:900"])
    assert isinstance(taken, argparse.Namespace)
    chosen = folder / "chosen.json"
    chosen.write_text(json.dumps({"settings": CHOSEN.plain()}), encoding="utf-8")
    with contextlib.redirect_stdout(io.StringIO()) as said:
        assert main(["score", study, "--settings", str(chosen), "--json"]) == 0
    scored = json.loads(said.getvalue())
    return {"keys": taken.keys, "setting": scored["settings"]["nudge_ms"], "integer": scored["integers"]["nudge"]}


def everything(study: str, folder: Path) -> dict[str, object]:
    levels = axis("nudge_ms", CHOSEN, FRONT, 60)
    return {"twin": twin(), "header": header(), "panel": panel(), "search": search(),
            "map": {"mappable": "nudge_ms" in MAPPABLE, "ends": [levels.values[0], levels.values[-1]],
                    "title": levels.title, "off": switched_off("nudge_ms", DEFAULTS)},
            "command_line": command_line(study, folder)}


if __name__ == "__main__":
    application = QApplication([])
    found = everything(sys.argv[1], Path(sys.argv[2]))
    print(json.dumps(found))

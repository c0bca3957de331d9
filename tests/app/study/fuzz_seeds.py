"""Valid studies, settings, headers and dumps with everything in them that such a file can say."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

from app.study.storage.study_files import settings_plain
from data.recipe.recipe import Recipe
from data.recipe.sections import Axes, FrontEndSection, Units
from data.recordings.model import About, Calibration, Label, Shift, Trim
from data.study.intended_use import IntendedUse
from data.study.study_file import Mark, RecordingEntry, StudyFile, to_json
from data.study.tuned_record import PersonCounts, TunedRecord
from detect.firmware.header.writer import Provenance, write_header
from detect.firmware.twins.record import RecordHead, encoded, record_bytes
from detect.firmware.twins.ring import Flash
from detect.firmware.vectors.device_cases import EVENT
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.device_made import alarm_record, filled_ring

COMPAT = Path(__file__).parents[2] / "compat"
SENSOR = FrontEndSection(4, 12, 50)
OTHER = DEFAULTS.with_value("impact_g", 2.5).with_value("active_on", True)


def tuned(settings=DEFAULTS, front_end: FrontEndSection = SENSOR) -> TunedRecord:
    people = (PersonCounts("Ann", (3, 1, 0, 4), (2, 2, 1, 3), 0.5, (0, 1)), PersonCounts("Bea", (3, 1, 0, 4), None))
    return TunedRecord(settings.plain(), front_end, ("impact_g",), "youden", "0" * 64, "1" * 64, 8, people, 1, 900, 0,
                       ((3, 1), (2, 0)), {"impact_g": 2.0})


def studies() -> list[bytes]:
    """One with everything, one with the little that an old one had, one whose settings a search found."""
    fall = Label("fall", "kerb", 1.0, 2.0, "hm", "B", proposed=True)
    entry = RecordingEntry(
        "walk", "/walks/a.csv", "0" * 64, About("Ann", "fall", "waist", "1", "a", "staged", (("kind", "ADL"),)),
        (fall, Label("other", "", None, None)), "", Recipe(units=Units("mg", "ms")), 50.0, Trim(0.5, 0.25),
        ("/walks/a2.csv",), "walk", Shift(1.5, 20.0),
        Calibration((0.0, 0.1, 0.0), (1.0, 0.9, 1.0), "rest", 0.1, 0.01, 6, ("up",)), Axes(up="-x", forward="z"))
    marks = (Mark("mark", DEFAULTS.plain()), Mark("A", OTHER.plain()),
             Mark("kept: calm", OTHER.plain(), SENSOR, {"tp": 1, "fn": 2, "fp": 3, "tn": 4}),
             Mark("kept: x", OTHER.plain()))
    full = StudyFile(
        SENSOR, DEFAULTS.plain(), {"before_s": 0.5, "after_s": 1.5, "annotator": "B", "node": "a"}, marks, ("Bea",),
        (entry, replace(entry, name="sit", axes=Axes(), about=About("Bea", "sit"), labels=(), left_out="torn")),
        {"recording": "walk", "playhead_s": 1.0, "from_s": 0.0, "to_s": 4.0, "filter": "fall"}, "notes",
        tuned=(tuned(),), intended_use=IntendedUse(purpose="home"))
    text = to_json(full, Path("/walks"))
    old = json.loads(text)
    for key in ("seal", "tuned", "intended_use", "marks", "device"):
        del old[key]
    other = replace(full, sealed=(), settings=OTHER.plain(), marks=marks[:1], front_end=None, tuned=(tuned(OTHER),))
    return [text.encode(), json.dumps({**old, "plumbfall_study": 1}, indent=1).encode(),
            to_json(other, Path("/walks")).encode(), (COMPAT / "files" / "study.json").read_bytes(),
            b'{"plumbfall_study": 1}', b'{"plumbfall_study": 99}', text.encode()[:-30], text.encode("utf-16"),
            b'{"plumbfall_study": 1, "view": {"a": NaN}}', b'{"a": 1, "a": 2}', b"[" * 90_000, *_edited(text)]


def _edited(text: str) -> list[bytes]:
    """By hand, into what a study can't be."""
    found = []
    for place, key, value in (("clock", "drift_ppm", 2e6), ("trim", "end_s", -1), ("calibration", "gain", [1, 0, 1]),
                              ("calibration", "offset_g", [1]), ("", "name", "sit"), ("", "rate_hz", 0),
                              ("labels", "end_s", None), ("labels", "end_s", 0.5), ("", "recipe", 9)):
        plain = json.loads(text)
        entry = plain["recordings"][0]
        table = entry["labels"][0] if place == "labels" else entry[place] if place else entry
        table[key] = value
        found.append(json.dumps(plain).encode())
    for key, value in (("view", {"from_s": 5, "to_s": 1, "recording": 3}), ("device", {"nothing": 1}),
                       ("score", {"before_s": -1, "annotator": 4}), ("settings", {"impact_g": 900.0})):
        found.append(json.dumps({**json.loads(text), key: value}).encode())
    return found


def settings() -> list[bytes]:
    found = settings_plain(OTHER, FrontEnd(8, 14, 40), tuned(OTHER))
    ends = settings_plain(DEFAULTS, FrontEnd(4, 12, 50, 400.0, -1900, 1800))
    return [*(json.dumps(one).encode() for one in (
                found, ends, {"settings": {"physical": DEFAULTS.plain()}, "front_end": {}},
                {"settings": {"impact_g": 2.5}},
                {"settings": {**DEFAULTS.plain(), "impact_g": 900.0}}, {"settings": 1}, [1])),
            *studies()[:3], b"[" * 90_000, b"9" * 6000, b"{", *headers()[:2]]


def headers() -> list[bytes]:
    """Of several sensors and settings, and of C API 1."""
    told = Provenance(recordings_sha256="0" * 64, labels_sha256="1" * 64)
    every = DEFAULTS
    for key in ("active_on", "reclined_on", "every_axis", "restart_on"):
        if key in DEFAULTS:
            every = every.with_value(key, True)
    texts = [write_header(some, sensor, told) for some, sensor in (
        (DEFAULTS, FrontEnd()), (OTHER, FrontEnd(8, 14, 40)), (every, FrontEnd(4, 12, 50, 400.0, -1900, 1800)),
        (DEFAULTS, FrontEnd(counts_per_g=409.6)))]
    lines = texts[0].splitlines(keepends=True)
    # Edited by hand: lines that no header has, comments gone, integers that nothing becomes.
    bare = "".join(line.split("/*")[0].rstrip() + "\n" for line in lines if line.startswith(("#define", "#if", "#e")))
    edited = [bare,
              texts[0].replace("PLF_RATE_MILLIHZ 50000U", "PLF_RATE_MILLIHZ 100000U"),
              "".join(line for line in lines if "PLF_CHECK(settle" not in line)]
    old = (COMPAT / "plumbfall_params_v1.h").read_text()
    return [text.encode() for text in (*texts, *edited, old, "PLUMBFALL_PARAMS_H", "#define X 1")]


def dumps() -> list[bytes]:
    """Memories half full, gone round, cleared and blank, with outcomes; records as a station reads them."""
    ring = filled_ring(4, Flash(256, 4, 4))
    ring.set_outcome(2, "acknowledged")
    cleared = filled_ring(3, Flash(512, 8, 4))
    cleared.clear()
    one = alarm_record(5)
    cleared.append(one.head, one.samples)
    round_about = filled_ring(60, Flash(256, 8, 4))
    sent = [encoded(one.head, one.samples) for one in (alarm_record(1), alarm_record(2))]
    measured = encoded(RecordHead(1, before=200, after=10, event=EVENT), alarm_record(1, 210).samples)
    memories = [bytes(ring.flash.bytes), bytes(cleared.flash.bytes), bytes(round_about.flash.bytes)]
    return [*memories, *(memory[:-80] for memory in memories), memories[0] + b"\x00" * 40, b"".join(sent), measured,
            b"ab" + sent[0] + b"c" + sent[1][:-1], b"\xff" * 200,
            memories[0][:record_bytes(20, 12, measured=False)].ljust(200, b"\xff")]

"""The rule of a report: its diagram, every setting in units and counts, and why it has its value."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from app.formatting import plural, spoken, value_spoken
from app.study.presets import PRESETS
from app.study.report.page import Section, Table
from app.study.results import worth
from app.study.session import Session
from app.study.storage.study_files import settings_from
from detect.firmware.header.fields import OF_KEY
from detect.firmware.header.identity import identity
from detect.rule.integers import rule_of
from detect.rule.parameter_row import GROUPS
from detect.rule.settings import BY_KEY, DEFAULTS

SEARCHED, CHANGED, PRESET, DEFAULT, TYPED = "searched", "changed since the search", "preset", "default", "typed"


CHECKED_BY = (
    "It is PLF_IDENTITY_CRC32 of the exported header, of the settings alone, not of the code. A device works it out "
    "from the integers that it runs by (plf_identity) and tells it in its hello, its status and each record of its "
    "log; plumbfall check FOLDER compares header, vectors and C files with the digests of the export.")


def _found_by(session: Session) -> tuple[str, ...]:
    """How a search came to the settings; nothing where none did."""
    found = session.worth()
    if found is None:
        return ()
    record = found.record
    return (f"A search moved {plural(len(record.tuned), 'setting')}, tried {plural(record.tried, 'detector')} and kept "
            f"the best by its goal, {record.goal}. To leave people out, they were set aside in turn, the search was "
            "run anew on all others, and what it found was scored on those set aside.",)


def origin_of(session: Session, key: str) -> str:
    """Why a setting has its value, as far as the study tells."""
    study, found = session.study, session.worth()
    value = study.settings[key]
    if found is not None and key in found.record.tuned:
        return SEARCHED if worth.found_settings(found.record)[key] == value else CHANGED
    if value == DEFAULTS[key]:
        return DEFAULT
    titles = [one.title for one in PRESETS if one.settings[key] == value and key in one.values]
    return f"{PRESET} {titles[0]}, or typed" if titles else TYPED


def rule(session: Session) -> Section:
    study = session.study
    made = rule_of(study.settings, study.front_end)
    rows = []
    for key in study.settings:
        row = BY_KEY[key]
        used = "" if not row.needs or study.settings[row.needs] else f"not used: {spoken(row.needs)} is off"
        integers = ", ".join(f"{field.macro} = {field.integer(made)}" for field in OF_KEY[key])
        rows.append((GROUPS[row.group], spoken(key), value_spoken(key, study.settings[key]), integers,
                     origin_of(session, key), used or row.sentence))
    return Section("rule", "The rule and its settings", (
        f"Settings' identity (CRC-32): 0x{identity(made, study.front_end):08X}. The firmware decides by the integers; "
        "the values beside them are what was asked for.", CHECKED_BY, *_found_by(session)), (
        Table("settings", "Every setting", ("stage", "setting", "value", "integers in the firmware", "why", "meaning"),
              tuple(rows)),))


def stages(session: Session) -> dict[str, str]:
    """What the diagram says in each of its boxes; empty where a stage is off."""
    study = session.study
    said = {key: value_spoken(key, study.settings[key]) for key in study.settings}
    on = {key: bool(study.settings[key]) for key in study.settings if key.endswith("_on")}
    judged = [words for key, words in (
        ("tilt_on", f"turned by {said['tilt_deg']} or more"),
        ("reclined_on", f"lying, {said['reclined_deg']} from upright"),
        ("still_on", f"still, below {said['still_g']}"),
        ("active_on", f"before it at most {said['active_share_pct']} outside 1 g ± {said['active_band_g']}"))
        if on.get(key)]
    return {
        "free_fall": f"below {said['free_fall_g']} for {said['free_fall_ms']}" if on["free_fall_on"] else "",
        "within": f"within {said['impact_within_ms']}" if on["free_fall_on"] else "",
        "impact": f"at least {said['impact_g']}",
        "settle": f"wait {said['settle_ms']}", "observe": f"over {said['observe_ms']}",
        "judged": "; ".join(judged) or "nothing is judged", "hold_off": f"silent for {said['hold_off_ms']}",
    }


def changes(session: Session, since: Path | None) -> Section:
    """Against an earlier export, settings file or study. Raises Problem where it can't be read."""
    if since is None:
        return Section("changes", "Changes against an earlier export", ("No earlier export was named (--since).",))
    study, before = session.study, settings_from(since, session.study.front_end)
    rows = [(spoken(key), value_spoken(key, before.settings[key]), value_spoken(key, study.settings[key]))
            for key in study.settings if before.settings[key] != study.settings[key]]
    fronts = asdict(before.front_end), asdict(study.front_end)
    rows += [(f"sensor, {key}", str(fronts[0][key]), str(value)) for key, value in fronts[1].items()
             if fronts[0][key] != value]
    old, new = (f"0x{identity(rule_of(one.settings, one.front_end), one.front_end):08X}" for one in (before, study))
    return Section("changes", "Changes against an earlier export",
                   (f"Against {since.name}, identity {old}; this is {new}." if rows else
                    f"Nothing changed against {since.name}: both are {new}.", *before.remarks),
                   (Table("changes", "Changed", ("setting", "then", "now"), tuple(rows), (1, 2)),))

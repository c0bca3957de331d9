"""`plumbfall quality STUDY`: how good each recording is, those with findings first."""

from __future__ import annotations

import argparse

from app.cli.options import study_command, tell_refused
from app.cli.output import CHECK_FAILED, DONE, print_json, print_table
from app.study.recordings import checks
from app.study.session import Session
from data.recordings.quality import Quality

COLUMNS = ("name", "duration_s", "rate_hz", "rate_error", "gaps", "clipped", "clipped_s", "longest_clip_s", "stuck_s",
           "frozen_s", "rest_g", "noise_mg", "temperature_drift", "battery_drift")


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "quality", help="how good each recording is: clipped, stuck, silent, drifting")
    command.add_argument("--sort", choices=COLUMNS, help="sort by this column, largest first; default: by findings")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    found = checks.quality(session.study, session.library)
    if options.sort == "name":
        found.sort(key=lambda one: one.name)
    elif options.sort:
        found.sort(key=lambda one: -abs(_number(one, options.sort)))
    tell_refused(session)
    if options.json:
        print_json({"recordings": [checks.quality_plain(one) for one in found]})
    else:
        _print(found)
    return DONE if all(one.sound for one in found) else CHECK_FAILED


def _number(one: Quality, column: str) -> float:
    value = getattr(one, column)
    return 0.0 if value is None or value != value else float(value)


def _print(found: list[Quality]) -> None:
    rows = [(q.name, f"{q.duration_s:.1f}", f"{q.rate_hz:g}", f"{100 * q.rate_error:+.2f}", str(q.gaps),
             f"{q.clipped_s:.2f}", f"{q.longest_clip_s * 1000:.0f}", f"{q.rest_g:.3f}",
             "" if q.noise_mg is None else f"{q.noise_mg:.1f}", ", ".join(f.kind for f in q.findings)) for q in found]
    print_table(("recording", "s", "Hz", "off %", "gaps", "clipped s", "longest ms", "rest g", "noise mg", "found"),
                rows, (1, 2, 3, 4, 5, 6, 7, 8))
    print(f"{sum(q.sound for q in found)} of {len(found)} recordings without a finding")

"""Sections that take long to work out: one function each from a session to a section, kept with the study."""

from __future__ import annotations

import hashlib
import subprocess
import tempfile
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from app.formatting import GAP, plural, spoken
from app.study.device import cost, mounting, placement, ranges, sleep, tolerance, what_if
from app.study.device.material import in_hand, recorded
from app.study.pipeline import Cancelled, Progress
from app.study.report import device_sections, handover
from app.study.report.page import Section, Table
from app.study.report.plots import Cell, Curve, Plot, Scale
from app.study.report.result_sections import IN_SAMPLE
from app.study.results import trade_off
from app.study.results.counts import Counter
from app.study.results.setting_map import MapView, map_of, switched_off
from app.study.session import Session
from data.problem import Problem
from detect.firmware.check import BuildFailed, NoCompiler, TwinFailed
from detect.firmware.export import AROUND_C, MANIFEST, RULE_C
from detect.firmware.twins.detector import find_compiler
from detect.rule.settings import BY_KEY, BadSetting
from detect.workers import Stopped

Crew = Executor | None
Work = Callable[[Session, Crew, Progress, Cancelled], Section]

MAP_OF, MAP_LEVELS, SHADES = ("impact_g", "still_g"), 40, 7
"""The settings across and up of the map, levels of each, and how many shades of Youden's J it is drawn in."""


MOUNTED = ("mounting.", "placement.")
PART = "part.kind", "analog.", "digital."
ON_ENERGY = "Current and battery of each part follow from the numbers under Energy, as far as those were checked."
CLIPPED_FALLS = ("A clipped fall has a sample at the part's limit anywhere in it; the standing warning of clipped "
                 "peaks counts those by which the rule decides.")


@dataclass(frozen=True)
class Topic:
    """`numbers`: of the device's numbers those on which it depends, by how their keys begin. `weight`: how long it
    takes beside the others, measured on some hundred recordings."""

    key: str
    title: str
    work: Work
    numbers: tuple[str, ...] = ()
    weight: float = 1


def compute(topic: Topic, session: Session, crew: Crew, progress: Progress, cancelled: Cancelled) -> Section:
    """What can't be worked out says why. Raises Stopped."""
    try:
        return topic.work(session, crew, progress, cancelled)
    except BadSetting as refused:
        return Section(topic.key, topic.title, (f"Not possible: {refused}",))
    except Problem as problem:
        return Section(topic.key, topic.title, (f"Not possible: {problem.sentence()}",))


def _trade_off(session: Session, crew: Crew, progress: Progress, cancelled: Cancelled) -> Section:
    """The map of two settings, and the best trade-offs among all that it tried."""
    found, labelled, prepared, _ = session.evaluated()
    study, counter = session.study, Counter(prepared, labelled, crew)
    known = list(dict.fromkeys([study.settings, *(one.settings for one in study.kept
                                                  if one.front_end == study.front_end)]))
    counter.count(known, cancelled)
    off = [key for key in MAP_OF if switched_off(key, study.settings)]
    maps = () if off else (map_of(study.settings, counter, MAP_OF, progress, cancelled, lambda view: None, MAP_LEVELS),)
    m, unlabelled = found.score.matrix, found.score.unlabelled[1]
    said, tables, plots = [], [], []
    for against in trade_off.possible(counter.trials):
        trade = trade_off.trade_off(counter, study.settings, (m.tp, m.fp, unlabelled), against,
                                    lambda per_day: cost.cost_of(study, per_day))
        table = trade_off.trade_table(trade)
        tables.append(Table(f"trade_off_{against}", f"Trade-off against {_AGAINST[against]}", table.headings,
                            tuple(words for words, _ in table.rows), tuple(range(5)),
                            "Of all settings that were tried those that no other beats in both. In-sample: on the "
                            "people at hand."))
        points = tuple((point.alarms.value, 100 * point.missed.value) for point in trade.undominated)
        if points:
            plots.append(Plot(
                f"trade_off_{against}", f"Missed falls against {_AGAINST[against]}",
                f"{len(points)} best trade-offs; the table below has each with its intervals.",
                Scale(_AGAINST[against], 0.0, max(x for x, _ in points) * 1.05 or 1.0), Scale("missed, %", 0.0, 100.0),
                (Curve("best trade-offs", "touch", tuple(sorted(points)), True),)))
    for view in maps:
        tables.append(_map_table(view))
        plots.append(_map_plot(view))
    if off:
        said.append(f"No map: {' and '.join(switched_off(key, study.settings) for key in off)} is off.")
    said.append(f"{plural(counter.tried, 'different detector')} tried, in-sample: settings taken from here have been "
                "chosen on the people they are scored on.")
    return Section("trade_off", "Map and trade-off", tuple(said), tuple(tables), tuple(plots))


_AGAINST = {"unlabelled": "false alarms per day", "others": "share of other activities with an alarm"}


def _map_table(view: MapView) -> Table:
    table = trade_off.chart_table(view)
    return Table("map", f"{spoken(view.x.key)} and {spoken(view.y.key)}", table.headings,
                 tuple(words for words, _ in table.rows), tuple(range(len(table.headings))))


def _map_plot(view: MapView) -> Plot:
    """Youden's J as shades of rectangles around each level."""
    values = view.values("youden_j")
    xs, ys = (_edges(axis.values) for axis in (view.x, view.y))
    top = float(np.nanmax(values)) if np.isfinite(values).any() else 1.0
    cells = tuple(Cell(xs[ix], xs[ix + 1], ys[iy], ys[iy + 1], min(int(max(value, 0.0) / max(top, 1e-9) * SHADES),
                                                                  SHADES - 1))
                  for (iy, ix), value in np.ndenumerate(values) if np.isfinite(value))
    unit = {key: BY_KEY[key].unit.value for key in MAP_OF}
    return Plot("map", f"Youden's J over {spoken(view.x.key)} and {spoken(view.y.key)}",
                f"Darker is better; the darkest is {top:.2f}. The table below has every value.",
                Scale(f"{spoken(view.x.key)}, {unit[view.x.key]}", xs[0], xs[-1]),
                Scale(f"{spoken(view.y.key)}, {unit[view.y.key]}", ys[0], ys[-1]), cells=cells, height=360)


def _edges(values: Sequence[object]) -> list[float]:
    """Half way between neighbours, and as far outside the ends."""
    at = np.array([float(str(value)) for value in values])
    if len(at) == 1:
        return [at[0] - 0.5, at[0] + 0.5]
    middle = (at[1:] + at[:-1]) / 2
    return [float(2 * at[0] - middle[0]), *middle.tolist(), float(2 * at[-1] - middle[-1])]


def _tolerance(session: Session, crew: Crew, progress: Progress, cancelled: Cancelled) -> Section:
    view = tolerance.run(session.study, session.evaluated()[:3], crew, progress, cancelled)
    if cancelled():
        raise Stopped
    flips = tuple(tolerance.flip_row(row) for row in view.flips)
    return Section("tolerance", "Tolerance of devices", (view.headline, IN_SAMPLE, tolerance.chance_words(view)), (
        Table("tolerance_bounds", "Drawn from", ("tolerance", "bound"), tolerance.bounds_words(view.found)),
        Table("tolerance_spread", "Spread over devices", tolerance.SPREAD_HEADS, tuple(tolerance.spread_rows(view)),
              (1, 2, 3, 4)),
        Table("tolerance_drivers", "What drives it", tolerance.DRIVER_HEADS,
              tuple(tolerance.driver_row(view, one) for one in view.drivers), (1, 2)),
        Table("tolerance_events", "Events that come out otherwise in some device", tolerance.FLIP_HEADS, flips, (4,)),
        device_sections.table("tolerance_numbers", session.study, ("spread.",))), warnings=view.remarks,
        unverified=device_sections.unverified(session.study, ("spread.",)))


def _sleeping(session: Session, crew: Crew, progress: Progress, cancelled: Cancelled) -> Section:
    view = sleep.waking_view(session.study, session.evaluated()[:3], cancelled)
    changed = tuple((one.recording, one.event, f"{one.at_s:.2f}", one.was, one.now, one.why) for one in view.changed)
    missed = tuple((one.recording, one.event, f"{one.at_s:.2f}", one.why) for one in view.missed)
    return Section("sleeping", "A sleeping processor", (view.headline,), (
        Table("sleeping", "Always on and asleep until woken", ("", "always on", "woken"), view.rows, (1, 2)),
        Table("sleeping_events", "Events that come out otherwise", ("recording", "event", "at s", "always on", "woken",
                                                                    "why"), changed, (2,)),
        Table("sleeping_missed", "Low magnitudes that the interrupt missed, of falls and of anything else",
              ("recording", "event", "at s", "why"), missed, (2,)),
        device_sections.table("sleeping_numbers", session.study, sleep.NUMBERS)), warnings=view.doubts,
        unverified=device_sections.unverified(session.study, sleep.NUMBERS))


def _mounting(session: Session, crew: Crew, progress: Progress, cancelled: Cancelled) -> Section:
    view = mounting.mounting_view(session.study, session.evaluated()[:3], None, True, crew)
    sweep = tuple((axis, f"{degrees:+g}°", *map(str, rest)) for axis, degrees, *rest in mounting.curve(view))
    first = tuple((one.recording, one.event, f"{one.at_s:.2f}", one.was, one.now, one.where)
                  for one in mounting.first_flips(view))
    return Section("mounting", "Mounting", tuple(filter(None, (view.headline,))), (
        Table("mounting", "As recorded and as mounted", ("", "as recorded", "as mounted"), view.rows, (1, 2)),
        Table("mounting_sweep", "Turned in its case", ("axis", "angle", "caught", "false alarms", "unlabelled alarms",
                                                       "changed"), sweep, (1, 2, 3, 4, 5)),
        Table("mounting_first", "First to change", ("recording", "event", "at s", "as recorded", "then", "where"),
              first, (2,)),
        Table("placements", "Placements beside each other", placement.TITLES,
              tuple(map(placement.row_texts, view.placements.rows)), (1, 2, 3, 4, 5), view.placements.said),
        Table("swings", "What a place adds", placement.SWING_TITLES,
              tuple(map(placement.swing_texts, view.placements.swings)), (1, 2), placement.BOTH_WAYS),
        device_sections.table("mounting_numbers", session.study, MOUNTED)), warnings=view.said,
        unverified=device_sections.unverified(session.study, MOUNTED))


def _what_if(session: Session, crew: Crew, progress: Progress, cancelled: Cancelled) -> Section:
    """Parts around the study's own, as the window suggests them."""
    study, hand = session.study, in_hand(session)
    wanted = what_if.wanted_of(what_if.suggested(study, recorded(hand)), 0.0, what_if.noise_band_of(study), False)
    view = what_if.run(hand, wanted, crew, progress, cancelled)
    refused = sum(bool(one.refused) for one in view.cells)
    said = (f"{plural(len(view.cells), 'part')} tried on the recordings, the current one first; settings carried over "
            "in g and ms, none searched again.", IN_SAMPLE,
            *([f"{refused} refused, most because: {what_if.most_refused(view)}"] if refused else []))
    return Section("what_if", "What if the sensor were another", said, (
        Table("what_if", "Range, resolution, rate and filter", what_if.TITLES,
              tuple(what_if.row_texts(view, at, study.front_end) for at in range(len(view.cells))),
              tuple(range(2, what_if.LOST + 1)), f"{what_if.CAUTION} {CLIPPED_FALLS}"),
        device_sections.table("what_if_numbers", study, PART)), warnings=view.remarks,
        unverified=(ON_ENERGY, *device_sections.unverified(study, PART)))


def _ranges(session: Session, crew: Crew, progress: Progress, cancelled: Cancelled) -> Section:
    view = ranges.run(in_hand(session), progress, cancelled)
    return Section("ranges", "A range that is switched: a what-if, not exported", (ranges.headline(view),), (
        Table("ranges", "Switched, and each range kept", ranges.TITLES, tuple(map(ranges.row_texts, view.scores)),
              tuple(range(1, 8)), IN_SAMPLE), device_sections.table("ranges_numbers", session.study, ("ranges.",))),
        unverified=device_sections.unverified(session.study, ("ranges.",)))


def _firmware(session: Session, crew: Crew, progress: Progress, cancelled: Cancelled) -> Section:
    """The export built here by the host's compiler, its vectors run, every recording sent through its C."""
    title = "Firmware as built here"
    with tempfile.TemporaryDirectory(prefix="plumbfall-") as name:
        folder = Path(name)
        handover.exporting(session, folder)(progress, cancelled)
        try:
            listed = hashlib.sha256((folder / MANIFEST).read_bytes()).hexdigest()
            compiler = find_compiler()
            report = handover.check(folder, session.copied())
            sizes = _sizes(compiler, folder)
        except (BuildFailed, NoCompiler, TwinFailed) as failed:
            return Section("firmware", title, (f"Not possible: {failed}",))
    rows = (
        ("compiler", _first_line([compiler, "--version"])),
        (f"SHA-256 of {MANIFEST}, which has that of every exported file", listed),
        ("golden vectors of the detector", _passed(report.vectors, report.vectors_failed)),
        ("vectors of log, alarm and link", _passed(report.device_vectors, report.device_vectors_failed)),
        ("recordings sent through the C", str(report.recordings)),
        ("attempts compared, field by field", str(report.attempts)),
        ("recordings that differ", str(len(report.differences))), *sizes)
    said = "Everything agrees bit for bit." if report.passed else "THE C DOES NOT AGREE: see below."
    return Section("firmware", title, (said,), (Table("firmware", "Built, run, compared", ("what", "found"), rows),),
                   warnings=(*report.header, *report.beside, *report.differences), unverified=(
                       "Run on this machine's processor: the same C on the target, with the target's compiler, is for "
                       "whoever builds it; the vectors' test program runs there.",))


def _passed(ran: int, failed: int) -> str:
    return f"{ran} ran, {failed} failed"


def _sizes(compiler: str, folder: Path) -> tuple[tuple[str, str], ...]:
    """Bytes of code and data as the host's `size` reports them; nothing where that program is missing."""
    rows = []
    for name in (*RULE_C, *AROUND_C):
        try:
            subprocess.run([compiler, "-std=c99", "-Os", "-c", "-I", ".", "-o", "one.o", name], cwd=folder, check=True,
                           capture_output=True, timeout=60)
            done = subprocess.run(["size", "one.o"], cwd=folder, check=True, capture_output=True, text=True, timeout=60)
        except (OSError, subprocess.SubprocessError):
            continue
        text, data, bss = done.stdout.splitlines()[1].split()[:3]
        rows.append((f"{name}, -Os on this host", f"{text}{GAP}bytes of code, {data} of data, {bss} of bss"))
    return tuple(rows)


def _first_line(command: Sequence[str]) -> str:
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    return (done.stdout.splitlines() or ["unknown"])[0]


TOPICS = (
    Topic("trade_off", "Map and trade-off", _trade_off, cost.NUMBERS),
    Topic("tolerance", "Tolerance of devices", _tolerance, tolerance.NUMBERS, 100),
    Topic("sleeping", "A sleeping processor", _sleeping, (*sleep.NUMBERS, *cost.NUMBERS)),
    Topic("mounting", "Mounting", _mounting, MOUNTED, 5),
    Topic("what_if", "What if the sensor were another", _what_if,
          (*cost.NUMBERS, *sleep.NUMBERS, *PART), 8),
    Topic("ranges", "A range that is switched", _ranges, ("ranges.",)),
    Topic("firmware", "Firmware as built here", _firmware, ("life.", "memory.", "current.", "radio."), 14),
)

"""The results of a report: by people, activity and placement, alarms a day, delay, and every miss and false alarm."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from app.formatting import duration, plural
from app.study.report.page import Section, Table
from app.study.report.plots import Bar, Level, Plot, intervals, trace
from app.study.results.breakdown import NOT_SAID, WAYS
from app.study.results.side_by_side import SideBySide, Tile
from app.study.results.standing_warnings import ALARMS_EARLY
from app.study.results.views import Views
from app.study.session import Session
from detect.scoring.figures import counts_by
from detect.scoring.intervals import proportion

IN_SAMPLE = "On the people at hand: in-sample where settings were chosen on them."
MOST_BARS = 40
HEADS = ("caught", "sensitivity", "95 %", "false alarms", "specificity", "95 %")


def breakdown(session: Session) -> Section:
    views = Views(session)
    tables = []
    for by in ("person", "activity", "placement", "setting"):
        rows = tuple((one.name, one.caught, one.sensitivity, one.sensitivity_range, one.false_alarms, one.specificity,
                      one.specificity_range) for one in views.split(by).rows)
        tables.append(Table(f"by_{by}", f"By {by}", (by, *HEADS), rows, (1, 2, 3, 4, 5, 6), IN_SAMPLE))
    return Section("breakdown", "Results by person, activity, placement and setting", tables=tuple(tables),
                   plots=tuple(filter(None, (_plot(session, by, falls) for by, falls in (
                       ("person", True), ("activity", True), ("activity", False))))))


def _plot(session: Session, by: str, falls: bool) -> Plot | None:
    """Share caught of falls, or quiet of other activities, in each group; None without any."""
    found, labelled, _, _ = session.evaluated()
    names = [WAYS[by](item, at) or NOT_SAID for item, at in labelled.owners]
    groups = sorted(set(names))
    number = {name: i for i, name in enumerate(groups)}
    counts = counts_by(np.array([number[name] for name in names], dtype=np.int64), found.score.outcome, len(groups))
    rows = []
    for name, (tp, fn, fp, tn) in zip(groups, counts.tolist(), strict=True):
        share = proportion(tp, tp + fn) if falls else proportion(tn, fp + tn)
        if share is not None:
            rows.append((share.value, name, share))
    rows = sorted(rows, key=lambda row: row[:2], reverse=True)[-MOST_BARS:]
    if not rows:
        return None
    figure = "Sensitivity" if falls else "Specificity"
    return intervals(f"by_{by}_{figure.lower()}", f"{figure} by {by}, the worst at the top",
                     f"95 % intervals; the table by {by} has the same figures.", "%", [name for _, name, _ in rows],
                     [Bar(float(at), 100 * one.low, 100 * one.value, 100 * one.high)
                      for at, (_, _, one) in enumerate(rows)], (0.0, 100.0))


def daily_alarms(session: Session) -> Section:
    found = Views(session).unlabelled()
    rows = tuple((row.recording, row.person, row.setting, row.at) for row in found.rows)
    hours = tuple((row.hour, str(row.unlabelled), row.hours, row.per_24h, row.interval) for row in found.by_hour)
    said = (*found.rates, *_unlabelled_left_out(session)) if found.rates else (
        "No time is unlabelled, so the false alarms a day are not known.",)
    free = any(rate.startswith("free-living") for rate in found.rates)
    return Section("daily_alarms", "False alarms per day", said, (
        Table("unlabelled_alarms", "Alarms in unlabelled time", ("recording", "person", "setting", "at"), rows),
        Table("unlabelled_by_hour", "Free-living time by hour", ("hour", "alarms", "length", "per day", "95 %"), hours,
              (1, 2, 3, 4), found.clock)),
        unverified=() if free else (
            "No free-living time was recorded: how often it would alarm in a day is not known.",))


def _unlabelled_left_out(session: Session) -> tuple[str, ...]:
    """What the same time came to under settings found without its wearers; nothing without a search."""
    found = session.worth()
    if found is None:
        return ()
    there = [one for one, _ in found.left_out]
    return ("These alarms are of people on whom the settings were tuned. Under settings found without them the same "
            f"people had {plural(sum(one.unlabelled[1] for one in there), 'alarm')} in unlabelled time, not "
            f"{sum(one.unlabelled[0] for one in there)}.",)


def delay(session: Session) -> Section:
    """From impact, and from the labelled onset, to the alarm."""
    found = Views(session).latencies()
    said: tuple[str, ...] = ("No fall was caught: no delay.",)
    if found.quantiles is not None:
        said = tuple(f"Since {since}: median {duration(times[1])}, 5 % within {duration(times[0])}, 95 % within "
                     f"{duration(times[2])}." if times else f"Since {since}: not known, no caught fall has one."
                     for since, times in zip(("impact", "labelled onset"), found.quantiles, strict=True))
    rows = tuple((one.recording, one.name, f"{one.since_impact_s:.2f}",
                  "" if one.since_onset_s is None else f"{one.since_onset_s:.2f}") for one in found.rows)
    if found.rows:
        said = (*said, _by_the_rule(session, [one.since_impact_s for one in found.rows]))
    return Section("delay", "Delay of the alarm", said, (
        Table("delay", "Every caught fall", ("recording", "event", "s since impact", "s since onset"), rows, (2, 3)),))


def _by_the_rule(session: Session, since_impact_s: Sequence[float]) -> str:
    """What of the delay the rule itself takes."""
    settings = session.study.settings
    takes_s = (settings.number("settle_ms") + settings.number("observe_ms")) / 1000
    early = sum(one < takes_s - 1 / session.study.front_end.rate_hz for one in since_impact_s)
    return (f"Of it the rule itself takes {duration(takes_s)}, to settle and to observe, in every fall"
            + (f"; {early} were judged sooner, since their recordings end or have a gap." if early else "."))


def wrong_events(session: Session, outcome: str) -> Section:
    """Every event that came out wrong, with its picture and where the rule stopped."""
    view = Views(session).beside(outcome, "impact", "nearest first")
    title = {"missed": "Missed falls", "false alarm": "False alarms"}[outcome]
    rows = tuple((tile.recording, tile.person, tile.name or tile.kind, f"{tile.at_s:.2f}", _why(tile))
                 for tile in view.tiles)
    heads = ("recording", "person", "event", "at s", "why" if outcome == "missed" else "nearest check, passed by")
    key = outcome.replace(" ", "_")
    plots = tuple(_picture(view, tile, f"{key}_{at}") for at, tile in enumerate(view.tiles))
    said = (f"{plural(len(rows), 'event')}.", *_on_people_left_out(session, outcome),
            *(one.sentence for one in session.warnings() if one.key == ALARMS_EARLY and outcome == "false alarm"))
    return Section(key, title, said, (Table(key, title, heads, rows, (3,)),), plots)


def _on_people_left_out(session: Session, outcome: str) -> tuple[str, ...]:
    """Events listed are in-sample: how many came out wrong of people left out, and whose. Nothing without a search."""
    found = session.worth()
    if found is None:
        return ()
    at, of, what = {"missed": (1, (0, 1), "falls"), "false alarm": (2, (2, 3), "other activities")}[outcome]
    there = [(one.person or "not named", counts) for one, counts in found.left_out]
    wrong = ", ".join(f"{person} {counts[at]}" for person, counts in there if counts[at])
    total, events = sum(counts[at] for _, counts in there), sum(counts[i] for _, counts in there for i in of)
    verb = "missed" if outcome == "missed" else "false alarms"
    return ("They are of these settings on the people they were tuned on.",
            f"On people left out of the search {total} of {events} {what} were {verb}"
            + (f": {wrong}. Which of theirs is not kept: each was judged under settings found without them."
               if total else "."))


def _why(tile: Tile) -> str:
    """"no impact: 0.31 g short"."""
    return tile.phrase if tile.phrase.startswith(tile.stopped) else f"{tile.stopped}: {tile.phrase}".rstrip(": ")


def _picture(view: SideBySide, tile: Tile, key: str) -> Plot:
    picture = view.picture(tile)
    levels = [Level(f"{'impact' if name == 'impact_g' else 'free fall'} {g:.2f} g",
                    "impact" if name == "impact_g" else "low", round(g, 3)) for name, g in view.lines.items()]
    return trace(key, f"{tile.recording}: {tile.name or tile.kind}",
                 f"{tile.outcome}; {_why(tile)}. Magnitude around {tile.at_s:.2f} s of the recording.",
                 picture.seconds, picture.g, picture.breaks, view.top_g, levels)

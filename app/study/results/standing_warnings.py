"""What lessens the worth of every figure of a study, in one list: what is wrong, what to do, and what can be done here.

The window, the commands, an exported header and the report all show this list, the worst first. A
search asks for one of them too: how many deciding peaks were clipped.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from app.formatting import GAP, decimal, part, plural
from app.study.pipeline import Evaluated, Prepared, StudyEvents
from app.study.recordings.device_signal import per_g
from app.study.results.confounds import Confounding, ConfoundRow, needs_s
from app.study.results.content import StandingWarning
from app.study.results.readout import Bystanders
from app.study.sealed import sealed_set
from app.study.state import Study
from data.recordings.sampling import clipped_at_g
from detect.device.part.part import reach_doubt
from detect.rule.settings import Settings
from detect.scoring.clipped_peaks import ClippedPeaks, clipped_peaks
from detect.scoring.score import FALSE_ALARM

AT_ITS_LIMIT = 0.98
"""From this share of a logger's limit on a peak counts as cut off: resampling takes a little off its top."""


@dataclass(frozen=True)
class DecidingPeaks:
    """`limit_g`: where the first of the loggers and the front end ends. `recordings`: those with a clipped fall."""

    found: ClippedPeaks
    limit_g: float
    recordings: tuple[str, ...]

    def sentence(self, settings: Settings) -> str:
        """Empty where no deciding peak is clipped. `settings`: their impact threshold is held against the limit."""
        return self.found.sentence(self.limit_g, settings.number("impact_g"))


def deciding_peaks(prepared: Prepared, labelled: StudyEvents) -> DecidingPeaks:
    """Of the scored events."""
    front_end, events = prepared.front_end, labelled.events
    ends: list[tuple[float, float]] = [(front_end.lowest, front_end.highest)] * len(prepared.recordings)
    limit_g = front_end.highest / front_end.k
    items = {int(at): item for at, (item, _) in zip(events.recording, labelled.owners, strict=True)}
    for at, item in items.items():
        one = prepared.recordings[at]
        if one.clipped:
            own_g = clipped_at_g(one, item.recipe, per_g(item, one, front_end))
            limit, limit_g = AT_ITS_LIMIT * own_g * front_end.k, min(limit_g, own_g)
            ends[at] = max(-limit, front_end.lowest), min(limit, front_end.highest)
    found = clipped_peaks(prepared.engine.corpus, events, ends)
    names = dict.fromkeys(prepared.names[int(events.recording[event])] for event in found.cut_falls)
    return DecidingPeaks(found, limit_g, tuple(names))


ONE_RATE, SEAL, CHOOSE_ANNOTATOR, PROPOSE, SHOW = "one rate", "seal", "choose annotator", "propose", "show"
"""What can be done about a warning by one click: everything read at the lowest rate, the dialog of the sealed set, that
of annotators, onsets proposed, or only the recordings behind it shown."""

ALARMS_EARLY = "alarms_early"
ORDER = ("record_broken", "rate_hz", "ends_early", ALARMS_EARLY, "clipped_peaks", "reach", "left_after_peak_s",
         "length_s", "clipped_share", "twice", "no_onset", "proposed_onset", "one_person", "not_named", "setting",
         "placement", "person", "bandwidth", "nobody_sealed")
"""The worst first: what makes a good score of something else than the motion, then what hides it, then for whom."""

TITLES = {
    "rate_hz": "Rate alone tells falls apart", "length_s": "Length alone tells falls apart",
    "left_after_peak_s": "Time left after the peak tells falls apart",
    "clipped_share": "Clipping alone tells falls apart", "ends_early": "Recordings of one kind end too soon",
    "person": "The person alone tells falls apart", "setting": "The setting alone tells falls apart",
    "placement": "The placement alone tells falls apart",
}
"""Of what else tells falls from other activities."""


def in_line(one: StandingWarning) -> str:
    """What is wrong and what to do."""
    return f"{one.sentence} {one.remedy}"


def headline(found: tuple[StandingWarning, ...]) -> str:
    """"3 warnings: rate alone tells falls apart", the worst in words; empty without any."""
    return f"{plural(len(found), 'warning')}: {found[0].title[0].lower()}{found[0].title[1:]}" if found else ""


def plain(found: tuple[StandingWarning, ...]) -> list[dict[str, Any]]:
    """For JSON: the recordings by their number only."""
    return [{"key": one.key, "title": one.title, "sentence": one.sentence, "remedy": one.remedy,
             "recordings": len(one.recordings)} for one in found]


class Warnings:
    """Of prepared recordings and their labels; what depends on the settings is asked anew for each."""

    def __init__(self, prepared: Prepared, labelled: StudyEvents, bystanders: Bystanders,
                 confounding: Confounding) -> None:
        self._prepared, self._labelled, self._bystanders = prepared, labelled, bystanders
        self._confounding = confounding
        self._deciding = deciding_peaks(prepared, labelled)

    def of(self, study: Study, found: Evaluated) -> tuple[StandingWarning, ...]:
        """The worst first."""
        every = [*_record(study), *self._confounds(study, found), *self._early(found), *self._peaks(study),
                 *_reach(study), *self._twice()]
        if self._labelled.owners:
            every += [*self._people(study), *_seal(study), *self._onsets()]
        return tuple(sorted(every, key=lambda one: ORDER.index(one.key)))

    def _confounds(self, study: Study, found: Evaluated) -> Iterator[StandingWarning]:
        for row in self._confounding.rows(needs_s(found.rule, study.front_end)):
            if row.strong and row.key == "rate_hz":
                yield self._rate(study, row)
            elif row.strong:
                yield StandingWarning(row.key, TITLES[row.key], row.sentence, row.remedy, SHOW, _show(row.recordings),
                                      row.recordings, row.words)

    def _rate(self, study: Study, row: ConfoundRow) -> StandingWarning:
        """Reading all at the lowest rate takes the difference in samples away; that of bandwidth and noise stays."""
        rates = sorted({one.rate_hz for one in self._prepared.recordings})
        lowest, at = rates[0], study.front_end.rate_hz
        if at > lowest:
            action = f"ring all to {decimal(lowest)}{GAP}Hz"
            return StandingWarning(
                "rate_hz", TITLES["rate_hz"], row.sentence,
                f"Durations in samples, peaks and noise then measure the logger: b{action}.", ONE_RATE, f"B{action}",
                row.recordings, row.words)
        return StandingWarning(
            "bandwidth", "Loggers differ in bandwidth",
            f"All recordings are read at {decimal(at)}{GAP}Hz now; they came from loggers at "
            f"{' and '.join(decimal(rate) for rate in rates)}{GAP}Hz, which alone told falls from other activities.",
            "What remains is the bandwidth: each logger's own filter and noise stay in its recordings. Only both kinds "
            "recorded by one logger at one rate settle it.", SHOW, _show(row.recordings), row.recordings, row.words)

    def _early(self, found: Evaluated) -> Iterator[StandingWarning]:
        """False alarms for which the rule had no time: what would have come of them nobody knows."""
        wrong = np.flatnonzero(found.score.outcome == FALSE_ALARM)
        early = wrong[self._labelled.alarmed_early(found.attempts)[wrong]]
        if len(early):
            behind = tuple(dict.fromkeys(self._labelled.label(event)[0] for event in early.tolist()))
            said = f"{part(len(early), len(wrong))} false alarms were judged early"
            yield StandingWarning(
                ALARMS_EARLY, said, f"{said}: the recording, or the signal before a gap, ended before the rule was "
                "done, and a check with nothing to go by passes.", "Shorten settle and observe, or record on for "
                "longer after the peak.", SHOW, _show(behind), behind, "false alarm, judged early")

    def _peaks(self, study: Study) -> Iterator[StandingWarning]:
        peaks, found = self._deciding, self._deciding.found
        sentence = peaks.sentence(study.settings)
        if sentence:
            whose = f"{part(found.falls, found.of_falls)} falls" if found.falls else \
                f"{part(found.others, found.of_others)} other activities"
            yield StandingWarning(
                "clipped_peaks", f"Peaks of {whose} are clipped", sentence, "Record with a larger range.",
                SHOW if peaks.recordings else "", _show(peaks.recordings), peaks.recordings,
                "the peak of a fall is clipped" if peaks.recordings else "")

    def _onsets(self) -> Iterator[StandingWarning]:
        """Falls of which nobody knows when they were, and those of which nobody has said so yet."""
        falls = [(item.name, item.labels[at]) for item, at in self._labelled.owners
                 if item.scored and item.labels[at].kind == "fall"]
        whole = tuple(dict.fromkeys(name for name, label in falls if label.onset_s is None))
        proposed = tuple(dict.fromkeys(name for name, label in falls if label.proposed))
        if whole:
            yield StandingWarning(
                "no_onset", "Falls have no onset",
                f"Of {part(sum(label.onset_s is None for _, label in falls), len(falls))} falls nobody knows when they "
                "were: the whole recording is the event, so an alarm anywhere in it counts as caught, and none of "
                "it is unlabelled time.", "Propose onsets, then confirm or correct each.", PROPOSE, "Propose onsets",
                whole, "the whole recording is the fall")
        if proposed:
            yield StandingWarning(
                "proposed_onset", "Onsets are proposed, not known",
                f"The onsets of {part(sum(label.proposed for _, label in falls), len(falls))} falls were computed from "
                "the largest impact of their recording, and nobody has confirmed them: a rule that goes by impacts is "
                "held against what it looks for itself.", "Confirm or correct each: Check labels… lists them.", SHOW,
                _show(proposed), proposed, "the onset is proposed")

    def _people(self, study: Study) -> Iterator[StandingWarning]:
        people = {item.about.person for item, _ in self._labelled.owners}
        if "" in people:
            unnamed = tuple(item.name for item in study.items if not item.about.person)
            yield StandingWarning(
                "not_named", "People are not named", "Recordings without a named person can't be told apart by people: "
                "no interval by people can be given, and nobody can be left out.", "Name the person of each recording.",
                SHOW, _show(unnamed), unnamed, "no person named")
        elif len(people) == 1:
            yield StandingWarning("one_person", "One person only", "All scored events are of one person: nothing is "
                                  "known of others.", "Record more people.")

    def _twice(self) -> Iterator[StandingWarning]:
        for sentence, remedy in self._bystanders.twice:
            yield StandingWarning("twice", "The same events count twice", sentence, remedy, CHOOSE_ANNOTATOR,
                                  "Score labels of…")


def _show(recordings: tuple[str, ...]) -> str:
    return f"Show {len(recordings)}" if recordings else ""


def _record(study: Study) -> Iterator[StandingWarning]:
    broken = sealed_set.broken(study)
    if broken:
        yield StandingWarning("record_broken", "The record of the sealed set is broken", " ".join(broken),
                              "Figures of sealed people can't be relied on: go back to a copy of the study whose "
                              "record is whole.")


def people_of(study: Study) -> set[str]:
    """Who wears the recordings, as far as that is said."""
    return {item.about.person for item in study.items if item.about.person}


def _seal(study: Study) -> Iterator[StandingWarning]:
    if not study.sealed and len(people_of(study)) > 1:
        yield StandingWarning("nobody_sealed", "Nobody is sealed", "Nobody is sealed: every figure is of people on "
                              "whom settings may be chosen.", "Seal some people before you tune.", SEAL, "Sealed set…")


def _reach(study: Study) -> Iterator[StandingWarning]:
    doubt = reach_doubt(study.settings, study.front_end)
    if doubt is not None:
        yield StandingWarning("reach", "The range does not reach the impact threshold", *doubt)

"""What else tells falls from other activities, without looking at the motion?

If the logger's rate does, or how long a recording goes on after its peak, then a good score may come from that: the
rule measures the logger, or the stop-watch, and not the fall. Each such thing gets its AUC, the chance that it is
larger in a fall than in another activity (ties half); 0.5 tells nothing, 0 and 1 tell everything.

Where a number tells falls from other activities best: one cut through its values.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from detect.rule.timeline import Timeline
from detect.scoring.corpus import Corpus
from detect.scoring.intervals import difference
from detect.scoring.score import Events

STRONG = 0.25
"""Distance of the AUC from 0.5 from which a confound is named (0.75 and more, or 0.25 and less): a choice of ours."""
SHUFFLES, BEYOND = 400, 0.99
"""It must also be farther from 0.5 than this share of so many shuffles of the labels: few events vary by luck."""

NUMBERS = {
    "rate_hz": ("rate", "Durations in samples, peaks and noise then measure the logger: bring all to one rate."),
    "length_s": ("length", "A longer recording has more time for an alarm: cut both kinds alike."),
    "left_after_peak_s": ("time left after the peak",
                          "Where a recording ends early an alarm may have no time to come: record on after the peak."),
    "clipped_share": ("share of clipped samples", "Peaks are cut off in one kind more than in the other."),
}
"""Of every number: its name in words, and what follows from it."""
CATEGORIES = {
    "logger": ("logger", "Each logger mostly saw one kind of event."),
    "person": ("person", "Some people mostly fell and others mostly did not: look at the figures by person."),
    "setting": ("setting", "Falls and other activities come from different settings."),
    "placement": ("placement", "Falls and other activities were worn in different places."),
}


@dataclass(frozen=True)
class Confound:
    """`auc` None where one kind has no data. `by_chance`: the AUC's distance from 0.5 that shuffled labels reach.

    For a category the AUC is that of its share of falls, so it is never below 0.5 and grows by chance with the
    number of categories; `by_chance` grows with it. `remedy`: of a strong one what follows from it.
    """

    key: str
    auc: float | None
    by_chance: float | None
    falls: int
    others: int
    strong: bool
    sentence: str
    remedy: str = ""


def confounds(is_fall: np.ndarray, numbers: Mapping[str, np.ndarray], categories: Mapping[str, Sequence[str]],
              needs_s: float | None = None, seed: int = 0) -> tuple[Confound, ...]:
    """One Confound for each of NUMBERS and CATEGORIES that is given, the most telling first.

    One value an event; NaN or an empty text where it is not known, and such events don't count. `needs_s`: how
    long the rule settles and observes; with it there is one more, for recordings that end sooner after their peak.
    """
    falls = np.asarray(is_fall, dtype=bool)
    found = [_of_number(key, falls, np.asarray(values, dtype=float), seed) for key, values in numbers.items()]
    found += [_of_category(key, falls, values, seed) for key, values in categories.items()]
    if needs_s is not None and "left_after_peak_s" in numbers:
        found.append(early_ends(falls, np.asarray(numbers["left_after_peak_s"], dtype=float), needs_s, seed))
    return tuple(sorted(found, key=lambda one: -1.0 if one.auc is None else abs(one.auc - 0.5), reverse=True))


def _aucs(labels: np.ndarray, values: np.ndarray) -> np.ndarray | None:
    """The AUC, Mann and Whitney's U over the number of pairs, under each row of labels, (k, n), of which all have as
    many falls as the first; None without a pair."""
    falls = int(labels[0].sum())
    others = labels.shape[1] - falls
    if falls == 0 or others == 0:
        return None
    _, place, ties = np.unique(values, return_inverse=True, return_counts=True)
    ranks = (np.cumsum(ties) - (ties - 1) / 2)[place]
    rank_sums = labels.astype(float) @ ranks
    return np.asarray((rank_sums - falls * (falls + 1) / 2) / (falls * others))


def _of_number(key: str, is_fall: np.ndarray, values: np.ndarray, seed: int) -> Confound:
    known = np.isfinite(values)
    falls, values = is_fall[known], values[known]
    aucs = _aucs(np.concatenate([falls[None, :], _shuffled(falls, seed)]), values)
    return _confound(key, falls, aucs)


def _of_category(key: str, is_fall: np.ndarray, values: Sequence[str], seed: int) -> Confound:
    known = np.array([value != "" for value in values], dtype=bool)
    falls = is_fall[known]
    _, place, size = np.unique([value for value in values if value != ""], return_inverse=True, return_counts=True)
    aucs = None
    if 0 < falls.sum() < len(falls):
        labels = np.concatenate([falls[None, :], _shuffled(falls, seed)])
        falls_of = labels @ np.eye(len(size))[place]
        aucs = np.array([_auc_of_shares(some, size) for some in falls_of])
    return _confound(key, falls, aucs)


def _auc_of_shares(falls: np.ndarray, size: np.ndarray) -> float:
    """The AUC of each event's share of falls among those of its category. `falls`, `size`: (k,), of each category."""
    _, place = np.unique(falls / size, return_inverse=True)
    ties = np.bincount(place, size)
    ranks = (np.cumsum(ties) - (ties - 1) / 2)[place]
    total = falls.sum()
    return float((falls @ ranks - total * (total + 1) / 2) / (total * (size.sum() - total)))


def early_ends(is_fall: np.ndarray, left_s: np.ndarray, needs_s: float, seed: int = 0) -> Confound:
    """Do recordings of one kind end within `needs_s` of their peak? Asked at every move of settle and observe.

    `left_s`: for each event, NaN where it is not known. Few recordings need to end early to flatter a score, too few
    for a large AUC: the two shares are compared.
    """
    known = np.isfinite(left_s)
    falls, early = is_fall[known], left_s[known] < needs_s
    of_falls, of_others = early[falls], early[~falls]
    gap = difference(int(of_falls.sum()), len(of_falls), int(of_others.sum()), len(of_others))
    if gap is None:
        return Confound("ends_early", None, None, len(of_falls), len(of_others), False,
                        "Time left after the peak: no data for one of the kinds.")
    strong = gap.low > 0 or gap.high < 0
    aucs = _aucs(np.concatenate([falls[None, :], _shuffled(falls, seed)]), early.astype(float))
    assert aucs is not None
    who, which = ("falls", "other activities") if gap.value > 0 else ("other activities", "falls")
    shares = sorted((100 * of_falls.mean(), 100 * of_others.mean()), reverse=True)
    sentence = (f"{_capital(who)} end sooner after their peak: {shares[0]:.0f} % within the {needs_s:.1f} s that the "
                f"rule needs, against {shares[1]:.0f} % of {which}. These are judged early, on what there is.")
    remedy = "Shorten settle and observe, or record on for longer after the peak."
    return Confound("ends_early", float(aucs[0]), float(np.quantile(np.abs(aucs[1:] - 0.5), BEYOND)),
                    len(of_falls), len(of_others), strong, sentence if strong else
                    f"Falls and other activities end equally often within {needs_s:.1f} s of their peak.",
                    remedy if strong else "")


def _shuffled(is_fall: np.ndarray, seed: int) -> np.ndarray:
    return _shuffles(is_fall.tobytes(), seed)


@lru_cache(maxsize=8)
def _shuffles(kinds: bytes, seed: int) -> np.ndarray:
    """Kept: the same events are asked about anew whenever the time that the rule needs has changed."""
    is_fall = np.frombuffer(kinds, dtype=bool)
    return np.random.default_rng(seed).permuted(np.tile(is_fall, (SHUFFLES, 1)), axis=1)


def _confound(key: str, is_fall: np.ndarray, aucs: np.ndarray | None) -> Confound:
    falls = int(is_fall.sum())
    others = len(is_fall) - falls
    name, consequence = NUMBERS[key] if key in NUMBERS else CATEGORIES[key]
    if aucs is None:
        return Confound(key, None, None, falls, others, False, f"{_capital(name)}: no data for one of the kinds.")
    value, by_chance = float(aucs[0]), float(np.quantile(np.abs(aucs[1:] - 0.5), BEYOND))
    away = abs(value - 0.5)
    strong = away >= STRONG and away > by_chance
    return Confound(key, value, by_chance, falls, others, strong, _sentence(key, name, value, by_chance),
                    consequence if strong else "")


def _sentence(key: str, name: str, value: float, by_chance: float) -> str:
    away = abs(value - 0.5)
    if away <= by_chance:
        return f"{_capital(name)} does not tell falls from other activities (AUC {value:.2f})."
    if away < STRONG:
        return f"{_capital(name)} differs a little between falls and other activities (AUC {value:.2f})."
    if key in CATEGORIES:
        return f"{_capital(name)} alone tells falls from other activities (AUC {value:.2f})."
    way, share = ("larger", value) if value > 0.5 else ("smaller", 1 - value)
    return (f"{_capital(name)} alone tells falls from other activities: {way} in the fall in {100 * share:.0f} % "
            f"of pairs (AUC {value:.2f}).")


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def left_after_peak_s(corpus: Corpus, events: Events, timelines: Sequence[Timeline]) -> np.ndarray:
    """For each event, seconds from its largest |v|² to the end of its recording; NaN for one without a sample.

    The raw samples count, before any pre-filter; gaps after the peak count as time.
    """
    left = np.full(len(events), np.nan)
    for i, recording in enumerate(events.recording.tolist()):
        line, begin = timelines[recording], int(corpus.recording_first[recording])
        first, last = int(events.wide_first[i]), int(events.wide_last[i])
        if first <= last:
            v = corpus.counts[begin + first:begin + last + 1].astype(np.int64)
            peak = first + int(np.argmax(np.einsum("ij,ij->i", v, v)))
            left[i] = line.seconds(line.count - 1) - line.seconds(peak)
    return left


@dataclass(frozen=True)
class Cut:
    """Between two neighbouring values; `falls_above`: on which side falls are the larger share."""

    at: float
    falls_above: bool


def best_cut(is_fall: np.ndarray, values: np.ndarray) -> Cut | None:
    """The cut with the greatest difference between the two kinds' shares on one side (Youden 1950, Cancer 3:32), of
    equal ones the lowest. None where one kind has no value or all values are the same. NaN counts nowhere."""
    known = np.isfinite(values)
    falls, found = is_fall[known].astype(bool), values[known]
    levels, place = np.unique(found, return_inverse=True)
    if not falls.any() or falls.all() or len(levels) < 2:
        return None
    of_falls = np.cumsum(np.bincount(place[falls], minlength=len(levels)))[:-1] / falls.sum()
    of_others = np.cumsum(np.bincount(place[~falls], minlength=len(levels)))[:-1] / (~falls).sum()
    gap = of_others - of_falls  # how much more of the other activities lie below
    best = int(np.argmax(np.abs(gap)))
    return Cut(float(levels[best] + levels[best + 1]) / 2, bool(gap[best] > 0))

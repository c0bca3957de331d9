"""Labels that the signal contradicts are found, with the reason, and sound ones are left alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from data.labels.checks import LabelledRecording, label_findings, time_offset_proposals
from data.labels.label_clock import propose
from data.recordings.model import Label, Recording, Shift, Stretch
from data.recordings.rest_and_impacts import impacts_of

RNG = np.random.default_rng(5)


def worn(impacts: dict[float, float], seconds: float = 30, name: str = "a") -> Recording:
    samples = np.random.default_rng(1).normal((0, 1, 0), 0.02, (int(50 * seconds), 3))
    for at, size in impacts.items():
        samples[round(at * 50), 1] = size
    return Recording(name, samples, "g", 50, 50, True, (Stretch(0, 0.0, 0.02),))


def fall(onset: float, length: float = 3.0, name: str = "kerb") -> Label:
    return Label("fall", name, onset, onset + length)


def study(*odd: LabelledRecording) -> list[LabelledRecording]:
    """Twelve sound falls, their peaks about a second after the onset, and what is odd."""
    sound = []
    for i in range(12):
        onset = float(RNG.uniform(3, 20))
        peak = onset + 1 + 0.1 * float(RNG.normal())
        sound.append(LabelledRecording(worn({peak: 5 + 0.3 * float(RNG.normal())}, name=f"sound{i}"), (fall(onset),)))
    return [*sound, *odd]


def told(*odd: LabelledRecording) -> list[tuple[str, str]]:
    return [(doubt.recording, doubt.kind) for doubt in label_findings(study(*odd))]


def test_sound_labels_are_left_alone():
    assert told() == []
    assert told(LabelledRecording(worn({5.0: 8.0}), (Label("other", "jump", None, None),))) == []
    assert label_findings([LabelledRecording(worn({}), ())]) == []


@pytest.mark.parametrize(
    ("impacts", "labels", "kind"),
    [
        ({}, (fall(5),), "no_peak"),
        ({6: 2.0}, (fall(5),), "weak_peak"),
        ({6: 2.0, 15: 5.5}, (fall(5),), "peak_elsewhere"),
        ({15: 5.5}, (fall(5),), "peak_elsewhere"),
        ({4.7: 5.0}, (fall(5),), "late_onset"),
        ({8.6: 5.0}, (fall(5),), "early_end"),
        ({7.6: 5.0}, (fall(5),), "odd_lag"),
        ({6: 5.0}, (fall(5, 9),), "too_long"),
        ({5.5: 5.0}, (fall(5, 1),), "too_short"),
        ({6: 5.0, 20: 6.0}, (fall(5), Label("other", "rake", 12, 14)), "peak_without_label"),
        ({15: 5.5}, (), "peak_without_label"),
        ({29.5: 5.0}, (fall(28.5),), "past_the_end"),
    ],
)
def test_each_contradiction_is_told_once_with_where_to_look(impacts, labels, kind):
    found = [doubt for doubt in label_findings(study(LabelledRecording(worn(impacts), labels)))
             if doubt.recording == "a"]
    assert kind in [doubt.kind for doubt in found]
    assert all(0 <= doubt.at_s <= 30 and doubt.sentence.endswith(".") for doubt in found)


def test_a_label_that_lies_elsewhere_says_how_far_it_would_have_to_move():
    (doubt,) = [d for d in label_findings(study(LabelledRecording(worn({15: 5.5}), (fall(5),)))) if d.recording == "a"]
    assert doubt.label == 0
    assert doubt.shift_s == pytest.approx(15 - 1 - 5, abs=0.2)


def test_impacts_are_peaks_a_second_apart_and_none_reaches_across_a_gap():
    recording = worn({5: 4, 5.5: 6, 6.2: 3, 8: 2})
    found = impacts_of(recording, 1.5)
    assert found.seconds == pytest.approx([5.5, 8])
    assert found.size_g == pytest.approx([6, 2], abs=0.02)
    in_counts = Recording("a", np.round(recording.samples * 512).astype(np.int16), "counts", 50, 50, True,
                          recording.stretches)
    assert impacts_of(in_counts, 1.5, 512).seconds == pytest.approx([5.5, 8])


@given(st.floats(-50, 50), st.floats(-300, 300), st.integers(0, 99))
@settings(max_examples=40)
def test_an_offset_and_a_drift_between_two_clocks_are_found(offset, drift, seed):
    rng = np.random.default_rng(seed)
    moments = np.sort(rng.uniform(100, 3000, 12))
    shift = Shift(offset, drift)
    impacts = np.sort(np.concatenate([shift.here(moments) + rng.normal(0, 0.02, 12), rng.uniform(0, 3100, 4)]))
    found = propose(moments, impacts, np.full(16, 5.0))
    if found is None:  # as they stand they may fit as well
        assert abs(offset) < 1.5
        return
    assert found.matched >= 11
    assert shift.here(moments) == pytest.approx(found.shift.here(moments), abs=0.2)


def test_no_clock_is_proposed_where_labels_fit_or_nothing_does():
    moments = np.array([10.0, 30, 55, 90])
    assert propose(moments, moments + 0.1, np.ones(4)) is None
    assert propose(moments, np.array([]), np.array([])) is None
    assert propose(np.array([]), moments, np.ones(4)) is None
    even = np.arange(0, 100, 5.0)
    assert propose(np.array([12.0, 27, 42]), even, np.ones(20)) is None  # many offsets fit as well


def test_a_recording_whose_labels_are_all_late_gets_a_proposal_and_nothing_is_changed():
    falls = (fall(12), fall(30), fall(55))
    late = LabelledRecording(worn({5: 5, 23: 5, 48: 5.2}, 70), falls)
    entries = study(late)
    (found,) = time_offset_proposals(entries)
    assert found.recording == "a"
    assert found.offset_s == pytest.approx(-8, abs=0.3)
    assert "3 of 3" in found.sentence
    assert late.labels == falls

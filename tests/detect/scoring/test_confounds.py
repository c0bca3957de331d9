import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.metrics import roc_auc_score

from detect.rule.timeline import Timeline, even
from detect.scoring.confounds import confounds, left_after_peak_s
from detect.scoring.corpus import corpus_of
from detect.scoring.score import events_from

KINDS = np.array([True] * 30 + [False] * 50)


def told(key, found):
    return next(one for one in found if one.key == key)


def spread(of_falls, of_others, seed=1):
    rng = np.random.default_rng(seed)
    return np.concatenate([rng.normal(of_falls, 1, 30), rng.normal(of_others, 1, 50)])


@given(st.lists(st.tuples(st.booleans(), st.integers(0, 6)), min_size=2, max_size=60))
def test_the_auc_agrees_with_scikit_learn(events):
    kinds, values = np.array([k for k, _ in events]), np.array([float(v) for _, v in events])
    found = told("length_s", confounds(kinds, {"length_s": values}, {}))
    if kinds.all() or not kinds.any():
        assert found.auc is None
    else:
        assert found.auc == pytest.approx(roc_auc_score(kinds, values))


@given(st.lists(st.tuples(st.booleans(), st.sampled_from("abcde")), min_size=2, max_size=60))
def test_the_auc_of_a_category_is_that_of_its_share_of_falls(events):
    kinds, people = np.array([k for k, _ in events]), [p for _, p in events]
    found = told("person", confounds(kinds, {}, {"person": people}))
    if kinds.all() or not kinds.any():
        assert found.auc is None
    else:
        share = {p: np.mean([k for k, one in events if one == p]) for p in people}
        assert found.auc == pytest.approx(roc_auc_score(kinds, [share[p] for p in people]))


def test_a_rate_that_separates_the_kinds_is_named_with_what_follows():
    found = told("rate_hz", confounds(KINDS, {"rate_hz": np.where(KINDS, 40.0, 50.0)}, {}))
    assert found.auc == 0.0
    assert found.strong
    assert "smaller in the fall in 100 % of pairs" in found.sentence
    assert "measure the logger" in found.remedy


def test_what_tells_nothing_is_not_named():
    found = told("length_s", confounds(KINDS, {"length_s": spread(10, 10)}, {}))
    assert not found.strong
    assert found.sentence.startswith("Length does not tell")
    same = told("rate_hz", confounds(KINDS, {"rate_hz": np.full(80, 50.0)}, {}))
    assert same.auc == 0.5
    assert not same.strong


def test_a_small_difference_is_called_small():
    found = told("length_s", confounds(KINDS, {"length_s": spread(10.6, 10)}, {}))
    assert 0.65 < found.auc < 0.75
    assert "a little" in found.sentence
    assert not found.strong


def test_few_events_are_not_enough_to_accuse():
    few = np.array([True, False])
    found = told("rate_hz", confounds(few, {"rate_hz": np.array([40.0, 50.0])}, {}))
    assert found.auc == 0.0
    assert not found.strong


def test_a_person_who_only_falls_is_noticed_but_many_people_are_not_by_their_number():
    apart = ["a" if fall else "b" for fall in KINDS]
    assert told("person", confounds(KINDS, {}, {"person": apart})).strong
    # Forty people with two events each, the kinds dealt at random: the AUC is high by chance alone.
    dealt = np.random.default_rng(3).permutation(KINDS)
    many = [str(i // 2) for i in range(80)]
    found = told("person", confounds(dealt, {}, {"person": many}))
    assert found.auc > 0.75
    assert found.auc - 0.5 < found.by_chance
    assert not found.strong


def test_early_ends_are_told_by_their_shares():
    left = np.concatenate([np.full(30, 6.0), np.full(40, 6.0), np.full(10, 2.0)])
    found = told("ends_early", confounds(KINDS, {"left_after_peak_s": left}, {}, needs_s=3.0))
    assert found.strong
    assert found.sentence.startswith("Other activities end sooner after their peak: 20 % within the 3.0 s")
    assert "0 % of falls" in found.sentence
    even = told("ends_early", confounds(KINDS, {"left_after_peak_s": np.full(80, 6.0)}, {}, needs_s=3.0))
    assert not even.strong
    assert "equally often" in even.sentence


def test_the_most_telling_comes_first_and_the_same_seed_says_the_same():
    numbers = {"length_s": spread(10, 10), "rate_hz": np.where(KINDS, 40.0, 50.0)}
    first = confounds(KINDS, numbers, {"setting": ["staged"] * 80})
    assert [one.key for one in first] == ["rate_hz", "length_s", "setting"]
    assert first == confounds(KINDS, numbers, {"setting": ["staged"] * 80})


def test_unknown_values_do_not_count_and_one_kind_alone_has_no_data():
    values = np.where(KINDS, 40.0, np.nan)
    found = told("rate_hz", confounds(KINDS, {"rate_hz": values}, {"logger": [""] * 80}))
    assert (found.auc, found.falls, found.others) == (None, 30, 0)
    assert "no data" in found.sentence
    everyone = confounds(KINDS, {"left_after_peak_s": values}, {"logger": [""] * 80}, needs_s=3.0)
    assert all(one.auc is None and not one.strong for one in everyone)


def test_the_time_after_a_peak_runs_to_the_recordings_end_across_gaps():
    still = np.tile(np.array([0, 512, 0], dtype=np.int16), (500, 1))
    one, two = still.copy(), still.copy()
    one[100], one[400] = (0, 1500, 0), (0, 2000, 0)
    two[100] = (-2000, 0, 0)
    gappy = Timeline(np.array([0, 250]), np.array([0.0, 60.0]), np.array([0.02, 0.02]), 500)
    lines = [even(500, 50.0), gappy]
    events = events_from([0, 0, 1, 1], [True, False, False, False], [1.9, None, None, 30.0],
                         [2.1, None, None, 31.0], lines)
    left = left_after_peak_s(corpus_of([[one], [two[:250], two[250:]]]), events, lines)
    assert left[:3] == pytest.approx([399 * 0.02, 99 * 0.02, 60 + 249 * 0.02 - 2.0])
    assert np.isnan(left[3]), "the gap has swallowed it"

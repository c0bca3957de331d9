import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.metrics import cohen_kappa_score, f1_score, matthews_corrcoef

from detect.rule.timeline import even
from detect.scoring.figures import METHODS, counts_by, f1, figures, figures_of, kappa, latency, mcc
from detect.scoring.intervals import clopper_pearson, wilson
from detect.scoring.score import Matrix, events_from, score


@st.composite
def matrices(draw):
    return Matrix(*draw(st.lists(st.integers(0, 40), min_size=4, max_size=4)))


def as_labels(m):
    return ([1] * m.tp + [1] * m.fn + [0] * m.fp + [0] * m.tn,
            [1] * m.tp + [0] * m.fn + [1] * m.fp + [0] * m.tn)


def test_the_figures_of_one_table_by_hand():
    # By hand: MCC = (20·15 − 10·5)/√(25·30·25·20) = 250/612.37; F1 = 40/55; kappa = (0.7 − 0.5)/(1 − 0.5).
    m = Matrix(tp=20, fn=5, fp=10, tn=15)
    found = figures_of(m)
    assert found.mcc.value == pytest.approx(0.4082483, abs=5e-8)
    assert found.f1.value == pytest.approx(0.7272727, abs=5e-8)
    assert kappa(m) == pytest.approx(0.4)
    assert found.sensitivity.value == pytest.approx(0.8)
    assert found.specificity.value == pytest.approx(0.6)
    assert found.precision.value == pytest.approx(2 / 3)
    assert found.youden_j.value == pytest.approx(0.4)


@given(matrices())
def test_the_figures_agree_with_scikit_learn(m):
    truth, alarm = as_labels(m)
    if m.tp + m.fp + m.fn:
        assert f1(m).value == pytest.approx(f1_score(truth, alarm))
    if mcc(m) is not None:
        assert mcc(m).value == pytest.approx(matthews_corrcoef(truth, alarm))
    if kappa(m) is not None and len(set(truth + alarm)) > 1:
        assert kappa(m) == pytest.approx(cohen_kappa_score(truth, alarm))


@given(matrices())
def test_every_figure_lies_in_its_interval_and_has_one_or_neither(m):
    found = figures_of(m)
    for name in METHODS:
        if name == "unlabelled":
            continue
        estimate = getattr(found, name)
        if estimate is not None:
            assert estimate.low <= estimate.value + 1e-12
            assert estimate.high >= estimate.value - 1e-12
            assert estimate.low >= -1.0000001
            assert estimate.high <= 1.0000001
    assert (found.sensitivity is None) == (m.tp + m.fn == 0)
    assert (found.precision is None) == (m.tp + m.fp == 0)
    assert (found.youden_j is None) == (m.tp + m.fn == 0 or m.fp + m.tn == 0)


def test_without_data_every_figure_says_so():
    found = figures_of(Matrix(0, 0, 0, 0))
    assert all(getattr(found, name) is None for name in METHODS if name != "unlabelled")
    assert found.sensitivity_exact is None
    assert kappa(Matrix(0, 0, 0, 0)) is None
    assert kappa(Matrix(0, 0, 0, 5)) is None


@pytest.mark.parametrize("m", [Matrix(60, 20, 15, 85), Matrix(18, 4, 9, 40), Matrix(41, 4, 3, 59)])
def test_intervals_of_f1_and_mcc_hold_what_resampled_trials_do(m):
    # Outside check by simulation: of tables redrawn from the same shares the middle 95 % must end where the
    # interval does.
    rng = np.random.default_rng(11)
    cells = np.array([m.tp, m.fn, m.fp, m.tn])
    draws = rng.multinomial(cells.sum(), cells / cells.sum(), size=4000)
    for figure in (f1, mcc):
        values = np.array([figure(Matrix(*map(int, row))).value for row in draws])
        low, high = np.quantile(values, [0.025, 0.975])
        assert figure(m).low == pytest.approx(low, abs=0.04)
        assert figure(m).high == pytest.approx(high, abs=0.04)


def test_a_perfect_table_is_not_sure_of_itself():
    found = figures_of(Matrix(10, 0, 0, 10))
    assert found.mcc.value == found.mcc.high == 1
    assert 0.3 < found.mcc.low < 0.95
    assert found.f1.low < 0.9
    assert found.youden_j.low < 0.8
    assert found.sensitivity.low == wilson(10, 10).low
    assert found.sensitivity_exact == clopper_pearson(10, 10)


def test_unlabelled_are_told_per_hour_and_per_day_with_a_word_of_caution_for_staged_ones():
    lines = [even(180_000, 50.0), even(1_800_000, 50.0)]
    events = events_from([], [], [], [], lines, setting=["staged", "free-living"])
    found = figures(score(np.array([0, 1, 1, 1]), np.array([5, 5, 50_000, 90_000]), events))
    staged, free, unsaid = found.unlabelled
    assert (staged.setting, staged.alarms, staged.hours) == ("staged", 1, pytest.approx(1))
    assert staged.per_24h.value == pytest.approx(24)
    assert "say little about a day" in staged.caution
    assert (free.alarms, free.hours, free.caution) == (3, pytest.approx(10), "")
    assert free.per_hour.value == pytest.approx(0.3)
    # Tables after Garwood: 3 events are 0.619 to 8.767.
    assert free.per_24h.low == pytest.approx(0.619 * 2.4, abs=2e-3)
    assert free.per_24h.high == pytest.approx(8.767 * 2.4, abs=2e-3)
    assert unsaid.per_hour is None


def test_latency_runs_from_the_first_alarm_of_a_caught_fall():
    line = even(3000, 50.0)
    events = events_from([0, 0, 0], [True, True, False], [10, 30, 40], [11, 31, 50], [line])
    impact, decided = np.array([530, 510, 2200]), np.array([690, 660, 2300])
    found = score(np.zeros(3, dtype=int), impact, events)
    late = latency(found, impact, decided, events, 50.0)
    assert list(late.event) == [0]
    assert late.since_impact_s == pytest.approx([3.0])
    assert late.since_onset_s == pytest.approx([(660 - 500) / 50])
    none = score(np.zeros(0, dtype=int), np.zeros(0, dtype=int), events)
    assert len(latency(none, np.zeros(0), np.zeros(0), events, 50.0).event) == 0


def test_counts_by_person_add_up_to_the_matrix():
    line = even(3000, 50.0)
    events = events_from([0, 0, 1, 1], [True, False] * 2, [10, 30] * 2, [11, 31] * 2, [line, line])
    found = score(np.array([0, 1, 1]), np.array([510, 505, 1510]), events)
    counts = counts_by(events.recording, found.outcome, 2)
    assert counts.tolist() == [[1, 0, 0, 1], [1, 0, 1, 0]]
    assert Matrix(*counts.sum(axis=0)) == found.matrix

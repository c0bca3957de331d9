import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.scoring.confounds import best_cut


def test_a_rate_that_separates_the_kinds_is_cut_between_them():
    falls = np.array([True, True, False, False])
    cut = best_cut(falls, np.array([39.5, 40.8, 48.2, 50.7]))
    assert (cut.at, cut.falls_above) == (44.5, False)
    cut = best_cut(~falls, np.array([39.5, 40.8, 48.2, 50.7]))
    assert (cut.at, cut.falls_above) == (44.5, True)


@pytest.mark.parametrize(("falls", "values"), [([True, True], [1, 2]), ([False], [1]), ([], []),
                                               ([True, False], [3, 3]),
                                               ([True, False], [3, np.nan])])
def test_without_two_kinds_or_two_values_there_is_no_cut(falls, values):
    assert best_cut(np.array(falls, dtype=bool), np.array(values, dtype=float)) is None


@given(st.lists(st.tuples(st.booleans(), st.integers(0, 9)), min_size=2, max_size=40))
def test_no_cut_tells_more_than_the_best(events):
    falls, values = np.array([f for f, _ in events]), np.array([float(v) for _, v in events])
    cut = best_cut(falls, values)
    if cut is None:
        return

    def told(at: float) -> float:
        return abs(float(np.mean(values[falls] > at)) - float(np.mean(values[~falls] > at)))

    assert told(cut.at) >= max(told(at + 0.5) for at in range(-1, 10)) - 1e-12
    above = float(np.mean(values[falls] > cut.at)) - float(np.mean(values[~falls] > cut.at))
    assert (above > 0) == cut.falls_above or above == 0

"""Looking some at a time, each in its own piece, finds what NumPy's search of the whole finds."""

from __future__ import annotations

from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.engine import sums

ROWS = st.lists(st.integers(0, 60), max_size=80).map(sorted).map(lambda some: np.array(some, dtype=np.int64))


@given(ROWS, ROWS, st.integers(1, 9), st.sampled_from([0, 1, 1000]), st.integers(1, 70))
def test_ranks_are_those_of_searchsorted(among, sought, together, dense, part):
    with patch.multiple(sums, RANKED=together, DENSE=dense, PART=part):
        assert np.array_equal(sums.ranks(among, sought), among.searchsorted(sought))


@pytest.mark.parametrize("size", [4 * sums.RANKED - 1, 4 * sums.RANKED, 5 * sums.RANKED + 1])
def test_also_of_as_many_as_are_looked_up_at_a_time(size):
    rng = np.random.default_rng(size)
    among, sought = (np.sort(rng.integers(0, 100_000, count)) for count in (3 * size, size))
    assert np.array_equal(sums.ranks(among, sought), among.searchsorted(sought))

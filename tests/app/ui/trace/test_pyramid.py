"""The pyramid says what a look at every sample would say."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.ui.trace.signal import Pyramid, squares


@st.composite
def recordings(draw):
    """Counts of any length about the block and chunk sizes, extremes of int16 among them."""
    n = draw(st.integers(1, 3000))
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    counts = rng.integers(-32768, 32768, (n, 3)).astype(np.int16)
    return counts if draw(st.booleans()) else (counts // draw(st.integers(1, 3000))).astype(np.int16)


@st.composite
def looks(draw):
    counts = draw(recordings())
    wanted = draw(st.lists(st.integers(0, len(counts)), min_size=2, max_size=60))
    return counts, np.array(sorted(wanted))


def m2(counts):
    return (counts.astype(np.int64) ** 2).sum(axis=1)


@given(looks())
def test_columns_hold_the_extremes_of_exactly_their_samples(look):
    counts, edges = look
    found = Pyramid(counts).columns(edges)
    channels = (*counts.T, m2(counts))
    for i, (start, end) in enumerate(zip(found.edges[:-1], found.edges[1:], strict=True)):
        assert found.empty[i] == (end <= start)
        if end > start:
            assert [int(a[i]) for a in found.low] == [int(c[start:end].min()) for c in channels]
            assert [int(a[i]) for a in found.high] == [int(c[start:end].max()) for c in channels]


@given(looks())
def test_moved_edges_cover_what_was_asked_and_move_less_than_a_column_shows(look):
    counts, edges = look
    found = Pyramid(counts).columns(edges)
    wide = (edges[-1] - edges[0]) / (len(edges) - 1)
    assert found.edges[0] <= edges[0]
    assert found.edges[-1] >= edges[-1]
    assert np.all(np.diff(found.edges) >= 0)
    assert np.all(np.abs(found.edges - edges) <= wide / 4)
    assert np.all(np.abs(found.edges[1:-1] - edges[1:-1]) <= wide / 8)


def test_few_samples_are_shown_as_they_are():
    counts = np.random.default_rng(4).integers(-500, 500, (5000, 3)).astype(np.int16)
    edges = np.arange(1000, 1101)
    found = Pyramid(counts).columns(edges)
    assert np.array_equal(found.edges, edges)
    assert np.array_equal(found.low[1], counts[1000:1100, 1])
    assert np.array_equal(found.high[3], m2(counts[1000:1100]))


def test_the_longest_vector_does_not_overflow():
    x, y, z = np.full((3, 4), -32768, np.int16)
    assert squares(x, y, z).tolist() == [3 * 2**30] * 4


def test_the_pyramid_is_small_beside_the_counts():
    counts = np.zeros((100_000, 3), np.int16)
    assert Pyramid(counts).nbytes / len(counts) < 2


@pytest.mark.parametrize("wrong", [np.zeros((5, 3)), np.zeros((5, 2), np.int16), np.zeros(5, np.int16)])
def test_what_is_not_counts_is_refused(wrong):
    with pytest.raises(ValueError, match="int16"):
        Pyramid(wrong)

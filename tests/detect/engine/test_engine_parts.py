"""The engine's parts against the plainest way to the same answer."""

from __future__ import annotations

from math import isqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.engine import judge
from detect.engine.extremes import FAR, Highs, Lows, unbeaten
from detect.engine.sums import CALM, END, STEP, summed
from detect.rule import reference

MOST = 10_360_919_000_000_000_000
"""Above 3·32768² squared twice over, |a|²·|b|² of doubled vectors."""


@given(st.lists(st.integers(0, isqrt(MOST)), min_size=1))
def test_isqrt_is_exact_about_squares(roots: list[int]) -> None:
    """Outside check: Python's math.isqrt, at and beside squares of up to 64 bits."""
    values = [max(root * root + by, 0) for root in roots for by in (-1, 0, 1)]
    found = judge.isqrt(np.array(values, dtype=np.uint64))
    assert found.tolist() == [isqrt(value) for value in values]


def test_isqrt_is_exact_about_the_largest_squares() -> None:
    """The last hundred thousand roots, where doubles have no bits to spare."""
    roots = np.arange(isqrt(MOST) - 100_000, isqrt(MOST), dtype=np.uint64)
    assert np.array_equal(judge.isqrt(roots * roots), roots.astype(np.int64))
    assert np.array_equal(judge.isqrt(roots * roots - np.uint64(1)), roots.astype(np.int64) - 1)


@given(st.lists(st.tuples(st.integers(-2**40, 2**40), st.integers(1, 4096)), min_size=1))
def test_rdiv_is_the_reference_s(pairs: list[tuple[int, int]]) -> None:
    pairs += [(n * q + n // 2 + by, n) for _, n in pairs for q in (0, -1, 12345) for by in (-1, 0, 1)]
    a, n = np.array(pairs).T
    assert judge.rdiv(a, n).tolist() == [reference.rdiv(*pair) for pair in pairs]


@given(st.lists(st.tuples(*[st.integers(-32768, 32767)] * 3), min_size=1))
def test_doubling_is_the_reference_s(vectors: list[tuple[int, int, int]]) -> None:
    found, speaks = judge.doubled(np.array(vectors).T)
    for one, speaking, vector in zip(found.T.tolist(), speaks.tolist(), vectors, strict=True):
        assert speaking == any(vector)
        assert tuple(one) == (reference.doubled(vector) if any(vector) else (0, 0, 0))


# Sums


@settings(deadline=None)
@given(st.integers(0, 300), st.integers(0, 2**32 - 1), st.booleans())
def test_sums_of_windows_are_sums(n: int, seed: int, many: bool) -> None:
    rng = np.random.default_rng(seed)
    v = rng.choice(np.array([-32768, 32767, 0, 1, 500], dtype=np.int16), (n, 3))
    with pytest.MonkeyPatch.context() as patch:
        if many:
            patch.setattr("detect.engine.sums.SMALL", 0)
        sums, squares = summed(v)
    wide = v.astype(np.int64)
    assert np.array_equal(squares, (wide * wide).sum(axis=1))
    first, stop = np.sort(rng.integers(0, n + 1, (2, 40)), axis=0)
    for got, a, b in zip(sums.between(first, stop).T.tolist(), first, stop, strict=True):
        part = wide[a:b]
        assert got == [*part.sum(axis=0).tolist(), int((part * part).sum())]


@settings(deadline=None)
@given(st.integers(0, 200), st.integers(0, 2**32 - 1), st.integers(1, 60))
def test_nothing_still_is_called_restless(n: int, seed: int, still: int) -> None:
    rng = np.random.default_rng(seed)
    v = (rng.normal(0, still / 3**0.5, (n, 3)) + rng.choice([0, 0, 200], (n, 1))).astype(np.int16)
    sums, _ = summed(v)
    first, stop = np.sort(rng.integers(0, n + 1, (2, 60)), axis=0)
    called = sums.restless(first, stop - first, still)
    spread = judge.spread_of(stop - first, sums.between(first, stop))
    assert not np.any(called & (spread <= ((stop - first) * still) ** 2))


def test_what_is_restless_in_32_samples_is_seen_at_a_glance() -> None:
    v = np.zeros((256, 3), dtype=np.int16)
    v[::2] = 100
    sums, _ = summed(v)
    assert sums.restless(np.array([1]), np.array([2 * CALM - 1 + STEP]), 50).all()


# Rows of low values


def rows_of(low: list[bool], length: int) -> list[tuple[int, int]]:
    rows, first = [], 0
    for i, is_low in enumerate([*low, False]):
        if not is_low:
            if i - first >= length:
                rows.append((first, i))
            first = i + 1
    return rows


@settings(deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 700), st.booleans(), st.sampled_from([64, 128, 1 << 16]), st.lists(
    st.tuples(st.integers(1, 12), st.sampled_from([1, 2, 3, 4, 7, 8, 63, 64, 65, 130])), min_size=1, max_size=6))
def test_rows_are_found_whatever_was_asked_before(seed: int, n: int, everywhere: bool, part: int,
                                                  asked: list[tuple[int, int]]) -> None:
    rng = np.random.default_rng(seed)
    values = np.repeat(rng.integers(0, 12, n), rng.integers(1, rng.choice([2, 9, 90]), n))[:n].astype(np.uint32)
    values[-1] = END
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("detect.engine.extremes.PART", part)
        if everywhere:
            patch.setattr("detect.engine.extremes.FEW_BLOCKS", -3)
        lows = Lows(values)
        for bound, length in asked:
            first, stop = lows.rows(bound, length)
            assert list(zip(first.tolist(), stop.tolist(), strict=True)) == rows_of((values < bound).tolist(), length)


# High places


def stretches_of(rng: np.random.Generator, n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """|v|² of n places with ENDs among them, and where stretches begin and end."""
    m2 = rng.integers(0, rng.choice([3, 40, 2**31]), n).astype(np.uint32)
    end = np.unique(np.append(rng.integers(1, n, n // 50), n - 1))
    end = end[np.append(True, np.diff(end) > 1)]
    m2[end] = END
    m2[end[-1] + 1:] = 0
    return m2[:end[-1] + 1], np.append(0, end[:-1] + 1), end


def reach_of(m2: list[int], t: int) -> int:
    if m2[t] == END:
        return 0
    for u in range(t + 1, len(m2)):
        if m2[u] == END:
            break
        if m2[u] > m2[t]:
            return min(u - t, FAR)
    return FAR


@settings(deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 300))
def test_tops_know_how_far_they_reach(seed: int, n: int) -> None:
    rng = np.random.default_rng(seed)
    m2, begin, end = stretches_of(rng, n)
    samples = m2[m2 != END]
    floor = int(rng.choice(samples))
    highs = Highs(m2, begin, end, floor)
    for asked in (floor, *rng.integers(floor, int(samples.max()) + 2, 4).tolist()):
        found = highs.impacts(asked)
        assert found.place.tolist() == np.flatnonzero(m2 >= asked).tolist()
        assert found.is_end.tolist() == (m2[found.place] == END).tolist()
        assert found.reach is not None
        assert found.reach.tolist() == [reach_of(m2.tolist(), t) for t in found.place.tolist()]


@settings(deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 300), st.integers(1, 70), st.sampled_from([16, 64, 1 << 16]))
def test_below_all_tops_the_unbeaten_are_the_same(seed: int, n: int, length: int, part: int) -> None:
    rng = np.random.default_rng(seed)
    m2, begin, end = stretches_of(rng, n)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("detect.engine.extremes.PART", part)
        found = unbeaten(m2, begin, end, length)
    assert found.tolist() == [reach_of(m2.tolist(), t) > length for t in range(len(m2))]


def test_both_ways_to_the_unbeaten_agree() -> None:
    rng = np.random.default_rng(5)
    m2, begin, end = stretches_of(rng, 4000)
    floor = int(np.median(m2))
    all_tops, few_tops = (Highs(m2, begin, end, f) for f in (0, int(END)))
    for length in (1, 2, 5, 150, 8192):
        one, which = all_tops.unbeaten(all_tops.impacts(floor), floor, length)
        other, nothing = few_tops.unbeaten(few_tops.impacts(floor), floor, length)
        assert one.tolist() == other.tolist()
        assert which is not None
        assert nothing is None


@settings(deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 900), st.lists(st.integers(1, 400), min_size=2, max_size=5))
def test_the_unbeaten_are_the_same_however_often_they_are_asked_for(seed: int, n: int, lengths: list[int]) -> None:
    rng = np.random.default_rng(seed)
    m2, begin, end = stretches_of(rng, n)
    if rng.random() < 0.5:  # ramps: much that is higher is itself beaten
        for first, stop in zip(begin.tolist(), end.tolist(), strict=True):
            m2[first:stop].sort()
    highs = Highs(m2, begin, end, int(END))
    for length in lengths:
        floor = int(rng.choice(m2[m2 != END]))
        places, _ = highs.unbeaten(highs.impacts(floor), floor, length)
        higher = unbeaten(m2, begin, end, length) & (m2 >= floor)
        assert places.tolist() == np.flatnonzero(higher).tolist()


def test_far_is_far_enough() -> None:
    m2 = np.full(3 * FAR, 5, dtype=np.uint32)
    m2[[2 * FAR, -1]] = 6, END
    reach = Highs(m2, np.array([0]), np.array([len(m2) - 1]), 0).impacts(0).reach
    assert reach is not None
    assert reach[2 * FAR - 4096 - 4096] == 8192
    assert reach[0] == FAR

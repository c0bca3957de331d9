"""The search finds more than chance does with as many tries, on the demo; `dev.py bench tune` measures by how much."""

from __future__ import annotations

import numpy as np
import pytest

from app.study.session import Session
from app.study.storage import study_files
from app.study.tuning.search import Search, SearchRequest
from tests.bench.bench_tune import race

SEEDS = 5


@pytest.mark.slow
def test_the_search_is_better_than_chance_with_as_many_tries(tmp_path):
    found = Search(Session.opened(study_files.ready(tmp_path)), SearchRequest())
    rows = race(found, SEEDS, 1000)
    assert [said for said, *_ in rows] == ["100", "300", "1000"]
    for said, ours, *theirs in rows[1:]:
        for chance in theirs:
            assert np.median(ours) > np.median(chance), said
            assert np.count_nonzero(ours > chance) > np.count_nonzero(ours < chance), said

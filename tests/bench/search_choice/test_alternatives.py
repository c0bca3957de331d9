"""The bench of the search's choices: what it calls "as now" is what the project's search does."""

from __future__ import annotations

import pytest

from detect.tuning.goal import Goal
from detect.tuning.search import Finder, folds_of
from detect.tuning.store import Store
from tests.bench.search_choice.alternatives import ALTERNATIVES, TODAY, AlternativeFinder, with_coarse
from tests.detect.tuning.made_counts import MadeTally, space_of
from tests.detect.tuning.test_search import planted

KEYS = ("impact_g", "tilt_deg", "still_g")
TALLY = MadeTally([10, 8, 12, 9], [12, 11, 10, 14], planted)


def finder(kind: type[Finder]) -> Finder:
    return kind(space_of(*KEYS), Goal(), Store(TALLY), folds_of(TALLY.trials, None, 3), seed=3)


@pytest.mark.parametrize("pairs", [TODAY.pairs, 4])
def test_as_now_is_what_the_search_finds_however_many_searches_others_ask_for(pairs):
    found, alternatives = finder(Finder).run(), finder(AlternativeFinder)
    alternatives.searched(pairs)
    settled = alternatives.settled(TODAY)
    assert settled.rule == found.space.rule(found.step.point)
    assert settled.left_out.tolist() == found.left_out.tolist()
    assert settled.tuned == found.step.tuned


def test_fewer_searches_try_fewer_detectors():
    alternatives = finder(AlternativeFinder)
    alternatives.searched(max(one.pairs for one in ALTERNATIVES))
    tried = {one.name: alternatives.settled(one).tried for one in ALTERNATIVES if one.coarse == "as now"}
    assert tried["1 search a fold"] < tried["2 searches a fold"] < tried["as now"] <= tried["4 searches a pair"]


def test_coarse_levels_are_half_as_many_or_all_and_off_stays():
    now = space_of("tilt_deg").scales[0]
    half, every = with_coarse(now, "half"), with_coarse(now, "all")
    assert half.levels == every.levels == now.levels
    assert set(half.coarse) < set(now.coarse) < set(every.coarse)
    assert [place for place in now.coarse if now.levels[place] is None] == [
        place for place in half.coarse if half.levels[place] is None] != []

"""The memo: made once for its sources, made again when they are others, let go when asked."""

from __future__ import annotations

import numpy as np
import pytest

from app.study import actions
from app.study.memo import Memo
from tests.app.study_made import made as recordings
from tests.app.study_made import session_of


@pytest.fixture
def made() -> list[str]:
    return []


def test_it_is_made_once_for_the_same_sources(made):
    memo, source = Memo(), object()
    for _ in range(3):
        assert memo.of("one", (source, 2.0), lambda: made.append("once") or "thing") == "thing"
    assert made == ["once"]


def test_other_sources_make_another_one_and_the_old_one_goes(made):
    memo = Memo()
    for source in (1, 2, 1):
        memo.of("one", (source,), lambda: made.append("made"))
    assert len(made) == 3
    assert memo.of("other", (1,), lambda: "under another name") == "under another name"


def test_what_is_none_is_kept_too(made):
    memo = Memo()
    assert [memo.of("none", (), lambda: made.append("made")) for _ in range(2)] == [None, None]
    assert made == ["made"]


def test_the_last_one_is_there_whatever_it_was_made_from():
    memo = Memo()
    assert memo.last("one") is None
    memo.of("one", (1,), lambda: "first")
    assert memo.last("one") == "first"
    memo.clear()
    assert memo.last("one") is None


def test_a_failure_is_not_kept():
    memo = Memo()
    with pytest.raises(ZeroDivisionError):
        memo.of("one", (), lambda: 1 // 0)
    assert memo.of("one", (), lambda: 5) == 5


def test_a_session_keeps_what_does_not_depend_on_what_changed():
    session = session_of(recordings()[:-1])
    found, labelled, prepared, bystanders = session.evaluated()
    session.act(actions.set_value(session.study, "impact_g", 3.0), "impact")
    again = session.evaluated()
    assert again[0] is not found
    assert again[1:] == (labelled, prepared, bystanders)
    session.act(actions.set_mark(session.study), "mark")
    assert session.evaluated()[0] is again[0], "a mark moves no setting"
    session.act(actions.leave_out(session.study, ("W01 trip 1",), "slipped"), "leave out")
    assert session.evaluated()[1] is not labelled
    assert np.count_nonzero(session.found().score.outcome != found.score.outcome) > 0

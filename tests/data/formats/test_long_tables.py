"""A table so long that it is read in pieces, by several threads: the same as in one."""

from __future__ import annotations

import warnings
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from data.formats import text_tables
from data.formats.text import decode
from data.formats.text_layout import find_layout
from data.formats.text_tables import read_columns
from data.problem import Problem
from data.recipe.sections import TableLayout

PLACES = ([0, 1, 2, 3], [1, 2, 3])


def outcome(text: str, places: list[int], piece: int) -> list[bytes] | tuple[str, int | None, str | None]:
    """The columns' bytes, or what is wrong and where."""
    found = decode(text.encode())
    with patch.object(text_tables, "_PIECE_BYTES", piece):
        try:
            return [column.tobytes() for column in read_columns(found, find_layout(found, TableLayout()), places)]
        except Problem as problem:
            return problem.kind, problem.line, problem.value


@given(st.integers(0, 2**32 - 1), st.sampled_from(["\n", "\r\n", "\r"]), st.integers(40, 400),
       st.dictionaries(st.integers(4, 199),
                       st.sampled_from(["", "  ", "# said", "1,2,3,4 # said", "1,2", "1,2,3,4,5", "1,x,3,4", "1,,3,4",
                                        '1,"2",3,4', '1,"2\n",3,4', "1,2,3,nan", "\ufeff1,2,3,4"]), max_size=3))
def test_in_pieces_it_is_the_same_and_what_is_wrong_stands_in_the_same_line(seed, end, piece, odd):
    values = np.random.default_rng(seed).normal(0, 3, (200, 4))
    lines = [",".join(map(repr, row)) for row in values.tolist()]
    for at, line in odd.items():
        lines[at] = line
    text = end.join(["t,x,y,z", *lines, ""])
    for places in PLACES:
        assert outcome(text, places, piece) == outcome(text, places, 1 << 30)


def test_it_is_cut_at_line_ends_into_more_than_one():
    rows = b"t,x,y,z\n" + b"1,2,3,4\n" * 100
    cuts = list(text_tables._cuts(rows, 8, 100))
    assert list(text_tables._cuts(rows + b'"', 8, 100)) == [8, len(rows) + 1]
    assert (cuts[0], cuts[-1]) == (8, len(rows))
    assert len(cuts) > 6
    assert all(rows[cut - 1:cut] == b"\n" for cut in cuts)


def test_what_becomes_of_warnings_is_as_before():
    before = list(warnings.filters)
    text = "t,x,y,z\n" + "1,2,3,4\n" * 99
    assert outcome(text, PLACES[0], 64) == [np.full(99, value, dtype=np.float64).tobytes() for value in (1, 2, 3, 4)]
    assert warnings.filters == before


@pytest.mark.parametrize("places", PLACES)
def test_rows_that_are_all_too_long_in_one_piece_are_refused(places):
    text = "t,x,y,z\n" + "1,2,3,4\n" * 130 + "1,2,3,4,5\n" * 99
    assert outcome(text, places, 100) == ("row_length", 132, "1,2,3,4,5")

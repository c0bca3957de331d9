"""Cells are judged a column at a time; each must be judged as it would be by itself."""

import csv

from hypothesis import example, given
from hypothesis import strategies as st

from data.formats.text import each_line, lines_of
from data.formats.text_layout import is_number, numbers_among, split_row

CELLS = st.lists(st.one_of(st.from_regex(r"\s*[-+]?\d{0,3}[.,]?\d{0,3}(e[-+]?\d{1,2})?\s*", fullmatch=True),
                           st.text("0123456789.,+-eE \t\0nax", max_size=6)), max_size=12)


@given(CELLS, st.sampled_from(".,"))
@example(["1\0002"], ".")
@example(["1", "2\0", "a"], ".")
@example(["", "1,5"], ",")
def test_as_many_cells_are_numbers_together_as_one_by_one(cells, decimal):
    assert numbers_among(cells, decimal) == sum(is_number(cell, decimal) for cell in cells)


@given(st.sampled_from(".,"), st.text("0123456789.,+-eE ", max_size=8))
def test_a_number_with_a_comma_is_one_with_a_point_once_that_is_exchanged(decimal, cell):
    plain = cell.replace(decimal, ".") if decimal == "." or "." not in cell else "none"
    assert is_number(cell, decimal) == is_number(plain, ".")


@given(st.text('01,;\t "\'a\0\u2028', max_size=20), st.sampled_from(",;\t|"))
def test_a_row_is_split_as_the_reader_of_quotes_splits_it(line, delimiter):
    assert split_row(line, delimiter) == next(csv.reader([line], delimiter=delimiter), [])


@given(st.text("a\r\n\v\u2028 ", max_size=20))
def test_lines_one_by_one_are_the_lines(text):
    assert list(each_line(text)) == lines_of(text)

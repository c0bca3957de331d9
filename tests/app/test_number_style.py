"""Figures as the window shows them, and as a person types them: one place, the open form everywhere else."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from app.formatting import GAP, MINUS, THIN
from app.number_style import OPEN, SI, SIGNS, NumberStyle, open_form, opened, shown, use

COMMA = NumberStyle(",", ".")


@pytest.fixture(autouse=True)
def _open_again() -> Iterator[None]:
    yield
    use(OPEN)


def test_the_open_form_stays_as_it_is() -> None:
    assert shown(f"1{THIN}234.5 of 0.60{GAP}g") == f"1{THIN}234.5 of 0.60{GAP}g"


@pytest.mark.parametrize(("name", "number"), [(name, name.replace(" ", THIN)) for name in SIGNS])
def test_each_choice_shows_the_number_that_it_is_named_after(name: str, number: str) -> None:
    use(NumberStyle(*SIGNS[name]))
    assert shown(f"1{THIN}234.5") == number
    assert float(opened(number).replace(THIN, "")) == 1234.5


@pytest.mark.parametrize(("text", "said"), [
    ("81.5 % (69.2 – 89.6)", "81,5 % (69,2 – 89,6)"),
    (f"z {MINUS}0.07", f"z {MINUS}0,07"),
    (f"of 2{THIN}048 codes", "of 2.048 codes"),
    ("<b>20.4</b> a day", "<b>20,4</b> a day"),
    ("Only 0.25, 1.5.", "Only 0,25, 1,5."),
])
def test_numbers_in_a_text_have_the_signs_chosen(text: str, said: str) -> None:
    use(COMMA)
    assert shown(text) == said


@pytest.mark.parametrize("text", ["study v1.5", "/tmp/a 1/2.5", "plumbfall 0.1.0", "trial_1.5", "2.5.csv", "at 12:30.5",
                                  "color: #1.5", "127.0.0.1"])
def test_names_paths_versions_and_times_of_day_stay(text: str) -> None:
    use(COMMA)
    assert shown(text) == text


@pytest.mark.parametrize(("text", "said"), [
    (f"0.60{GAP}g", f"5.9{GAP}m/s²"),  # 0.60 × 9.80665 = 5.884
    ("not still by 0.48 g", "not still by 4.7 m/s²"),
    (f"±4{GAP}g · 12{GAP}bits", f"±39.2{GAP}m/s² · 12{GAP}bits"),
    ("0.1 – 1.5 g allowed", "1.0 – 14.7 m/s² allowed"),
    ("between 2 g and 8 g", "between 19.6 m/s² and 78.5 m/s²"),
    ("300 mV/g, 0.5 mg/°C, 409.6 counts/g", "300 mV/g, 0.5 mg/°C, 409.6 counts/g"),
    (f"±50{GAP}mg", f"±0.49{GAP}m/s²"),  # 0.05 × 9.80665 = 0.490
    ("off 1 g by 12.3 mg", "off 9.8 m/s² by 0.121 m/s²"),
    (f"512{GAP}counts{GAP}/{GAP}g", f"512{GAP}counts{GAP}/{GAP}g"),
])
def test_accelerations_are_shown_in_metres_per_second_squared(text: str, said: str) -> None:
    use(NumberStyle(acceleration=SI))
    assert shown(text) == said


def test_what_is_typed_may_have_either_sign_where_that_is_no_sign_between_thousands() -> None:
    use(COMMA)
    assert [opened(text) for text in ("1,5", "1.5", "1.234", "1.234,5")] == ["1.5", "1.5", "1234", "1234.5"]
    use(NumberStyle(".", ","))
    assert [opened(text) for text in ("1.5", "1,234", "1,234.5")] == ["1.5", "1234", "1234.5"]


def test_a_picture_that_goes_into_a_file_is_drawn_in_the_open_form() -> None:
    use(COMMA)
    with open_form():
        assert shown("0.5") == "0.5"
    assert shown("0.5") == "0,5"

"""Numbers as exports write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.reading.numbers import Decimal, Number, detect_decimal, read_number


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("80", ".", 80),
        ("82.5", ".", 82.5),
        ("82,5", ",", 82.5),
        (".5", ".", 0.5),
        ("80.", ".", 80),
        ("1,250", ".", 1250),
        ("1.250", ",", 1250),
        ("1.250,5", ",", 1250.5),
        ("1,250.5", ".", 1250.5),
        ("1 250", ".", 1250),
        ("1'250.5", ".", 1250.5),
        ("82,5", ".", 82.5),
        ("82.5", ",", 82.5),
        ("-15", ".", -15),
        ("−15", ".", -15),
    ],
)
def test_numbers_are_read(text: str, decimal: Decimal, value: float) -> None:
    assert read_number(text, decimal) == Number(value)


@pytest.mark.parametrize(
    "text",
    [
        "abc",
        "1e3",
        "inf",
        "nan",
        "1.2.3",
        "80 80",
        "8-10",
        "80 stone",
        "",
        ".",
        "12,50,0",
        "٣",
        "bw 5",
    ],
)
def test_what_is_no_number_is_not_read(text: str) -> None:
    assert read_number(text, ".") is None


def test_a_mark_that_the_mapping_rules_out_is_no_number() -> None:
    assert read_number("82,5", ".", is_given=True) is None
    assert read_number("82.5", ",", is_given=True) is None
    assert read_number("1.250,5", ".", is_given=True) is None


def test_the_thousands_mark_of_the_mapping_counts() -> None:
    assert read_number("1_250,5", ",", True, "_") is None
    assert read_number("1.250,5", ",", True, ".") == Number(1250.5)
    assert read_number("12.50,5", ",", True, ".") is None


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("80 kg", Number(80, "kg")),
        ("175lbs", Number(175, "lb")),
        ("175 lb.", Number(175, "lb")),
        ("+20", Number(20, None, True)),
        ("BW+20 kg", Number(20, "kg", True)),
        ("BW", Number(None)),
        ("bodyweight", Number(None)),
    ],
)
def test_units_and_signs_beside_the_number_are_read(text: str, number: Number) -> None:
    assert read_number(text, ".") == number


@pytest.mark.parametrize(
    ("texts", "decimal"),
    [
        (["82,5", "80"], ","),
        (["82.5", "80"], "."),
        (["1.250,5"], ","),
        (["1,250.5"], "."),
        (["1,250"], "."),
        (["82,500", "80,000"], ","),
        (["80.000"], "."),
        (["82,5 kg", "1.250"], ","),
        ([], "."),
    ],
)
def test_the_decimal_mark_of_a_file_is_found(texts: list[str], decimal: str) -> None:
    assert detect_decimal(texts, load_max=1543) == decimal


@given(st.text(max_size=20), st.sampled_from([".", ","]), st.booleans())
def test_any_text_is_a_finite_number_or_none(text: str, decimal: Decimal, given: bool) -> None:
    number = read_number(text, decimal, given)
    assert number is None or number.value is None or abs(number.value) < float("inf")


@pytest.mark.parametrize("word", ["KG", "PDC", "PC", "LG", "CL", "Körpergewicht", "p. corporal"])
def test_own_weight_is_no_load_in_any_of_seven_languages(word: str) -> None:
    assert read_number(word, ",") == Number(None)
    assert read_number(f"{word} + 7,5", ",") == Number(7.5, None, is_added=True)
    assert read_number(f"{word}-10 kg", ",") == Number(10, "kg", is_assisted=True)


def test_a_unit_before_a_number_is_no_own_weight() -> None:
    assert read_number("kg 80", ".") is None
    assert read_number("80 kg", ".") == Number(80, "kg")

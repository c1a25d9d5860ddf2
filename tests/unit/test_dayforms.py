"""The form of a column of days, decided from the whole column or left open."""

from __future__ import annotations

from collections import Counter
from datetime import date

import pytest

from pipeline.drafting.date_formats import DayForm, day_form
from pipeline.reading.dates import read_by_format

TOMORROW = date(2026, 6, 30)


def form_of(*texts: str) -> DayForm | None:
    return day_form(dict(Counter(texts)), texts, TOMORROW)


@pytest.mark.parametrize(
    ("texts", "pattern"),
    [
        (["2026-03-02", "2026-03-04"], None),
        (["2026-W10-1", "2026-W10-3"], None),
        (["20260302", "20260304"], None),
        (["2026-03-02T18:05:00+02:00"], None),
        (["02.03.2026", "16.03.2026"], "%d.%m.%Y"),
        (["3/2/2026", "3/16/2026"], "%m/%d/%Y"),
        (["16/03/26 18:05", "18/03/26 18:05", "31/03/26 18:05"], "%d/%m/%y %H:%M"),
        (["3/16/26 6:05 PM"], "%m/%d/%y %I:%M %p"),
        (["16/03/2026 18h05"], "%d/%m/%Y %Hh%M"),
        (["2. März 2026", "4. Mai 2026"], "%d. %b %Y"),
        (["1er août 2025", "3 août 2025"], "%d %b %Y"),
        (["12 de enero de 2026"], "%d de %b de %Y"),
        (["March 2nd, 2026"], "%b %d, %Y"),
        (["2-Mar-26"], "%d-%b-%y"),
        (["lun. 2 mars 2026"], "%a %d %b %Y"),
        (["1772445900", "1772618700"], "epoch"),
        (["1772445900000"], "epoch_ms"),
    ],
)
def test_a_form_is_recognised(texts: list[str], pattern: str | None) -> None:
    found = form_of(*texts)
    assert found is not None
    assert (found.pattern, found.others) == (pattern, ())


@pytest.mark.parametrize("texts", [["80x8"], ["8", "10", "12"], ["Squat"], ["2 March"], []])
def test_what_is_no_day_with_a_year_has_no_form(texts: list[str]) -> None:
    assert form_of(*texts) is None


def test_the_weekday_beside_a_day_tells_the_order() -> None:
    # 2 March 2026 is a Monday (Mo), 3 February 2026 is a Tuesday.
    found = form_of("Mo, 02.03.2026")
    assert found is not None and (found.pattern, found.others) == ("%a, %d.%m.%Y", ())


def test_two_days_that_fit_both_orders_stay_open() -> None:
    found = form_of("02/03/2026", "04/03/2026")
    assert found is not None
    assert {found.pattern, *found.others} == {"%d/%m/%Y", "%m/%d/%Y"}


def test_days_in_one_direction_tell_the_order() -> None:
    found = form_of(*(f"{day:02d}/{month:02d}/2026" for month in (1, 2) for day in (1, 4, 7, 10)))
    assert found is not None and (found.pattern, found.others) == ("%d/%m/%Y", ())


def test_the_spacing_of_sessions_tells_the_order() -> None:
    # As month/day these would be one session a month, each on the 2nd.
    found = form_of(*(f"{day:02d}/02/2026" for day in (1, 3, 5, 7, 9, 11)))
    assert found is not None and (found.pattern, found.others) == ("%d/%m/%Y", ())


def test_one_day_beyond_tomorrow_may_be_a_slip_and_decides_nothing() -> None:
    found = form_of("02/03/2026", "04/03/2026", "05/12/2026")
    assert found is not None and found.others


def test_several_days_beyond_tomorrow_rule_an_order_out() -> None:
    # As day/month they would lie in October and December 2026.
    found = form_of("02/10/2026", "03/12/2026", "04/11/2026")
    assert found is not None and (found.pattern, found.others) == ("%m/%d/%Y", ())


@pytest.mark.parametrize(
    ("text", "pattern", "day"),
    [
        ("2. März 2026", "%d. %B %Y", date(2026, 3, 2)),
        ("2 févr. 2026", "%d %b %Y", date(2026, 2, 2)),
        ("miércoles, 4 de febrero de 2026", "%A, %d de %B de %Y", date(2026, 2, 4)),
        ("4 fev 2026", "%d %b %Y", date(2026, 2, 4)),
        ("mar 3 mar 2026", "%a %d %b %Y", date(2026, 3, 3)),
        ("wo 4 mrt 2026", "%a %d %b %Y", date(2026, 3, 4)),
    ],
)
def test_names_of_months_and_weekdays_are_read_in_seven_languages(
    text: str, pattern: str, day: date
) -> None:
    found = read_by_format(text, pattern)
    assert found is not None and found.day == day

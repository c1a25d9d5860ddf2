"""Numbers, units, singular and plural as a person would write them."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from pipeline import formats
from pipeline.pages.sections import changes, lifts, muscles, rhythm


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (12.34, 1, "12.3"),
        (-0.5, 1, "−0.5"),
        (-0.04, 1, "0.0"),
        (0, 1, "0.0"),
        (11010, 0, "11\u202f010"),
        (None, 1, "–"),
    ],
)
def test_a_number(value: float | None, digits: int, text: str) -> None:
    assert formats.number(value, digits) == text


def test_a_difference_carries_its_sign_and_nothing_has_none() -> None:
    assert [formats.signed(value, 2) for value in (0.214, -0.36, 0.0, 0.001)] == [
        "+0.21",
        "−0.36",
        "0.00",
        "0.00",
    ]


def test_a_share_that_is_not_all_or_nothing_is_not_shown_as_such() -> None:
    assert [formats.percent(share) for share in (0, 0.001, 0.5, 0.999, 1)] == [
        "0%",
        "<1%",
        "50%",
        ">99%",
        "100%",
    ]


def test_one_is_singular_and_the_rest_is_not() -> None:
    assert formats.count(1, "set") == "1 set"
    assert formats.count(2.5, "set") == "2.5 sets"
    assert formats.counted(1, "line") == "one line"
    assert formats.counted(0, "line") == "no lines"
    assert formats.counted(13, "line") == "13 lines"


def test_loads_are_in_the_unit_that_the_client_reads() -> None:
    """1 lb = 0.45359237 kg exactly, so 102.05828325 kg are 225 lb."""
    assert formats.load_with_unit(102.05828325, "lb") == "225 lb"
    assert formats.load_with_unit(82.5, "kg") == "82.5 kg"
    assert formats.load(80, "kg") == "80.0"


def test_days_and_lists() -> None:
    assert formats.day(date(2026, 9, 5)) == "5 Sept 2026"
    assert formats.weekday(date(2026, 8, 30)) == "Sunday"
    assert formats.listing(["a"]) == "a"
    assert formats.listing(["a", "b", "c"]) == "a, b and c"


def test_a_guide_with_one_end() -> None:
    assert formats.guide(8, 16) == "8–16"
    assert formats.guide(None, 16) == "to 16"
    assert formats.guide(None, None) == "–"


def test_the_reading_of_muscles_names_those_outside() -> None:
    assert muscles.muscles_reading(["chest"], ["lats", "biceps"], 1, 0) == (
        "At today’s weekly rate, chest is below the guide; "
        "lats and biceps are above it; the other muscle is within it."
    )
    assert muscles.muscles_reading([], [], 14, 0) == (
        "At today’s weekly rate, all 14 muscles are within the guide."
    )
    assert muscles.muscles_reading([], [], 0, 5).startswith("No muscle is judged")


def test_a_lift_s_reason_is_told_once_with_its_numbers() -> None:
    why = lifts.lift_why(
        status="stalled",
        cause=None,
        reason="flat: −0.36 % a week",
        change=(-0.3575, -0.80, 0.08),
        expected=0.4,
        window_days=56,
        weeks_until_clear=None,
        last_on=None,
    )
    assert why == "−0.36% a week (−0.80 to +0.08) over 8 weeks; +0.40% was to be expected"


def test_a_reason_of_the_tables_is_written_as_pages_write() -> None:
    assert lifts.reason_as_shown("too few since 2026-08-14, 5 % short") == (
        "too few since 14 Aug 2026, 5% short"
    )


def test_days_in_order_join_days_off() -> None:
    days = [("chest", "arms"), None, None, ("legs",), None, ()]
    assert rhythm.days_in_order(days) == (
        "chest + arms  ·  2 days off  ·  legs  ·  off  ·  light day"
    )


def test_a_rhythm_is_told_as_a_coach_would() -> None:
    def told(*rounds: tuple[str, ...], days: float = 7, off: float = 2, on: Any = ()) -> str:
        return rhythm.rhythm_reading(rounds, {"days": days, "rest_days": off}, on)

    upper, lower, whole = ("chest", "back"), ("legs",), ("legs", "chest", "back")
    assert told(whole, days=2.3, on=(0, 2, 4)) == (
        "The same session each time, on Mondays, Wednesdays and Fridays: legs, chest and back."
    )
    assert told(whole, days=2.3) == (
        "The same session each time, about every 2.3 days: legs, chest and back."
    )
    assert told(upper, lower, on=(0, 1, 3, 4)).startswith(
        "Two sessions in turn, on Mondays, Tuesdays, Thursdays and Fridays: chest and back; legs."
    )
    assert told(upper, lower, upper, days=6.2, off=0.2) == (
        "A round of three sessions in about six days, no fixed day off: "
        "(1) chest and back, (2) legs, (3) chest and back."
    )
    assert told() == "No fixed round of sessions and no fixed days in the last eight weeks."


def test_equal_rounds_are_counted_and_rest_days_have_their_number() -> None:
    assert rhythm.alike_reading(9, 11, "week") == "Nine of the last eleven weeks were alike."
    assert rhythm.alike_reading(11, 11, "week") == "The last eleven weeks were alike."
    assert rhythm.alike_reading(1, 6, "round") == "No two of the last six rounds were alike."
    assert rhythm.rest_reading([3, 3]).endswith("held three rest days.")
    assert rhythm.rest_reading([2, 1]).endswith("held one to two rest days.")
    assert rhythm.rest_reading([0, 1, 0]).endswith(
        "held at most one rest day; 2 of the 3 spans held none."
    )


def test_weekdays_are_told_only_where_they_are_clear() -> None:
    """Four weeks of Mondays and Thursdays; then a session every third day."""
    monday = date(2026, 8, 3)
    days = [monday + timedelta(days=each) for each in range(28)]
    assert rhythm.weekdays([each for each in days if each.weekday() in (0, 3)], days) == (0, 3)
    assert rhythm.weekdays(days[::3], days) == ()


def test_every_status_and_cause_has_its_words() -> None:
    assert set(lifts.STATUS_ORDER) == set(lifts.STATUSES)
    for status in lifts.STATUS_ORDER:
        assert lifts.status_word(status)[0].isupper()


def test_after_a_change_the_sentence_names_the_first_few_that_differ() -> None:
    names = ["Sessions a week", "Rest days a week", "Hard sets a week", "Level", "Share", "Rate"]
    usually = "changed by more than is usual for this client"
    assert changes.change_reading(9, names[:1], 8) == (
        f"One measure of 8 {usually}: sessions a week."
    )
    assert changes.change_reading(9, names, 8) == (
        f"Six measures of 8 {usually}: sessions a week, rest days a week, hard sets a week, "
        "level and two others."
    )
    assert changes.change_reading(9, [], 8) == (
        f"None of the eight measures that can be judged {usually}."
    )
    assert changes.change_reading(9, [], 0).startswith(
        "None of the nine measures is held against usual variation: that needs whole weeks"
    )


def test_weeks_that_are_not_whole_and_changes_close_by_are_said() -> None:
    assert changes.change_span(28, 28, 28) == ""
    assert changes.change_span(21, 15, 28) == (
        "The four weeks before the change hold 21 of 28 days and the four weeks after the change "
        "hold 15 of 28 days: days not logged, or a deload, are left out."
    )
    assert changes.other_changes(1).startswith("One other change falls into these weeks")
    assert changes.other_changes(2).startswith("Two other changes fall into these weeks")


@pytest.mark.parametrize(
    ("code", "amount", "difference", "shown"),
    [
        ("weekly_hard_sets", 51.25, 45.25, ("Hard sets a week", "51.2", "+45.2")),
        ("weekly_sessions", 4.0, 0.5, ("Sessions a week", "4.0", "+0.50")),
        ("weekly_rest_days", 3.0, 0.0, ("Rest days a week", "3.0", "0.0")),
        ("failure_share", 0.02, -0.03, ("Recorded sets at 0 RIR", "2%", "−3 points")),
        ("lift_level", 99.7, None, ("Level of the lifts, before = 100", "99.7", "–")),
    ],
)
def test_a_measure_of_before_and_after(
    code: str, amount: float, difference: float | None, shown: tuple[str, str, str]
) -> None:
    name, value, change = changes.measure(code)
    assert (name, value(amount), change(difference)) == shown


def test_the_usual_difference_goes_to_both_sides() -> None:
    assert changes.reach("+5.7") == "up to ±5.7 is usual"
    assert changes.reach("–") == ""

"""Training days, rest and the rotation. Expected rows are by hand."""

from __future__ import annotations

from tests.conftest import Log, day

PARTS = {"chest": "pec deck", "back": "lat pulldown", "legs": "leg extension"}


def test_rhythm_of_two_weeks(log: Log) -> None:
    # days 0, 1, 2 with 4, 5 and 3 hard sets; then days 7 and 8
    for offset, part, sets in [
        (0, "chest", 4),
        (1, "legs", 5),
        (2, "chest", 3),
        (7, "chest", 4),
        (8, "legs", 4),
    ]:
        log.sets(day(offset), PARTS[part], 50.0, 10, sets, rir=1.0)
    log.build(day(9))
    assert log.ask(
        "select trained, body_parts, rest_days_7d, run_of_training_days, hard_sets"
        " from review.rhythm order by day"
    ) == [
        (True, "chest", None, 1, 4),
        (True, "legs", None, 2, 5),
        (True, "chest", None, 0, 3),
        (False, None, None, 0, 0),
        (False, None, None, 0, 0),
        (False, None, None, 0, 0),
        (False, None, 5, 0, 0),
        (True, "chest", 5, 1, 4),
        (True, "legs", 5, 2, 4),
        (False, None, 5, 0, 0),
    ]


def test_a_day_of_warmups_is_trained_and_a_rest_day(log: Log) -> None:
    log.set(day(0), "pec deck", 20.0, 10, set_kind="warmup")
    log.build(day(0))
    assert log.ask("select trained, body_parts, run_of_training_days from review.rhythm") == [
        (True, None, 0)
    ]


def rotation(log: Log) -> tuple[object, ...]:
    """The only row of the table."""
    rows = log.ask("select sessions, days, rest_days, similarity, parts from review.rotation")
    assert len(rows) == 1, rows
    return rows[0]


def test_three_sessions_and_a_rest_day_are_a_rotation_of_four_days(log: Log) -> None:
    for cycle in range(14):
        for place, part in enumerate(PARTS):
            log.sets(day(4 * cycle + place), PARTS[part], 50.0, 10, 4, rir=1.0)
    log.build(day(55))
    assert rotation(log) == (3.0, 4.0, 1.0, 1.0, "chest | back | legs")


def test_a_rotation_in_sessions_may_have_a_mean_length_in_days(log: Log) -> None:
    # two sessions in turn, three days a week: days 0, 2, 4, 7, …: two sessions are 4 or 5 days
    days = [7 * week + weekday for week in range(8) for weekday in (0, 2, 4)]
    for number, offset in enumerate(days):
        log.sets(day(offset), ["pec deck", "leg extension"][number % 2], 50.0, 10, 4, rir=1.0)
    log.build(day(53))
    sessions, length, rest, similarity, parts = rotation(log)
    # the pairs' dates: 8 of 4 days and 14 of 5 among 22
    assert (sessions, length, rest) == (2.0, round((8 * 4 + 14 * 5) / 22, 9), 2.636363636)
    assert (similarity, parts) == (1.0, "chest | legs")


def test_fixed_weekdays_with_missed_sessions_are_a_rotation_by_days(log: Log) -> None:
    # chest on Monday, back on Wednesday, legs on Friday; every other week one of them is missed
    for week in range(8):
        for place, part in enumerate(PARTS):
            if week % 2 == 0 or week // 2 % 3 != place:
                log.sets(day(7 * week + 2 * place), PARTS[part], 50.0, 10, 4, rir=1.0)
    log.build(day(55))
    sessions, days, _, similarity, _ = rotation(log)
    assert (days, similarity) == (7.0, 1.0)
    assert isinstance(sessions, float)
    assert 2 < sessions < 3


def test_training_without_order_is_no_fixed_rotation(log: Log) -> None:
    order = "clblcbbcllbccblbclblccbl"
    names = {"c": "pec deck", "l": "leg extension", "b": "lat pulldown"}
    for number, letter in enumerate(order):
        log.sets(day(2 * number), names[letter], 50.0, 10, 4, rir=1.0)
    log.build(day(48))
    sessions, days, rest, similarity, parts = rotation(log)
    assert (sessions, days, rest, parts) == (None, None, None, "no fixed rotation")
    assert similarity is not None
    assert float(str(similarity)) < 0.8


def test_full_body_on_three_weekdays_is_no_rotation_of_two_days(log: Log) -> None:
    # Monday, Wednesday, Friday; 5 leg sets and 3 for the back, on Fridays 4 and 4: two days apart
    # are a Monday and a Wednesday, or a Wednesday and a Friday, a little more alike than sessions
    for week in range(8):
        for weekday in (0, 2, 4):
            legs = 4 if weekday == 4 else 5
            log.sets(day(7 * week + weekday), "leg extension", 50.0, 10, legs, rir=1.0)
            log.sets(day(7 * week + weekday), "lat pulldown", 50.0, 10, 8 - legs, rir=1.0)
    log.build(day(53))
    sessions, days, *_ = rotation(log)
    # 23 pairs of neighbouring sessions over the 53 days from the first to the last
    assert (sessions, days) == (1.0, round(53 / 23, 9))


def test_sessions_across_a_long_gap_are_not_compared(log: Log) -> None:
    # five pairs of the same part before and after ten days off: six are needed
    for number in range(3):
        log.sets(day(2 * number), "pec deck", 50.0, 10, 4, rir=1.0)
        log.sets(day(14 + 2 * number), "pec deck", 50.0, 10, 4, rir=1.0)
    log.build(day(20))
    assert rotation(log) == (None, None, None, None, "no fixed rotation")


def test_the_same_session_each_time_is_a_rotation_of_one(log: Log) -> None:
    for number in range(10):
        log.sets(day(3 * number), "pec deck", 50.0, 10, 4, rir=1.0)
    log.build(day(27))
    assert rotation(log) == (1.0, 3.0, 2.0, 1.0, "chest")

"""A calendar month against the month before: sessions, hard sets, rest days, new bests."""

from __future__ import annotations

from datetime import date

from tests.conftest import Log


def test_a_month_counts_its_days_and_allows_for_those_it_lacks(log: Log) -> None:
    """June begins on the 22nd with the log (9 days), July is whole, August has 9 days so far."""
    for month, day in ((6, 22), (6, 24), (7, 1), (7, 8), (7, 15), (7, 22), (8, 3)):
        log.sets(date(2026, month, day), "back squat", 100.0, 5, 4, rir=2.0)
    log.sets(date(2026, 7, 29), "back squat", 100.0, 5, 3, rir=2.0)  # 3 hard sets: a rest day too
    log.exported(date(2026, 8, 9))
    log.build(date(2026, 8, 9))
    assert log.ask(
        "select month, days, sessions, hard_sets, rest_days, weekly_sessions, weekly_hard_sets"
        " from review.training_month order by month"
    ) == [
        (date(2026, 6, 1), 9, 2, 8, 7, round(14 / 9, 9), round(56 / 9, 9)),
        (date(2026, 7, 1), 31, 5, 19, 27, round(35 / 31, 9), round(133 / 31, 9)),
        (date(2026, 8, 1), 9, 1, 4, 8, round(7 / 9, 9), round(28 / 9, 9)),
    ]


def test_a_month_without_a_set_stands_with_zeros(log: Log) -> None:
    log.sets(date(2026, 6, 30), "back squat", 100.0, 5, 4, rir=2.0)
    log.sets(date(2026, 8, 1), "back squat", 100.0, 5, 4, rir=2.0)
    log.build(date(2026, 8, 31))
    assert log.ask(
        "select days, sessions, hard_sets, rest_days, new_bests, weekly_rest_days"
        " from review.training_month where month = '2026-07-01'"
    ) == [(31, 0, 0, 31, 0, 7.0)]


def test_a_new_best_is_above_every_earlier_month_not_only_the_last(log: Log) -> None:
    """Squat 100, 90, 105 for fives; bench 60 in June and again in August: no new best."""
    for month, load in ((6, 100.0), (7, 90.0), (8, 105.0)):
        log.set(date(2026, month, 10), "back squat", load, 5, rir=0.0)
    for month in (6, 8):
        log.set(date(2026, month, 10), "bench press", 60.0, 5, rir=0.0)
    log.build(date(2026, 8, 31))
    assert log.ask("select month, new_bests from review.training_month order by month") == [
        (date(2026, 6, 1), 0),
        (date(2026, 7, 1), 0),
        (date(2026, 8, 1), 1),
    ]


def test_a_view_of_an_earlier_tool_becomes_the_table(log: Log) -> None:
    log.set(date(2026, 8, 1), "back squat", 100.0, 5)
    log.con.execute("create schema if not exists review")
    log.con.execute("create view review.training_month as select 1 as month")
    log.build(date(2026, 8, 31))
    assert log.ask("select days, sessions from review.training_month") == [(1, 1)]

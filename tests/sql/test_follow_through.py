"""What became of a change: done by the finding's own measure, worked by all lifts. By hand."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import pytest

from pipeline.settings.workspace import Change, Client, Phase
from tests.conftest import Log, day

WEEKS = 30
CHANGED = 18
"""Week in which the change begins, on its Monday."""
AS_OF = day(7 * WEEKS - 1)
LIFTS = ("bench press", "back squat", "barbell row", "lat pulldown")


def client(*changes: Change, **settings: Any) -> Client:
    """Ines, with her changes."""
    return Client(id="ines", name="Ines", changes=changes, **settings)


def noted(week: int = CHANGED, **other: Any) -> Change:
    """A change on a week's Monday."""
    return Change(day(7 * week), "something else", **other)


def train(
    log: Log,
    before: float,
    since: float,
    *,
    sets: tuple[int, int] = (3, 3),
    rir: tuple[float, float] = (1.0, 1.0),
    weeks: int = WEEKS,
    **other: Any,
) -> None:
    """Mondays and Thursdays; every lift `before` and then `since` % a week.

    Days are 0.3 % too high and too low in turn, so that an interval has a width.
    """
    for week in range(weeks):
        is_since = week >= CHANGED
        for weekday in (0, 3):
            t = week + weekday / 7 - CHANGED
            wobble = 0.3 if (week + weekday) % 2 else -0.3
            strength = (since if t >= 0 else before) * t + wobble
            for lift in LIFTS:
                log.sets(
                    day(7 * week + weekday),
                    lift,
                    80 * math.exp(strength / 100),
                    8,
                    sets[is_since],
                    rir=rir[is_since],
                    **other,
                )
    log.exported(day(7 * weeks - 1), load_id=other.get("load_id", 1))


def row(log: Log, columns: str, table: str = "review.follow_through") -> tuple[Any, ...]:
    """The one row of the table."""
    rows = log.ask(f"select {columns} from {table}")
    assert len(rows) == 1, rows
    return rows[0]


def test_a_change_after_which_all_lifts_rise_faster_has_worked(log: Log) -> None:
    train(log, 0.0, 0.5)
    log.build(AS_OF, clients=[client(noted())])
    rate_before, rate_since, low, high, lifts = row(
        log, "rate_before, rate_since, difference_low, difference_high, lifts"
    )
    assert rate_before == pytest.approx(0.0, abs=0.03)
    assert rate_since == pytest.approx(0.5, abs=0.03)
    assert 0.4 < low < 0.5 < high < 0.6
    assert lifts == 4
    assert row(log, "verdict, is_done, done_by, look_again_on, origin, followed_until") == (
        "worked", None, None, None, "noted", AS_OF,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("before", "since", "verdict"),
    [
        (0.5, 0.0, "made_worse"),
        (0.3, 0.3, "no_difference"),
        # gains slow down by themselves: what still gains is not made worse
        (0.8, 0.3, "too_early"),
    ],
)
def test_the_verdict_goes_by_the_difference_of_the_joint_rates(
    log: Log, before: float, since: float, verdict: str
) -> None:
    train(log, before, since)
    log.build(AS_OF, clients=[client(noted())])
    assert row(log, "verdict") == (verdict,)


def test_before_the_lifts_can_tell_it_says_when_they_probably_will(log: Log) -> None:
    train(log, 0.0, 0.5, weeks=CHANGED + 1)
    log.build(day(7 * CHANGED + 6), clients=[client(noted())])
    # eight weeks after the change
    assert row(log, "verdict, rate_since, look_again_on") == (
        "too_early", None, day(7 * (CHANGED + 8)),
    )  # fmt: skip


def test_in_a_cut_a_change_has_worked_if_strength_holds(log: Log) -> None:
    train(log, 0.5, 0.0)
    cut = Phase("cut", day(7 * CHANGED))
    log.build(AS_OF, clients=[client(noted(), phases=(cut,))])
    assert row(log, "verdict") == ("worked",)


def test_in_care_nothing_is_judged(log: Log) -> None:
    train(log, 0.5, 0.0)
    care = Phase("care", day(7 * WEEKS - 3))
    log.build(AS_OF, clients=[client(noted(), phases=(care,))])
    assert row(log, "verdict") == (None,)


def test_each_is_followed_until_the_next_and_compared_back_to_the_one_before(log: Log) -> None:
    train(log, 0.0, 0.5)
    log.build(AS_OF, clients=[client(noted(8), noted(CHANGED), noted(24))])
    assert log.ask(
        "select changed_on, compared_from, followed_until from review.follow_through order by all"
    ) == [
        (day(7 * 8), day(0), day(7 * CHANGED - 1)),
        (day(7 * CHANGED), day(7 * 8), day(7 * 24 - 1)),
        (day(7 * 24), day(7 * CHANGED), AS_OF),
    ]


def test_another_machine_is_no_change_in_the_training(log: Log) -> None:
    train(log, 0.0, 0.5)
    log.build(AS_OF, clients=[client(noted(), noted(24, exercise="bench press"))])
    assert log.ask("select changed_on, followed_until from review.follow_through") == [
        (day(7 * CHANGED), AS_OF)
    ]


def test_done_goes_by_the_measure_of_the_finding(log: Log) -> None:
    # quads: squats on two days a week, 3 sets each before, 4 since: 6 and 8 a week
    train(log, 0.3, 0.3, sets=(3, 4))
    quads = noted(code="volume", subject="quads")
    log.build(AS_OF, clients=[client(quads)])
    assert row(log, "done_by, measure_before, measure_since, is_done") == (
        "weekly_sets", 6.0, 8.0, True,
    )  # fmt: skip


def test_what_did_not_move_is_not_done_whatever_the_lifts_do(log: Log) -> None:
    train(log, 0.0, 0.5, rir=(0.0, 0.0))
    log.build(AS_OF, clients=[client(noted(code="failure"))])
    assert row(log, "done_by, measure_before, measure_since, is_done, verdict") == (
        "failure_share", 1.0, 1.0, False, "not_done",
    )  # fmt: skip


def test_too_little_is_no_answer_before_four_weeks_are_over(log: Log) -> None:
    train(log, 0.0, 0.5, rir=(0.0, 0.0), weeks=CHANGED + 3)
    log.build(day(7 * (CHANGED + 3) - 1), clients=[client(noted(code="failure"))])
    assert row(log, "is_done, verdict") == (None, "too_early")


def send(log: Log, on: date, code: str, subject: str = "", state: str = "sent") -> None:
    """A line of the mail book."""
    log._con.execute(
        "insert into ledger.mails values ('ines', '2026-01', ?, 'x', ?, ?, null, ?, ?)",
        [str(on), state, on, code, subject],
    )


def test_the_first_change_that_was_last_sent_is_followed_from_its_first_mail_on(log: Log) -> None:
    train(log, 0.3, 0.3)
    send(log, day(7 * 8), "rest")
    send(log, day(7 * 12), "failure")
    send(log, day(7 * 16), "failure")
    send(log, day(7 * 18), "extension", state="refused")
    send(log, day(7 * 20), "")
    log.build(AS_OF, clients=[client(noted(10))])
    assert log.ask("select changed_on, code, origin from review.follow_through order by all") == [
        (day(7 * 10), "", "noted"),
        (day(7 * 12), "failure", "sent"),
    ]
    # what was only sent ends nothing
    assert log.ask("select followed_until from review.follow_through where code = ''") == [(AS_OF,)]


def test_what_was_sent_and_then_adopted_is_one_change(log: Log) -> None:
    train(log, 0.3, 0.3)
    send(log, day(7 * 12), "failure")
    log.build(AS_OF, clients=[client(noted(13, code="failure"))])
    assert log.ask("select changed_on, origin from review.follow_through") == [
        (day(7 * 13), "adopted")
    ]


# take_back


def finding(log: Log) -> list[tuple[Any, ...]]:
    """The findings named take_back."""
    return log.ask(
        "select subject, is_first_change, evidence ->> 'since_on',"
        " (evidence ->> 'hard_sets_before')::double, (evidence ->> 'hard_sets_now')::double,"
        " suggestion from review.findings where code = 'take_back'"
    )


def test_a_change_that_made_it_worse_and_still_stands_is_taken_back_first(log: Log) -> None:
    # 2 days × 4 lifts × 3 or 5 sets
    train(log, 0.5, 0.0, sets=(3, 5))
    log.build(AS_OF, clients=[client(noted())])
    assert finding(log) == [
        (
            "weekly_hard_sets", True, str(day(7 * CHANGED)), 24.0, 40.0,
            "Go back to what it was before: about 24 hard sets a week.",
        )
    ]  # fmt: skip


def test_what_is_back_already_or_did_no_harm_is_not_taken_back(log: Log) -> None:
    train(log, 0.5, 0.0)  # nothing that could be seen has changed
    train(log, 0.5, 0.3, sets=(3, 5), client_id="kofi", load_id=2)  # the lifts still gain
    kofi = Client(id="kofi", name="Kofi", changes=(noted(),))
    log.build(AS_OF, clients=[client(noted()), kofi])
    assert finding(log) == []


def test_a_step_that_nobody_noted_is_found_and_dated(log: Log) -> None:
    # 4 sets before, so that half a year of usual differences stands behind it
    train(log, 0.5, 0.0, sets=(3, 5))
    log.build(AS_OF)
    assert [(row[0], row[2]) for row in finding(log)] == [
        ("weekly_hard_sets", str(day(7 * CHANGED)))
    ]
    assert log.ask("from review.follow_through") == []


def test_fewer_sessions_are_asked_about_and_no_step_to_take_back(log: Log) -> None:
    train(log, 0.5, 0.0, sets=(5, 3))
    log.build(AS_OF)
    assert finding(log) == []


def test_a_step_near_a_noted_change_is_that_change(log: Log) -> None:
    train(log, 0.5, 0.0, sets=(3, 5))
    log.build(AS_OF, clients=[client(noted(CHANGED + 1))])
    assert [(row[2]) for row in finding(log)] == [str(day(7 * (CHANGED + 1)))]

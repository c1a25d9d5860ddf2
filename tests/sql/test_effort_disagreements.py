"""Entries of effort that contradict each other: which are listed, and what counts.

Reserve before exertion before failure; 10 − RPE is the reserve that an exertion says (Zourdos et
al. 2016). All values by hand.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.conftest import MONDAY, Log

LIFT = "bench press"


def listed(log: Log) -> list[tuple[Any, ...]]:
    log.build(MONDAY)
    return log.ask(
        "select split_part(set_id, ':', 2)::integer as line, rir, rpe, has_failed, counted_rir "
        "from review.effort_disagreements order by line"
    )


@pytest.mark.parametrize(
    ("entry", "row"),
    [
        ({"rir": 2.0, "rpe": 9.0}, (2.0, 9.0, False, 2.0)),
        ({"rir": 1.0, "rpe": 6.0}, (1.0, 6.0, False, 1.0)),
        ({"rir": 2.0, "to_failure": True}, (2.0, None, True, 2.0)),
        ({"rpe": 7.5, "to_failure": True}, (None, 7.5, True, 2.5)),
        ({"rir": 1.0, "partial_reps": 3}, (1.0, None, True, 1.0)),
    ],
)
def test_contradictions_are_listed_with_what_counts(
    log: Log, entry: dict[str, Any], row: tuple[Any, ...]
) -> None:
    log.set(MONDAY, LIFT, 80.0, 8, **entry)
    assert listed(log) == [(2, *row)]


@pytest.mark.parametrize(
    "entry",
    [
        {"rir": 2.0, "rpe": 8.0},
        {"rir": 2.0, "rpe": 8.5},
        {"rir": 0.0, "rpe": 10.0, "to_failure": True},
        {"rir": 0.5, "to_failure": True},
        {"rir": 3.0, "to_failure": False},
        {"rir": 3.0},
        {"rpe": 7.0},
        {"to_failure": True},
        {"rir": 5.0, "rpe": 9.0, "set_kind": "warmup"},
    ],
)
def test_agreement_rounding_and_warm_ups_are_not_listed(log: Log, entry: dict[str, Any]) -> None:
    log.set(MONDAY, LIFT, 80.0, 8, **entry)
    assert listed(log) == []


def test_a_reserve_before_a_drop_is_a_contradiction_of_the_set_that_went_on(log: Log) -> None:
    log.set(MONDAY, LIFT, 80.0, 8, rir=2.0)
    log.set(MONDAY, LIFT, 60.0, 6, set_kind="extension")
    assert listed(log) == [(2, 2.0, None, True, 2.0)]


def test_failure_of_one_side_says_nothing_of_the_other(log: Log) -> None:
    log.set(MONDAY, LIFT, 20.0, 8, side="left", set_no=1, rir=0.0, to_failure=True)
    log.set(MONDAY, LIFT, 20.0, 8, side="right", set_no=1, rir=2.0)
    assert listed(log) == []


def test_what_counts_is_what_the_graded_set_uses(log: Log) -> None:
    log.set(MONDAY, LIFT, 80.0, 8, rir=2.0, rpe=10.0)
    log.build(MONDAY)
    assert log.ask(
        "select graded.rir_used, listed.counted_rir from review.effort_disagreements as listed "
        "inner join review.graded_sets as graded on listed.set_id = graded.set_id"
    ) == [(2.0, 2.0)]

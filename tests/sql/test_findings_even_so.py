"""What is said though the lifts rise, or though none tells: each with one for whom it is not.

Numbers are by hand.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from pipeline.settings.workspace import Change, Client
from tests.conftest import Log, day
from tests.sql.finding_logs import AS_OF, PLAN, WEEKS, codes, first, found, train, without

RAISES = PLAN | {"front raise": (8.0, 7)}
CHEST = {"bench press": (60.0, 10)}
LOW = PLAN | {"lateral raise": (10.0, 2)}
SETTINGS = (
    Client(id="no-legs-held", name="", hold_back=("quads", "hamstrings", "glutes")),
    Client(id="raises-side", name="", bring_up=("side_delts",)),
    Client(id="raises-biceps", name="", bring_up=("biceps",)),
    Client(id="one-day-marked", name="", bring_up=("chest",)),
    Client(id="one-day-rising", name="", bring_up=("chest",)),
    Client(id="seldomer-planned", name="", changes=(Change(day(28), "once a week"),)),
    Client(id="heavy-marked", name="", bring_up=("side_delts",)),
)


@pytest.fixture(scope="module")
def log(new_log: Callable[[], Log]) -> Log:
    """Everybody below, in one build."""
    log = new_log()
    for client in ("no-legs", "no-legs-held"):
        train(log, client, without("back squat", "romanian deadlift"))
    for client in ("raises-side", "raises-biceps"):
        train(log, client, RAISES)
    # ten sets for the chest on one day a week, which get nowhere, or do
    for client, pct in (("one-day-marked", 0), ("one-day", 0), ("one-day-rising", 0.5)):
        train(log, client, without("bench press"))
        train(log, client, CHEST, days=(0,), weekly_pct=pct)
    # everything flat and side delts low: with sets of three, and of eight
    for client, reps in (("heavy", 3), ("heavy-marked", 3), ("usual", 8)):
        train(log, client, LOW, weekly_pct=0, reps=reps)
    # five weeks, too few to tell: far from failure, and near to it
    for client, rir in (("far", 4.0), ("near", 1.0)):
        train(log, client, weeks=range(WEEKS - 5, WEEKS), weekly_pct=0, rir=rir)
    # four days a week for four weeks, then one for ten
    for client in ("seldomer", "seldomer-planned"):
        train(log, client, weeks=range(4), days=(0, 1, 3, 4), weekly_pct=0)
        train(log, client, weeks=range(4, WEEKS), days=(0,), weekly_pct=0)
    train(log, "always-seldom", days=(0,), weekly_pct=0)
    log.exported(AS_OF)
    return log.build(AS_OF, clients=SETTINGS).make()


def test_a_large_muscle_that_is_missing_is_asked_about_though_all_rises(log: Log) -> None:
    assert first(log, "no-legs") == ("absent", "hamstrings_glutes")
    assert first(log, "no-legs-held") is None


def test_raises_are_swapped_for_who_wants_wider_shoulders_though_all_rises(log: Log) -> None:
    assert first(log, "raises-side") == ("overlap", "front_delts")
    assert first(log, "raises-biceps") is None


def test_sessions_too_big_for_a_marked_muscle_that_trails_though_the_others_rise(log: Log) -> None:
    assert first(log, "one-day-marked") == ("session_size", "chest")
    assert found(log, "one-day")["session_size", "chest"].is_noticed
    assert first(log, "one-day") is None
    assert first(log, "one-day-rising") is None


def test_who_trains_for_strength_is_not_asked_first_to_add_sets(log: Log) -> None:
    assert first(log, "usual") == ("volume", "side_delts")
    assert found(log, "heavy")["volume", "side_delts"].is_noticed
    assert (first(log, "heavy") or ("", ""))[0] == "stall"
    assert first(log, "heavy-marked") == ("volume", "side_delts")


def test_a_heavy_lift_that_stalls_is_asked_about_before_work_is_added(log: Log) -> None:
    assert found(log, "heavy")["stall", "bench press"].suggestion == (
        "Ask about loads, practice of the lift and recovery before any sets are added."
    )
    assert "one more repetition" in str(found(log, "usual")["stall", "bench press"].suggestion)


def test_where_nothing_tells_sets_far_from_failure_come_before_waiting(log: Log) -> None:
    assert (first(log, "far") or ("", ""))[0] == "effort"
    assert first(log, "near") == ("unclear", "wait")


def test_sessions_that_became_few_little_by_little_are_asked_about(log: Log) -> None:
    row = found(log, "seldomer")["attendance", ""]
    # 4 in each of the last two spans of 28 days, 10 in the one before: 7 in the median
    assert row.evidence["sessions"] == 4 and row.evidence["sessions_usual"] == 7.0
    assert row.evidence["fall_share"] == pytest.approx(3 / 7)
    assert first(log, "seldomer") == ("attendance", "")
    assert "attendance" not in codes(log, "seldomer-planned")
    assert "attendance" not in codes(log, "always-seldom")

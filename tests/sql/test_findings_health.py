"""Levers 1–5: care, sudden loss of strength, return from a layoff, the log itself, attendance.

Nothing stands before lever 1, so care is always the first change. Numbers are by hand.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from pipeline.settings.workspace import Client, Phase
from tests.conftest import Log, day
from tests.sql.finding_logs import (
    AS_OF,
    PLAN,
    SETS,
    WEEKS,
    codes,
    first,
    found,
    iso,
    only,
    train,
    without,
)

HALF = {name: (load, sets // 2) for name, (load, sets) in PLAN.items()}
"""12 sets a session."""
UPPER = only("bench press", "barbell row")
PULLS = {"pull-up": (10.0, 4)}
"""With added load and no bodyweight known: nothing tells how hard they were."""
LAST = WEEKS - 1
"""The last week."""
SETTINGS = (
    Client(id="care", name="", phases=(Phase("care", day(90), None),), bring_up=("chest",)),
    Client(id="cared", name="", phases=(Phase("care", day(10), day(20)),)),
    Client(id="paused", name="", phases=(Phase("pause", day(95), day(200)),)),
    Client(id="rested", name="", phases=(Phase("pause", day(75), day(85)),)),
    Client(id="left", name="", until=day(88)),
    Client(id="out-of-care", name="", phases=(Phase("care", day(21), day(90)),)),
    Client(id="short-care", name="", phases=(Phase("care", day(71), day(90)),)),
)


@pytest.fixture(scope="module")
def log(new_log: Callable[[], Log]) -> Log:
    """Everybody below, in one build."""
    log = new_log()
    for client in ("care", "cared", "paused"):
        train(log, client, weekly_pct=-0.5)
    _drops(log)
    _layoffs(log)
    _logs(log)
    _attendances(log)
    log.exported(AS_OF)
    return log.build(AS_OF, clients=SETTINGS).make()


def _drops(log: Log) -> None:
    """Flat lifts; the sessions of the last week fall."""
    for client, weak, times in (
        ("ill", ("bench press", "barbell row", "back squat"), 0.92),
        ("two-lifts", ("bench press", "barbell row"), 0.92),
        ("legs-only", ("back squat", "leg press", "leg curl"), 0.92),
        ("tired", ("bench press", "barbell row", "back squat"), 0.96),
    ):
        plan = dict(PLAN) | {"leg press": (120.0, 2), "leg curl": (40.0, 2)}
        train(log, client, plan, weeks=range(LAST), weekly_pct=0)
        for exercise, row in plan.items():
            down = times if exercise in weak else 1.0
            train(log, client, {exercise: row}, weeks=[LAST], weekly_pct=0, times=down)
    # one bad day, and the day after as before
    train(log, "bad-day", weeks=range(LAST), weekly_pct=0)
    train(log, "bad-day", weeks=[LAST], days=[0], weekly_pct=0, times=0.9)
    train(log, "bad-day", weeks=[LAST], days=[3], weekly_pct=0)
    # up for seven weeks, then down by 1 % a week: all lifts, or three of them while the others rise
    top = 1.0025**7
    for client, sliding in (("slides", tuple(PLAN)), ("half-slides", tuple(PLAN)[:3])):
        train(log, client, only(*sliding), weeks=range(7), weekly_pct=0.25)
        train(
            log, client, only(*sliding), weeks=range(7, WEEKS), weekly_pct=-1, times=top / 0.99**7
        )
    train(log, "half-slides", without(*tuple(PLAN)[:3]))
    # other work: sets of 15 with 0.8 of the load give an index of 0.8 × 46 ÷ 39 of before
    train(log, "long-sets", weeks=range(LAST), weekly_pct=0)
    train(log, "long-sets", weeks=[LAST], weekly_pct=0, times=0.8, reps=15)


def _layoffs(log: Log) -> None:
    train(log, "back", weeks=range(8), weekly_pct=0)
    train(log, "back", HALF, weeks=[12, 13], weekly_pct=0, times=0.9)
    # as much as before, for two weeks or for two days
    train(log, "rebuilt", weeks=range(8), weekly_pct=0)
    train(log, "rebuilt", weeks=[12, 13], weekly_pct=0, times=0.9)
    train(log, "back-hasty", weeks=range(8), weekly_pct=0)
    train(log, "back-hasty", weeks=[13], days=[3, 4], weekly_pct=0)
    # away from day 31 to day 91, and from day 4 to day 94: 60 and 90 days
    train(log, "away-60", weeks=range(5), weekly_pct=0)
    train(log, "away-60", HALF, weeks=[13], days=[0], weekly_pct=0)
    train(log, "away-90", weeks=[0], days=[0, 2, 4], weekly_pct=0)
    train(log, "away-90", HALF, weeks=[13], days=[3], weekly_pct=0)
    # in care from day 21 to day 90, with light work until the last week
    for client in ("out-of-care", "short-care"):
        train(log, client, weeks=range(3), weekly_pct=0)
        train(log, client, {"bench press": (20.0, 2)}, weeks=range(3, 13), weekly_pct=0)
        train(log, client, HALF, weeks=[13], weekly_pct=0)
    # 20 days without: Thursday of week 10 (day 73) to day 93
    train(log, "away-20", weeks=range(11), weekly_pct=0)
    train(log, "away-20", weeks=[13], days=[2, 4], weekly_pct=0)
    # 29 days since the first session: that was on day 67, the last is on day 95
    train(log, "long-back", weeks=range(4), weekly_pct=0)
    train(log, "long-back", weeks=[9], days=[4], weekly_pct=0)
    train(log, "long-back", weeks=range(10, 13), weekly_pct=0)
    train(log, "long-back", weeks=[13], days=[0, 4], weekly_pct=0)
    # back, and weaker still after three weeks
    train(log, "back-ill", weeks=range(6), weekly_pct=0)
    train(log, "back-ill", HALF, weeks=range(10, 13), weekly_pct=0, times=0.9)
    train(log, "back-ill", HALF, weeks=[13], weekly_pct=0, times=0.8)


def _logs(log: Log) -> None:
    train(log, "silent", weeks=range(LAST))
    log.sets(day(90), "bench press", 60, 8, 4, rir=1, client_id="silent")
    train(log, "quiet", weeks=range(LAST))
    log.sets(day(91), "bench press", 60, 8, 4, rir=1, client_id="quiet")
    train(log, "left", weeks=range(11))
    # 32 and 10 beside the 208 work sets of eight sessions
    for client, sets in (("unknown", (4,) * 8), ("hardly-unknown", (2, 2, 1, 1, 1, 1, 1, 1))):
        train(log, client)
        for session, amount in enumerate(sets):
            on = day(7 * (10 + session // 2) + 3 * (session % 2))
            log.sets(on, "zzz thing", 20, 10, amount, rir=1, client_id=client)
    # pull-ups with 10 kg and no bodyweight: nothing tells how hard they were
    for client, others in (("assumed", 3), ("half-assumed", 4)):
        for week in range(WEEKS):
            for weekday in (0, 3):
                on = day(7 * week + weekday)
                own = {"client_id": client}
                log.sets(on, "pull-up", 10, 8, 4, load_basis="added", **own)
                log.sets(on, "bench press", 60, 8, others, rir=1, **own)
    train(log, "unknown-back", weeks=range(8))
    train(log, "unknown-back", UPPER | {"zzz thing": (20.0, 4)}, weeks=[12, 13])
    # both: effort that can only be assumed, and a layoff
    for weeks, sets in ((range(8), 4), (range(12, 14), 2)):
        pulls = {"pull-up": (10.0, sets)}
        train(log, "assumed-back", pulls, weeks=weeks, rir=None, load_basis="added")


def _attendances(log: Log) -> None:
    for client, days_now in (("less", (0, 3)), ("rested", (0, 3))):
        train(log, client, weeks=range(10), days=(0, 2, 4))
        train(log, client, weeks=range(10, 14), days=days_now)
    train(log, "hardly-less", weeks=range(13), days=(0, 2, 4))
    # 12 sessions in the 28 days before, 9 in the last: a quarter down
    log.rows = [
        row
        for row in log.rows
        if row["client_id"] != "hardly-less"
        or row["performed_on"] not in (day(72), day(79), day(86))
    ]
    train(log, "hardly-less", weeks=[13], days=(0, 2, 4))
    train(log, "new", weeks=range(7, 10), days=(0, 2, 4))
    train(log, "new", weeks=range(10, 14), days=(3,))
    train(log, "unknown-less", UPPER | {"zzz thing": (20.0, 4)}, weeks=range(10), days=(0, 2, 4))
    train(log, "unknown-less", UPPER | {"zzz thing": (20.0, 4)}, weeks=range(10, 14))
    for weeks, days in ((range(10), (0, 2, 4)), (range(10, 14), (0, 3))):
        own = {"weeks": weeks, "days": days, "rir": None, "load_basis": "added"}
        train(log, "assumed-less", PULLS, **own)


def test_care_is_all_that_is_said_of_a_client_in_care(log: Log) -> None:
    rows = found(log, "care")
    assert rows.keys() == {("care", "")}
    row = rows["care", ""]
    assert row.evidence == {"phase": "care", "since_on": iso(90)}
    assert row.suggestion is None
    assert (row.lever, row.is_noticed, row.is_first_change) == (1, True, True)
    assert found(log, "paused")["care", ""].evidence == {"phase": "pause", "since_on": iso(95)}


def test_care_that_is_over_is_over(log: Log) -> None:
    assert "care" not in codes(log, "cared")
    assert "stall" in codes(log, "cared")


def test_three_lifts_of_two_body_parts_that_drop_come_first(log: Log) -> None:
    row = found(log, "ill")["strength_drop", ""]
    assert row.evidence == {
        "lifts": ["back squat", "barbell row", "bench press"],
        "mean_drop_pct": pytest.approx(-8.0),
        "body_parts": 3,
    }
    assert row.severity == pytest.approx(0.6)  # 8 % is 0.6 above 5 %
    assert row.suggestion is not None and "licensed professional" in row.suggestion
    assert first(log, "ill") == ("strength_drop", "")


@pytest.mark.parametrize("client", ["two-lifts", "legs-only", "tired", "bad-day", "long-sets"])
def test_no_drop(log: Log, client: str) -> None:
    assert "strength_drop" not in codes(log, client)


def test_all_lifts_that_slide_slowly_are_asked_about(log: Log) -> None:
    """No session is 5 % under its level, but seven lifts lose 1 % a week."""
    row = found(log, "slides")["strength_drop", ""]
    assert row.evidence["sliding_lifts"] == 7
    assert row.evidence["over_weeks"] == 12
    assert row.evidence["change_a_week_pct"] < -0.3
    assert "mean_drop_pct" not in row.evidence
    assert row.suggestion is not None
    assert "pain" in row.suggestion
    assert first(log, "slides") == ("strength_drop", "")


def test_three_lifts_that_slide_while_four_rise_are_no_matter_of_health(log: Log) -> None:
    statuses = dict(
        log.ask("select exercise, status from review.lift_status where client_id = 'half-slides'")
    )
    assert [each for each, status in statuses.items() if status == "regressing"] != []
    assert "strength_drop" not in codes(log, "half-slides")


def test_a_return_from_a_layoff_is_rebuilt(log: Log) -> None:
    row = found(log, "back")["return", ""]
    # the last session before is on day 52, the first after on day 84; 26 sets a session, twice a
    # week; since: 4 sessions of 12 sets in the 14 days from day 84 to day 97
    assert row.evidence == {
        "after": "layoff",
        "layoff_days": 32,
        "back_since_on": iso(84),
        "sessions_since": 4,
        "weekly_sets_since": 24.0,
        "weekly_sets_before": 2.0 * SETS,
        "arithmetic": "before it 52 hard sets a week; about 50 % of them are 26",
    }
    assert first(log, "back") == ("return", "")


@pytest.mark.parametrize(
    ("client", "days", "share", "weeks"),
    [("away-60", 60, 50, "two to four"), ("away-90", 90, 33, "four to eight")],
)
def test_a_long_layoff_is_rebuilt_for_longer_and_from_lower(
    log: Log, client: str, days: int, share: int, weeks: str
) -> None:
    row = found(log, client)["return", ""]
    assert row.evidence["layoff_days"] == days
    assert f"about {share} % of them" in row.evidence["arithmetic"]
    assert row.suggestion is not None
    assert weeks in row.suggestion


def test_after_care_work_is_rebuilt_too(log: Log) -> None:
    """70 days of care with a little training; before them 52 sets a week, since then 24."""
    row = found(log, "out-of-care")["return", ""]
    assert (row.evidence["after"], row.evidence["layoff_days"]) == ("care", 71)
    assert (row.evidence["back_since_on"], row.evidence["sessions_since"]) == (iso(91), 2)
    assert row.evidence["weekly_sets_before"] == 39.0  # 6 sessions of 26 in four weeks
    assert row.suggestion is not None
    assert "licensed professional" in row.suggestion
    assert first(log, "out-of-care") == ("return", "")


def test_two_days_of_full_work_are_not_rebuilt_yet(log: Log) -> None:
    assert first(log, "back-hasty") == ("return", "")


@pytest.mark.parametrize("client", ["away-20", "long-back", "rebuilt", "short-care"])
def test_no_return(log: Log, client: str) -> None:
    assert "return" not in codes(log, client)


def test_a_return_with_a_drop_asks_about_health_first(log: Log) -> None:
    assert first(log, "back-ill") == ("strength_drop", "")
    assert found(log, "back-ill")["return", ""].is_noticed


def test_no_sets_for_a_week(log: Log) -> None:
    row = found(log, "silent")["log", "no_sets"]
    assert row.evidence == {"days_without_sets": 7, "last_on": iso(90)}
    assert first(log, "silent") == ("log", "no_sets")
    assert "log" not in codes(log, "quiet")


def test_who_has_left_is_not_asked_for_the_log(log: Log) -> None:
    assert "log" not in codes(log, "left")


@pytest.mark.parametrize("client", ["unknown", "hardly-unknown", "unknown-back", "unknown-less"])
def test_unknown_names_are_never_the_clients_to_change(log: Log, client: str) -> None:
    assert "log" not in codes(log, client)


def test_assumed_effort_over_half(log: Log) -> None:
    row = found(log, "assumed")["log", "assumed_effort"]
    assert row.evidence == {
        "assumed_share": pytest.approx(4 / 7),
        "assumed_sets": 32,
        "work_sets": 56,
    }
    assert "log" not in codes(log, "half-assumed")


def test_a_return_comes_before_the_log(log: Log) -> None:
    assert first(log, "assumed-back") == ("return", "")
    assert found(log, "assumed-back")["log", "assumed_effort"].is_noticed


def test_sessions_down_by_a_third(log: Log) -> None:
    row = found(log, "less")["attendance", ""]
    assert row.evidence == {
        "sessions": 8,
        "sessions_before": 12,
        "fall_share": pytest.approx(1 / 3),
    }
    assert first(log, "less") == ("attendance", "")


@pytest.mark.parametrize("client", ["hardly-less", "new", "rested"])
def test_attendance_is_not_asked_about(log: Log, client: str) -> None:
    assert "attendance" not in codes(log, client)


def test_the_log_comes_before_attendance(log: Log) -> None:
    assert first(log, "assumed-less") == ("log", "assumed_effort")
    assert found(log, "assumed-less")["attendance", ""].is_noticed


def test_nothing_but_progress_is_nothing_to_change(log: Log) -> None:
    assert first(log, "quiet") is None

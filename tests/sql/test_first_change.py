"""The first change from week to week: hand-made looks, and whole lifters with one thing off."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta

import duckdb
import pytest

from pipeline.resources import resource
from pipeline.settings.workspace import Change, Client, Phase, Waived
from tests.conftest import Log
from tests.sql.finding_logs import AS_OF, WEEKS, first, found, only, train, without

SUNDAY = date(2026, 9, 27)
VOLUME = ("volume", "chest", 10, ["chest"])
STALL = ("stall", "bench press", 14, ["chest"])
SQUAT = ("stall", "back squat", 14, ["quads"])
FAILURE = ("failure", "", 6, None)
REST = ("rest", "", 7, None)
PAIN = ("pain_note", "", 2, None)
DROP = ("strength_drop", "", 2, None)
RETURN = ("return", "", 3, None)
WAIT = ("unclear", "wait", 16, None)

Raised = tuple[str, str, int, list[str] | None]


def followed(
    looks: Sequence[Iterable[Raised]],
    *,
    changes: Iterable[date] = (),
    phases: Iterable[tuple[str, date, date]] = (),
    closed: Iterable[tuple[int, list[str] | None]] = (),
    regressing: Iterable[tuple[int, str]] = (),
) -> list[str | None]:
    """Code (of a stall: the lift) of the first change at each look, given what may be first."""
    con = duckdb.connect()
    con.execute("create schema review")
    days = [SUNDAY - timedelta(weeks=len(looks) - nth) for nth in range(1, len(looks) + 1)]
    con.execute("create table review.run as select ?::date as as_of", [days[-1]])
    con.execute("create table review.rules as select 14 as stay_days")
    con.execute(
        "create table int_client__looked"
        " (client_id varchar, look_on date, nth integer, is_last boolean)"
    )
    con.execute("create table stg_changes (client_id varchar, changed_on date)")
    con.execute(
        "create table stg_phases (client_id varchar, kind varchar, from_on date, to_on date)"
    )
    con.execute(
        "create table int_client__closed (client_id varchar, look_on date, muscles varchar[])"
    )
    con.execute(
        "create table int_muscle__moving"
        " (client_id varchar, look_on date, muscle varchar, is_regressing boolean)"
    )
    con.execute(
        "create table int_finding__weighed (client_id varchar, look_on date, nth integer,"
        " code varchar, subject varchar, lever integer, adds_to varchar[], is_barred boolean,"
        " is_waived boolean, is_free boolean, place integer)"
    )
    for nth, (look_on, raised) in enumerate(zip(days, looks, strict=True), start=1):
        con.execute(
            "insert into int_client__looked values ('ines', ?, ?, ?)",
            [look_on, nth, nth == len(looks)],
        )
        for place, row in enumerate(sorted(raised, key=lambda each: each[2]), start=1):
            con.execute(
                "insert into int_finding__weighed"
                " values ('ines', ?, ?, ?, ?, ?, ?, false, false, true, ?)",
                [look_on, nth, *row, place],
            )
    con.executemany(
        "insert into stg_changes values (?, ?)",
        [("nobody", SUNDAY), *(("ines", each) for each in changes)],
    )
    con.executemany(
        "insert into stg_phases values (?, ?, ?, ?)",
        [("nobody", "cut", SUNDAY, SUNDAY), *(("ines", *each) for each in phases)],
    )
    for at, muscles in closed:
        con.execute("insert into int_client__closed values ('ines', ?, ?)", [days[at - 1], muscles])
    for at, muscle in regressing:
        con.execute(
            "insert into int_muscle__moving values ('ines', ?, ?, true)", [days[at - 1], muscle]
        )
    path = resource("sql") / "intermediate" / "findings" / "int_client__followed.sql"
    rows = dict(
        con.execute(
            f"select nth, case code when 'stall' then subject else code end"
            f" from ({path.read_text(encoding='utf-8')})"
        ).fetchall()
    )
    con.close()
    return [rows.get(nth) for nth in range(1, len(looks) + 1)]


def test_it_stays_while_it_is_true_though_another_would_come_before_it_now() -> None:
    assert followed([[STALL], [SQUAT, STALL], [SQUAT, STALL]]) == ["bench press"] * 3


def test_it_stays_for_a_week_in_which_it_is_not_true() -> None:
    assert followed([[VOLUME], [], [VOLUME], [SQUAT], [VOLUME]]) == ["volume"] * 5


def test_it_gives_way_when_it_was_untrue_for_two_weeks() -> None:
    assert followed([[VOLUME], [], [], []]) == ["volume", "volume", None, None]
    assert followed([[VOLUME], [SQUAT], [STALL], [SQUAT]]) == [
        "volume", "volume", "bench press", "bench press",
    ]  # fmt: skip


def test_a_lower_lever_takes_over_at_once_and_a_higher_one_does_not() -> None:
    assert followed([[REST], [REST, FAILURE], [REST, VOLUME]]) == ["rest", "failure", "failure"]
    assert followed([[VOLUME], [VOLUME, PAIN]]) == ["volume", "pain_note"]


def test_facts_of_health_go_as_soon_as_they_are_over() -> None:
    assert followed([[PAIN], [VOLUME]]) == ["pain_note", "volume"]
    assert followed([[RETURN], []]) == ["return", None]
    # lost strength is asked about once more
    assert followed([[DROP], [], [VOLUME]]) == ["strength_drop", "strength_drop", "volume"]


def test_a_noted_change_or_a_phase_lets_go_at_once() -> None:
    weeks = [[STALL], [SQUAT, STALL]]
    last = SUNDAY
    assert followed(weeks) == ["bench press", "bench press"]
    assert followed([[STALL], []], changes=[last]) == ["bench press", None]
    assert followed([[STALL], []], changes=[last - timedelta(days=6)]) == ["bench press", None]
    # one before the look at which it was chosen is known already
    assert followed([[STALL], []], changes=[last - timedelta(days=7)]) == ["bench press"] * 2
    cut = ("cut", last - timedelta(days=3), date(9999, 12, 31))
    assert followed([[STALL], []], phases=[cut]) == ["bench press", None]
    ended = ("cut", date(2026, 1, 5), last - timedelta(days=3))
    assert followed([[STALL], []], phases=[ended]) == ["bench press", None]


def test_nothing_is_added_for_a_week_more_where_it_may_not_be() -> None:
    assert followed([[VOLUME], []], closed=[(2, None)]) == ["volume", None]
    assert followed([[VOLUME], []], closed=[(2, ["chest"])]) == ["volume", None]
    assert followed([[VOLUME], []], closed=[(2, ["quads"])]) == ["volume", "volume"]
    assert followed([[VOLUME], []], regressing=[(2, "chest")]) == ["volume", None]
    assert followed([[REST], []], closed=[(2, None)]) == ["rest", "rest"]


def test_waiting_gives_way_to_any_advice_at_once() -> None:
    assert followed([[WAIT], [STALL], []]) == ["unclear", "bench press", "bench press"]


LOW = {"lateral raise": (10.0, 2)}
MARKED = {"bring_up": ("side_delts",)}


def _low_until(log: Log, client: str, week: int) -> None:
    """Too few sets for the marked side delts, enough of them from a week on."""
    train(log, client, without("lateral raise"), weekly_pct=0)
    train(log, client, LOW, weeks=range(week), weekly_pct=0)
    train(log, client, {"lateral raise": (10.0, 6)}, weeks=range(week, WEEKS), weekly_pct=0)


@pytest.fixture(scope="module")
def log(new_log: Callable[[], Log]) -> Log:
    log = new_log()
    # side delts reach their guide in the last week, and two weeks before
    for client in ("just-mended", "just-mended-noted", "just-mended-cut", "just-mended-aside"):
        _low_until(log, client, WEEKS - 2)
    _low_until(log, "mended", WEEKS - 4)
    log.exported(AS_OF)
    return log.build(
        AS_OF,
        clients=[
            Client(id="just-mended", name="", **MARKED),
            Client(id="mended", name="", **MARKED),
            Client(id="just-mended-noted", name="", changes=(Change(AS_OF, "new plan"),), **MARKED),
            Client(id="just-mended-cut", name="", phases=(Phase("cut", AS_OF, None),), **MARKED),
            Client(id="just-mended-aside", name="", waived=(Waived("volume"),), **MARKED),
        ],
    )


def test_what_is_no_longer_true_is_told_with_its_last_day(log: Log) -> None:
    key = ("volume", "side_delts")
    assert first(log, "just-mended") == key
    row = found(log, "just-mended")[key]
    assert row.evidence == {
        "standing": "below", "status": None, "last_true_on": (AS_OF - timedelta(7)).isoformat(),
    }  # fmt: skip
    assert row.is_noticed and row.suggestion == "Add 2 hard sets a week for side delts."


def test_it_is_gone_after_two_weeks(log: Log) -> None:
    assert ("volume", "side_delts") not in found(log, "mended")


@pytest.mark.parametrize("client", ["just-mended-noted", "just-mended-cut", "just-mended-aside"])
def test_a_change_a_phase_and_a_waiver_let_go_at_once(log: Log, client: str) -> None:
    assert first(log, client) != ("volume", "side_delts")


def test_a_build_from_scratch_gives_what_weekly_builds_gave(new_log: Callable[[], Log]) -> None:
    """Nothing of an earlier build is remembered: the ledger alone decides."""

    def filled() -> Log:
        log = new_log()
        _low_until(log, "just-mended", WEEKS - 2)
        train(log, "flat", weekly_pct=0)
        train(log, "mixed", only("bench press", "back squat"), days=range(6), rir=0, weekly_pct=-1)
        return log

    marked = [Client(id="just-mended", name="", **MARKED)]
    query = "select * from review.findings order by all"
    weekly = filled()
    for weeks_ago in range(4, -1, -1):
        weekly.build(AS_OF - timedelta(weeks=weeks_ago), clients=marked).make("review.findings")
    assert weekly.ask(query) == filled().build(AS_OF, clients=marked).ask(query)

"""What holds for every finding: one first change, lawful JSON, equal builds; and turnover."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from datetime import timedelta

import pytest

from pipeline.review.trace import trace
from pipeline.settings.workspace import Client, Phase, Waived
from tests.conftest import Log, day
from tests.sql.finding_logs import AS_OF, PLAN, WEEKS, codes, first, found, only, train, without

CHANGING = (
    ("leg press", "pec deck", "lat pulldown"),
    ("hack squat", "dumbbell bench press", "seated cable row"),
    ("leg extension", "cable fly", "pull-up"),
    ("front squat", "incline barbell press", "dumbbell row"),
)
"""Three other lifts each week, back after four: three sessions or four in eight weeks, of two."""
WAIVED = {
    "aside": Waived("volume", why="the shoulder is busy enough"),
    "aside-subject": Waived("volume", "side_delts"),
    "aside-other": Waived("volume", "biceps"),
    "aside-today": Waived("volume", until_on=AS_OF),
    "aside-no-more": Waived("volume", until_on=AS_OF - timedelta(days=1)),
    "hurts-aside": Waived("pain_note", until_on=AS_OF + timedelta(days=28), why="seen to"),
    "hurts-too-long": Waived("pain_note", until_on=AS_OF + timedelta(days=29), why="seen to"),
}
SETTINGS = (
    Client(id="mixed", name="", bring_up=("upper_back",), hold_back=("chest",)),
    Client(id="cut", name="", phases=(Phase("cut", day(50), None),)),
    *(
        Client(id=name, name="", bring_up=("side_delts",), waived=(waived,))
        for name, waived in WAIVED.items()
    ),
)


@pytest.fixture(scope="module")
def log(new_log: Callable[[], Log]) -> Log:
    """Everybody below, in one build."""
    log = new_log()
    for client, kept in (("restless-mind", 1), ("mostly-kept", 5)):
        train(log, client, {"back squat": (80.0, kept)}, weekly_pct=-0.5)
        for week in range(WEEKS):
            for exercise in CHANGING[week % 4]:
                plan = {exercise: (40.0, 1)}
                train(log, client, plan, weeks=[week], days=[0], weekly_pct=0)
    train(log, "mixed", without("back squat"), days=range(6), rir=0, weekly_pct=-0.5)
    train(log, "cut", only("bench press", "barbell row"), weekly_pct=-0.5)
    train(log, "rising")
    for client in WAIVED:
        train(log, client, without("lateral raise"), weekly_pct=0)
        notes = "stabbing pain" if client.startswith("hurts") else None
        train(log, client, {"lateral raise": (10.0, 2)}, weekly_pct=0, notes=notes)
    # every week other lifts, each twice in eight weeks
    for week in range(WEEKS):
        plan = dict.fromkeys(CHANGING[week % 4], (40.0, 4))
        train(log, "all-change", plan, weeks=[week], days=[0], weekly_pct=0)
        train(log, "all-change-unnoted", plan, weeks=[week], days=[0], weekly_pct=0, rir=None)
    # ten sessions of a lift, all alike, tell nothing yet
    short = range(WEEKS - 5, WEEKS)
    train(log, "new", weeks=short, weekly_pct=0)
    train(log, "new-unnoted", weeks=short, weekly_pct=0, rir=None)
    for client, noted in (("over-a-third-noted", 3), ("under-a-third-noted", 2)):
        for nth, (exercise, (load, _)) in enumerate(PLAN.items()):
            for rir, sets in ((1.0, int(nth < noted)), (None, int(nth >= noted))):
                train(log, client, {exercise: (load, sets)}, weeks=short, weekly_pct=0, rir=rir)
    train(log, "new-seldom", weeks=[10, 13], weekly_pct=0)
    train(log, "new-seldom", weeks=[9], days=[0], weekly_pct=0)
    log.exported(AS_OF)
    return log.build(AS_OF, clients=SETTINGS).make()


def test_much_turnover(log: Log) -> None:
    # the last eight whole weeks: 16 sets of squats, 24 of lifts done twice each
    row = found(log, "restless-mind")["turnover", ""]
    assert row.evidence["trackable_share"] == pytest.approx(16 / 40)
    assert row.severity == pytest.approx(1 - 0.4 / 0.6, abs=1e-6)
    assert "turnover" not in codes(log, "mostly-kept")  # 80 of 104
    # the squat can be followed and falls
    assert first(log, "restless-mind") is not None


def test_at_most_one_first_change_each_and_it_is_noticed(log: Log) -> None:
    assert (
        log.ask(
            "select client_id from review.findings where is_first_change group by all"
            " having count(*) > 1 or not bool_and(is_noticed)"
        )
        == []
    )
    assert first(log, "mixed") is not None
    assert found(log, "rising") == {}


def test_the_first_change_has_the_lowest_lever_that_may_be_first(log: Log) -> None:
    rows = found(log, "mixed")
    key = first(log, "mixed")
    assert key is not None
    assert rows[key].lever == min(row.lever for row in rows.values())


def test_evidence_is_json_without_infinity(log: Log) -> None:
    def refuse(word: str) -> float:
        raise AssertionError(word)

    rows = log.ask("select evidence, severity from review.findings")
    assert len(rows) > 5
    for evidence, severity in rows:
        assert json.loads(evidence, parse_constant=refuse)
        assert math.isfinite(severity) and severity >= 0


def test_two_builds_are_equal_to_the_last_bit(log: Log) -> None:
    before = log.ask("select * from review.findings order by all")
    log.build(AS_OF, clients=SETTINGS)
    assert log.ask("select * from review.findings order by all") == before


@pytest.mark.parametrize(
    ("client", "is_aside"),
    [
        ("aside", True),
        ("aside-subject", True),
        ("aside-today", True),
        ("aside-other", False),
        ("aside-no-more", False),
    ],
)
def test_what_the_coach_put_aside_is_neither_first_nor_noticed(
    log: Log, client: str, is_aside: bool
) -> None:
    assert (first(log, client) == ("volume", "side_delts")) is not is_aside
    assert found(log, client)["volume", "side_delts"].is_noticed is not is_aside
    assert log.ask(
        "select is_waived from review.findings"
        f" where client_id = '{client}' and (code, subject) = ('volume', 'side_delts')"
    ) == [(is_aside,)]


def test_health_is_put_aside_for_four_weeks_at_most_and_bars_what_it_bars(log: Log) -> None:
    assert first(log, "hurts-too-long") == ("pain_note", "")
    assert first(log, "hurts-aside") not in {("pain_note", ""), ("volume", "side_delts")}
    assert not found(log, "hurts-aside")["volume", "side_delts"].is_noticed


def test_who_changes_everything_is_told_to_keep_the_exercises(log: Log) -> None:
    """No lift can be followed, so none stalls; that is why the change is first."""
    assert found(log, "all-change")["turnover", ""].evidence["trackable_share"] == 0
    assert first(log, "all-change") == ("turnover", "")
    # without a note of effort even a kept lift would tell little: that comes before
    assert first(log, "all-change-unnoted") != ("turnover", "")
    assert "turnover" in codes(log, "all-change-unnoted")


@pytest.mark.parametrize(
    ("client", "subject"),
    [
        ("new", "wait"),
        ("new-unnoted", "effort"),
        ("under-a-third-noted", "effort"),
        ("over-a-third-noted", "wait"),
        ("new-seldom", "attendance"),
    ],
)
def test_where_nothing_can_be_shown_what_lets_the_log_tell_is_first(
    log: Log, client: str, subject: str
) -> None:
    assert first(log, client) == ("unclear", subject)


def test_keep_going_says_when_to_look_again(log: Log) -> None:
    row = found(log, "new")["unclear", "wait"]
    assert (row.lever, row.suggestion) == (16, "Keep going as it is.")
    assert (row.evidence["judged_lifts"], row.evidence["rising_lifts"]) == (7, 0)
    weeks = log.one("select min(weeks_until_clear) from review.lift_status where client_id = 'new'")
    assert row.evidence["look_again_on"] == str(AS_OF + timedelta(weeks=min(weeks or 4, 12)))


def test_what_lets_the_log_tell_leads_back_to_the_sets_that_are_noted(log: Log) -> None:
    row = found(log, "under-a-third-noted")["unclear", "effort"]
    assert (row.evidence["recorded_sets"], row.evidence["work_sets"]) == (8 * 2, 8 * 7)
    grain = {"client_id": "under-a-third-noted", "code": "unclear", "subject": "effort"}
    traced = trace(log.con, "findings.evidence", grain)
    counts = [cells[traced.columns.index("counts")] for cells in traced.rows]
    assert (sum(counts), len(counts)) == (8 * 2, 8 * 7)


def test_where_lifts_rise_there_is_nothing_to_change(log: Log) -> None:
    assert codes(log, "rising") == set()

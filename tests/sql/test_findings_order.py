"""What holds for every finding: one first change, lawful JSON, equal builds; and turnover."""

from __future__ import annotations

import json
import math
from collections.abc import Callable

import pytest

from pipeline.settings.workspace import Client, Phase
from tests.conftest import Log, day
from tests.sql.finding_logs import AS_OF, WEEKS, codes, first, found, only, train, without

CHANGING = (
    ("leg press", "pec deck", "lat pulldown"),
    ("hack squat", "dumbbell bench press", "seated cable row"),
    ("leg extension", "cable fly", "pull-up"),
    ("front squat", "incline barbell press", "dumbbell row"),
)
"""Three other lifts each week, back after four: three sessions or four in eight weeks, of two."""
SETTINGS = (
    Client(id="mixed", name="", bring_up=("upper_back",), hold_back=("chest",)),
    Client(id="cut", name="", phases=(Phase("cut", day(50), None),)),
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
    log.exported(AS_OF)
    return log.build(AS_OF, clients=SETTINGS)


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

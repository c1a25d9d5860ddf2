"""What a noted change does to the lifts: a level of their own, or a step that all of them show."""

from __future__ import annotations

import math

import pytest

from pipeline.settings.workspace import Change, Client
from tests.conftest import Log, day

LIFTS = ("bench press", "back squat", "barbell row", "overhead press", "leg press")
JITTER = (0.0, 2.4, -1.6, 1.0, -2.8, 1.8, -0.8, 3.0, -2.2, 0.6, -1.2)
"""Scatter of sessions [%], without a trend to speak of."""
WEEKS, CHANGED = 30, 7 * 22


def train(log: Log, step: float, *, stepping: int = len(LIFTS), slide: float = 0.0) -> int:
    """Once a week, up 0.25 % a week; at the change some lifts step [%], all slide [% a week]."""
    for nth, exercise in enumerate(LIFTS):
        for week in range(WEEKS):
            since = max(7 * week - CHANGED, 0) / 7
            value = 0.25 * week + slide * since + JITTER[(week + 3 * nth) % len(JITTER)]
            if 7 * week >= CHANGED and nth < stepping:
                value += step
            log.set(day(7 * week), exercise, 75 * math.exp(value / 100), 8, rir=2.0)
    return 7 * (WEEKS - 1)


def noted(exercise: str | None = None) -> Client:
    """The client with a change noted some days before the first changed session."""
    return Client("ines", "Ines", changes=(Change(day(CHANGED - 4), "another gym", exercise),))


def statuses(log: Log) -> list[str]:
    """Statuses of the lifts."""
    return [row[0] for row in log.ask("select status from review.lift_status order by exercise")]


def test_a_step_of_all_lifts_on_the_day_of_a_noted_change_is_no_stall(
    log: Log, new_log: type[Log]
) -> None:
    last = train(log, -7.0)
    log.build(day(last), clients=[noted()])
    assert statuses(log) == ["progressing"] * len(LIFTS)
    unnoted = new_log()
    train(unnoted, -7.0)
    unnoted.build(day(last))
    assert "regressing" in statuses(unnoted)


@pytest.mark.parametrize(
    ("step", "stepping", "slide", "is_stepped"),
    [
        (-7.0, len(LIFTS), 0.0, True),
        (7.0, len(LIFTS), 0.0, True),
        (0.0, 0, 0.0, False),
        # one lift may have its own reasons
        (-14.0, 1, 0.0, False),
        # who begins to fall has not stepped
        (0.0, 0, -1.5, False),
    ],
)
def test_a_step_is_one_where_the_lifts_agree(
    log: Log, step: float, stepping: int, slide: float, is_stepped: bool
) -> None:
    last = train(log, step, stepping=stepping, slide=slide)
    rows = log.build(day(last), clients=[noted()]).temporary("int_client_change__stepped")
    latest = max(rows, key=lambda row: row["known_on"])
    assert (latest["lifts"], latest["is_stepped"]) == (len(LIFTS), is_stepped)
    assert latest["step_pct"] == pytest.approx(step if stepping > 2 else 0.0, abs=2.5)


def test_a_change_of_one_lift_begins_its_figures_anew(log: Log) -> None:
    last = train(log, -10.0, stepping=1)
    log.build(day(last), clients=[noted("Bench Press")])
    best = dict(log.ask("select exercise, best_on from review.lift_status"))
    assert best["bench press"] >= day(CHANGED)
    records = log.ask("select exercise, min(performed_on) from review.records group by exercise")
    since = dict(records)
    assert since["bench press"] >= day(CHANGED)
    # eight sessions of the new level; the other lifts keep all of theirs
    sessions = dict(log.ask("select exercise, sessions from review.lift_status"))
    assert sessions == {lift: 8 if lift == "bench press" else WEEKS for lift in LIFTS}


def test_a_change_of_a_lift_that_nobody_logged_changes_nothing(log: Log) -> None:
    last = train(log, 0.0)
    log.build(day(last), clients=[noted("hip thrust")])
    assert log.one("select min(sessions) from review.lift_status") == WEEKS

"""How the lifts of a body part or muscle move beside the client's others, on logs made by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.conftest import Log, day


def trended(log: Log, last: int) -> dict[str, dict[str, Any]]:
    """Rows of the model by subject."""
    rows = log.build(day(last)).temporary("int_client_part__trended")
    return {row["subject"]: row for row in rows}


def lifter(log: Log, rates: dict[str, float], weeks: int = 20) -> int:
    """Two sessions a week of each lift, at its rate [% a week], without noise."""
    days = [7 * week + each for week in range(weeks) for each in (0, 3)]
    for exercise, rate in rates.items():
        for offset in days:
            log.set(day(offset), exercise, 75 * math.exp(rate * offset / 700), 8, rir=2.0)
    return days[-1]


def test_flat_legs_trail_lifts_that_rise(log: Log) -> None:
    last = lifter(log, {"bench press": 0.4, "barbell row": 0.4, "back squat": 0.0})
    rows = trended(log, last)
    legs, chest = rows["legs"], rows["chest"]
    assert legs == legs | {
        "kind": "body_part",
        "lifts": 1,
        "change_pct_per_week": pytest.approx(0.0, abs=1e-6),
        "other_lifts": 2,
        "other_pct_per_week": pytest.approx(0.4, abs=1e-6),
        "behind_pct_per_week": pytest.approx(0.4, abs=1e-6),
        "is_trailing": True,
        "is_leading": False,
    }
    assert legs["place"] == legs["places"]
    # beside a flat squat and an equal row the bench gains more, by 0.2 ± what the two differ by
    assert (chest["place"], chest["other_pct_per_week"]) == (1, pytest.approx(0.2, abs=1e-6))
    assert rows["quads"]["kind"] == "muscle"
    assert rows["quads"]["change_pct_per_week"] == legs["change_pct_per_week"]


def test_lifts_that_rise_alike_trail_nobody(log: Log) -> None:
    last = lifter(log, {"bench press": 0.3, "barbell row": 0.3, "back squat": 0.3})
    rows = trended(log, last).values()
    rates = [row["change_pct_per_week"] for row in rows]
    assert rates == [pytest.approx(0.3, abs=1e-6)] * len(rows)
    assert not any(row["is_trailing"] or row["is_leading"] for row in rows)


def test_the_only_lift_has_nobody_to_trail(log: Log) -> None:
    last = lifter(log, {"back squat": 0.3})
    legs = trended(log, last)["legs"]
    assert (legs["other_lifts"], legs["is_trailing"], legs["is_leading"]) == (None, False, False)

"""Which flags are rarer than chance among a client's lifts: binomial tails, against scipy."""

from __future__ import annotations

import duckdb
import pytest
from scipy import stats

from pipeline.resources import resource


def flagged(ps: list[float], quiet: int) -> list[tuple[str, float, bool]]:
    """Lifts with these probabilities stalled beside so many others: name, tail, beyond chance."""
    con = duckdb.connect()
    con.execute("create schema review")
    con.execute(
        "create table review.rules as select 0.0005::double as chance_p,"
        " 0.01::double as chance_few_p, 3 as chance_few_lifts"
    )
    con.execute(
        "create table int_lift__stood (client_id varchar, look_on date, exercise varchar,"
        " has_status boolean, needs_look boolean, flag_p double)"
    )
    rows = [(f"lift {place}", True, True, p) for place, p in enumerate(ps)]
    rows += [(f"quiet {place}", True, False, None) for place in range(quiet)]
    rows.append(("new", False, False, None))
    con.executemany("insert into int_lift__stood values ('ines', '2026-06-07', ?, ?, ?, ?)", rows)
    path = resource("sql") / "intermediate" / "lifts" / "int_lift__flagged.sql"
    con.execute(f"create table flagged as {path.read_text(encoding='utf-8')}")
    return con.execute(
        "select exercise, chance_p, is_beyond_chance from flagged order by exercise"
    ).fetchall()


@pytest.mark.parametrize(("p", "is_beyond"), [(0.00004, True), (0.0001, False)])
def test_one_flag_of_ten_lifts_must_be_ten_times_as_rare(p: float, is_beyond: bool) -> None:
    ((_, tail, found),) = flagged([p], quiet=9)
    assert tail == pytest.approx(float(stats.binom.sf(0, 10, p)), rel=1e-6)
    assert found is is_beyond


def test_many_weak_flags_are_together_rarer_than_chance() -> None:
    rows = flagged([0.015, 0.014, 0.013], quiet=7)
    # of ten lifts three or more at 0.015
    assert rows[0][1] == pytest.approx(float(stats.binom.sf(2, 10, 0.015)), rel=1e-6)
    assert [found for _, _, found in rows] == [True, True, True]


def test_a_weak_flag_beside_a_strong_one_advises_nothing() -> None:
    rows = flagged([0.00001, 0.015], quiet=8)
    assert [found for _, _, found in rows] == [True, False]


def test_up_to_three_lifts_may_be_told_by_weaker_evidence() -> None:
    assert flagged([0.003], quiet=2)[0][2]
    assert not flagged([0.003], quiet=3)[0][2]

"""Every figure leads back to lines: the traced sets, added up again, give the figure."""

from __future__ import annotations

import html
import json
import re
import shlex
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.review import trace as tracing


@pytest.fixture
def con(demo: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """The demo's database, opened once a test."""
    with duckdb.connect(str(demo / "setledger.duckdb"), read_only=True) as opened:
        yield opened


def ask(con: duckdb.DuckDBPyConnection, sql: str) -> list[tuple[Any, ...]]:
    return con.execute(sql).fetchall()


def traced(con: duckdb.DuckDBPyConnection, figure: str, **grain: Any) -> tracing.Traced:
    return tracing.trace(con, figure, grain)


def counts(found: tracing.Traced) -> list[float]:
    return [row[found.columns.index("counts")] or 0 for row in found.rows]


@pytest.mark.parametrize(
    "column",
    [
        "fractional_sets_7d",
        pytest.param("direct_sets_7d", marks=pytest.mark.slow),
        pytest.param("all_sets_7d", marks=pytest.mark.slow),
    ],
)
def test_a_rolling_week_is_the_sum_of_its_traced_sets(
    con: duckdb.DuckDBPyConnection, column: str
) -> None:
    rows = ask(
        con,
        f"select client_id, muscle, day, {column} from review.rolling_week"
        " where day = '2026-08-27' and client_id in ('ines', 'kofi') order by all",
    )
    assert len(rows) == 2 * 18
    for client_id, muscle, day, figure in rows:
        found = traced(con, f"rolling_week.{column}", client_id=client_id, muscle=muscle, on=day)
        assert found.value == figure
        assert sum(counts(found)) == pytest.approx(figure, abs=1e-9)


def test_a_session_s_estimate_is_the_highest_of_its_traced_sets(
    con: duckdb.DuckDBPyConnection,
) -> None:
    rows = ask(
        con,
        "select client_id, exercise, day, e1rm, e1rm_epley, hard_sets from review.lift_session"
        " where day = '2026-08-28' and e1rm is not null order by all",
    )
    assert len(rows) > 10
    for client_id, exercise, day, e1rm, epley, hard_sets in rows:
        grain = {"client_id": client_id, "exercise": exercise, "on": day}
        assert max(counts(traced(con, "lift_session.e1rm", **grain))) == pytest.approx(e1rm)
        assert max(counts(traced(con, "lift_session.e1rm_epley", **grain))) == pytest.approx(epley)
        assert sum(counts(traced(con, "lift_session.hard_sets", **grain))) == hard_sets


def test_a_traced_set_stands_on_the_line_that_is_named(
    demo: Path, con: duckdb.DuckDBPyConnection
) -> None:
    found = traced(
        con, "lift_session.e1rm", client_id="ines", exercise="back squat", on="2026-08-25"
    )
    assert found.rows
    for row in found.rows:
        _, path, line, day, _, load, reps, *_ = row
        text = (demo / path).read_text(encoding="utf-8").splitlines()[line - 1]
        assert text.startswith(f"{day},Ines")
        assert f",{load:g},{reps}," in text


def test_the_commands_that_the_pages_name_work(setledger: Any, demo: Path) -> None:
    """A sample of every kind of figure on one page, run as the title text says."""
    text = (demo / "out" / "ines" / "latest.html").read_text(encoding="utf-8")
    commands = {
        html.unescape(each) for each in re.findall(r'title="(setledger trace [^"]+)"', text)
    }
    by_figure = {shlex.split(each)[2]: shlex.split(each) for each in sorted(commands)}
    assert len(by_figure) > 10
    for figure, (_, *words) in by_figure.items():
        done = setledger("-w", str(demo), *words, "--json", cwd=demo)
        assert done.returncode == 0, (figure, done.stderr)
        assert json.loads(done.stdout)["figure"] == figure


def test_an_unknown_figure_is_one_sentence(setledger: Any, demo: Path) -> None:
    done = setledger("-w", str(demo), "trace", "muscle_day.sets", "--client", "ines", cwd=demo)
    assert done.returncode == 2
    assert "there is no such column; there are" in done.stderr


def test_a_change_leads_to_the_sets_of_the_weeks_on_both_sides(
    con: duckdb.DuckDBPyConnection,
) -> None:
    """Every measure but the rest days and the lifts' level is made of what its sets count."""
    rows = ask(
        con,
        "select client_id, changed_on, measure, before, after, days_before, days_after"
        " from review.before_after order by all",
    )
    assert len({row[2] for row in rows}) > 10
    for client_id, changed_on, measure, before, after, *days in rows:
        grain = {"client_id": client_id, "on": changed_on, "measure": measure}
        for column, figure, length in zip(("before", "after"), (before, after), days, strict=True):
            found = traced(con, f"before_after.{column}", **grain)
            assert found.value == figure
            assert {row[-1].split(":")[0] for row in found.rows} <= {column}
            if measure == "weekly_rest_days" or measure == "lift_level":
                assert found.rows
                continue
            of = {"hard_sets_per_session": len({row[3] for row in found.rows})}
            share = len(found.rows) or None
            parts = of.get(measure) or (share if measure.endswith("_share") else length / 7)
            assert sum(counts(found)) / parts == pytest.approx(figure, abs=1e-8), measure


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("muscle_day.direct_sets", "--muscle", "chst"), "--muscle chst: ines has none in "
         "review.muscle_day; did you mean chest?"),
        (("before_after.before", "--on", "2026-06-01", "--measure", "weekly_sets_leg"),
         "did you mean weekly_sets_legs?"),
        (("before_after.before", "--on", "2026-06-01"), "name one with --measure, and with --on"),
        (("before_after.before", "--client", "wren"), "wren: no change is noted; [[clients."),
        (("follow_through.verdict", "--code", "failur"), "--code failur: ines has none in "
         "review.follow_through"),
    ],
)  # fmt: skip
def test_a_name_that_a_client_has_nothing_of_is_one_sentence(
    setledger: Any, demo: Path, words: tuple[str, ...], sentence: str
) -> None:
    done = setledger("-w", str(demo), "trace", "--client", "ines", *words, cwd=demo)
    assert (done.returncode, done.stdout) == (2, "")
    assert sentence in done.stderr


def test_what_became_of_a_change_leads_to_the_sets_of_both_sides(
    con: duckdb.DuckDBPyConnection,
) -> None:
    grain = {"client_id": "matthis", "on": date(2026, 7, 6), "code": "session_size"}
    found = traced(con, "follow_through.measure_before", subject="chest", **grain)
    [(before, since)] = ask(
        con,
        "select min(performed_on), max(performed_on) from review.graded_sets where client_id ="
        " 'matthis' and performed_on between '2026-06-08' and '2026-07-05'",
    )
    days = {row[3] for row in found.rows}
    assert (min(days), max(days)) == (before, since)
    assert found.value == 14.0
    sides = {
        column: traced(con, f"follow_through.{column}", subject="chest", **grain).rows
        for column in ("rate_before", "rate_since", "difference")
    }
    assert sides["rate_before"] and sides["rate_since"]
    assert len(sides["difference"]) == len(sides["rate_before"]) + len(sides["rate_since"])
    assert max(row[3] for row in sides["rate_before"]) < date(2026, 7, 6)


def test_a_finding_s_sets_add_up_to_its_evidence(con: duckdb.DuckDBPyConnection) -> None:
    """Kofi's failed compound sets and Matthis's chest sessions, from the rows they rest on."""
    for client_id, code, subject, key in (
        ("kofi", "failure", None, "failed_sets"),
        ("kofi", "extension", None, "extended_sets"),
    ):
        found = traced(
            con, "findings.evidence", client_id=client_id, code=code, subject=subject, on=None
        )
        assert sum(counts(found)) == json.loads(found.value)[key]
    found = traced(
        con, "findings.evidence", client_id="matthis", code="session_size", subject="chest"
    )
    evidence = json.loads(found.value)
    by_day: dict[Any, float] = {}
    for row, amount in zip(found.rows, counts(found), strict=True):
        by_day[row[3]] = by_day.get(row[3], 0) + amount
    sessions = [amount for amount in by_day.values() if amount]
    assert len(sessions) == evidence["sessions"]
    assert sum(amount > 8 for amount in sessions) == evidence["sessions_above_guide"]


def test_a_finding_is_named_by_code_and_subject(setledger: Any, demo: Path) -> None:
    words = ("trace", "findings.evidence", "--client", "ines", "--code", "volume")
    done = setledger("-w", str(demo), *words, "--subject", "upper_back", "--json", cwd=demo)
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    rate = json.loads(answer["value"])["weekly_rate_sets"]
    assert sum(row["counts"] for row in answer["sets"]) / 4 == pytest.approx(rate)
    done = setledger("-w", str(demo), *words, "--subject", "uper_back", cwd=demo)
    assert done.returncode == 2
    assert "did you mean upper_back?" in done.stderr


def test_weigh_ins_stand_behind_bodyweight_and_days_of_a_run_behind_recovery(
    con: duckdb.DuckDBPyConnection, demo: Path
) -> None:
    [(weigh_ins, median)] = ask(
        con,
        "select weigh_ins, bodyweight_kg from review.bodyweight_trend where client_id = 'petra'",
    )
    found = traced(con, "bodyweight_trend.bodyweight_kg", client_id="petra")
    assert (found.kind, found.value) == ("weigh-ins", median)
    assert len(found.rows) == weigh_ins
    last = sorted(counts(found)[-4:])  # rules.bodyweight_min of them, the latest
    assert median == pytest.approx((last[1] + last[2]) / 2)
    for path, line, day, weight, *_ in found.rows:
        assert (
            f"{day},{weight:g}" in (demo / path).read_text(encoding="utf-8").splitlines()[line - 1]
        )
    [(first, later)] = ask(
        con,
        "select first_days, later_days from review.recovery where client_id = 'kofi' and place = 0",
    )
    found = traced(con, "recovery.difference_pct", client_id="kofi")
    days = {row[found.columns.index("performed_on")] for row in found.rows}
    assert len(days) >= first + later
    assert all(row[-1].startswith("day ") for row in found.rows)


def test_the_command_says_what_stands_behind_a_figure(setledger: Any, demo: Path) -> None:
    words = ("trace", "bodyweight_trend.bodyweight_kg", "--client", "petra")
    answer = json.loads(setledger(*words, "--json", cwd=demo).stdout)
    told = setledger(*words, cwd=demo).stdout
    assert f"{len(answer['weigh-ins'])} weigh-ins behind it:" in told

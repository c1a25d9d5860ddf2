"""The data contract: a sound batch keeps it, and what a broken normaliser would do breaks it.

Each mutation is one that a slip in reading, numbering or laying over could make, put between the
normaliser and the ledger; the clause that must catch it is named beside.
"""

from __future__ import annotations

import socket
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
import pytest
from polars import col, lit

from pipeline.checks.contract import validate as validation
from pipeline.checks.contract.clauses import Clause, clauses
from pipeline.checks.contract.expectations import library
from pipeline.checks.contract.scope import Scope, contract_scope
from pipeline.checks.contract.validate import validate
from pipeline.checks.contract.verdicts import Verdict, differs
from pipeline.ledger import loading, overlay
from pipeline.ledger.database import create_ledger
from pipeline.ledger.replay import opened_work
from pipeline.ledger.work import Work
from pipeline.outcome import Outcome
from pipeline.reading.normalise import Normalised
from pipeline.runs import run as runs
from pipeline.runs.load import load
from pipeline.settings.rules import Rules
from pipeline.settings.workspace_file import find_workspace

AS_OF = date(2026, 6, 30)

CONFIG = """
[workspace]
name = "Contract"
as_of = 2026-06-30
[[sources]]
files = "exports/sets-*.csv"
mapping = "mappings/sets.toml"
[[sources]]
files = "exports/cells-*.csv"
mapping = "mappings/cells.toml"
[[clients]]
id = "ines"
[[clients]]
id = "kofi"
"""

SETS_MAPPING = """
name = "sets"
[columns]
client = "who"
performed_on = "day"
started_at = "time"
exercise = "lift"
set_no = "set"
load = "load"
load_unit = "unit"
reps = "reps"
rir = "rir"
set_kind = "kind"
bodyweight = "bw"
"""

CELLS_MAPPING = """
name = "cells"
[layout]
rows = "exercises"
[columns]
performed_on = "day"
exercise = "lift"
sets = "sets"
[formats]
load_unit = "kg"
[constants]
client = "kofi"
"""


def _sets_export() -> str:
    """Ines in pounds and Kofi in kilograms, 20 days each: a squat with a warm-up, and rows."""
    lines = ["who,day,time,lift,set,load,unit,reps,rir,kind,bw"]
    for number in range(20):
        day = date(2026, 5, 1) + timedelta(days=3 * number)
        lines.append(f"ines,{day},18:00,back squat,1,95,lb,10,,warmup,142")
        lines += [f"ines,{day},18:05,back squat,{n},225,lb,{9 - n},2,work," for n in (2, 3, 4)]
        lines.append(f"ines,{day},18:20,back squat,5,135,lb,6,,extension,")
        lines += [f"kofi,{day},07:00,barbell row,{n},70,kg,10,1,work," for n in (1, 2, 3)]
        lines.append(f"kofi,{day},07:30,deadlift,1,{320 if number == 19 else 200},kg,3,,work,")
    lines.append("ines,2026-05-01,18:00,back squat,9,heavy,lb,5,,work,")
    return "\n".join(lines) + "\n"


CELLS_EXPORT = "day;lift;sets\n" + "".join(
    f"2026-06-{day:02d};overhead press;40x8, 40x8, 40x7\n" for day in range(1, 25)
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A workspace whose exports keep the contract: 252 sets, one line set aside."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1782777600")  # 2026-06-30
    files = {
        "setledger.toml": CONFIG,
        "mappings/sets.toml": SETS_MAPPING,
        "mappings/cells.toml": CELLS_MAPPING,
        "exports/sets-2026.csv": _sets_export(),
        "exports/cells-2026.csv": CELLS_EXPORT,
    }
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path


@pytest.fixture
def work(folder: Path) -> Iterator[Work]:
    """The work copy of that workspace; ledger.sets takes nulls, as a broken schema would."""
    with opened_work(find_workspace(folder)) as opened:
        opened.con.execute("create or replace table ledger.sets as from ledger.sets")
        yield opened


def _asked(work: Work, **rules: float) -> list[Verdict]:
    """Load everything, resolve the names and ask the contract of it."""
    load(work, Outcome())
    return _asked_again(work, **rules)


def _asked_again(work: Work, **rules: float) -> list[Verdict]:
    work.con.execute(
        "insert into ledger.exercise_names select distinct exercise_raw, exercise_raw, 'catalogue',"
        " null from ledger.sets anti join ledger.exercise_names using (exercise_raw)"
        " where exercise_raw is not null"
    )
    limits = Rules(**rules)
    scope = replace(contract_scope(work.workspace, AS_OF), rules=limits)
    return validate(work.con, scope)


def _ask_only(monkeypatch: pytest.MonkeyPatch, key: str) -> None:
    """Ask one clause: the library takes its time with each."""

    def only(scope: Scope) -> tuple[Clause, ...]:
        return tuple(each for each in clauses(scope) if each.key == key)

    monkeypatch.setattr(validation, "clauses", only)


def _broken(verdicts: list[Verdict]) -> set[str]:
    return {each.key for each in verdicts if not each.is_met}


def test_a_sound_batch_keeps_every_clause(work: Work) -> None:
    """252 sets: 20 days x (5 of Ines + 4 of Kofi) + 24 x 3; every clause has a verdict."""
    verdicts = _asked(work)
    assert work.con.execute("select count(*) from ledger.sets").fetchone() == (252,)
    assert _broken(verdicts) == set()
    scope = contract_scope(work.workspace, AS_OF)
    assert {each.key for each in verdicts} == {each.key for each in clauses(scope)}


# A broken normaliser


def swept(cases: Iterable[str]) -> list[Any]:
    """All of them in the slow run, every fourth by default: each loads a workspace."""
    return [
        pytest.param(case, marks=[pytest.mark.slow] if place % 4 else [])
        for place, case in enumerate(cases)
    ]


Mutation = Callable[[pl.DataFrame], pl.DataFrame]
_IS_LB = col("load_unit") == "lb"
_IS_FIRST = pl.int_range(pl.len()) == 0


def _with(**columns: pl.Expr) -> Mutation:
    return lambda sets: sets.with_columns(**columns)


def _first(column: str, value: object) -> Mutation:
    """One row with another value in one column."""

    def mutate(sets: pl.DataFrame) -> pl.DataFrame:
        dtype = sets.schema[column]
        return sets.with_columns(
            pl.when(_IS_FIRST).then(lit(value, dtype=dtype)).otherwise(column).alias(column)
        )

    return mutate


def _swapped(sets: pl.DataFrame) -> pl.DataFrame:
    return sets.with_columns(
        load_kg=col("reps").cast(pl.Float64),
        reps=pl.min_horizontal(col("load_kg").round().cast(pl.Int32), 100),
        load_unit=lit("kg"),
    )


MUTATIONS: dict[str, tuple[Mutation, str]] = {
    "pounds taken for kilograms": (
        _with(load_kg=pl.when(_IS_LB).then(col("load_kg") / 0.45359237).otherwise("load_kg")),
        "pounds_converted",
    ),
    "pounds converted twice": (
        _with(load_kg=pl.when(_IS_LB).then(col("load_kg") * 0.45359237).otherwise("load_kg")),
        "pounds_converted",
    ),
    "kilograms multiplied to pounds": (_with(load_kg=col("load_kg") * 2.20462), "load_range"),
    "negative loads": (_with(load_kg=-col("load_kg")), "load_range"),
    "no conversion factor": (_with(load_kg=col("load_kg") * float("inf")), "load_range"),
    "negative repetitions": (_with(reps=-col("reps")), "reps_range"),
    "no repetitions": (_first("reps", 0), "reps_range"),
    "repetitions of two cells run together": (_first("reps", 810), "reps_range"),
    "repetitions lost": (_first("reps", None), "reps_given"),
    "loads and repetitions swapped": (_swapped, "reps_usual"),
    "negative partials": (_first("partial_reps", -1), "partial_reps_range"),
    "day lost, so that no day of the ledger takes the row": (
        _first("performed_on", None),
        "sets_reconciled",
    ),
    "days of another century": (
        _with(performed_on=col("performed_on").dt.offset_by("-100y")),
        "day_range",
    ),
    "days of next year": (_with(performed_on=col("performed_on").dt.offset_by("1y")), "day_range"),
    "day shifted after the version's span was taken": (
        _with(performed_on=col("performed_on").dt.offset_by("-200d")),
        "day_in_version",
    ),
    "session of the next day": (
        _with(session_id=col("client_id") + "/" + col("performed_on").dt.offset_by("1d").cast(str)),
        "session_id",
    ),
    "session without client": (_with(session_id=col("performed_on").cast(str)), "session_id"),
    "clock time of another week": (
        _with(started_at=col("started_at").dt.offset_by("7d")),
        "clock",
    ),
    "client of another gym": (_first("client_id", "nobody"), "client_listed"),
    "client as spelled, not its id": (_first("client_id", "Ines D."), "client_id"),
    "client lost": (_first("client_id", None), "sets_reconciled"),
    "exercise cut to nothing": (_first("exercise_raw", " "), "exercise_given"),
    "kind left as exported": (_first("set_kind", "W"), "set_kind"),
    "kind lost": (_first("set_kind", None), "set_kind_given"),
    "side left as exported": (_first("side", "L"), "side"),
    "unit left as exported": (_first("load_unit", "lbs"), "load_unit"),
    "unit lost": (_first("load_unit", None), "load_unit_given"),
    "basis left as exported": (_first("load_basis", "dumbbell"), "load_basis"),
    "reserve below zero": (_first("rir", -1.0), "rir_range"),
    "reserve read from the wrong column": (_first("rir", 225.0), "rir_range"),
    "exertion on another scale": (_first("rpe", 17.0), "rpe_range"),
    "places counted from 0": (_with(day_order=col("day_order") - 1), "day_order_starts"),
    "places counted by twos": (_with(day_order=col("day_order") * 2 - 1), "day_order_whole"),
    "all in one place": (_with(day_order=lit(1, dtype=pl.Int32)), "day_order_sets"),
    "warm-ups read as extensions": (
        _with(set_kind=col("set_kind").replace({"warmup": "extension"})),
        "extension_follows",
    ),
    "ids with another mark": (_with(set_id=col("set_id").str.replace_all(":", "-")), "set_id_form"),
    "ids that name another line": (
        _with(set_id=col("set_id").str.replace(":[0-9]+:", ":1:")),
        "set_id_own",
    ),
    "ids without n": (_with(set_id=col("set_id").str.replace("[0-9]+$", "1")), "set_id_unique"),
    "rows doubled by a join": (lambda sets: pl.concat([sets, sets]), "set_id_unique"),
    "n counted from 0": (
        _with(
            set_id=col("set_id").str.replace("[0-9]+$", "")
            + (col("set_id").str.extract("([0-9]+)$").cast(pl.Int32) - 1).cast(str)
        ),
        "line_whole",
    ),
    "alike sets of a line dropped": (
        lambda sets: sets.unique(["source_line", "reps", "load_kg"], maintain_order=True),
        "line_whole",
    ),
    "a line over two days": (
        _with(
            session_id=pl.when(col("set_id").str.ends_with(":2"))
            .then(col("session_id") + "x")
            .otherwise("session_id")
        ),
        "line_day",
    ),
    "lines lost": (lambda sets: sets.filter(col("source_line") % 10 != 4), "lines_counted"),
    "the last line lost": (lambda sets: sets.head(-1), "lines_counted"),
}


@pytest.mark.parametrize("name", swept(MUTATIONS))
def test_a_broken_normaliser_is_caught(
    name: str, work: Work, monkeypatch: pytest.MonkeyPatch
) -> None:
    mutate, key = MUTATIONS[name]
    _ask_only(monkeypatch, key)
    _break(monkeypatch, lambda rows: replace(rows, sets=mutate(rows.sets)))
    caught = [each for each in _asked(work) if each.key == key and not each.is_met]
    assert caught, name
    assert all(each.unexpected > 0 and 0 < each.share <= 1 for each in caught)


def _break(monkeypatch: pytest.MonkeyPatch, mutate: Callable[[Normalised], Normalised]) -> None:
    sound = loading.read_version
    monkeypatch.setattr(loading, "read_version", lambda *given: mutate(sound(*given)))


BOOKKEEPING: dict[str, tuple[Callable[[Normalised], Normalised], str]] = {
    "a line neither loaded nor set aside": (
        lambda rows: replace(rows, lines_read=rows.lines_read + 1),
        "lines_reconciled",
    ),
    "a reason lost": (
        lambda rows: replace(rows, set_aside=rows.set_aside.head(0)),
        "lines_aside_kept",
    ),
    "a loaded line set aside as well": (
        lambda rows: replace(
            rows, set_aside=rows.set_aside.with_columns(source_line=lit(2, dtype=pl.Int32))
        ),
        "lines_once",
    ),
    "weigh-ins in another unit": (
        lambda rows: replace(
            rows, bodyweights=rows.bodyweights.with_columns(col("bodyweight_kg") * 10)
        ),
        "bodyweight_range",
    ),
}


@pytest.mark.parametrize("name", swept(BOOKKEEPING))
def test_broken_bookkeeping_is_caught(
    name: str, work: Work, monkeypatch: pytest.MonkeyPatch
) -> None:
    mutate, key = BOOKKEEPING[name]
    _ask_only(monkeypatch, key)
    _break(monkeypatch, mutate)
    assert key in _broken(_asked(work))


# A broken ledger

DAMAGE = {
    "a version that is nowhere listed": (
        "update ledger.sets set load_id = 99, set_id = '99:' || source_line || ':1'",
        "version_known",
    ),
    "a replaced version that still counts": (
        "update ledger.loads set state = 'replaced' where load_id = 1",
        "version_known",
    ),
    "rows under another source": ("update ledger.sets set source = 'other'", "version_source"),
    "days lost": ("update ledger.sets set performed_on = null where reps = 3", "day_given"),
    "clients lost": ("update ledger.sets set client_id = null where reps = 3", "client_given"),
    "spellings not resolved": ("delete from ledger.exercise_names", "exercise_known"),
    "an older version laid over": (
        "insert into ledger.sets select * replace ("
        " load_id + 1 as load_id, replace(set_id, '1:', '2:') as set_id)"
        " from ledger.sets where source = 'sets'",
        "one_version",
    ),
    "more rows than the version gave": (
        "insert into ledger.sets select * replace (set_id || '9' as set_id) from ledger.sets",
        "sets_no_more",
    ),
    "a column of another type": (
        "create or replace table ledger.sets as"
        " select * replace (reps::varchar as reps) from ledger.sets",
        "columns",
    ),
    "a column lost": (
        "create or replace table ledger.sets as select * exclude (notes) from ledger.sets",
        "columns",
    ),
}


@pytest.mark.parametrize("name", swept(DAMAGE))
def test_a_damaged_ledger_is_caught(name: str, work: Work, monkeypatch: pytest.MonkeyPatch) -> None:
    sql, key = DAMAGE[name]
    _ask_only(monkeypatch, key)
    assert _broken(_asked(work)) == set()
    work.con.execute(sql)
    scope = contract_scope(work.workspace, AS_OF)
    assert key in _broken(validate(work.con, scope))


def test_an_overlay_that_replaces_nothing_is_caught(work: Work, folder: Path) -> None:
    _asked(work)
    longer = _sets_export().replace(",225,", ",230,")
    (folder / "exports/sets-2026.csv").write_text(longer)
    assert _broken(_asked(work)) == set()
    work.con.execute("update ledger.sets set replaced_by = null")
    assert {"one_version", "day_order_sets"} <= _broken(_asked_again(work))


def test_an_overlay_that_loses_days_is_caught(work: Work, monkeypatch: pytest.MonkeyPatch) -> None:
    """The rows that came into the ledger are counted apart from those that the version gave."""
    sound = overlay.lay_sets

    def forgetful(opened: Work, load_id: int, source: str) -> None:
        opened.con.execute("delete from day_changes where performed_on < '2026-05-10'")
        sound(opened, load_id, source)

    monkeypatch.setattr(overlay, "lay_sets", forgetful)
    assert "sets_reconciled" in _broken(_asked(work))


# Limits of [rules]


@pytest.mark.parametrize(
    ("rules", "key"),
    [
        ({"reps_max": 9}, "reps_range"),
        ({"load_max_kg": 300.0}, "load_range"),
        ({"rir_max": 1.0}, "rir_range"),
        ({"set_aside_share": 0.001}, "set_aside_share"),
        ({"fresh_days": 1}, "fresh"),
    ],
)
def test_the_limits_are_those_of_the_rules(
    work: Work, rules: dict[str, float], key: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The newest set is of 2026-06-27, the deadlift of 320 kg the heaviest, 1 of 181 lines bad."""
    _ask_only(monkeypatch, key)
    assert _broken(_asked(work, **rules)) == {key}
    assert _broken(_asked_again(work)) == set()


def test_counts_are_those_of_sets_not_of_distinct_values(work: Work) -> None:
    """20 rows of 10 repetitions and 20 x 3 of 10: 80 of 252 sets have over 9 repetitions."""
    verdict = next(each for each in _asked(work, reps_max=9) if each.key == "reps_range")
    assert (verdict.unexpected, verdict.share) == (80, round(80 / 252, 9))
    assert verdict.examples == ("10",)
    assert verdict.sentence == (
        "A set has 1 to 9 repetitions. Not so in 80 rows (31.7% of those looked at): 10."
    )


def test_batches_are_cut_and_their_counts_added(
    work: Work, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = _asked(work, reps_max=9)
    sizes: list[int] = []
    sound = library().validated

    def noted(asked: list[Clause], batch: object) -> object:
        sizes.append(len(batch))  # type: ignore[arg-type]
        return sound(asked, batch)  # type: ignore[arg-type]

    monkeypatch.setattr(library(), "validated", noted)
    monkeypatch.setattr(validation, "BATCH_ROWS", 7)
    assert _asked_again(work, reps_max=9) == whole
    assert max(sizes) == 7


def test_an_empty_ledger_keeps_the_contract() -> None:
    con = duckdb.connect()
    create_ledger(con)
    assert _broken(validate(con, Scope(Rules(), AS_OF, AS_OF, ("ines",)))) == set()


# What a run asks


def test_a_run_asks_only_what_it_changed(work: Work, folder: Path) -> None:
    """The second run sees one new day of Ines (5 sets), and only the version that brought it."""
    load(work, Outcome())
    runs.check_changes(work, Outcome(), AS_OF)
    work.con.execute("delete from changed_days")
    work.con.execute("delete from receipts")
    newer = _sets_export() + "ines,2026-06-29,18:05,back squat,1,225,lb,5,2,work,\n"
    (folder / "exports/sets-2026.csv").write_text(newer)
    load(work, Outcome())
    scope = replace(contract_scope(work.workspace, AS_OF), is_partial=True)
    verdicts = validate(work.con, scope)
    assert work.con.execute("from contract_sets").fetchall()[0][2] == date(2026, 6, 29)
    assert work.con.execute("select count(*) from contract_sets").fetchone() == (1,)
    assert {each.load_id for each in verdicts} == {None, 3}
    assert _broken(verdicts) == set()


def test_a_broken_clause_is_asked_again_until_it_holds(work: Work) -> None:
    load(work, Outcome())
    work.con.execute("update ledger.sets set reps = 400 where set_id = '1:2:1'")
    outcome = Outcome()
    runs.check_changes(work, outcome, AS_OF)
    assert outcome.problems == [
        "data contract: A set has 1 to 100 repetitions. Not so in one row (0.4% of those looked "
        "at): 400. `setledger check` lists all verdicts."
    ]
    assert outcome.exit_code == 1
    work.con.execute("delete from changed_days")
    outcome = Outcome()
    runs.check_changes(work, outcome, AS_OF)
    assert len(outcome.problems) == 1
    work.con.execute("update ledger.sets set reps = 10 where set_id = '1:2:1'")
    outcome = Outcome()
    runs.check_changes(work, outcome, AS_OF)
    assert outcome.problems == []
    assert work.con.execute("from ledger.checks where not is_met").fetchall() == []


def test_a_run_without_changes_does_not_ask(work: Work, monkeypatch: pytest.MonkeyPatch) -> None:
    load(work, Outcome())
    runs.check_changes(work, Outcome(), AS_OF)
    work.con.execute("delete from changed_days")
    monkeypatch.setattr(runs, "validate", None)
    runs.check_changes(work, Outcome(), AS_OF)


def test_verdicts_reach_the_ledger_in_words(work: Work) -> None:
    load(work, Outcome())
    runs.check_changes(work, Outcome(), AS_OF)
    rows = work.con.execute(
        "select load_id, is_met, unexpected, share from ledger.checks"
        " where expectation = 'Lines read are lines loaded and lines set aside.' order by load_id"
    ).fetchall()
    assert rows == [(1, True, 0, 0.0), (2, True, 0, 0.0)]
    row = work.con.execute(
        "from ledger.checks where expectation = 'A load lies between 0 and 700 kg.'"
    ).fetchall()
    assert row == [(None, "A load lies between 0 and 700 kg.", "load_kg", True, 0, 0.0)]


def test_what_only_the_reading_run_can_tell_stands_until_the_version_is_read_again(
    work: Work, monkeypatch: pytest.MonkeyPatch
) -> None:
    _break(monkeypatch, lambda rows: replace(rows, sets=rows.sets.head(-1)))
    outcome = Outcome()
    load(work, outcome)
    runs.check_changes(work, outcome, AS_OF)
    assert outcome.problems == [
        "data contract: Every line loaded gave sets or a weigh-in. Not so in load 1: 180 ≠ 179. "
        "`setledger check` lists all verdicts."
    ]
    work.con.execute("delete from receipts")
    scope = contract_scope(work.workspace, AS_OF)
    verdicts = validate(work.con, scope)
    assert _broken(verdicts) == {"lines_counted"}
    assert not differs(work.con, verdicts)


# The library keeps to itself


_ALONE = """
import socket, sys
def refused(*_given, **_named):
    raise AssertionError("the network was touched")
socket.socket.connect = socket.socket.connect_ex = socket.getaddrinfo = refused
socket.create_connection = socket.gethostbyname = refused
import duckdb
from datetime import date
from pipeline.checks.contract.scope import Scope
from pipeline.checks.contract.validate import validate
from pipeline.ledger.database import create_ledger
from pipeline.settings.rules import Rules
con = duckdb.connect()
create_ledger(con)
con.execute("insert into ledger.bodyweights values ('ines', null, 900, 'x', null, null, null)")
scope = Scope(Rules(), date(2026, 6, 30), date(2026, 6, 30))
verdicts = validate(con, scope)
assert [each.key for each in verdicts if not each.is_met] == ["bodyweight_range"]
"""


def test_the_library_says_nothing_and_touches_neither_network_nor_home(tmp_path: Path) -> None:
    """In a process of its own, with connections refused and an empty home; warnings are errors."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", _ALONE],
        cwd=tmp_path,
        env={"HOME": str(tmp_path), "PATH": "/usr/bin:/bin", "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert list(tmp_path.iterdir()) == []


def test_the_network_is_blocked_in_this_process_too(
    work: Work, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_given: object) -> None:
        raise AssertionError("the network was touched")

    monkeypatch.setattr(socket.socket, "connect", refused)
    assert _broken(_asked(work)) == set()


def test_importing_the_rooms_of_a_quiet_run_does_not_import_the_library() -> None:
    code = "import sys, pipeline.runs.run, pipeline.checks.check, pipeline.ledger.loading;"
    code += "import pipeline.checks.contract.expectations, pipeline.cli;"
    code += "sys.exit('great_expectations' in sys.modules or 'pandas' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0

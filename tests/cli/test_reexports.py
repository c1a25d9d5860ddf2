"""Exports that come again: longer, mended, cut short, broken, moved, or read with another mapping.

Every test ends with a rebuild from the journal: what was read makes the same tables again.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.cli import cli
from pipeline.errors import BusyError, UsageError
from pipeline.ledger import journal, loading, store
from pipeline.ledger.replay import opened_work
from pipeline.outcome import Outcome
from pipeline.review.inputs import build_inputs, resolve_names
from pipeline.runs import run as runs
from pipeline.runs.load import load
from pipeline.settings.workspace_file import find_workspace

FIRST = date(2026, 5, 4)

CONFIG = """
[workspace]
name = "Again"
as_of = 2026-06-30
[[sources]]
files = "exports/log*.csv"
mapping = "mappings/log.toml"
[[sources]]
files = "exports/other*.csv"
mapping = "mappings/other.toml"
"""

MAPPING = """
name = "{name}"
[columns]
client = "who"
performed_on = "day"
exercise = "lift"
set_no = "set"
load = "load"
reps = "reps"
bodyweight = "bw"
[formats]
load_unit = "kg"
"""

Row = dict[str, Any]


def log(days: int, first: date = FIRST, lifts: tuple[str, ...] = ("bench press", "back squat"),
        who: str = "ines") -> list[Row]:  # fmt: skip
    """Three sets of each lift on every other day, with a weigh-in on each day's first line."""
    return [
        {"who": who, "day": str(first + timedelta(days=2 * number)), "lift": lift, "set": place,
         "load": 60 + number, "reps": 9 - place,
         "bw": 64 if (lift, place) == (lifts[0], 1) else ""}
        for number in range(days)
        for lift in lifts
        for place in (1, 2, 3)
    ]  # fmt: skip


class Room:
    """A workspace that tests write exports into and read again."""

    def __init__(self, folder: Path, *, copy_of: Path | None = None) -> None:
        self.folder = folder
        if copy_of is not None:
            shutil.copytree(copy_of, folder)
            return
        for name in ("exports", "mappings"):
            (folder / name).mkdir()
        self.write_text("setledger.toml", CONFIG)
        for name in ("log", "other"):
            self.write_text(f"mappings/{name}.toml", MAPPING.format(name=name))

    def write_text(self, name: str, text: str) -> None:
        (self.folder / name).write_text(text)

    def export(self, rows: list[Row], name: str = "exports/log.csv") -> None:
        lines = ["who,day,lift,set,load,reps,bw"]
        lines += [",".join(str(cell) for cell in row.values()) for row in rows]
        self.write_text(name, "\n".join(lines) + "\n")

    def load(self, *accepted: str) -> Outcome:
        """What `setledger load` does."""
        outcome = Outcome()
        with opened_work(find_workspace(self.folder)) as work:
            load(work, outcome, accepted)
            work.publish()
        return outcome

    def read(self, rows: list[Row], name: str = "exports/log.csv") -> Outcome:
        self.export(rows, name)
        return self.load()

    def unload(self, version: str) -> None:
        """What `setledger unload` does."""
        loading.unload(find_workspace(self.folder), version)

    def ask(self, sql: str) -> list[tuple[Any, ...]]:
        with duckdb.connect(str(self.folder / "setledger.duckdb"), read_only=True) as con:
            return con.execute(sql).fetchall()

    def one(self, sql: str) -> Any:
        [(value,)] = self.ask(sql)
        return value

    def sets(self) -> int:
        """Sets that count."""
        return int(self.one("select count(*) from ledger.current_sets"))

    def states(self) -> list[str]:
        """State of each version, in order."""
        return [state for (state,) in self.ask("select state from ledger.loads order by load_id")]

    def tables(self) -> dict[str, list[tuple[Any, ...]]]:
        """Every row of the ledger."""
        with duckdb.connect(str(self.folder / "setledger.duckdb"), read_only=True) as con:
            return _tables(con)

    def rebuilt(self) -> dict[str, list[tuple[Any, ...]]]:
        """Every row, made again from what was read."""
        workspace = find_workspace(self.folder)
        with opened_work(workspace, from_scratch=True) as work:
            return _tables(work.con)


def _tables(con: duckdb.DuckDBPyConnection) -> dict[str, list[tuple[Any, ...]]]:
    names = ("loads", "sets", "set_aside", "bodyweights")
    return {name: sorted(con.execute(f"from ledger.{name}").fetchall(), key=repr) for name in names}


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    """An empty workspace; afterwards, what was read must make equal tables again."""
    made = Room(tmp_path)
    yield made
    assert made.rebuilt() == made.tables()


# The same, longer, mended


def test_the_same_file_again_changes_nothing(room: Room) -> None:
    room.read(log(5))
    before = (room.folder / "setledger.duckdb").stat().st_mtime_ns, room.tables()
    journal = (room.folder / ".setledger/loads.jsonl").read_bytes()
    outcome = room.load()
    assert (outcome.loads, outcome.problems) == ([], [])
    assert ((room.folder / "setledger.duckdb").stat().st_mtime_ns, room.tables()) == before
    assert (room.folder / ".setledger/loads.jsonl").read_bytes() == journal


def test_a_longer_export_keeps_days_ids_and_lines_that_it_repeats(room: Room) -> None:
    """5 days of 6 sets, then 7: two days are new, lines shift by nothing."""
    room.read(log(5))
    first = room.ask("select * from ledger.sets order by set_id")
    [result] = room.read(log(7)).loads
    assert (result.days_added, result.days_replaced, result.sets_taken_away) == (2, 0, 0)
    assert room.ask("select * from ledger.sets where load_id = 1 order by set_id") == first
    assert room.sets() == 42
    assert room.one("select count(*) from ledger.sets where load_id = 2") == 12
    assert room.states() == ["loaded", "loaded"]


def test_days_written_in_another_order_are_equal_days(room: Room) -> None:
    """Line numbers of the first version stay, though the newest day now stands on top."""
    room.read(log(5))
    rows = log(6)
    [result] = room.read(rows[30:] + rows[:30]).loads
    assert (result.days_added, result.days_replaced) == (1, 0)
    assert room.one("select count(*) from ledger.current_sets where load_id = 1") == 30


def test_a_mended_value_replaces_its_day_and_no_other(room: Room) -> None:
    room.read(log(5))
    rows = log(5)
    rows[7]["load"] = 95
    [result] = room.read(rows).loads
    assert (result.days_added, result.days_replaced, result.sets_taken_away) == (0, 1, 6)
    changed = str(FIRST + timedelta(days=2))
    assert room.ask(
        "select performed_on::text, count(*), min(load_id), min(replaced_by) from ledger.sets"
        " where replaced_by is not null group by all"
    ) == [(changed, 6, 1, 2)]
    assert room.ask(
        f"select load_kg, source_line from ledger.current_sets where performed_on = '{changed}'"
        " and load_kg > 90"
    ) == [(95.0, 9)]
    assert room.sets() == 30


def test_replaced_rows_still_lead_to_the_file_they_came_from(room: Room) -> None:
    room.read(log(5))
    before = (room.folder / "exports/log.csv").read_bytes()
    rows = log(5)
    rows[0]["reps"] = 12
    room.read(rows)
    [(digest, line)] = room.ask(
        "select loads.sha256, sets.source_line from ledger.sets as sets"
        " inner join ledger.loads as loads on sets.load_id = loads.load_id"
        " where sets.replaced_by = 2 and sets.set_no = 1 and exercise_raw = 'bench press'"
    )
    content = store.read_content(room.folder / ".setledger", digest)
    assert content == before
    assert content.decode().splitlines()[line - 1] == "ines,2026-05-04,bench press,1,60,8,64"


def test_a_value_mended_and_put_back_is_read_both_times(room: Room) -> None:
    """The third file equals the first byte for byte, yet something else was read in between."""
    room.read(log(5))
    rows = log(5)
    rows[0]["load"] = 70
    room.read(rows)
    room.read(log(5))
    assert room.one("select max(load_kg) from ledger.current_sets where reps = 8") == 64
    assert room.sets() == 30
    assert room.load().loads == []


def test_a_weigh_in_mended_alone_is_taken(room: Room) -> None:
    room.read(log(3))
    rows = log(3)
    rows[0]["bw"] = 66
    room.read(rows)
    assert room.ask(
        "select bodyweight_kg, load_id, replaced_by from ledger.bodyweights order by all"
    ) == [(64.0, 1, 2), (64.0, 1, None), (64.0, 1, None), (66.0, 2, None)]


# Shorter, other, broken


def test_a_day_missing_inside_the_export_is_taken_away(room: Room) -> None:
    """One of 10 days deleted by the lifter: 10 % of the sets, under the limit of 20 %."""
    room.read(log(10))
    rows = log(10)
    [result] = room.read(rows[:12] + rows[18:]).loads
    assert (result.state, result.days_replaced, result.sets_taken_away) == ("loaded", 1, 6)
    assert room.sets() == 54
    assert room.one("select count(*) from ledger.sets where replaced_by = 2") == 6


def test_an_export_of_the_last_weeks_leaves_older_days_alone(room: Room) -> None:
    room.read(log(10))
    rows = log(12)
    [result] = room.read(rows[7 * 6 :]).loads
    assert (result.days_added, result.days_replaced) == (2, 0)
    assert room.sets() == 72


def test_an_export_of_one_lift_is_held_until_accepted(room: Room) -> None:
    """Bench press only: half the sets of its range would go."""
    room.read(log(10))
    outcome = room.read(log(10, lifts=("bench press",)))
    assert outcome.loads[0].state == "held"
    assert outcome.exit_code == 1
    assert outcome.problems == [
        "exports/log.csv: held back, and what was loaded before still counts: 50% of ines's sets "
        "that were loaded for the days from 2026-05-04 to 2026-05-22 are no longer in it. If the "
        "file is right as it is now, `setledger load --accept exports/log.csv`; else mend or "
        "export it again."
    ]
    assert (room.sets(), room.states()) == (60, ["loaded", "held"])
    assert room.load().problems == outcome.problems
    assert room.load("exports/log.csv").problems == []
    assert (room.sets(), room.states()) == (30, ["replaced", "loaded"])


def test_the_net_loss_counts_not_what_is_exchanged(room: Room) -> None:
    """Every day differs, and as many sets come as go: nothing is taken away on balance."""
    room.read(log(10))
    [result] = room.read(log(10, lifts=("bench press", "front squat"))).loads
    assert (result.state, result.days_replaced, result.sets_taken_away) == ("loaded", 10, 60)


def test_an_export_broken_half_way_is_held(room: Room) -> None:
    room.read(log(10))
    rows = log(10)
    for row in rows[30:]:
        row["reps"] = "?"
    outcome = room.read(rows)
    assert [each.state for each in outcome.loads] == ["held"]
    assert "50.0% of its lines could not be read" in outcome.problems[0]
    assert room.sets() == 60
    assert room.one("select count(*) from ledger.set_aside where load_id = 2") == 30


def test_an_export_cut_off_in_the_middle_of_a_line_loses_no_day_before(room: Room) -> None:
    """A download that broke off: 40 lines and a half, no day inside its range is missing."""
    room.read(log(10))
    text = (room.folder / "exports/log.csv").read_text()
    cut = text[: text.index("\n", len(text) // 2) - 6]
    room.write_text("exports/log.csv", cut)
    room.load()
    assert room.sets() >= 59


def test_a_mended_export_ends_the_wait_of_the_broken_one(room: Room) -> None:
    room.read(log(10))
    room.read(log(10, lifts=("bench press",)))
    outcome = room.read(log(11))
    assert (outcome.problems, room.states()) == ([], ["loaded", "replaced", "loaded"])
    with pytest.raises(UsageError, match="not held"):
        room.load("2")
    assert room.sets() == 66


def test_putting_the_good_file_back_ends_the_wait_too(room: Room) -> None:
    room.read(log(10))
    room.read(log(10, lifts=("bench press",)))
    assert room.read(log(10)).problems == []
    assert room.sets() == 60


def test_a_first_export_above_the_limit_is_loaded_and_named(room: Room) -> None:
    """It replaces nothing, so there is nothing to wait for; a person should look all the same."""
    rows = log(10)
    rows[0]["reps"] = rows[1]["reps"] = ""
    outcome = room.read(rows)
    assert [each.state for each in outcome.loads] == ["loaded"]
    assert outcome.exit_code == 1
    assert "2 lines (3.3%) set aside" in outcome.problems[0]
    assert room.sets() == 58


# Other names, other sources, other mappings


def test_a_moved_file_is_known_by_its_content(room: Room) -> None:
    room.read(log(5))
    (room.folder / "exports/log.csv").rename(room.folder / "exports/log-may.csv")
    assert room.load().loads == []
    shutil.copy(room.folder / "exports/log-may.csv", room.folder / "exports/log-copy.csv")
    assert room.load().loads == []
    assert room.sets() == 30


def test_a_removed_file_leaves_its_rows(room: Room) -> None:
    room.read(log(5))
    room.read(log(5), "exports/other.csv")
    (room.folder / "exports/log.csv").unlink()
    room.load()
    assert room.sets() == 60


def test_two_sources_of_one_client_both_count(room: Room) -> None:
    room.read(log(5))
    room.read(log(5), "exports/other.csv")
    assert room.ask(
        "select source, count(*) from ledger.current_sets group by all order by source"
    ) == [("log", 30), ("other", 30)]


def test_two_files_of_one_source_are_laid_over_each_other(room: Room) -> None:
    """Both hold 2026-05-12; the export with the later last day is laid over the other."""
    room.export(log(5), "exports/log-a.csv")
    rows = log(5, first=FIRST + timedelta(days=8))
    rows[0]["load"] = 90
    room.export(rows, "exports/log-b.csv")
    room.load()
    assert room.sets() == 54
    assert room.one("select count(*) from ledger.sets where replaced_by = 2") == 6


def test_a_corrected_mapping_is_read_again(room: Room) -> None:
    room.read(log(5))
    room.write_text("mappings/log.toml", MAPPING.format(name="log").replace('"kg"', '"lb"'))
    [result] = room.load().loads
    assert (result.load_id, result.state, room.sets()) == (2, "loaded", 30)
    assert room.states() == ["replaced", "loaded"]
    assert room.one("select max(load_kg) from ledger.current_sets") == pytest.approx(
        64 * 0.45359237
    )
    assert room.one("select count(*) from ledger.sets where load_id = 1 and replaced_by = 2") == 30
    assert room.load().loads == []


def test_a_mapping_that_reads_worse_is_read_said_and_never_held(room: Room) -> None:
    """Loads taken from a column of words: 30 lines of 30 fail, until the mapping is put right."""
    room.read(log(5))
    worse = (
        MAPPING.format(name="log")
        .replace('"load"', '"lift"', 1)
        .replace('exercise = "lift"', 'exercise = "who"')
    )
    room.write_text("mappings/log.toml", worse)
    outcome = room.load()
    assert [each.state for each in outcome.loads] == ["loaded"]
    assert "30 lines (100.0%) set aside, above the limit" in " ".join(map(str, outcome.problems))
    assert (room.sets(), room.states()) == (0, ["replaced", "loaded"])
    assert room.load().loads == []
    room.write_text("mappings/log.toml", MAPPING.format(name="log"))
    outcome = room.load()
    assert ([each.state for each in outcome.loads], outcome.problems) == (["loaded"], [])
    assert room.sets() == 30
    room.unload("exports/log.csv")
    assert room.sets() == 0


def test_a_new_alias_is_read_again(room: Room) -> None:
    room.read(log(2, who="Ines D."))
    assert room.ask("select distinct client_id from ledger.current_sets") == [("ines-d",)]
    room.write_text("setledger.toml", CONFIG + '[[clients]]\nid = "ines"\naliases = ["Ines D."]\n')
    room.load()
    assert room.ask("select distinct client_id from ledger.current_sets") == [("ines",)]
    assert room.sets() == 12


# Taking back


def test_unloading_brings_back_what_the_version_had_replaced(room: Room) -> None:
    room.read(log(5))
    first = room.ask("select * exclude (replaced_by) from ledger.sets order by set_id")
    rows = log(6)
    rows[0]["load"] = 70
    room.read(rows)
    room.unload("2")
    assert room.ask("select * exclude (replaced_by) from ledger.sets order by set_id") == first
    assert room.states() == ["loaded", "unloaded"]


def test_an_unloaded_file_stays_unloaded(room: Room) -> None:
    room.read(log(5))
    room.unload("exports/log.csv")
    assert room.sets() == 0
    assert room.load().loads == []
    assert room.sets() == 0
    room.read(log(6))
    assert room.sets() == 36


def test_taking_back_an_accepted_version_brings_the_earlier_one_back(room: Room) -> None:
    room.read(log(10))
    room.read(log(10, lifts=("bench press",)))
    room.load("exports/log.csv")
    room.unload("2")
    assert (room.sets(), room.states()) == (60, ["loaded", "unloaded"])


def test_a_held_version_can_be_taken_back(room: Room) -> None:
    room.read(log(10))
    room.read(log(10, lifts=("bench press",)))
    room.unload("2")
    assert (room.load().problems, room.sets()) == ([], 60)


@pytest.mark.parametrize("steps", [6, pytest.param(40, marks=pytest.mark.slow)])
def test_a_long_history_makes_equal_tables_again(steps: int, room: Room) -> None:
    """Random re-exports, mapping changes, acceptances and unloadings (seed 3)."""
    chance = random.Random(3)
    mappings = [MAPPING.format(name="log"), MAPPING.format(name="log") + "# again\n"]
    for step in range(steps):
        rows = log(chance.randint(4, 9), first=FIRST + timedelta(days=2 * chance.randint(0, 3)))
        rows = [row for row in rows if chance.random() > 0.05]
        for row in chance.sample(rows, k=chance.randint(0, 2)):
            row["reps"] = chance.choice([5, 6, "?"])
        room.export(rows, chance.choice(["exports/log-a.csv", "exports/log-b.csv"]))
        room.write_text("mappings/log.toml", mappings[chance.random() < 0.2])
        outcome = room.load()
        held = room.one("select max(load_id) from ledger.loads where state = 'held'")
        if held is not None and chance.random() < 0.5:
            outcome = room.load(str(held))
        loaded = [each for each in outcome.loads if each.state == "loaded"]
        if loaded and chance.random() < 0.15:
            room.unload(str(loaded[-1].load_id))
        if step % 6 == 5:
            assert room.rebuilt() == room.tables(), step
    assert {"loaded", "held", "replaced", "unloaded"} >= set(room.states())
    assert (
        room.one(
            "select count(*) from (select client_id, performed_on, source from ledger.sets"
            " where replaced_by is null group by all having count(distinct load_id) > 1)"
        )
        == 0
    )


# The lock, and a run that is killed


def test_a_second_run_is_refused_while_one_is_going_on(room: Room) -> None:
    from click.testing import CliRunner

    room.read(log(2))
    with store.locked(room.folder / ".setledger"):
        done = CliRunner().invoke(cli, ["load", "-w", str(room.folder)])
        assert isinstance(done.exception, BusyError)
        command = Path(sys.executable).parent / "setledger"
        outside = subprocess.run(
            [str(command), "load", "-w", str(room.folder)],
            capture_output=True,
            text=True,
            check=False,
        )
    assert outside.returncode == 3
    assert "another setledger run is going on" in outside.stderr
    assert outside.stdout == ""


class Killed(BaseException):
    """Stands for a kill: nothing catches it."""


STEPS = (
    "store.keep_content",
    "journal.append_journal",
    "store.publish",
    "store.sync_folder",
    "store.write_whole",
)


Tables = dict[str, list[tuple[Any, ...]]]


@pytest.fixture(scope="module")
def mended(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Tables]:
    """A workspace with a mended export still to be read, and the tables once it was read."""
    folder = tmp_path_factory.mktemp("mended")
    with pytest.MonkeyPatch.context() as patches:
        patches.setenv("SOURCE_DATE_EPOCH", "1782777600")  # 2026-06-30
        room = Room(folder)
        room.read(log(5))
        rows = log(6)
        rows[3]["load"] = 75
        room.export(rows)
        calm = Room(tmp_path_factory.mktemp("calm") / "calm", copy_of=folder)
        calm.load()
    return folder, calm.tables()


@pytest.mark.parametrize("is_after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("step", STEPS)
def test_a_kill_at_any_write_loses_nothing(
    step: str,
    is_after: bool,
    mended: tuple[Path, Tables],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The next run brings the tables that an undisturbed run brings."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1782777600")  # 2026-06-30
    folder, calm = mended
    room = Room(tmp_path / "killed", copy_of=folder)
    before = room.tables()
    module, name = step.split(".")
    place = {"store": store, "journal": journal}[module]
    sound = getattr(place, name)
    with monkeypatch.context() as patched:

        def killed(*given: Any, **named: Any) -> Any:
            if is_after:
                sound(*given, **named)
            raise Killed

        patched.setattr(place, name, killed)
        with pytest.raises(Killed):
            room.load()
    assert room.tables() in (before, calm)
    room.load()
    assert room.tables() == calm
    assert room.rebuilt() == calm


@pytest.mark.parametrize("kept", [0, 1, 40, -1])
def test_a_journal_line_cut_short_does_not_count(
    kept: int, room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1782777600")
    room.read(log(5))
    journal = room.folder / ".setledger/loads.jsonl"
    database = room.folder / "setledger.duckdb"
    whole, before = journal.read_bytes(), database.read_bytes()
    room.export(log(6))
    room.load()
    after = room.tables()
    added = journal.read_bytes()[len(whole) :]
    journal.write_bytes(whole + added[:kept])
    database.write_bytes(before)
    room.load()
    assert room.tables() == after
    assert journal.read_bytes() == whole + added


def test_a_lost_or_foreign_database_is_made_again(room: Room) -> None:
    room.read(log(5))
    before = room.tables()
    (room.folder / "setledger.duckdb").write_bytes(b"no database")
    room.load()
    assert room.tables() == before
    (room.folder / "setledger.duckdb").unlink()
    room.load()
    assert room.tables() == before


def _run(folder: Path) -> subprocess.Popen[str]:
    """`setledger run` in a process group of its own, on 2026-06-30."""
    return subprocess.Popen(
        [str(Path(sys.executable).parent / "setledger"), "run", "-w", str(folder)],
        env={"PATH": "/usr/bin:/bin", "SOURCE_DATE_EPOCH": "1782777600"},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def _finished(folder: Path) -> None:
    run = _run(folder)
    _, said = run.communicate()
    assert (run.returncode, said) == (0, "")


def test_a_rebuild_asks_the_contract_and_comes_to_the_same_verdicts(room: Room) -> None:
    """After a longer export, a mended one, one that changes nothing, one held, one taken back."""

    def asked() -> list[tuple[Any, ...]]:
        workspace = find_workspace(room.folder)
        with opened_work(workspace) as work:
            load(work, Outcome())
            runs.check_changes(work, Outcome(), date(2026, 6, 1))
            work.publish()
        return sorted(room.ask("from ledger.checks"), key=repr)

    mended = log(6)
    mended[0]["load"] = 70
    for rows in (log(5), log(6), mended, [*mended[6:], *mended[:6]], log(6, lifts=("squat",))):
        room.export(rows)
        verdicts = asked()
    assert {row[0] for row in verdicts} == {None, 1, 2, 3}
    assert all(is_met for _, _, _, is_met, _, _ in verdicts)
    workspace = find_workspace(room.folder)
    with opened_work(workspace, from_scratch=True) as work:
        resolve_names(work.con, build_inputs(workspace, date(2026, 6, 1)))
        runs.check_changes(work, Outcome(), date(2026, 6, 1))
        again = work.con.execute("from ledger.checks").fetchall()
    assert sorted(again, key=repr) == verdicts
    room.unload("3")
    assert {row[0] for row in asked()} == {None, 1, 2, 4}, "the day that 3 had mended is in 4 too"


@pytest.mark.slow
def test_a_real_kill_at_random_moments_loses_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """kill -9 of `setledger run` after 0 to 5 seconds, ten times over (seed 5)."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1782777600")
    chance = random.Random(5)
    (tmp_path / "killed").mkdir()
    (tmp_path / "calm").mkdir()
    room, calm = Room(tmp_path / "killed"), Room(tmp_path / "calm")
    for round_ in range(10):
        for each in (room, calm):
            rows = log(20 + round_)
            rows[5 * round_]["load"] = 100 + round_
            each.export(rows)
        killed = _run(room.folder)
        time.sleep(chance.uniform(0, 5))
        os.killpg(killed.pid, signal.SIGKILL)
        killed.communicate()
        calm.load()
        if round_ % 3 == 2:
            _finished(room.folder)
        else:
            room.load()
        assert room.tables() == calm.tables(), round_
        assert not (room.folder / ".setledger/work").exists()
    _finished(room.folder)
    _finished(calm.folder)
    assert _review(room) == _review(calm)
    pages = [
        {path.relative_to(each.folder): path.read_bytes() for path in each.folder.rglob("*.html")}
        for each in (room, calm)
    ]
    assert pages[0] == pages[1]
    assert pages[0]
    assert room.rebuilt() == room.tables()


def _review(room: Room) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of the review."""
    names = room.ask(
        "select table_name from information_schema.tables where table_schema = 'review'"
    )
    return {name: sorted(room.ask(f"from review.{name}"), key=repr) for (name,) in names}


def test_a_longer_export_moves_the_last_day_of_those_without_a_new_set(tmp_path: Path) -> None:
    """Ines stopped on 10 May; the export that covers her goes on with Kofi's sessions."""
    room = Room(tmp_path)

    def covered() -> list[tuple[Any, ...]]:
        outcome = runs.run(find_workspace(tmp_path))
        assert outcome.problems == []
        with duckdb.connect(str(tmp_path / "setledger.duckdb"), read_only=True) as con:
            return con.execute(
                "select client_id, last_on, covered_on from review.coverage order by all"
            ).fetchall()

    ines, kofi = log(4), [log(days, who="kofi") for days in (5, 20)]
    room.export(ines + kofi[0])
    assert covered() == [
        ("ines", date(2026, 5, 10), date(2026, 5, 12)),
        ("kofi", date(2026, 5, 12), date(2026, 5, 12)),
    ]
    room.export(ines + kofi[1])
    assert covered() == [
        ("ines", date(2026, 5, 10), date(2026, 6, 11)),
        ("kofi", date(2026, 6, 11), date(2026, 6, 11)),
    ]
    # another file that does not hold her says nothing of her
    room.export(log(25, who="kofi"), "exports/log-2.csv")
    assert covered()[0] == ("ines", date(2026, 5, 10), date(2026, 6, 11))


# Accepting a file


def test_accepting_means_the_content_as_it_is_now(room: Room) -> None:
    """Held with one lift; mended by hand before the word was given: 66 sets, not 30."""
    room.read(log(10))
    room.read(log(10, lifts=("bench press",)))
    room.export(log(11))
    outcome = room.load("exports/log.csv")
    assert (outcome.problems, room.sets()) == ([], 66)
    assert room.states() == ["loaded", "replaced", "loaded"]


def test_accepting_lets_a_changed_file_count_that_would_be_held(room: Room) -> None:
    room.read(log(10))
    room.read(log(10, lifts=("bench press",)))
    room.export(log(8, lifts=("bench press",)))
    assert room.load("exports/log.csv").problems == []
    assert room.states()[-1] == "loaded"
    assert room.rebuilt() == room.tables()


def test_accept_can_be_repeated_and_its_command_is_quoted(room: Room) -> None:
    config = CONFIG.replace("exports/log", "exports/[Ll]og")
    names = ("exports/Log März 2026.csv", "exports/log-b.csv")
    room.write_text("setledger.toml", config)
    later = FIRST + timedelta(days=100)
    room.read(log(10), names[0])
    room.read(log(10, first=later), names[1])
    room.export(log(10, lifts=("bench press",)), names[0])
    outcome = room.read(log(10, lifts=("bench press",), first=later), names[1])
    assert "`setledger load --accept 'exports/Log März 2026.csv'`" in outcome.problems[0]
    assert room.load(*names).problems == []
    assert room.sets() == 60


def test_accepting_what_is_not_held_changes_nothing(room: Room) -> None:
    room.read(log(10))
    with pytest.raises(UsageError, match="nothing of this file is held"):
        room.load("exports/log.csv")
    with pytest.raises(UsageError, match="nothing of this file is held"):
        room.load("exports/none.csv")
    assert room.states() == ["loaded"]


def test_a_file_that_cannot_be_read_now_is_not_accepted_as_it_was(room: Room) -> None:
    room.read(log(10))
    room.read(log(10, lifts=("bench press",)))
    room.write_text("exports/log.csv", "PK\x03\x04")
    room.export(log(2), "exports/log-b.csv")
    outcome = room.load("exports/log.csv")
    assert room.states()[:2] == ["loaded", "held"]
    assert any("workbook" in each for each in outcome.problems)

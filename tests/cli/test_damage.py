"""Damage to what is kept: nothing is lost in silence, what can be mended is, the rest is named."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.errors import BusyError, DamageError, KeptVersionError, UsageError
from pipeline.ledger import erasure, journal, json_lines, store
from pipeline.ledger.database import look_into
from pipeline.ledger.replay import opened_work
from pipeline.ledger.sent_mails import SentLog
from pipeline.ledger.soundness import look
from pipeline.runs import forget as forgetting
from pipeline.runs import run as runs
from pipeline.settings.workspace_file import find_workspace
from tests.cli.damaged_room import (
    DAY,
    EACH,
    Damage,
    Killed,
    Room,
    altered,
    cut,
    cut_lines,
    flip,
    lines_of,
    mailed,
    remove,
    swapped,
    without_line,
)
from tests.commands import run_setledger


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(DAY))
    return Room(tmp_path)


@pytest.fixture
def full(room: Room) -> Room:
    """Two sources, two clients in each."""
    room.export(lines_of("Ines", range(1, 5)), lines_of("Kofi", range(1, 5)))
    room.export(lines_of("Ines", range(10, 13)), lines_of("Kofi", range(10, 13)), name="other.csv")
    room.load()
    return room


# Kept versions


@pytest.mark.parametrize("damage", EACH)
def test_a_kept_version_is_made_again_from_the_equal_file(full: Room, damage: Damage) -> None:
    kept = full.kept(full.folder / "exports/log.csv")
    whole = store.unpacked(kept)
    (full.folder / "exports/log.csv").rename(full.folder / "exports/log-may.csv")
    damage(kept)
    with opened_work(find_workspace(full.folder), from_scratch=True) as work:
        assert work.said == [
            "exports/log.csv (load 1): the kept copy was damaged or missing and is made again from "
            "exports/log-may.csv."
        ]
    assert store.unpacked(kept) == whole


@pytest.mark.parametrize("damage", EACH)
def test_a_version_that_is_lost_is_named_and_publishes_nothing(full: Room, damage: Damage) -> None:
    path = full.folder / "exports/log.csv"
    damage(full.kept(path))
    path.unlink()
    before = (full.folder / "setledger.duckdb").read_bytes()
    with pytest.raises(KeptVersionError, match=r"exports/log.csv \(load 1\).*unload 1"):
        full.rebuild()
    assert (full.folder / "setledger.duckdb").read_bytes() == before


def test_unloading_lost_versions_lets_the_rest_be_rebuilt(full: Room) -> None:
    """Two of one source are lost: the first to go cannot lay the source anew yet."""
    second = full.export(lines_of("Ines", range(20, 24)), name="log-b.csv")
    third = full.export(lines_of("Ines", range(26, 28)), name="log-c.csv")
    full.load()
    for path in (full.folder / "exports/log.csv", second):
        flip(full.kept(path))
        path.unlink()
    (full.folder / "setledger.duckdb").unlink()
    [said] = full.unload("exports/log.csv")
    assert "is taken back, but the database waits: exports/log-b.csv" in said
    assert full.unload("exports/log-b.csv") == []
    assert full.clients() == {"ines": 5, "kofi": 3}
    full.rebuild()
    assert full.clients() == {"ines": 5, "kofi": 3}
    assert third.exists()


def test_one_bad_source_never_stops_the_others(full: Room) -> None:
    """The mapping of the bad one changes as well, so that it would be read anew."""
    path = full.folder / "exports/log.csv"
    flip(full.kept(path))
    path.unlink()
    mapping = full.folder / "mappings/log.toml"
    mapping.write_text(mapping.read_text() + "# again\n")
    full.export(lines_of("Kofi", range(10, 20)), lines_of("Ines", range(10, 13)), name="other.csv")
    outcome = full.load()
    assert [each.path for each in outcome.loads] == ["exports/other.csv"]
    assert any("exports/log.csv (load 1)" in each for each in outcome.problems)
    assert full.clients() == {"ines": 7, "kofi": 14}


def test_a_bad_copy_is_overwritten_when_its_content_is_kept_again(full: Room) -> None:
    path = full.folder / "exports/log.csv"
    kept = full.kept(path)
    kept.write_bytes(b"")
    store.keep_content(full.store, path.read_bytes())
    assert store.read_content(full.store, kept.stem) == path.read_bytes()


def test_check_verifies_every_kept_version(full: Room) -> None:
    from pipeline.checks import store as checks

    workspace = find_workspace(full.folder)
    assert list(checks.kept(workspace)) == []
    for name in ("log", "other"):
        flip(full.kept(full.folder / f"exports/{name}.csv"))
    (full.folder / "exports/log.csv").unlink()
    lost, mended = checks.kept(workspace)
    assert (lost.severity, lost.where) == ("wrong", "exports/log.csv (load 1)")
    assert (mended.severity, mended.where) == ("open", "exports/other.csv (load 2)")
    assert [each.where for each in checks.kept(workspace)] == ["exports/log.csv (load 1)"]


# Forgetting beside damage


@pytest.mark.slow
def test_forgetting_one_client_loses_no_line_of_another(full: Room) -> None:
    """A bit of each kept export is turned; their files are there, so all is mended."""
    for name in ("log", "other"):
        flip(full.kept(full.folder / f"exports/{name}.csv"))
    full.forget("ines")
    assert full.clients() == {"kofi": 7}
    full.rebuild()
    assert full.clients() == {"kofi": 7}


def test_forgetting_is_refused_before_anything_is_touched(full: Room) -> None:
    path = full.folder / "exports/log.csv"
    flip(full.kept(path))
    path.unlink()
    (full.folder / "out/ines").mkdir(parents=True)
    (full.folder / "out/ines/latest.html").write_text("page")
    before = {each: each.read_bytes() for each in full.folder.rglob("*") if each.is_file()}
    with pytest.raises(KeptVersionError, match=r"exports/log\.csv"):
        full.forget("ines")
    after = {each: each.read_bytes() for each in full.folder.rglob("*") if each.is_file()}
    assert {each: after.get(each) for each in before} == before


def test_what_was_not_read_is_never_passed_over(full: Room) -> None:
    """An unreadable version that was taken back goes, but its content may come again."""
    path = full.folder / "exports/log.csv"
    content = path.read_bytes()
    flip(full.kept(path))
    path.unlink()
    full.unload("exports/log.csv")
    events = journal.read_journal(full.store)
    erased = erasure.prepare(find_workspace(full.folder), "ines", ("ines", "Ines"), events)
    assert erased.events[-1]["contents"] == []
    assert store.digest(content) not in json.dumps(erased.events)


# The journal


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (altered(2), "line 2 is altered"),
        (without_line(2), "line 2 is missing"),
        (swapped, "stands in the wrong place"),
        (cut_lines, "ends after 4 lines, but the database knows of 5"),
        (cut, "but the database knows of 5"),
        (remove, "is gone: it holds 0 lines, but the database knows of 5"),
    ],
)
def test_damage_to_the_journal_stops_every_command_that_writes(
    full: Room, damage: Damage, words: str
) -> None:
    damage(full.journal)
    files = [full.journal] if full.journal.exists() else []
    files.append(full.folder / "setledger.duckdb")
    before = [path.read_bytes() for path in files]
    for command in (full.load, full.rebuild, lambda: full.unload("1"), lambda: full.forget("ines")):
        with pytest.raises(DamageError, match=words) as told:
            command()
        assert "rebuild --salvage" in str(told.value)
        assert told.value.exit_code == 2
    assert [path.read_bytes() for path in files] == before


def test_every_bit_of_a_journal_line_counts(full: Room) -> None:
    """One flipped bit at every byte of the last line is seen: by its digest, or by its lost end."""
    whole = full.journal.read_bytes()
    seen = look_into(full.folder / "setledger.duckdb")
    start = whole.rfind(b"\n", 0, -1) + 1
    for at in range(start, len(whole)):
        flip(full.journal, at, bit=at % 8)
        assert look(full.store, seen).faults, at
        full.journal.write_bytes(whole)
    assert look(full.store, seen).faults == []


@pytest.mark.slow
@pytest.mark.parametrize("damage", [altered(3), without_line(3), cut_lines, remove])
def test_salvage_brings_back_what_exports_and_sound_lines_hold(full: Room, damage: Damage) -> None:
    before = full.clients()
    whole = full.journal.read_bytes()
    damage(full.journal)
    damaged = full.journal.read_bytes() if full.journal.exists() else None
    said = full.salvage()
    assert full.clients() == before
    assert "loads.jsonl" in said[0]
    assert full.load().problems == []
    if damaged is not None:
        assert (full.store / "loads.jsonl.damaged-1").read_bytes() == damaged
    assert whole != full.journal.read_bytes()
    with pytest.raises(UsageError, match="nothing to salvage"):
        full.salvage()


@pytest.mark.slow
def test_salvage_names_what_is_lost_and_loads_no_version_that_no_line_names(full: Room) -> None:
    path = full.folder / "exports/other.csv"
    kept = full.kept(path)
    path.unlink()
    line = next(
        number for number, event in enumerate(journal.read_journal(full.store), start=1)
        if event.get("path") == "exports/other.csv"
    )  # fmt: skip
    altered(line)(full.journal)
    said = " ".join(full.salvage())
    assert f"line {line} is altered" in said
    assert f"{kept.name}: no sound line of the journal names this kept version" in said
    assert full.clients() == {"ines": 4, "kofi": 4}


@pytest.mark.slow
@pytest.mark.parametrize("damage", [remove, cut_lines])
def test_a_lost_journal_brings_no_forgotten_client_back(full: Room, damage: Damage) -> None:
    full.forget("ines")
    damage(full.journal)
    (full.folder / "setledger.duckdb").unlink()
    with pytest.raises(DamageError, match="does not know of all who were forgotten"):
        full.load()
    full.salvage()
    assert full.clients() == {"kofi": 7}
    full.load()
    assert full.clients() == {"kofi": 7}


@pytest.mark.slow
@pytest.mark.parametrize("damage", EACH)
def test_the_file_of_tombstones_is_made_again(full: Room, damage: Damage) -> None:
    full.forget("ines")
    path = full.store / journal.TOMBSTONES
    whole = path.read_bytes()
    damage(path)
    [said] = full.load().problems
    assert said.startswith(".setledger/forgotten.jsonl was")
    assert path.read_bytes() == whole
    assert full.load().problems == []


def test_the_note_on_the_format_is_made_again(full: Room) -> None:
    for damage in EACH:
        damage(full.store / "format")
        full.export(
            lines_of("Ines", range(1, 5)), lines_of("Kofi", range(1, 6 + EACH.index(damage)))
        )
        full.load()
        assert journal.format_of(full.store) == 2


# What was mailed


@pytest.mark.parametrize("damage", [altered(2), without_line(2), cut_lines, cut, remove])
def test_damage_to_the_sent_log_stops_sending_and_nothing_else(full: Room, damage: Damage) -> None:
    from datetime import date

    from pipeline.mail.send import SendRequest

    log = mailed(full)
    damage(log.path)
    workspace = find_workspace(full.folder)
    with pytest.raises(DamageError, match="none is sent until you say so"):
        runs.send(workspace, SendRequest(date(2026, 5, 31)))
    [said] = full.load().problems
    assert ".setledger/mails.jsonl" in said
    assert len(full.load().problems) == 1, "the database still remembers what was mailed"


@pytest.mark.slow
def test_after_a_salvage_every_month_up_to_now_counts_as_mailed(full: Room) -> None:
    log = mailed(full)
    remove(log.path)
    said = " ".join(full.salvage())
    assert "every mail up to 2026-05 counts as sent" in said
    log = SentLog.of(full.store)
    assert log.faults == []
    assert [entry.state for entry in log.entries].count("sent") == 2
    for client in ("ines", "kofi", "wren", None):
        assert log.was_sent(client, "2026-05")
        assert not log.was_sent(client, "2026-06")
    assert full.load().problems == []


# A workspace of the first version of the tool


@pytest.fixture
def first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    """Made by that version: a client forgotten beside a damaged kept export, a mail sent."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(DAY + 5 * 86400))
    shutil.copytree(Path(__file__).parents[1] / "data/workspace_v1", tmp_path / "v1")
    made = Room.__new__(Room)
    made.folder = tmp_path / "v1"
    return made


def test_a_workspace_of_version_one_is_taken_over_without_loss(first: Room) -> None:
    """two.csv was passed over by that version, for its kept copy was damaged: it comes back."""
    outcome = first.load()
    assert outcome.problems == []
    assert first.clients() == {"ines": 18, "kofi": 16}
    assert journal.format_of(first.store) == 2
    assert "taken_over" in first.events()
    log = SentLog.of(first.store)
    assert [entry.state for entry in log.entries] == ["sending", "sent"]
    assert log.was_sent("ines", "2026-05")
    for path in (first.journal, log.path):
        assert all(json_lines.read(path).digests)
    first.rebuild()
    assert first.clients() == {"ines": 18, "kofi": 16}
    assert first.load().loads == []


def test_after_the_take_over_a_line_without_digest_is_damage(first: Room) -> None:
    first.load()
    with first.journal.open("ab") as file:
        file.write(b'{"event": "unload", "load_id": 1}\n')
    with pytest.raises(DamageError, match="is altered"):
        first.load()
    (first.store / "format").unlink()
    with pytest.raises(DamageError, match="is altered"):
        first.load()


@pytest.mark.parametrize("command", ["query", "report", "send"])
def test_before_the_first_build_a_command_names_it(first: Room, command: str) -> None:
    """Over the tables of version one, and over a ledger of today without a review."""
    words = {
        "query": ["query", "from review.run"],
        "report": ["report"],
        "send": ["send", "--dry-run"],
    }[command]
    config = first.folder / "setledger.toml"
    mail = '[mail]\nhost = "localhost"\nfrom = "room@example.org"\nsecurity = "none"\n'
    if "[mail]" not in (text := config.read_text(encoding="utf-8")):
        config.write_text(f"{text}\n{mail}", encoding="utf-8")
    with duckdb.connect(str(first.folder / "setledger.duckdb")) as con:
        con.execute("create schema ledger")
        con.execute("create table ledger.meta as select 1 as schema_version")
    old = run_setledger(*words, cwd=first.folder)
    assert (old.returncode, "run `setledger build` first" in old.stderr) == (2, True), old.stderr
    (first.folder / "setledger.duckdb").unlink()
    first.load()
    new = run_setledger(*words, cwd=first.folder)
    assert (new.returncode, "run `setledger build` first" in new.stderr) == (2, True), new.stderr


def test_a_journal_of_version_one_that_was_cut_is_not_taken_over(first: Room) -> None:
    with duckdb.connect(str(first.folder / "setledger.duckdb")) as con:
        con.execute("create schema ledger")
        con.execute(
            "create table ledger.meta as select 1 as schema_version, '0.1.0' as tool_version,"
            " 6 as events_applied, null as inputs_digest"
        )
        con.execute(
            "create table ledger.mails (client_id varchar, period varchar, message_id varchar,"
            " recipient varchar, state varchar, at_moment timestamp, detail varchar)"
        )
    whole = first.journal.read_bytes()
    cut_lines(first.journal)
    with pytest.raises(DamageError, match="ends after 5 lines, but the database knows of 6"):
        first.load()
    first.journal.write_bytes(whole)
    first.load()
    assert first.clients() == {"ines": 18, "kofi": 16}


@pytest.mark.parametrize("step", ["rewrite_journal", "note_format", "keep_tombstones"])
def test_a_take_over_that_is_killed_is_finished(
    first: Room, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(journal, step, _killed)
        with pytest.raises(Killed):
            first.load()
    assert first.load().problems == []
    assert first.clients() == {"ines": 18, "kofi": 16}


def _killed(*_given: Any, **_named: Any) -> None:
    raise Killed


# The database


def test_a_database_that_is_none_is_made_again_and_said(full: Room) -> None:
    before = full.clients()
    (full.folder / "setledger.duckdb").write_bytes(b"no database")
    [said] = full.load().problems
    assert said.startswith("setledger.duckdb is no database that can be read")
    assert full.clients() == before
    assert full.load().problems == []


@pytest.mark.slow
def test_a_run_makes_a_database_with_a_damaged_block_again(full: Room) -> None:
    workspace = find_workspace(full.folder)
    runs.run(workspace)
    database = full.folder / "setledger.duckdb"
    for at in range(1, 8):  # some blocks are free, and some damage only shows to a later reader
        flip(database, database.stat().st_size * at // 8)
    full.export(lines_of("Kofi", range(1, 9)), lines_of("Ines", range(1, 5)))
    problems = runs.run(workspace).problems
    assert any("made again from what was read" in each for each in problems)
    assert full.clients() == {"ines": 7, "kofi": 11}
    assert runs.run(workspace).problems == []


def test_a_database_of_a_newer_tool_is_left_alone(full: Room) -> None:
    with duckdb.connect(str(full.folder / "setledger.duckdb")) as con:
        con.execute("update ledger.meta set schema_version = 99, tool_version = '9.0'")
    with pytest.raises(UsageError, match=r"made by a newer setledger \(9.0\); update this one"):
        full.load()


def test_a_stray_wal_is_cleared_and_said(full: Room) -> None:
    """Left by a session of another program that was killed; it fits no database."""
    wal = full.folder / "setledger.duckdb.wal"
    wal.write_bytes(b"left behind")
    [said] = full.load().notes
    assert said.startswith("setledger.duckdb.wal: left behind by another program")
    assert not wal.exists()
    assert full.clients() == {"ines": 7, "kofi": 7}


HOLD = """
import duckdb, sys
con = duckdb.connect(sys.argv[1])
print("held", flush=True)
sys.stdin.read()
"""


@contextlib.contextmanager
def held(path: Path) -> Iterator[None]:
    """Another program has the database open for writing."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout is not None and other.stdin is not None
        assert other.stdout.readline() == b"held\n"
        try:
            yield
        finally:
            other.stdin.close()
            other.wait()


def test_a_database_that_another_program_holds_does_not_stop_a_run(full: Room) -> None:
    from pipeline.ledger.connection import opened

    database = full.folder / "setledger.duckdb"
    with held(database):
        with pytest.raises(BusyError, match="another program holds it open for writing"):
            opened(database).__enter__()
        full.export(lines_of("Kofi", range(1, 9)), lines_of("Ines", range(1, 5)))
        [said] = full.load().problems
        assert "is held open for writing by another program" in said
        assert full.clients() == {"ines": 7, "kofi": 11}
    assert full.load().problems == []


# Leftovers


def test_leftovers_of_killed_writes_are_swept_and_said(full: Room) -> None:
    (full.folder / "out/ines").mkdir(parents=True)
    left = [".setledger/.loads.jsonl.new", ".setledger/exports/.x.zst.new",
            "out/ines/.latest.html.new", ".run-log.jsonl.new"]  # fmt: skip
    for name in left:
        (full.folder / name).write_text("half")
    young = full.folder / "mappings/.log.toml.new"
    young.write_text("another command is at work")
    notes = full.load().notes
    assert sorted(each.split(":")[0] for each in notes) == sorted(left)
    assert [name for name in left if (full.folder / name).exists()] == []
    assert young.exists()
    os.utime(young, (0, 0))
    full.load()
    assert not young.exists()


# Unfinished exports


@pytest.mark.parametrize("end", [-1, -4, -40])
def test_the_beginning_of_the_version_before_is_held(room: Room, end: int) -> None:
    """98.12 kg becomes 98.1 where the cut is inside the number; a whole line may be gone, too."""
    path = room.export(lines_of("Ines", range(1, 20), 98.12))
    path.write_text(path.read_text().replace(",8\n", ",12\n"))
    room.load()
    whole = path.read_bytes()
    path.write_bytes(whole[: end - 1])
    [result] = room.load().loads
    assert result.state == "held"
    assert "as in a copy that was not finished" in str(result.held_because)
    assert room.clients() == {"ines": 19}
    path.write_bytes(whole)
    assert room.load().problems == []


def test_a_lost_line_end_alone_is_no_unfinished_copy(room: Room) -> None:
    path = room.export(lines_of("Ines", range(1, 20)))
    room.load()
    path.write_bytes(path.read_bytes()[:-1])
    assert room.load().problems == []


def test_a_file_that_changes_while_it_is_read_is_passed_over(
    full: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pipeline.reading import export_files

    inode = full.export(lines_of("Ines", range(1, 20))).stat().st_ino
    stamps = iter(range(1000))
    monkeypatch.setattr(
        export_files, "_stamp", lambda found: (next(stamps) if found.st_ino == inode else 0, 0)
    )
    monkeypatch.setattr(export_files, "_PAUSES", (0.0, 0.0))
    outcome = full.load()
    assert "exports/log.csv: changes while it is read" in outcome.problems[0]
    assert full.clients() == {"ines": 7, "kofi": 7}


# Clocks


def test_lines_beyond_tomorrow_are_read_once_their_day_has_come(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A machine that booted with a clock of 2020 loses nothing; nor does one that goes back."""
    config = room.folder / "setledger.toml"  # a pinned day that has not come would be refused
    config.write_text(config.read_text().replace("as_of = 2026-06-30\n", ""), encoding="utf-8")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1577836800")  # 2020-01-01
    room.export(lines_of("Ines", range(1, 5)), ["Ines,2062-05-01,back squat,60,8"])
    room.load()
    assert room.clients() == {}
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(DAY))
    [result] = room.load().loads
    assert (result.sets_loaded, result.lines_set_aside) == (4, 1)
    assert room.clients() == {"ines": 4}
    assert room.load().loads == []
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1577836800")
    assert room.load().loads == []
    assert room.clients() == {"ines": 4}
    room.rebuild()
    assert room.clients() == {"ines": 4}


# Reading and diagnosing


@pytest.mark.parametrize("damage", [altered(4), cut, remove])
def test_check_and_loads_always_read_and_diagnose(full: Room, damage: Damage) -> None:
    from click.testing import CliRunner

    from pipeline.cli import cli

    damage(full.journal)
    for words in (("check",), ("loads",)):
        done = CliRunner().invoke(cli, [*words, "-w", str(full.folder)])
        assert done.exit_code == 1, (words, done.output, done.exception)
        assert ".setledger/loads.jsonl" in done.output, words


def test_loads_reads_the_journal_where_the_database_cannot_be_read(full: Room) -> None:
    import io

    from pipeline.review.versions import list_versions

    (full.folder / "setledger.duckdb").write_bytes(b"no database")
    to = io.StringIO()
    [said] = list_versions(find_workspace(full.folder), "json", to)
    assert "cannot be read as a database" in said
    told = [(each["load_id"], each["path"], each["state"]) for each in json.loads(to.getvalue())]
    assert told == [(1, "exports/log.csv", "loaded"), (2, "exports/other.csv", "loaded")]


# Traces of a forgotten client


def test_error_texts_in_the_log_name_no_forgotten_client(full: Room) -> None:
    log = full.folder / "run-log.jsonl"
    lines = [
        {"kind": "run", "error": "exports/ines-may.csv: cannot be read.", "problems": []},
        {"kind": "run", "error": "exports/kofi.csv: cannot be read.", "problems": []},
    ]
    log.write_text("".join(json.dumps(line) + "\n" for line in lines))
    removal = forgetting.Removal("ines", ("ines", "Ines"))
    forgetting._clean_logs(find_workspace(full.folder), removal)
    told = [json.loads(line)["error"] for line in log.read_text().splitlines()]
    assert told == ["a sentence that named a forgotten client", "exports/kofi.csv: cannot be read."]


@pytest.mark.parametrize("by_client", [False, True])
def test_exported_tables_inside_the_workspace_are_named(full: Room, by_client: bool) -> None:
    from pipeline.review.export import export_tables

    folder = full.folder / "tables/june"
    folder.parent.mkdir()
    export_tables(full.folder / "setledger.duckdb", folder, "csv", by_client=by_client)
    removal = forgetting.plan(find_workspace(full.folder), "ines")
    assert "tables/june (exported tables)" in removal.left

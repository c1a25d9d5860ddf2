"""Pipes, broken links, names of ours, days that have not come, no SQL: a plain sentence each."""

from __future__ import annotations

import os
import re
import signal
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest
from click.testing import CliRunner, Result

from pipeline.cli import cli
from pipeline.errors import SetledgerError

CONFIG = """\
[workspace]
name = "Odd"
as_of = 2026-06-30

[[sources]]
files = "exports/*.csv"
mapping = "mappings/log.toml"

[[clients]]
id = "ines"
"""
MAPPING = """\
name = "log"
[columns]
client = "who"
performed_on = "day"
exercise = "lift"
load = "load"
reps = "reps"
[formats]
load_unit = "kg"
"""
EXPORT = "who,day,lift,load,reps\n" + "".join(
    f"ines,2026-06-{day:02d},bench press,{load},8\n"
    for day in range(1, 21)
    for load in (60, 65, 70)
)


@pytest.fixture
def room(tmp_path: Path) -> Path:
    """A workspace that nothing has run in."""
    (tmp_path / "exports").mkdir()
    (tmp_path / "mappings").mkdir()
    (tmp_path / "setledger.toml").write_text(CONFIG)
    (tmp_path / "mappings" / "log.toml").write_text(MAPPING)
    (tmp_path / "exports" / "log.csv").write_text(EXPORT)
    return tmp_path


@pytest.fixture(autouse=True)
def time_limit() -> Iterator[None]:
    """Reading a pipe would never end."""

    def stop(*_: object) -> None:
        raise TimeoutError("this does not end")

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(120)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


def run(folder: Path, *words: str) -> tuple[int, str]:
    """Exit code, and everything said: as `main` says it, which runs below click's own runner."""
    done: Result = CliRunner().invoke(cli, [*words, "-w", str(folder)])
    if isinstance(done.exception, SetledgerError):
        return done.exception.exit_code, str(done.exception)
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done.exit_code, done.output


def put(folder: Path, name: str, kind: str) -> None:
    """A pipe, or a link that leads to itself or nowhere, in the place of a file."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.unlink(missing_ok=True)
    if kind == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to(path.name if kind == "loop" else "gone")


@pytest.mark.parametrize("kind", ["pipe", "loop", "nowhere"])
@pytest.mark.parametrize(
    "name",
    [
        "exercises.csv",
        "bodyweight.csv",
        "corrections.csv",
        "run-log.jsonl",
        "setledger.duckdb",
        "mappings/log.toml",
        "notes",
        "models",
        "out",
        ".setledger/lock",
        ".setledger/loads.jsonl",
        ".setledger/mails.jsonl",
        ".setledger/exports",
    ],
)
def test_a_pipe_or_a_broken_link_in_the_place_of_a_file_is_named(
    room: Path, name: str, kind: str
) -> None:
    put(room, name, kind)
    for command in ("run", "check"):
        code, said = run(room, command)
        assert code in (1, 2), said
        assert name in said
        assert re.search("pipe|link|folder|does not exist", said), said


@pytest.mark.parametrize("kind", ["pipe", "loop"])
def test_a_pipe_or_a_loop_among_exports_stops_no_other_file(room: Path, kind: str) -> None:
    put(room, "exports/odd.csv", kind)
    code, said = run(room, "run")
    assert code == 1
    assert "exports/odd.csv" in said
    assert (room / "out" / "ines" / "latest.html").exists()
    code, said = run(room, "check")
    assert code == 1
    assert "exports/odd.csv" in said


@pytest.mark.parametrize("name", ["out/index.html", "out/ines/latest.html"])
@pytest.mark.parametrize("kind", ["pipe", "loop"])
def test_a_page_takes_the_place_of_a_pipe_or_a_loop(room: Path, name: str, kind: str) -> None:
    put(room, name, kind)
    assert run(room, "run")[0] == 0
    assert (room / name).read_text(encoding="utf-8").startswith("<!doctype html>")


def test_an_id_that_is_a_folder_of_ours_is_refused(room: Path) -> None:
    (room / "setledger.toml").write_text(CONFIG.replace('"ines"', '"mail"'))
    code, said = run(room, "run")
    assert code == 2
    assert said.startswith("setledger.toml:10: [[clients]] id: 'mail' is the name of a folder")
    assert not (room / "setledger.duckdb").exists()


def test_such_a_spelling_in_data_is_set_aside_until_an_alias_says(room: Path) -> None:
    (room / "exports" / "log.csv").write_text(f"{EXPORT}Mail,2026-06-21,row,50,8\n")
    assert run(room, "run")[0] == 0
    with duckdb.connect(str(room / "setledger.duckdb"), read_only=True) as con:
        [(line, reason, told)] = con.execute(
            "select source_line, reason, explanation from ledger.set_aside"
        ).fetchall()
    assert (line, reason) == (62, "client_ambiguous")
    assert told.startswith("'Mail' gives the id 'mail', which is the name of a folder of ours")
    assert sorted(path.name for path in (room / "out").iterdir() if path.is_dir()) == ["ines"]

    (room / "setledger.toml").write_text(f'{CONFIG}\n[[clients]]\nid = "m"\naliases = ["Mail"]\n')
    assert run(room, "run")[0] == 0
    with duckdb.connect(str(room / "setledger.duckdb"), read_only=True) as con:
        found = con.execute(
            "select distinct client_id from ledger.current_sets order by all"
        ).fetchall()
    assert found == [("ines",), ("m",)]


@pytest.mark.parametrize(
    ("day", "why"),
    [
        ("9999-12-31", "lies after tomorrow"),
        ("2199-01-01", "lies after tomorrow"),
        ("0001-01-01", "lies before 1950"),
    ],
)
def test_an_as_of_day_that_cannot_be_is_refused_in_settings(room: Path, day: str, why: str) -> None:
    (room / "setledger.toml").write_text(CONFIG.replace("2026-06-30", day))
    for command in ("run", "check"):
        code, said = run(room, command)
        assert code == 2
        assert said == (
            f"setledger.toml:3: [workspace] as_of: {day} {why}; write a day that has come."
        )


@pytest.mark.parametrize(
    ("words", "key"),
    [
        (("run", "--as-of", "9999-12-31"), "--as-of"),
        (("build", "--as-of", "9999-12-31"), "--as-of"),
        (("report", "--as-of", "9999-12-31"), "--as-of"),
        (("report", "--month", "9999-12"), "--month"),
        (("send", "--dry-run", "--month", "9999-12"), "--month"),
        (("run", "--as-of", "0001-01-01"), "--as-of"),
        (("report", "--month", "0001-01"), "--month"),
        (("whatif", "--client", "ines", "--as-of", "9999-12-31"), "--as-of"),
    ],
    ids=lambda each: " ".join(each) if isinstance(each, tuple) else each,
)
def test_a_day_after_tomorrow_is_refused_on_the_command_line(
    room: Path, words: tuple[str, ...], key: str
) -> None:
    code, said = run(room, *words)
    assert code == 2
    assert said.startswith(f"{key}: ")
    assert re.search("lies (after tomorrow|before 1950)", said)


@pytest.mark.parametrize("sql", ["", "  ", ";", "/* nothing */"])
def test_a_query_without_sql_is_told_so(room: Path, sql: str) -> None:
    assert run(room, "run")[0] == 0
    code, said = run(room, "query", sql)
    assert code == 2
    assert said.startswith("There is no SQL to answer; write it in quotes")

"""The demo as a user runs it, what it leaves behind, and that the database can be made again."""

from __future__ import annotations

import re
import shutil
import stat
from pathlib import Path
from typing import Any

import duckdb
import pytest

CLIENTS = ("ines", "kofi", "matthis", "odalys", "petra", "sunniva", "wren")


def rows_of(database: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Every table and view of the interface, sorted; meta only without moments."""
    with duckdb.connect(str(database), read_only=True) as con:
        tables = con.execute(
            "select table_schema || '.' || table_name from information_schema.tables"
            " where table_schema in ('ledger', 'review') order by all"
        ).fetchall()
        return {
            name: con.execute(f"select * from {name} order by all").fetchall() for (name,) in tables
        }


def test_the_demo_says_where_the_roster_is(installed: Any, demo: Path, tmp_path: Path) -> None:
    copy = tmp_path / "harbour-lane"
    shutil.copytree(demo, copy)
    done = installed("demo", "harbour-lane", cwd=tmp_path)
    assert done.returncode == 0
    assert f"Roster: {copy.resolve()}/out/index.html" in done.stdout
    assert done.stderr == ""


@pytest.mark.parametrize("client", CLIENTS)
def test_every_client_has_a_page_that_the_roster_links(demo: Path, client: str) -> None:
    roster = (demo / "out" / "index.html").read_text(encoding="utf-8")
    assert f'href="{client}/latest.html"' in roster
    page = (demo / "out" / client / "latest.html").read_text(encoding="utf-8")
    assert "<svg" in page
    assert len(page) < 500_000


def test_pages_ask_nothing_of_the_network(demo: Path) -> None:
    for path in (demo / "out").rglob("*.html"):
        html = path.read_text(encoding="utf-8")
        # names of namespaces and the sources of figures are text; nothing is fetched
        fetched = re.findall(r'(?:src|srcset|xlink:href|action)\s*=\s*"[^"]*', html)
        assert fetched == []
        assert re.findall(r'<link[^>]+href="http|url\(\s*[\'"]?http|@import', html) == []


def test_lines_read_are_lines_loaded_and_lines_set_aside(demo: Path) -> None:
    with duckdb.connect(str(demo / "setledger.duckdb"), read_only=True) as con:
        loads = con.execute(
            "select load_id, lines_read, lines_loaded, lines_set_aside from ledger.loads"
        ).fetchall()
        aside = dict(
            con.execute("select load_id, count(*) from ledger.set_aside group by all").fetchall()
        )
    assert len(loads) == 6
    for load_id, read, loaded, set_aside in loads:
        assert read == loaded + set_aside
        assert aside.get(load_id, 0) == set_aside


def test_every_physical_line_of_an_export_is_accounted_for(demo: Path) -> None:
    """Plain line count of the file against the ledger's figures, quoted line breaks apart."""
    with duckdb.connect(str(demo / "setledger.duckdb"), read_only=True) as con:
        read, skipped, sets = con.execute(
            "select lines_read, lines_skipped, sets_loaded from ledger.loads"
            " where path = 'exports/wide-petra.csv'"
        ).fetchall()[0]
    physical = (demo / "exports" / "wide-petra.csv").read_bytes().count(b"\n")
    assert read + skipped == physical
    assert sets > read


def test_nothing_is_readable_by_others(demo: Path) -> None:
    for path in [*(demo / "out").rglob("*"), demo / "setledger.duckdb", demo / ".setledger"]:
        assert stat.S_IMODE(path.stat().st_mode) & 0o077 == 0, path


def test_a_second_run_changes_nothing_and_says_nothing(
    setledger: Any, demo: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(demo, copy)
    before = {path: path.stat().st_mtime_ns for path in (copy / "out").rglob("*.html")}
    database = (copy / "setledger.duckdb").read_bytes()
    done = setledger("run", "-w", str(copy), cwd=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert (copy / "setledger.duckdb").read_bytes() == database
    assert {path: path.stat().st_mtime_ns for path in (copy / "out").rglob("*.html")} == before


@pytest.mark.slow
def test_two_builds_are_equal_to_the_last_bit(installed: Any, demo: Path, tmp_path: Path) -> None:
    done = installed("demo", "second", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    first, second = (
        rows_of(demo / "setledger.duckdb"),
        rows_of(tmp_path / "second/setledger.duckdb"),
    )
    assert first.keys() == second.keys()
    for name in first:
        if name.startswith("review."):
            assert first[name] == second[name], name


def test_rebuild_gives_equal_tables(setledger: Any, demo: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(demo, copy)
    before = rows_of(copy / "setledger.duckdb")
    (copy / "setledger.duckdb").unlink()
    done = setledger("rebuild", "-w", str(copy), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    after = rows_of(copy / "setledger.duckdb")
    assert before.keys() == after.keys()
    for name in before:
        assert before[name] == after[name], name


def test_a_wrong_workspace_is_one_sentence_and_exit_code_2(installed: Any, tmp_path: Path) -> None:
    done = installed("run", cwd=tmp_path)
    assert done.returncode == 2
    assert "there is no setledger.toml here" in done.stderr
    assert "Traceback" not in done.stderr


def test_an_unknown_key_names_the_nearest(setledger: Any, tmp_path: Path) -> None:
    setledger("init", "own", cwd=tmp_path)
    config = tmp_path / "own" / "setledger.toml"
    config.write_text('[workspace]\nnam = "x"\n', encoding="utf-8")
    done = setledger("run", "-w", "own", cwd=tmp_path)
    assert done.returncode == 2
    assert "setledger.toml:2: [workspace] nam: this key is unknown; did you mean 'name'?" in (
        done.stderr
    )


def test_help_of_every_command_has_a_sentence_and_an_example(
    setledger: Any, tmp_path: Path
) -> None:
    listing = setledger("--help", cwd=tmp_path).stdout
    commands = re.findall(r"^  ([a-z-]+)  ", listing.split("Commands:")[1], re.MULTILINE)
    assert "demo" in commands
    for command in commands:
        assert "Example: setledger " in setledger(command, "--help", cwd=tmp_path).stdout, command

"""The reference of the tables, made from the comments; the script of one's own measure."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import duckdb

from pipeline.ledger.replay import opened_work
from pipeline.resources import resource
from pipeline.review.reference import reference
from pipeline.settings.workspace_file import find_workspace


def test_the_reference_has_every_table_and_column_in_both_forms(demo: Path, setledger: Any) -> None:
    with duckdb.connect(str(demo / "setledger.duckdb"), read_only=True) as con:
        columns = con.execute(
            "select schema_name || '.' || table_name, column_name from duckdb_columns()"
            " where schema_name in ('ledger', 'review', 'own')"
        ).fetchall()
    text = setledger("describe", "--format", "md", cwd=demo).stdout
    page = setledger("describe", "--format", "html", cwd=demo).stdout
    for table in {table for table, _ in columns}:
        assert f"\n## {table}\n" in text
        assert f'<h2 id="{table}">' in page
    assert len(re.findall(r"^\| (?!---|Column)", text, re.MULTILINE)) == len(columns)
    assert page.count("<tr><td>") == len(columns)
    assert "| e1rm\\_epley | double | kg |" in text
    assert "<td>e1rm_epley</td><td>double</td><td>kg</td>" in page
    one = setledger("describe", "muscle_day", "--format", "md", cwd=demo).stdout
    assert re.findall(r"^## (.+)", one, re.MULTILINE) == ["review.muscle_day"]
    assert setledger("describe", "muscle_dy", "--format", "md", cwd=demo).returncode == 2


def test_no_comment_is_markup() -> None:
    with duckdb.connect() as con:
        con.execute("create schema own; create table own.odd (n integer)")
        con.execute("comment on table own.odd is '<script>1</script> a|b'")
        con.execute("comment on column own.odd.n is '[x](http://e) | *'")
        assert "<script>" not in reference(con, "html") + reference(con, "md")
        assert "| n | integer | x | (http://e) \\| \\* |" in reference(con, "md")


def test_the_sample_script_draws_its_chart_while_a_run_works_on_its_copy(
    demo: Path, tmp_path: Path
) -> None:
    script = resource("sample_exports") / "own_measure.py"
    club = tmp_path / "club"
    shutil.copytree(demo, club)
    with opened_work(find_workspace(club)) as work:  # what a run holds: the lock and its copy
        work.con.execute("delete from review.lift_session")
        done = subprocess.run(
            [sys.executable, str(script), str(club), "kofi"],
            cwd=tmp_path, capture_output=True, text=True, env=dict(os.environ),
        )  # fmt: skip
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "own_measure.html").read_text(encoding="utf-8")
    assert "share of hard sets" in page
    assert page.count('"largest_share": ') > 50

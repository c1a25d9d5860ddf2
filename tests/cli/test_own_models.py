"""models/*.sql from file to table: built by `build`, found by describe, query and export."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from pipeline.resources import resource

PULLS = ("seated cable row", "barbell row", "lat pulldown")
PRESSES = ("incline barbell press", "bench press")

pytestmark = pytest.mark.usefixtures("without_contract")


@pytest.fixture
def club(demo: Path, tmp_path: Path) -> Path:
    """The demo, to be changed."""
    folder = tmp_path / "club"
    shutil.copytree(demo, folder)
    (folder / "models").mkdir()
    return folder


def example() -> str:
    """The model that sql/README.md shows."""
    text = (resource("sql") / "README.md").read_text(encoding="utf-8")
    [found] = re.findall(r"```sql\n(.*?)```", text, re.DOTALL)
    return str(found)


def test_the_example_of_the_docs_is_built_described_queried_and_exported(
    club: Path, setledger: Any
) -> None:
    (club / "models" / "pull_push.sql").write_text(example(), encoding="utf-8")
    done = setledger("build", cwd=club)
    assert (done.returncode, done.stderr) == (0, "")
    told = setledger("describe", "pull_push", cwd=club).stdout
    assert re.search(r"^pulls_per_press\s+.+\(double\)$", told, re.MULTILINE)
    assert "own.pull_push" in setledger("describe", cwd=club).stdout
    answer = setledger("query", "from own.pull_push where client_id = 'ines'", "--json", cwd=club)
    [ines] = json.loads(answer.stdout)
    # by hand: hard sets from the sets themselves, the lifts told apart by what they are
    counted = setledger(
        "query",
        "select exercise, count(*) as sets from review.graded_sets"
        " where client_id = 'ines' and is_hard and performed_on > date '2026-08-28' - 28"
        " group by all",
        "--json",
        cwd=club,
    )
    sets = {row["exercise"]: row["sets"] for row in json.loads(counted.stdout)}
    assert ines["pull_sets"] == sum(sets[each] for each in PULLS)
    assert ines["press_sets"] == sum(sets[each] for each in PRESSES)
    for form in ("csv", "parquet"):
        assert setledger("export", "tables", "--format", form, cwd=club).returncode == 0
        assert (club / "tables" / f"own.pull_push.{form}").stat().st_size > 0


def test_a_changed_model_is_noticed_and_a_broken_one_is_said_until_it_is_mended(
    club: Path, setledger: Any
) -> None:
    model = club / "models" / "mine.sql"

    def build(sql: str | None = None) -> Any:
        if sql is not None:
            model.write_text(sql, encoding="utf-8")
        return setledger("build", "-v", cwd=club)

    def ask() -> Any:
        return setledger("query", "from own.mine", "--json", cwd=club)

    first = build("select 1 as n")
    assert first.returncode == 0
    assert "own.mine" in first.stdout
    assert "review." not in first.stdout, "nothing else changed, so nothing else is built"
    assert json.loads(ask().stdout) == [{"n": 1}]
    assert build().stdout == "No change.\n"
    assert build("select 2 as n").returncode == 0
    assert json.loads(ask().stdout) == [{"n": 2}]
    for done in (build("select 2 as n,\n  nope"), build(), setledger("run", cwd=club)):
        assert done.returncode == 1
        assert done.stderr.startswith("models/mine.sql:2: ")
        assert ask().returncode == 2, "the table of before is not there"
    assert setledger("query", "from review.run", cwd=club).returncode == 0
    assert build("select 3 as n").returncode == 0
    assert json.loads(ask().stdout) == [{"n": 3}]
    model.unlink()
    assert build().returncode == 0
    assert ask().returncode == 2


def test_an_export_of_own_columns_holds_no_formula_and_no_name_steers_it(
    club: Path, setledger: Any
) -> None:
    (club / "models" / "odd.sql").write_text(
        'select \'=1+1\' as client_id, 7 as """, (select 1) as """', encoding="utf-8"
    )
    assert setledger("build", cwd=club).returncode == 0
    assert setledger("export", "tables", "--format", "csv", cwd=club).returncode == 0
    lines = (club / "tables" / "own.odd.csv").read_text(encoding="utf-8").splitlines()
    assert lines == ['client_id,""", (select 1) as """', "'=1+1,7"]

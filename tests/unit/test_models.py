"""Models are found, ordered by what they read, and described by their headers."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pytest

from pipeline.errors import ModelError
from pipeline.ledger.sql_headers import read_header
from pipeline.review.model_files import find_models, tables_read


def write(folder: Path, place: str, name: str, sql: str) -> None:
    (folder / place).mkdir(parents=True, exist_ok=True)
    (folder / place / f"{name}.sql").write_text(sql, encoding="utf-8")


def test_a_model_comes_after_those_it_reads_whatever_their_names(tmp_path: Path) -> None:
    write(tmp_path, "review", "aaa", "-- A row.\n-- grain: n\n-- n: n\nselect n from int_zzz")
    write(tmp_path, "intermediate", "int_zzz", "select n from stg_mmm")
    write(tmp_path, "staging", "stg_mmm", "with x as (select 1 as n) select n from x")
    assert [model.name for model in find_models(tmp_path)] == ["stg_mmm", "int_zzz", "aaa"]


def test_a_circle_is_named(tmp_path: Path) -> None:
    write(tmp_path, "staging", "stg_a", "select n from stg_b")
    write(tmp_path, "staging", "stg_b", "select n from stg_a")
    with pytest.raises(ModelError, match="stg_a → stg_b"):
        find_models(tmp_path)


def test_names_of_ctes_are_no_tables() -> None:
    sql = "with a as (from ledger.sets), b as (select * from a join stg_x using (k)) from b"
    assert tables_read(sql, duckdb.connect()) == {"ledger.sets", "stg_x"}


def test_a_file_with_two_statements_is_refused(tmp_path: Path) -> None:
    write(tmp_path, "staging", "stg_a", "select 1; select nonsense from")
    with pytest.raises(ModelError, match=r"sql/staging/stg_a\.sql"):
        find_models(tmp_path)


def test_a_header_gives_sentences_grain_and_columns_also_over_two_lines() -> None:
    meaning, keyed = read_header(
        "-- One row a day.\n-- Why.\n-- grain: day\n-- day: the\n-- day\nx"
    )
    assert meaning == "One row a day. Why."
    assert keyed == {"grain": "day", "day": "the day"}

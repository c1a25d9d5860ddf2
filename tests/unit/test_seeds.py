"""The tables of sql/seeds: each is explained beside them, and the words of cells are sound."""

from __future__ import annotations

import csv

import pytest

from pipeline.resources import resource
from pipeline.settings.mapping import LEDGER_WORDS
from pipeline.settings.words import word

SEEDS = resource("sql") / "seeds"


def test_every_table_has_its_line_in_the_readme_and_no_other_has() -> None:
    lines = (SEEDS / "README.md").read_text(encoding="utf-8").splitlines()
    explained = {line.split("`")[1] for line in lines if line.startswith("| `") and ".csv`" in line}
    assert explained == {path.name for path in SEEDS.glob("*.csv")}


@pytest.mark.parametrize("field", ["set_kind", "side", "load_basis", "load_unit", "to_failure"])
def test_words_of_cells_lead_to_every_value_of_the_ledger_and_none_to_two(field: str) -> None:
    with (SEEDS / "value_words.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["field"] == field]
    assert {row["means"] for row in rows} == set(LEDGER_WORDS[field])
    words = [each for row in rows for each in row["words"].split("|")]
    assert len(words) == len(set(words))
    assert [each for each in words if word(each) != each] == []

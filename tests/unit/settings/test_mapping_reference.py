"""The reference of mapping files in sample_exports/README.md names what the code knows."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest

from pipeline.reading.noted_sets import NotedSet
from pipeline.reading.set_notation import parse
from pipeline.settings.mapping import (
    CARRIED_FIELDS,
    FIELDS,
    LEDGER_WORDS,
    PER_SET_FIELDS,
    SETS_COLUMN,
    VALUE_FIELDS,
    Rows,
)
from pipeline.settings.mapping_file import KEYS, parse_mapping

README = Path(__file__).parents[3] / "sample_exports" / "README.md"
TEXT = README.read_text(encoding="utf-8").split("\n## Mapping files\n")[1]
CODE = re.compile(r"`([^`]+)`")


def first_cells(head: str) -> list[str]:
    """The code in the first column of the table with this heading."""
    rows = TEXT.split(f"| {head} | ")[1].split("\n\n")[0].splitlines()[2:]
    return [CODE.findall(row.split("|")[1])[0] for row in rows]


def named_after(words: str) -> list[str]:
    """The code from some words to the end of their sentence."""
    return CODE.findall(TEXT.split(words)[1].split(".\n")[0])


def test_every_key_has_its_line_and_no_other_has() -> None:
    known = {f"[{section}] {key}" for section, keys in KEYS.items() for key in keys}
    assert set(first_cells("key")) == known | {"name"}


def test_every_field_has_its_line_and_no_other_has() -> None:
    assert sorted(first_cells("field")) == sorted((*FIELDS, SETS_COLUMN))


def test_the_fields_that_values_may_translate_are_those_of_the_code() -> None:
    assert named_after("It may\nstand for") == list(VALUE_FIELDS)


def test_the_fields_of_numbered_columns_and_of_carried_cells_are_those_of_the_code() -> None:
    assert named_after("`{n}` may stand in") == list(PER_SET_FIELDS)
    carried = next(row for row in TEXT.splitlines() if row.startswith("| `[layout] carried`"))
    assert tuple(CODE.findall(carried)[1:]) == CARRIED_FIELDS


@pytest.mark.parametrize("field", ["set_kind", "load_basis"])
def test_the_words_of_the_ledger_are_all_named(field: str) -> None:
    row = next(row for row in TEXT.splitlines() if row.startswith(f"| `{field}`"))
    assert [word for word in LEDGER_WORDS[field] if not re.search(rf"\b{word}\b", row)] == []


def test_every_layout_is_explained() -> None:
    layouts = re.findall(r'(?m)^`rows = "(\w+)"`', TEXT)
    assert layouts == ["sets", "exercises", "wide", "days"]
    assert layouts == list(get_args(Rows))


@pytest.mark.parametrize("block", re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL))
def test_each_example_is_a_mapping(block: str) -> None:
    assert parse_mapping(block, "log.toml").name


CELLS = {
    "80x8, 75x10": (NotedSet(80, 8), NotedSet(75, 10)),
    "80x8,8,7": (NotedSet(80, 8), NotedSet(80, 8), NotedSet(80, 7)),
    "3x8@80": (NotedSet(80, 8),) * 3,
    "3x8x80kg": (NotedSet(80, 8, "kg"),) * 3,
    "8 x 80kg": (NotedSet(80, 8, "kg"),),
    "8,8,7 @ 80kg": (NotedSet(80, 8, "kg"), NotedSet(80, 8, "kg"), NotedSet(80, 7, "kg")),
    "80kg: 8 8 7": (NotedSet(80, 8, "kg"), NotedSet(80, 8, "kg"), NotedSet(80, 7, "kg")),
    "80x8@1": (NotedSet(80, 8, rir=1),),
    "80x8 rpe 9": (NotedSet(80, 8, rpe=9),),
    "80x8 F": (NotedSet(80, 8, to_failure=True),),
    "80x8+3": (NotedSet(80, 8, partial_reps=3),),
    "80x8 > 60x6": (NotedSet(80, 8), NotedSet(60, 6, kind="extension")),
    "w 40x10": (NotedSet(40, 10, kind="warmup"),),
    "bw x 12": (NotedSet(None, 12),),
    "+20x5": (NotedSet(20, 5, basis="added"),),
    "-15x8": (NotedSet(15, 8, basis="assisted"),),
}


def test_each_way_to_write_sets_reads_as_the_reference_says() -> None:
    assert first_cells("cell") == list(CELLS)
    assert {cell: parse(cell) for cell in CELLS} == CELLS


ROWS = [codes for row in TEXT.splitlines() if (codes := CODE.findall(row.split(" | ")[0]))]


@pytest.mark.parametrize("ways", [each for each in ROWS if each[0] in CELLS and len(each) > 1])
def test_ways_to_write_sets_that_stand_in_one_row_read_alike(ways: list[str]) -> None:
    assert [parse(each) for each in ways] == [CELLS[ways[0]]] * len(ways)

"""What drafting writes down: lines to choose from, carried cells, counted and listed sets."""

from __future__ import annotations

from datetime import date

import polars as pl
import pytest

from pipeline.errors import ConfigError, OpenKeyError
from pipeline.names.clients import ClientIndex
from pipeline.reading.export import read_export
from pipeline.reading.normalise import Normalised, normalise
from pipeline.settings.mapping_file import parse_mapping
from pipeline.settings.rules import Rules

COLUMNS = '[columns]\nperformed_on = "Date"\nexercise = "Lift"\n'
CHOICE = '[formats]\n# column \'kg\' says nothing\n#? load_unit = "kg"\n#? load_unit = "lb"\n'


def loaded(mapping: str, text: str) -> Normalised:
    parsed = parse_mapping(mapping, "m.toml")
    export = read_export(text.encode(), parsed.file, "log.csv", tuple(parsed.columns.values()))
    return normalise(export, parsed, 1, ClientIndex(), date(2026, 6, 30), Rules())


def sets(found: Normalised) -> list[tuple[float | None, int]]:
    return found.sets.select("load_kg", "reps").rows()


def aside(found: Normalised) -> list[tuple[int, str]]:
    return found.set_aside.select(pl.col("source_line"), "reason").rows()


def test_an_open_group_names_line_section_readings_and_comment() -> None:
    with pytest.raises(OpenKeyError) as refused:
        parse_mapping(COLUMNS + 'reps = "n"\n' + CHOICE, "m.toml")
    assert str(refused.value) == (
        'm.toml:7: [formats] load_unit = "kg" or load_unit = "lb" is still to be chosen '
        "(column 'kg' says nothing). Take the \"#?\" away before the line that is right."
    )


@pytest.mark.parametrize(
    "choice",
    [
        CHOICE.replace('#? load_unit = "lb"', 'load_unit = "lb"'),
        CHOICE.replace("#? ", "", 1),
        '[formats]\nload_unit = "kg"\n\n' + CHOICE.removeprefix("[formats]\n"),
        "",
    ],
)
def test_a_chosen_or_deleted_group_is_settled(choice: str) -> None:
    parse_mapping(COLUMNS + 'reps = "n"\n' + choice, "m.toml")


def test_two_keys_for_one_column_are_settled_by_either() -> None:
    group = '#? rir = "E"\n#? rpe = "E"\n'
    with pytest.raises(OpenKeyError):
        parse_mapping(COLUMNS + 'reps = "n"\n\n' + group, "m.toml")
    settled = group.replace("#? rpe", "rpe")
    assert parse_mapping(COLUMNS + 'reps = "n"\n\n' + settled, "m.toml").columns["rpe"] == "E"


def test_a_line_may_stand_for_several_alike_sets() -> None:
    mapping = COLUMNS + 'reps = "n"\nload = "kg"\nset_count = "sets"\n[formats]\nload_unit = "kg"\n'
    text = "Date,Lift,sets,n,kg\n2026-03-02,squat,3,5,100\n2026-03-02,squat,,8,80\n"
    found = loaded(mapping, text + "2026-03-02,squat,many,8,80\n2026-03-02,squat,0,8,80\n")
    assert sets(found) == [(100.0, 5)] * 3 + [(80.0, 8)]
    assert aside(found) == [(4, "set_count_wrong"), (5, "set_count_wrong")]
    assert found.sets["set_id"].n_unique() == 4


LISTED = '[layout]\nrows = "exercises"\n' + COLUMNS + 'sets = "reps"\nload = "kg"\n'


def test_reps_listed_beside_a_load_are_sets_of_that_load() -> None:
    text = (
        "Date,Lift,reps,kg\n"
        '2026-03-02,squat,"8, 8, 7",80\n'
        "2026-03-02,squat,3x5,100\n"
        "2026-03-02,pull-up,9/8,bw\n"
        "2026-03-02,squat,8-10,80\n"
        "2026-03-02,squat,some,80\n"
    )
    found = loaded(LISTED + '[formats]\nload_unit = "kg"\n', text)
    assert sets(found) == [
        *[(80.0, 8), (80.0, 8), (80.0, 7)],
        *[(100.0, 5)] * 3,
        *[(None, 9), (None, 8)],
    ]
    assert aside(found) == [(5, "sets_unreadable"), (6, "sets_unreadable")]


def test_numbered_cells_with_lists_are_read_one_after_the_other() -> None:
    mapping = '[layout]\nrows = "exercises"\n' + COLUMNS + 'sets = "Set {n}"\n'
    text = "Date,Lift,Set 2,Set 1,Set 3\n2026-03-02,squat,90kgx5,80kgx8,\n"
    assert sets(loaded(mapping, text)) == [(80.0, 8), (90.0, 5)]


def test_a_value_translated_to_nothing_is_an_empty_cell() -> None:
    mapping = COLUMNS + (
        'reps = "n"\nload = "kg"\nrir = "left"\n[formats]\nload_unit = "kg"\n'
        '[values.rir]\n"-" = ""\n[values.load]\nPDC = "bw"\n'
    )
    text = "Date,Lift,n,kg,left\n2026-03-02,squat,5,100,-\n2026-03-02,pull-up,8,PDC,2\n"
    found = loaded(mapping, text)
    assert found.sets.select("load_kg", "rir").rows() == [(100.0, None), (None, 2.0)]
    assert not found.lines_set_aside


@pytest.mark.parametrize(
    ("layout", "said"),
    [
        ('carried = "performed_on"', "must be a list"),
        ('carried = ["reps"]', "carried names 'reps'"),
        ('carried = ["client"]', "carried names 'client'"),
    ],
)
def test_a_wrong_list_of_carried_fields_is_an_error(layout: str, said: str) -> None:
    with pytest.raises(ConfigError, match=said):
        parse_mapping(f"[layout]\n{layout}\n{COLUMNS}" + 'reps = "n"\n', "m.toml")

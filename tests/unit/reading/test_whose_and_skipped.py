"""Whose rows without a client column are, rows that are no sets, and holds."""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.errors import ConfigError
from pipeline.names.clients import ClientIndex
from pipeline.reading.export import read_export
from pipeline.reading.holds import is_hold
from pipeline.reading.normalise import Normalised, normalise
from pipeline.settings.mapping_file import parse_mapping
from pipeline.settings.rules import Rules

MAPPING = """
[layout]
{layout}
[columns]
performed_on = "Tag"
exercise = "Lift"
load = "Kilo"
reps = "Wdh"
[formats]
load_unit = "kg"
{more}
"""
ROW = "2026-03-02;Row;60;8\n"


def read(
    csv: str,
    more: str = "",
    layout: str = "",
    path: str = "exports/log.csv",
    clients: ClientIndex | None = None,
) -> Normalised:
    mapping = parse_mapping(MAPPING.format(layout=layout, more=more), "log.toml")
    export = read_export(csv.encode(), mapping.file, path, mapping.column_names)
    index = clients or ClientIndex()
    return normalise(export, mapping, 1, index, date(2026, 9, 1), Rules())


def whose(found: Normalised) -> list[str]:
    return found.sets["client_id"].unique().sort().to_list()


BY_NAME = "[client]\nfile_name = true\n"


def test_a_file_name_names_the_client_as_it_is_written() -> None:
    found = read("Tag;Lift;Kilo;Wdh\n" + ROW, BY_NAME, path="exports/Jürgen Groß März 2026.csv")
    assert whose(found) == ["jurgen-gross"]
    assert found.spellings == {"jurgen-gross": "Jürgen Groß"}


def test_a_listed_spelling_of_a_file_name_is_that_client() -> None:
    index = ClientIndex.of([("jg", "J. G.", ("jürgen groß",)), ("mara", "Mara", ())])
    path = "exports/Jürgen Groß 3.csv"
    assert whose(read("Tag;Lift;Kilo;Wdh\n" + ROW, BY_NAME, path=path, clients=index)) == ["jg"]


@pytest.mark.parametrize("only", [True, False])
def test_a_mapping_without_the_key_reads_as_it_always_did(only: bool) -> None:
    index = ClientIndex.of([("ines", "Ines", ())] if only else [])
    found = read("Tag;Lift;Kilo;Wdh\n" + ROW, path="exports/mara.csv", clients=index)
    assert whose(found) == ["ines" if only else "lifter"]


def test_a_name_that_leaves_nothing_is_the_only_client_or_the_lifter() -> None:
    index = ClientIndex.of([("ines", "Ines", ())])
    csv = "Tag;Lift;Kilo;Wdh\n" + ROW
    assert whose(read(csv, BY_NAME, path="exports/2026-03.csv", clients=index)) == ["ines"]
    assert whose(read(csv, BY_NAME, path="exports/2026-03.csv")) == ["lifter"]


def test_the_mapping_may_say_whose_the_nameless_files_are() -> None:
    index = ClientIndex.of([("ines", "Ines", ()), ("mara", "Mara", ())])
    more = BY_NAME + 'without = ["harbour"]\notherwise = "mara"\n'
    csv = "Tag;Lift;Kilo;Wdh\n" + ROW
    assert whose(read(csv, more, path="exports/harbour-03.csv", clients=index)) == ["mara"]
    assert whose(read(csv, more, path="exports/tom-harbour-03.csv", clients=index)) == ["tom"]


def test_a_hyphen_in_a_later_file_name_is_the_known_client() -> None:
    index = ClientIndex.of([], {"mara-lind": "Mara Lind"})
    csv = "Tag;Lift;Kilo;Wdh\n" + ROW
    found = read(csv, BY_NAME, path="exports/mara-lind-04.csv", clients=index)
    assert (whose(found), found.lines_set_aside) == (["mara-lind"], 0)


@pytest.mark.parametrize("line", ["Athlet: Mara Lind", "Athlet;Mara Lind;;", "# athlet:;Mara Lind"])
def test_a_line_above_the_header_wins_over_the_file_name(line: str) -> None:
    csv = f"{line}\n\nTag;Lift;Kilo;Wdh\n{ROW}"
    found = read(csv, '[client]\nlabel = "Athlet"\nfile_name = true\n', path="exports/x.csv")
    assert found.spellings == {"mara-lind": "Mara Lind"}


def test_a_file_without_that_line_goes_by_its_name() -> None:
    more = '[client]\nlabel = "Athlet"\nfile_name = true\n'
    assert whose(read("Tag;Lift;Kilo;Wdh\n" + ROW, more, path="exports/tomas.csv")) == ["tomas"]


@pytest.mark.parametrize(
    "more",
    [
        '[client]\nfile_name = true\n[constants]\nclient = "ines"\n',
        '[client]\nwithout = ["x"]\n',
        '[client]\nfile_name = "yes"\n',
        "[client]\nfilename = true\n",
    ],
)
def test_a_contradiction_is_refused(more: str) -> None:
    with pytest.raises(ConfigError):
        read("Tag;Lift;Kilo;Wdh\n" + ROW, more)


SKIPS = 'skip = ["Summe", "Tag", "Woche", "---"]'


@pytest.mark.parametrize(
    "row",
    [
        "Summe;;3600;45",
        "SUMME:;;;",
        ";Summe;1.200;24",
        "Tag;Lift;Kilo;Wdh",
        "Woche 12;;;",
        "-----;;;",
    ],
)
def test_a_row_whose_day_or_exercise_is_a_skipped_word_counts_as_skipped(row: str) -> None:
    csv = "Tag;Lift;Kilo;Wdh\n" + ROW + row + "\n" + ROW
    found = read(csv, layout=SKIPS)
    assert (found.lines_read, found.lines_loaded, found.lines_set_aside) == (2, 2, 0)
    assert found.lines_skipped == 2
    assert found.sets["source_line"].to_list() == [2, 4]
    assert read(csv).lines_set_aside == 1


def test_a_skipped_row_does_not_carry_its_day() -> None:
    csv = "Tag;Lift;Kilo;Wdh\n2026-03-02;Row;60;8\nSumme;;480;8\n;Curl;10;12\n"
    found = read(csv, layout=SKIPS + '\ncarried = ["performed_on"]')
    assert found.sets["performed_on"].to_list() == [date(2026, 3, 2)] * 2


def test_only_the_whole_cell_is_compared() -> None:
    csv = "Tag;Lift;Kilo;Wdh\n2026-03-02;Summe row;60;8\n"
    assert read(csv, layout=SKIPS).sets.height == 1


HOLDS = [
    "3x45s",
    "4 x 20m",
    "30 sec",
    "45s, 45s, 30s",
    "1:30",
    "24kg x 20m",
    "3x30s @ 10kg",
    "2×40 Sek.",
]
COUNTS = ["8", "3x8", "8, 8, 7", "80x8", "12 reps", "bw x 8", "3x8@80", "20 kg", "", "8-10"]


def test_times_and_distances_are_holds_and_repetitions_are_not() -> None:
    assert [each for each in HOLDS if not is_hold(each)] == []
    assert [each for each in COUNTS if is_hold(each)] == []


@pytest.mark.parametrize("cell", HOLDS)
def test_a_hold_under_reps_is_set_aside_as_no_repetitions(cell: str) -> None:
    found = read(f'Tag;Lift;Kilo;Wdh\n{ROW}2026-03-02;Plank;;"{cell}"\n')
    assert found.set_aside["reason"].to_list() == ["no_repetitions"]
    assert "no repetitions" in found.set_aside["explanation"][0]
    assert found.sets.height == 1


LISTED = """
[layout]
rows = "{rows}"
[columns]
performed_on = "Tag"
{columns}
[formats]
load_unit = "kg"
"""


def read_lists(rows: str, columns: str, csv: str) -> Normalised:
    mapping = parse_mapping(LISTED.format(rows=rows, columns=columns), "log.toml")
    export = read_export(csv.encode(), mapping.file, "exports/log.csv", mapping.column_names)
    return normalise(export, mapping, 1, ClientIndex(), date(2026, 9, 1), Rules())


def test_a_hold_in_a_cell_of_sets_is_set_aside_as_no_repetitions() -> None:
    columns = 'exercise = "Lift"\nsets = "Was"\n'
    csv = "Tag;Lift;Was\n2026-03-02;Row;60x8, 60x8\n2026-03-02;Plank;3x45s\n"
    found = read_lists("exercises", columns, csv)
    assert found.set_aside["reason"].to_list() == ["no_repetitions"]
    assert found.sets.height == 2


def test_a_hold_beside_sets_of_a_day_does_not_cost_the_day() -> None:
    csv = "Tag;Row;Plank\n2026-03-02;60x8, 60x8;3x45s\n2026-03-04;;3x50s\n"
    found = read_lists("days", 'sets = "{exercise}"\n', csv)
    assert found.sets["exercise_raw"].to_list() == ["Row", "Row"]
    assert found.set_aside.select("source_line", "reason").rows() == [(3, "no_repetitions")]

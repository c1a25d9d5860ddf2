"""Tables as people make them: exercises or sides as columns, days in parts or without a year."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from pipeline.drafting.draft import Draft
from pipeline.drafting.steps import draft_export
from pipeline.errors import ConfigError, ExportError
from pipeline.names.clients import ClientIndex
from pipeline.names.exercises_file import load_catalogue
from pipeline.reading.dates import Moment, read_by_format, with_years
from pipeline.reading.export import read_export
from pipeline.reading.normalise import Normalised, normalise
from pipeline.settings.mapping_file import parse_mapping
from pipeline.settings.rules import Rules

TOMORROW = date(2026, 9, 1)
CATALOGUE = load_catalogue()


def load(csv: str, mapping: str) -> Normalised:
    read = parse_mapping(mapping, "log.toml")
    export = read_export(csv.encode(), read.file, "log.csv", read.column_names)
    result = normalise(export, read, 7, ClientIndex(), TOMORROW, Rules())
    assert result.lines_read == result.lines_loaded + result.lines_set_aside
    return result


def rows(result: Normalised, *columns: str) -> list[tuple[object, ...]]:
    return result.sets.select(columns).rows()


def drafted(csv: str, name: str = "theirs.csv") -> Draft:
    return draft_export(csv.encode(), name, CATALOGUE, Rules(), TOMORROW)


def keyed(found: Draft, section: str) -> dict[str, object]:
    return {guess.key: guess.value for guess in found.guesses if guess.section == section}


# Exercises as columns

DAYS = (
    'name = "log"\n[layout]\nrows = "days"\nskip_columns = ["Mood"]\n'
    '[columns]\nperformed_on = "Date"\nsets = "{exercise}"\n[formats]\nload_unit = "kg"\n'
)


def test_each_column_but_the_named_ones_is_an_exercise() -> None:
    result = load(
        "Date,Back Squat,Mood,Pier lunge\n"
        '2026-03-02,"100x5, 100x4",good,20x12\n'
        "2026-03-04,,tired,20x10\n",
        DAYS,
    )
    assert rows(result, "set_id", "exercise_raw", "load_kg", "reps", "day_order") == [
        ("7:2:1", "Back Squat", 100.0, 5, 1),
        ("7:2:2", "Back Squat", 100.0, 4, 2),
        ("7:2:3", "Pier lunge", 20.0, 12, 3),
        ("7:3:1", "Pier lunge", 20.0, 10, 1),
    ]


def test_a_day_with_one_cell_that_is_no_list_is_set_aside_whole() -> None:
    result = load("Date,Back Squat,Bench Press\n2026-03-02,100x5,sore\n2026-03-04,,\n", DAYS)
    assert result.set_aside.select("source_line", "reason", "explanation").rows() == [
        (2, "sets_unreadable", "'sore' under Bench Press: 'sore' is no set."),
        (3, "no_sets", "the line lists no set."),
    ]


def test_part_of_a_column_name_may_be_the_exercise_and_values_may_rename_it() -> None:
    result = load(
        "Date,Squat sets,Note\n2026-03-02,100x5,fine\n",
        'name = "log"\n[layout]\nrows = "days"\n[columns]\nperformed_on = "Date"\n'
        'sets = "{exercise} sets"\nnotes = "Note"\n[formats]\nload_unit = "kg"\n'
        '[values.exercise]\nSquat = "back squat"\n',
    )
    assert rows(result, "exercise_raw", "reps", "notes") == [("back squat", 5, "fine")]


def test_a_draft_of_a_table_of_days_skips_the_columns_without_sets() -> None:
    found = drafted(
        "Date,Back Squat,Bench Press,Mood\n"
        + "".join(f"2026-03-{day:02},100x5,82.5x{5 + day % 3},good\n" for day in range(2, 20))
    )
    assert found.rows == "days"
    assert keyed(found, "columns") == {"performed_on": "Date", "sets": "{exercise}"}
    assert keyed(found, "layout") == {"skip_columns": ["Mood"]}


def test_exercises_as_columns_of_single_numbers_are_not_guessed_at() -> None:
    with pytest.raises(ExportError, match=r"columns are exercises \('Back Squat', 'Bench Press'\)"):
        drafted("Date,Back Squat,Bench Press\n2026-03-02,100,80\n2026-03-04,102.5,82.5\n")


# Sides as columns


def test_a_column_for_each_side_gives_a_set_for_each_side() -> None:
    result = load(
        "Date,Lift,kg,Reps left,Reps right\n2026-03-02,Lunge,20,10,9\n2026-03-02,Lunge,20,8,\n",
        'name = "log"\n[layout]\nrows = "wide"\n[columns]\nperformed_on = "Date"\n'
        'exercise = "Lift"\nload = "kg"\nreps = "Reps {side}"\n[formats]\nload_unit = "kg"\n',
    )
    assert rows(result, "set_id", "side", "load_kg", "reps") == [
        ("7:2:1", "left", 20.0, 10),
        ("7:2:2", "right", 20.0, 9),
        ("7:3:1", "left", 20.0, 8),
    ]


def test_a_draft_reads_reps_left_and_right_as_sides_and_not_as_reserve() -> None:
    found = drafted(
        "Date,Exercise,kg,Reps left,Reps right\n"
        + "".join(
            f"2026-03-{day:02},Bulgarian Split Squat,20,8,{7 + day % 2}\n" for day in range(2, 9)
        )
    )
    assert keyed(found, "columns")["reps"] == "Reps {side}"
    assert "rir" not in keyed(found, "columns")
    assert keyed(found, "values.side") == {"left": "left", "right": "right"}


def test_a_pattern_of_sides_needs_both() -> None:
    with pytest.raises(ConfigError, match=r"no two columns of that pattern, one a side"):
        load(
            "Date,Lift,Reps left\n2026-03-02,Lunge,10\n",
            'name = "log"\n[layout]\nrows = "wide"\n[columns]\nperformed_on = "Date"\n'
            'exercise = "Lift"\nreps = "Reps {side}"\n',
        )


# Days in parts, without a year, as numbers


def test_a_day_may_stand_in_several_columns() -> None:
    result = load(
        "Y,M,D,Lift,Reps\n2026,3,2,Row,8\n2026,2,30,Row,8\n2026,,2,Row,8\n",
        'name = "log"\n[columns]\nperformed_on = ["Y", "M", "D"]\nexercise = "Lift"\n'
        'reps = "Reps"\n[formats]\ndate = "%Y %m %d"\n',
    )
    assert rows(result, "performed_on", "reps") == [(date(2026, 3, 2), 8)]
    assert result.set_aside["reason"].to_list() == ["not_a_date", "no_date"]


def test_a_draft_joins_columns_of_year_month_and_day() -> None:
    found = drafted(
        "Jahr;Monat;Tag;Übung;kg;Wdh\n"
        + "".join(f"2026;{month};{5 * month};Kniebeuge;100;5\n" for month in range(1, 6))
    )
    assert keyed(found, "columns")["performed_on"] == ["Jahr", "Monat", "Tag"]
    assert keyed(found, "formats")["date"] == "%Y %m %d"


YEARLESS = (
    'name = "log"\n[columns]\nperformed_on = "Tag"\nexercise = "Lift"\nreps = "Reps"\n'
    '[formats]\ndate = "%d.%m."\nyear = 2025\n'
)


def test_a_year_begins_where_the_days_step_back_by_more_than_half_a_year() -> None:
    result = load(
        "Tag,Lift,Reps\n29.11.,Row,8\n30.12.,Row,8\n02.01.,Row,8\n31.04.,Row,8\n01.03.,Row,8\n",
        YEARLESS,
    )
    assert rows(result, "performed_on") == [
        (date(2025, 11, 29),),
        (date(2025, 12, 30),),
        (date(2026, 1, 2),),
        (date(2026, 3, 1),),
    ]
    assert result.set_aside.select("source_line", "reason").rows() == [(5, "not_a_date")]


def test_with_the_newest_day_first_the_years_go_down() -> None:
    days = [date(2000, 1, 2), None, date(2000, 12, 30), date(2000, 2, 29)]
    assert with_years(days, 2026) == [date(2026, 1, 2), None, date(2025, 12, 30), None]


def test_each_client_starts_in_the_year_of_the_first_line() -> None:
    mapping = YEARLESS.replace("[formats]", 'client = "Who"\n[formats]')
    result = load(
        "Who,Tag,Lift,Reps\nana,30.12.,Row,8\nana,02.01.,Row,8\nben,30.12.,Row,8\n", mapping
    )
    assert rows(result, "client_id", "performed_on") == [
        ("ana", date(2025, 12, 30)),
        ("ana", date(2026, 1, 2)),
        ("ben", date(2025, 12, 30)),
    ]


@pytest.mark.parametrize(
    ("head", "name", "year"),
    [("Log of 2025\n", "log.csv", 2025), ("", "log 2024.csv", 2024)],
)
def test_the_year_is_taken_from_a_line_above_or_from_the_file_name(
    head: str, name: str, year: int
) -> None:
    body = "Date,Exercise,kg,Reps\n" + "".join(
        f"{day}.03.,Bench Press,80,{5 + day % 4}\n" for day in range(13, 29)
    )
    found = drafted(head + body, name)
    assert keyed(found, "formats")["date"] == "%d.%m."
    assert keyed(found, "formats")["year"] == year
    assert not found.opens


def test_a_year_that_nothing_tells_is_left_open() -> None:
    found = drafted(
        "Date,Exercise,kg,Reps\n"
        + "".join(f"Mar {day},Bench Press,80,{5 + day % 4}\n" for day in range(3, 19))
    )
    assert [each.readings for each in found.opens] == [
        (("year", 2026), ("year", 2025), ("year", 2024))
    ]


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("36526", Moment(date(2000, 1, 1))),
        ("44197", Moment(date(2021, 1, 1))),
        ("44197.75", Moment(date(2021, 1, 1), datetime(2021, 1, 1, 18, 0))),
        ("44197,5", Moment(date(2021, 1, 1), datetime(2021, 1, 1, 12, 0))),
        ("12", None),
        ("nan", None),
        ("inf", None),
    ],
)
def test_day_numbers_of_spreadsheets(text: str, moment: Moment | None) -> None:
    """2000-01-01 is 36526 and 2021-01-01 is 44197 in the count from 1900 that spreadsheets use."""
    assert read_by_format(text, "serial") == moment


def test_a_draft_knows_day_numbers_by_their_header() -> None:
    found = drafted(
        "Date,Exercise,kg,Reps\n"
        + "".join(f"{46083 + 2 * n},Bench Press,80,{5 + n % 4}\n" for n in range(12))
    )
    assert keyed(found, "formats")["date"] == "serial"


# What is not read is said


@pytest.mark.parametrize(
    ("csv", "said"),
    [
        (
            "Exercise,Weight (kg),Reps\n2 March 2026,,\nBench Press,80,8\nBack Squat,100,5\n",
            "days stand in lines of their own, such as '2 March 2026'",
        ),
        (
            "Exercise,02.03.2026,04.03.2026\nBench Press,80x8,80x8\nBack Squat,100x5,100x5\n",
            r"the days are its columns \('02.03.2026', '04.03.2026'\)",
        ),
        ("Exercise,kg,Reps\nBench Press,80,8\nRow,60,9\n", "no column holds calendar days"),
    ],
)
def test_an_export_without_a_column_of_days_says_where_they_stand(csv: str, said: str) -> None:
    with pytest.raises(ExportError, match=said):
        drafted(csv)


def lines_of(*cells: str) -> str:
    """A log in which a column repeats some cells, a set a line."""
    return "".join(
        f"2026-03-{day:02},Bench Press,{cell},{60 + at * 2.5:g},{8 - at}\n"
        for day in range(2, 20, 2)
        for at, cell in enumerate(cells)
    )


def test_marks_among_set_numbers_tell_the_kind_of_each_set() -> None:
    found = drafted("Date,Exercise,Set,Load (kg),Reps\n" + lines_of("WU", "S1", "S2"))
    assert keyed(found, "columns")["set_no"] == keyed(found, "columns")["set_kind"] == "Set"
    assert keyed(found, "values.set_no") == {"WU": "", "S1": "1", "S2": "2"}
    assert keyed(found, "values.set_kind") == {"WU": "warmup", "S1": "work", "S2": "work"}


@pytest.mark.parametrize(
    ("header", "cells"),
    [("Effort", ("zig", "zag", "zog")), ("Side", ("north", "south", "east"))],
)
def test_a_column_that_is_called_like_a_field_is_never_lost_without_a_word(
    header: str, cells: tuple[str, ...]
) -> None:
    (doubt,) = drafted(f"Date,Exercise,{header},Load (kg),Reps\n" + lines_of(*cells)).doubts
    assert doubt.startswith(f"theirs.csv: column '{header}' is not read")
    assert cells[0] in doubt


def test_a_bare_bodyweight_is_in_the_unit_that_the_loads_name() -> None:
    found = drafted(
        "Date,Exercise,Weight,Reps,Bodyweight\n"
        + "".join(
            f"2026-03-{day:02},Bench Press,80 kg,{5 + day % 3},82.4\n" for day in range(2, 20)
        )
    )
    assert keyed(found, "formats")["bodyweight_unit"] == "kg"


COLUMNS = '[columns]\nperformed_on = "day"\nexercise = "lift"\nreps = "reps"\n'


@pytest.mark.parametrize(
    ("mapping", "said"),
    [
        (f"{COLUMNS}[formats]\nyear = 2026\n", r"\[formats\] year is for days"),
        (f'{COLUMNS}[formats]\ndate = "%d.%m.%Y"\nyear = 2026\n', r"\[formats\] year is for days"),
        (f'{COLUMNS}[formats]\ndate = "%d.%m."\nyear = "26"\n', r"\[formats\] year must be"),
        (f'{COLUMNS}[layout]\nskip_columns = ["x"]\n', 'needs rows = "days"'),
        (f'{COLUMNS}[layout]\nskip_columns = "x"\n', "skip_columns must be a list"),
        (COLUMNS.replace('"day"', '["y"]'), r"\[columns\] performed_on is a column, or a list"),
        (COLUMNS.replace('"day"', '["y", "m", "d"]'), r"\[formats\] date says how to read that"),
        (
            '[layout]\nrows = "wide"\n' + COLUMNS.replace('"reps"', '"reps {side}"')
            + 'load = "kg {n}"\n',
            "by {n} and by {side}",
        ),
        (
            '[layout]\nrows = "wide"\n' + COLUMNS.replace('"reps"', '"reps {side}"')
            + 'side = "s"\n',
            "'side' stands by itself",
        ),
        ('[layout]\nrows = "days"\n' + COLUMNS.replace("reps =", "sets ="), "'exercise' out"),
        (
            '[layout]\nrows = "days"\n[columns]\nperformed_on = "day"\nsets = "all"\n',
            'write sets = "{exercise}"',
        ),
    ],
)  # fmt: skip
def test_contradictions_are_refused_with_their_key(mapping: str, said: str) -> None:
    with pytest.raises(ConfigError, match=said):
        parse_mapping(mapping, "log.toml")


def test_a_date_format_without_a_year_asks_for_the_year() -> None:
    with pytest.raises(ConfigError, match="such as year = 2026"):
        load("day,lift,reps\n02.03.,Row,8\n", f'{COLUMNS}[formats]\ndate = "%d.%m."\n')

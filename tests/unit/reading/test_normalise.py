"""From records to sets: what each layout gives, and each reason for which a line is set aside."""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import Any

import duckdb
import polars as pl
import pytest

from pipeline.errors import ConfigError
from pipeline.names.clients import ClientIndex
from pipeline.reading.export import read_export
from pipeline.reading.normalise import SETS_SCHEMA, Normalised, normalise
from pipeline.reading.reasons import Reason
from pipeline.resources import resource
from pipeline.settings.mapping_file import parse_mapping
from pipeline.settings.rules import Rules

TOMORROW = date(2026, 9, 1)

FIELDS = {
    "day": "performed_on",
    "lift": "exercise",
    "kg": "load",
    "reps": "reps",
    "who": "client",
    "start": "started_at",
    "nth": "set_no",
    "side": "side",
    "rir": "rir",
    "rpe": "rpe",
    "fail": "to_failure",
    "part": "partial_reps",
    "kind": "set_kind",
    "unit": "load_unit",
    "basis": "load_basis",
    "note": "notes",
    "bw": "bodyweight",
    "sets": "sets",
    "kg{n}": "load",
    "reps{n}": "reps",
    "rir{n}": "rir",
}

BODYWEIGHTS_SCHEMA = {
    "client_id": pl.String(),
    "performed_on": pl.Date(),
    "bodyweight_kg": pl.Float64(),
    "source": pl.String(),
    "load_id": pl.Int32(),
    "source_line": pl.Int32(),
}


def load(
    csv: str,
    more: str = "",
    formats: str = 'load_unit = "kg"',
    clients: ClientIndex | None = None,
    period: tuple[date | None, date | None] = (None, None),
) -> Normalised:
    """What a CSV gives whose header names the fields above; `more` is further TOML."""
    header = csv.split("\n", 1)[0].split(",")
    rows = "sets"
    if "kg1" in header or "reps1" in header:
        rows = "wide"
        header = [name for name in header if not name[-1].isdigit()] + sorted(
            {name.rstrip("0123456789") + "{n}" for name in header if name[-1].isdigit()}
        )
    elif "sets" in header:
        rows = "exercises"
    columns = "\n".join(f'{FIELDS[name]} = "{name}"' for name in header if name in FIELDS)
    mapping = parse_mapping(
        f'name = "log"\n[layout]\nrows = "{rows}"\n[columns]\n{columns}\n'
        f"[formats]\n{formats}\n{more}",
        "log.toml",
    )
    export = read_export(csv.encode(), mapping.file, "log.csv", tuple(mapping.columns.values()))
    result = normalise(export, mapping, 7, clients or ClientIndex(), TOMORROW, Rules(), period)
    assert result.lines_read == result.lines_loaded + result.lines_set_aside
    assert result.lines_set_aside == result.set_aside.height
    given = result.sets["source_line"].n_unique() + result.lines_weighed
    assert given == result.lines_loaded, "a line left no trace"
    assert dict(result.sets.schema) == SETS_SCHEMA
    assert dict(result.bodyweights.schema) == BODYWEIGHTS_SCHEMA
    return result


def column(result: Normalised, name: str) -> list[Any]:
    return result.sets[name].to_list()


def reasons(result: Normalised) -> list[tuple[int, str]]:
    return list(result.set_aside.select("source_line", "reason").iter_rows())


# What a line gives


def test_a_row_a_set_fills_every_column_of_the_ledger() -> None:
    result = load(
        "day,lift,kg,reps,who,start,nth,side,rir,rpe,fail,part,kind,basis,note\n"
        "2026-08-31,Row,80,8,Ines,18:05,2,L,1.5,8.5,no,2,wu,per hand,easy\n"
    )
    assert result.sets.rows() == [
        (
            "7:2:1",
            "ines",
            date(2026, 8, 31),
            datetime(2026, 8, 31, 18, 5),
            "ines/2026-08-31",
            "Row",
            1,
            2,
            "left",
            80.0,
            "kg",
            "per_hand",
            8,
            2,
            1.5,
            8.5,
            False,
            "warmup",
            "easy",
            "log",
            7,
            2,
        )
    ]


def test_the_columns_are_those_of_ledger_sets() -> None:
    con = duckdb.connect()
    con.execute("create schema ledger")
    for table, schema in (("sets", SETS_SCHEMA), ("bodyweights", BODYWEIGHTS_SCHEMA)):
        con.execute((resource("sql") / "ledger" / f"{table}.sql").read_text(encoding="utf-8"))
        names = [row[0] for row in con.execute(f"describe ledger.{table}").fetchall()]
        assert [*schema, "replaced_by"] == names
        stored = con.sql(f"select * from ledger.{table}").pl().schema
        assert {name: stored[name] for name in schema} == dict(schema)


def test_only_day_exercise_and_reps_are_needed() -> None:
    result = load("day,lift,reps\n2026-08-31,Pull-up,12\n", formats="")
    row = result.sets.row(0, named=True)
    assert (row["client_id"], row["load_kg"], row["load_unit"], row["reps"]) == (
        "lifter",
        None,
        None,
        12,
    )
    assert (row["set_kind"], row["to_failure"], row["set_no"]) == ("work", None, None)


def test_wide_columns_give_a_set_for_each_group_that_is_not_empty() -> None:
    result = load(
        "day,lift,kg1,reps1,kg2,reps2,kg10,reps10,rir10\n"
        "2026-08-31,Row,80,8,,,75,10,1\n"
        "2026-08-31,Dip,,12,,,,,\n"
    )
    assert result.sets.select("set_id", "load_kg", "reps", "rir").rows() == [
        ("7:2:1", 80.0, 8, None),
        ("7:2:2", 75.0, 10, 1.0),
        ("7:3:1", None, 12, None),
    ]


def test_a_cell_of_sets_gives_its_sets() -> None:
    result = load(
        "day,lift,sets,note\n"
        '2026-08-31,Row,"w 40x10, 80x8@1 > 60x6, +20x5, -15x8",good\n'
        "2026-08-31,Squat,3x8@100,\n"
    )
    assert result.sets.select(
        "set_id", "load_kg", "reps", "rir", "set_kind", "load_basis", "day_order"
    ).rows() == [
        ("7:2:1", 40.0, 10, None, "warmup", None, 1),
        ("7:2:2", 80.0, 8, 1.0, "work", None, 2),
        ("7:2:3", 60.0, 6, None, "extension", None, 3),
        ("7:2:4", 20.0, 5, None, "work", "added", 4),
        ("7:2:5", 15.0, 8, None, "work", "assisted", 5),
        ("7:3:1", 100.0, 8, None, "work", None, 6),
        ("7:3:2", 100.0, 8, None, "work", None, 7),
        ("7:3:3", 100.0, 8, None, "work", None, 8),
    ]


def test_pounds_become_kilograms_exactly() -> None:
    """0.45359237 kg by the agreement of 1959 (NIST SP 811, appendix B)."""
    result = load("day,lift,kg,reps\n2026-08-31,Row,45,8\n2026-08-31,Row,225,8\n",
                  formats='load_unit = "lb"')  # fmt: skip
    assert column(result, "load_kg") == [20.41165665, 102.05828325]
    assert column(result, "load_unit") == ["lb", "lb"]


def test_the_unit_of_the_cell_wins_over_column_and_format() -> None:
    result = load(
        "day,lift,kg,reps,unit\n2026-08-31,Row,80 kg,8,lb\n2026-08-31,Row,100,8,lbs\n"
        "2026-08-31,Row,100,8,\n"
    )
    assert column(result, "load_kg") == [80.0, 45.359237, 100.0]


def test_bodyweight_in_the_load_column_is_no_load_and_a_plus_is_added_load() -> None:
    result = load("day,lift,kg,reps\n2026-08-31,Dip,BW,8\n2026-08-31,Dip,BW+20,8\n")
    assert result.sets.select("load_kg", "load_basis").rows() == [(None, None), (20.0, "added")]


def test_decimal_commas_are_found_for_the_whole_file() -> None:
    result = load('day,lift,kg,reps,rir\n2026-08-31,Row,"82,5",8,"1,5"\n2026-08-31,Row,80,8,2\n')
    assert (result.decimal, column(result, "load_kg")) == (",", [82.5, 80.0])
    assert column(result, "rir") == [1.5, 2.0]


def test_values_of_the_export_are_translated() -> None:
    result = load(
        "day,lift,kg,reps,kind,fail\n2026-08-31,BP,80,8,A,ok\n2026-08-31,BP,80,8,,gone\n",
        '[values.set_kind]\nA = "warmup"\n[values.exercise]\nBP = "Bench Press"\n'
        "[values.to_failure]\nok = false\ngone = true\n",
    )
    assert result.sets.select("exercise_raw", "set_kind", "to_failure").rows() == [
        ("Bench Press", "warmup", False),
        ("Bench Press", "work", True),
    ]


def test_a_blank_can_be_given_a_meaning() -> None:
    result = load("day,lift,kg,reps,kind\n2026-08-31,Row,40,8,\n",
                  '[values.set_kind]\n"" = "warmup"\n')  # fmt: skip
    assert column(result, "set_kind") == ["warmup"]


@pytest.mark.parametrize(
    ("text", "meaning"),
    [("true", True), ("Yes", True), ("1", True), ("x", True), ("ja", True), ("sim", True),
     ("false", False), ("no", False), ("0", False), ("", False), ("nein", False)],
)  # fmt: skip
def test_failure_is_read_in_words(text: str, meaning: bool) -> None:
    assert column(load(f"day,lift,kg,reps,fail\n2026-08-31,Row,80,8,{text}\n"), "to_failure") == [
        meaning
    ]


def test_constants_fill_what_the_export_lacks() -> None:
    result = load("lift,kg,reps\nRow,80,8\n",
                  '[constants]\nclient = "Kofi"\nperformed_on = "2026-08-31"\n')  # fmt: skip
    assert result.sets.select("client_id", "performed_on").rows() == [("kofi", date(2026, 8, 31))]


# Days and times


def test_a_moment_gives_day_and_start_as_written() -> None:
    result = load("day,lift,kg,reps\n2026-08-30T23:30:00-08:00,Row,80,8\n")
    assert result.sets.select("performed_on", "started_at").rows() == [
        (date(2026, 8, 30), datetime(2026, 8, 30, 23, 30))
    ]


@pytest.mark.parametrize(
    ("form", "text"),
    [
        ("%d.%m.%Y", "31.08.2026"),
        ("%d/%m/%y", "31/08/26"),
        ("%b %d %Y", "Aug 31 2026"),
        ("%Y-%m-%dT%H:%M:%S%z", "2026-08-31T23:00:00-0800"),
        ("%F", "2026-08-31"),
        ("epoch", "1788134400"),
        ("epoch_ms", "1788134400000"),
    ],
)
def test_a_format_reads_the_day(form: str, text: str) -> None:
    result = load(f"day,lift,kg,reps\n{text},Row,80,8\n",
                  formats=f'load_unit = "kg"\ndate = "{form}"')  # fmt: skip
    assert column(result, "performed_on") == [date(2026, 8, 31)]


def test_a_format_that_tells_no_day_is_an_error() -> None:
    with pytest.raises(ConfigError, match=r"\[formats\] date = '%d.%m.'"):
        load("day,lift,kg,reps\n31.08.,Row,80,8\n", formats='load_unit = "kg"\ndate = "%d.%m."')


def test_days_of_which_only_one_order_fits_need_no_format() -> None:
    result = load("day,lift,reps\n31/08/2026,Dip,8\n01/08/2026,Dip,8\n", formats="")
    assert column(result, "performed_on") == [date(2026, 8, 31), date(2026, 8, 1)]
    assert column(load("day,lift,reps\n08/31/2026,Dip,8\n", formats=""), "performed_on") == [
        date(2026, 8, 31)
    ]


@pytest.mark.parametrize("days", [("05/06/2026", "06/05/2026"), ("31/08/2026", "08/31/2026")])
def test_days_of_no_clear_order_name_the_open_key(days: tuple[str, str]) -> None:
    with pytest.raises(ConfigError, match=r"log\.toml: \[formats\] date is open: column 'day'"):
        load(f"day,lift,reps\n{days[0]},Dip,8\n{days[1]},Dip,8\n", formats="")


def test_a_stray_day_among_iso_days_is_set_aside() -> None:
    result = load(
        "day,lift,reps\n2026-08-29,Dip,8\n2026-08-30,Dip,8\n05/06/2026,Dip,8\n", formats=""
    )
    assert reasons(result) == [(4, "not_a_date")]


@pytest.mark.parametrize(
    ("start", "at"),
    [("18:05", (18, 5)), ("6:05 pm", (18, 5)), ("2026-08-31T18:05:00Z", (18, 5))],
)
def test_the_start_may_be_a_clock_time_or_a_moment(start: str, at: tuple[int, int]) -> None:
    result = load(f"day,lift,kg,reps,start\n2026-08-31,Row,80,8,{start}\n")
    assert column(result, "started_at") == [datetime(2026, 8, 31, *at)]


def test_a_format_reads_the_start() -> None:
    result = load("day,lift,kg,reps,start\n2026-08-31,Row,80,8,18-05\n",
                  formats='load_unit = "kg"\nstarted_at = "%H-%M"')  # fmt: skip
    assert column(result, "started_at") == [datetime(2026, 8, 31, 18, 5)]


# Order of the day


def orders(csv: str) -> list[tuple[int, int]]:
    return load(csv, formats="").sets.select("source_line", "day_order").rows()


def test_sets_stand_in_file_order() -> None:
    assert orders("day,lift,reps\n2026-08-30,a,1\n2026-08-31,b,1\n2026-08-30,c,1\n") == [
        (2, 1),
        (3, 1),
        (4, 2),
    ]


def test_start_times_come_before_file_order() -> None:
    assert orders(
        "day,lift,reps,start\n2026-08-30,a,1,18:10\n2026-08-30,b,1,\n2026-08-30,c,1,18:05\n"
    ) == [(2, 2), (3, 3), (4, 1)]


def test_a_file_of_descending_days_is_read_from_its_end() -> None:
    assert orders("day,lift,reps\n2026-08-31,a,1\n2026-08-31,b,1\n2026-08-30,c,1\n") == [
        (2, 2),
        (3, 1),
        (4, 1),
    ]


def test_descending_set_numbers_turn_the_day() -> None:
    assert orders("day,lift,reps,nth\n2026-08-31,a,1,3\n2026-08-31,a,1,2\n2026-08-31,a,1,1\n") == [
        (2, 3),
        (3, 2),
        (4, 1),
    ]


def test_ascending_set_numbers_say_more_than_descending_days() -> None:
    assert orders("day,lift,reps,nth\n2026-08-31,a,1,1\n2026-08-31,a,1,2\n2026-08-30,a,1,1\n") == [
        (2, 1),
        (3, 2),
        (4, 1),
    ]


def test_each_client_has_an_order_of_its_own() -> None:
    assert orders(
        "day,lift,reps,who\n2026-08-31,a,1,ines\n2026-08-31,b,1,ines\n2026-08-30,a,1,kofi\n"
        "2026-08-30,a,1,ines\n2026-08-31,a,1,kofi\n2026-08-31,b,1,kofi\n"
    ) == [(2, 2), (3, 1), (4, 1), (5, 1), (6, 1), (7, 2)]


def test_sets_of_one_line_keep_their_order_in_a_turned_file() -> None:
    result = load(
        'day,lift,sets\n2026-08-31,a,"80x8, 70x8"\n2026-08-31,b,60x8\n2026-08-30,a,60x8\n'
    )
    assert result.sets.select("set_id", "day_order").rows() == [
        ("7:2:1", 2),
        ("7:2:2", 3),
        ("7:3:1", 1),
        ("7:4:1", 1),
    ]


# Lines set aside


GOOD = {
    "day": "2026-08-31",
    "lift": "Row",
    "kg": "80",
    "reps": "8",
    "who": "Ines",
    "start": "18:00",
    "nth": "1",
    "side": "left",
    "rir": "2",
    "rpe": "8",
    "fail": "no",
    "part": "0",
    "kind": "work",
    "unit": "kg",
    "basis": "total",
    "bw": "64",
}


@pytest.mark.parametrize(
    ("reason", "name", "text"),
    [
        (Reason.NO_CLIENT, "who", ""),
        (Reason.NO_DATE, "day", ""),
        (Reason.NOT_A_DATE, "day", "2026-08-32"),
        (Reason.NOT_A_DATE, "day", "yesterday"),
        (Reason.DATE_IN_FUTURE, "day", "2026-09-02"),
        (Reason.DATE_TOO_EARLY, "day", "1949-12-31"),
        (Reason.NOT_A_TIME, "start", "25:00"),
        (Reason.NO_EXERCISE, "lift", " "),
        (Reason.NO_REPS, "reps", ""),
        (Reason.REPS_NOT_WHOLE, "reps", "8.5"),
        (Reason.REPS_NOT_WHOLE, "reps", "eight"),
        (Reason.REPS_OUT_OF_RANGE, "reps", "0"),
        (Reason.REPS_OUT_OF_RANGE, "reps", "101"),
        (Reason.REPS_OUT_OF_RANGE, "reps", "-3"),
        (Reason.PARTIALS_WRONG, "part", "1.5"),
        (Reason.PARTIALS_WRONG, "part", "-1"),
        (Reason.LOAD_NOT_A_NUMBER, "kg", "heavy"),
        (Reason.LOAD_NOT_A_NUMBER, "kg", "1e2"),
        (Reason.LOAD_NOT_A_NUMBER, "kg", "nan"),
        (Reason.LOAD_NEGATIVE, "kg", "-5"),
        (Reason.LOAD_TOO_HIGH, "kg", "700.5"),
        (Reason.UNIT_UNKNOWN, "unit", "stone"),
        (Reason.BASIS_UNKNOWN, "basis", "odd"),
        (Reason.RIR_WRONG, "rir", "21"),
        (Reason.RIR_WRONG, "rir", "-1"),
        (Reason.RIR_WRONG, "rir", "few"),
        (Reason.RPE_WRONG, "rpe", "0.5"),
        (Reason.RPE_WRONG, "rpe", "10.5"),
        (Reason.RPE_WRONG, "rpe", "hard"),
        (Reason.FAILURE_UNKNOWN, "fail", "maybe"),
        (Reason.SET_KIND_UNKNOWN, "kind", "odd"),
        (Reason.SIDE_UNKNOWN, "side", "up"),
        (Reason.SET_NO_WRONG, "nth", "1a"),
        (Reason.SET_NO_WRONG, "nth", "1.5"),
        (Reason.BODYWEIGHT_WRONG, "bw", "640"),
        (Reason.BODYWEIGHT_WRONG, "bw", "light"),
    ],
)
def test_a_line_is_set_aside_with_its_reason_and_its_cells(
    reason: Reason, name: str, text: str
) -> None:
    bad = GOOD | {name: text, "start": text if name == "start" else "19:00"}
    csv = "\n".join(",".join(row) for row in (GOOD, GOOD.values(), bad.values()))
    result = load(csv + "\n")
    assert reasons(result) == [(3, reason.value)]
    assert column(result, "source_line") == [2]
    assert json.loads(result.set_aside["cells"][0]) == bad
    explanation = result.set_aside["explanation"][0]
    assert text.strip() in explanation
    assert explanation.endswith(".")


def test_the_limits_themselves_are_loaded() -> None:
    result = load(
        "day,lift,kg,reps,rir,rpe\n2026-09-01,Row,700,100,20,10\n1950-01-01,Row,0,1,0,1\n"
    )
    assert (result.lines_set_aside, result.sets.height) == (0, 2)


def test_a_load_without_unit_is_set_aside_where_a_unit_column_is_blank() -> None:
    result = load("day,lift,kg,reps,unit\n2026-08-31,Row,80,8,kg\n2026-08-31,Row,80,8,\n",
                  formats="")  # fmt: skip
    assert reasons(result) == [(3, "no_unit")]


def test_a_load_of_no_known_unit_names_the_open_key() -> None:
    with pytest.raises(ConfigError, match=r"\[formats\] load_unit is open: column 'kg'"):
        load("day,lift,kg,reps\n2026-08-31,Row,80,8\n", formats="")
    with pytest.raises(ConfigError, match=r"\[formats\] load_unit is open: column 'sets'"):
        load("day,lift,sets\n2026-08-31,Row,80x8\n", formats="")


def test_zero_and_no_load_need_no_unit() -> None:
    result = load("day,lift,kg,reps\n2026-08-31,Dip,0,8\n2026-08-31,Dip,,8\n", formats="")
    assert column(result, "load_kg") == [0.0, None]


def test_a_wide_line_is_set_aside_whole() -> None:
    result = load(
        "day,lift,kg1,reps1,kg2,reps2\n2026-08-31,Row,80,8,80,eight\n2026-08-31,Row,80,8,80,\n"
        "2026-08-31,Row,,,,\n2026-08-31,Row,80,8,,\n"
    )
    assert reasons(result) == [(2, "reps_not_whole"), (3, "no_reps"), (4, "no_sets")]
    assert column(result, "source_line") == [5]


def test_a_cell_of_sets_is_set_aside_whole() -> None:
    result = load('day,lift,sets\n2026-08-31,Row,"80x8, 80xeight"\n2026-08-31,Row,\n'
                  "2026-08-31,Row,80x8\n2026-08-31,Row,80x200\n")  # fmt: skip
    assert reasons(result) == [
        (2, "sets_unreadable"),
        (3, "no_sets"),
        (5, "reps_out_of_range"),
    ]
    assert "80xeight" in result.set_aside["explanation"][0]


def test_equal_lines_with_a_set_number_or_a_start_are_duplicates() -> None:
    for name, text in (("nth", "2"), ("start", "18:05")):
        result = load(f"day,lift,kg,reps,{name}\n" + f"2026-08-31,Row,80,8,{text}\n" * 3)
        assert reasons(result) == [(3, "duplicate"), (4, "duplicate")]
        assert "line 2" in result.set_aside["explanation"][0]


def test_alike_sets_without_number_or_start_are_sets() -> None:
    assert load("day,lift,kg,reps\n" + "2026-08-31,Row,80,8\n" * 3).sets.height == 3


def test_a_set_number_counts_only_on_the_lines_that_have_one() -> None:
    result = load(
        "day,lift,kg,reps,nth\n" + "2026-08-31,Row,80,8,\n" * 2 + "2026-08-31,Row,80,8,1\n"
    )
    assert result.lines_set_aside == 0


def test_the_moment_at_which_a_session_began_makes_no_duplicates() -> None:
    session = "2026-08-31 18:05,Row,80,8\n" * 3
    assert load("day,lift,kg,reps\n" + session + "2026-08-31 18:05,Dip,10,8\n").lines_set_aside == 0
    assert reasons(load("day,lift,kg,reps\n" + session)) == [(3, "duplicate"), (4, "duplicate")]


def test_an_extension_needs_a_work_set_of_its_exercise_before_it_that_day() -> None:
    result = load(
        "day,lift,kg,reps,kind\n"
        "2026-08-31,Row,60,8,drop\n"
        "2026-08-31,Row,80,8,warmup\n"
        "2026-08-31,Row,60,8,drop\n"
        "2026-08-31,Row,80,8,\n"
        "2026-08-31,row,60,8,drop\n"
        "2026-08-31,Dip,10,8,drop\n"
    )
    assert reasons(result) == [(line, "extension_without_set") for line in (2, 4, 7)]
    assert result.sets.select("source_line", "day_order").rows() == [(3, 1), (5, 2), (6, 3)]


def test_two_spellings_of_one_id_are_set_aside() -> None:
    result = load("day,lift,reps,who\n2026-08-31,Dip,8,José\n2026-08-31,Dip,8,Jose\n"
                  "2026-08-31,Dip,8,Kofi\n", formats="")  # fmt: skip
    assert reasons(result) == [(2, "client_ambiguous"), (3, "client_ambiguous")]
    assert (column(result, "client_id"), result.spellings) == (["kofi"], {"kofi": "Kofi"})


def test_the_sets_belong_to_the_only_client() -> None:
    index = ClientIndex.of([("ines", None, [])])
    result = load("day,lift,reps\n2026-08-31,Dip,8\n", formats="", clients=index)
    assert column(result, "client_id") == ["ines"]


def test_days_outside_the_period_of_the_source_are_set_aside() -> None:
    result = load(
        "day,lift,reps\n2026-08-29,Dip,8\n2026-08-30,Dip,8\n2026-08-31,Dip,8\n",
        formats="",
        period=(date(2026, 8, 30), date(2026, 8, 30)),
    )
    assert reasons(result) == [(2, "outside_period"), (4, "outside_period")]


def test_faults_of_the_reader_stand_among_those_of_the_rows() -> None:
    result = load(
        "day,lift,reps\n2026-08-31,Dip,8,9\n2026-08-31,Dip,x\n2026-08-31,Dip,8\n"
        '2026-08-31,"Dip,8\n2026-08-31,Dip,7\n',
        formats="",
    )
    assert reasons(result) == [(2, "surplus_cells"), (3, "reps_not_whole"), (5, "unclosed_quote")]
    assert (result.lines_read, result.lines_loaded) == (5, 2)
    assert result.set_aside["load_id"].to_list() == [7, 7, 7]


# Weigh-ins


def test_a_weigh_in_stands_once_a_day_and_may_have_a_line_of_its_own() -> None:
    result = load(
        "day,lift,kg,reps,bw\n2026-08-30,Row,80,8,64\n2026-08-30,Row,80,8,64\n"
        "2026-08-31,,,,63.5\n2026-08-31,Row,80,8,\n"
    )
    assert result.bodyweights.rows() == [
        ("lifter", date(2026, 8, 30), 64.0, "log", 7, 2),
        ("lifter", date(2026, 8, 31), 63.5, "log", 7, 4),
    ]
    assert (result.lines_read, result.lines_loaded, result.sets.height) == (4, 4, 3)


def test_a_line_set_aside_gives_no_weigh_in() -> None:
    assert load("day,lift,kg,reps,bw\n2026-08-31,Row,x,8,64\n").bodyweights.height == 0


def test_bodyweight_has_a_unit_of_its_own() -> None:
    result = load("day,lift,kg,reps,bw\n2026-08-31,Row,80,8,140\n",
                  formats='load_unit = "kg"\nbodyweight_unit = "lb"')  # fmt: skip
    assert result.bodyweights["bodyweight_kg"].to_list() == [140 * 0.45359237]
    with pytest.raises(ConfigError, match=r"\[formats\] bodyweight_unit is open"):
        load("day,lift,reps,bw\n2026-08-31,Dip,8,64\n", formats="")


# The whole


def test_first_and_last_day_are_those_of_what_was_loaded() -> None:
    result = load(
        "day,lift,reps\n2026-08-30,Dip,8\n2026-08-31,Dip,x\n2026-08-29,Dip,8\n", formats=""
    )
    assert (result.first_on, result.last_on) == (date(2026, 8, 29), date(2026, 8, 30))


def test_a_file_of_only_a_header_gives_nothing() -> None:
    for header in ("day,lift,kg,reps,nth,start,bw,who", "day,lift,sets", "day,lift,kg1,reps1"):
        result = load(header + "\n")
        assert (result.sets.height, result.lines_read, result.lines_skipped) == (0, 0, 1)
        assert (result.first_on, result.last_on) == (None, None)


def test_a_reading_can_be_given_another_number() -> None:
    result = load("day,lift,kg,reps,bw\n2026-08-31,Row,80,8,64\n2026-08-31,Row,80,x,64\n")
    renamed = result.numbered(12)
    assert column(renamed, "set_id") == ["12:2:1"]
    for frame in (renamed.sets, renamed.set_aside, renamed.bodyweights):
        assert frame["load_id"].to_list() == [12]


def test_columns_of_the_export_may_have_any_name() -> None:
    mapping = parse_mapping(
        '[columns]\nperformed_on = "source_line"\nexercise = "line"\nreps = "n"\n', "m.toml"
    )
    export = read_export(b"source_line,line,n,{}\n2026-08-31,Dip,8,t_load\n", mapping.file, "x.csv")
    result = normalise(export, mapping, 1, ClientIndex(), TOMORROW, Rules())
    assert result.sets.select("exercise_raw", "reps").rows() == [("Dip", 8)]


def test_the_result_is_the_same_each_time() -> None:
    csv = "day,lift,kg,reps,who\n" + "".join(
        f"2026-08-{1 + n % 28:02d},Lift {n % 7},{n % 50},{n % 12},c{n % 3}\n" for n in range(500)
    )
    first, second = load(csv), load(csv)
    assert first.sets.equals(second.sets)
    assert first.set_aside.equals(second.set_aside)
    assert isinstance(first.sets, pl.DataFrame)

"""Drafts of a corpus of our own against what a person says of each file."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from pipeline.drafting.draft import GUESS_FROM, Draft
from pipeline.drafting.mapping_text import mapping_text
from pipeline.drafting.steps import draft_export
from pipeline.drafting.trial import try_mapping
from pipeline.errors import ExportError, OpenKeyError
from pipeline.names.exercises_file import load_catalogue
from pipeline.settings.mapping_file import parse_mapping
from pipeline.settings.rules import Rules

CORPUS = Path(__file__).parents[2] / "data" / "drafting"
EXPECTED: dict[str, dict[str, Any]] = tomllib.loads(
    (CORPUS / "expected.toml").read_text(encoding="utf-8")
)
TOMORROW = date(2026, 6, 30)
CATALOGUE = load_catalogue()


def drafted(text: str | bytes, name: str = "theirs.csv") -> Draft:
    data = text.encode() if isinstance(text, str) else text
    return draft_export(data, name, CATALOGUE, Rules(), TOMORROW)


def keyed(found: Draft, section: str) -> dict[str, Any]:
    return {guess.key: guess.value for guess in found.guesses if guess.section == section}


def opened(found: Draft) -> set[str]:
    return {key for each in found.opens for key, _ in each.readings}


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_a_file_of_the_corpus_is_read_as_a_person_reads_it(name: str) -> None:
    wanted, path = EXPECTED[name], CORPUS / f"{name}.csv"
    found = drafted(path.read_bytes(), path.name)

    assert found.sniffed.encoding == wanted.get("encoding", "utf-8")
    assert found.sniffed.delimiter == wanted.get("delimiter", ",")
    assert found.sniffed.has_header == wanted.get("header", True)
    assert found.rows == wanted.get("rows", "sets")
    columns = dict(wanted["columns"])
    for field in wanted.get("may_lack", ()):
        columns.pop(field)
    assert keyed(found, "columns") == columns
    assert opened(found) == set(wanted.get("open", ()))
    formats = keyed(found, "formats")
    assert formats.get("date", "") == wanted.get("date", "")
    assert formats.get("year") == wanted.get("year")
    unit = wanted.get("unit")
    if unit == "cells":
        assert "load_unit" not in formats or name == "en-bodyweight"
    else:
        assert formats.get("load_unit") == unit
    for field, values in wanted.get("values", {}).items():
        assert keyed(found, f"values.{field}") == values


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_the_mapping_of_a_file_of_the_corpus_loads_every_set(name: str) -> None:
    wanted, path = EXPECTED[name], CORPUS / f"{name}.csv"
    data = path.read_bytes()
    text = mapping_text(drafted(data, path.name), name, path.name, data)

    trial = try_mapping(text, path.name, data, None)

    assert trial.loaded is not None, trial.trouble
    assert trial.loaded.sets.height == wanted["sets"]
    assert trial.loaded.lines_set_aside == wanted.get("aside", 0)


def test_every_file_of_the_corpus_has_an_expectation() -> None:
    assert {path.stem for path in CORPUS.glob("*.csv")} == set(EXPECTED)


@pytest.mark.parametrize("name", [name for name in sorted(EXPECTED) if "open" in EXPECTED[name]])
def test_a_mapping_with_an_open_key_is_refused_until_a_line_is_chosen(name: str) -> None:
    path = CORPUS / f"{name}.csv"
    data = path.read_bytes()
    text = mapping_text(drafted(data, path.name), name, path.name, data)

    with pytest.raises(OpenKeyError) as refused:
        parse_mapping(text, "mappings/theirs.toml")

    key, column = EXPECTED[name]["open"][0], "Date|Weight|Effort"
    assert key in str(refused.value)
    assert any(each in str(refused.value) for each in column.split("|"))
    parse_mapping(text.replace("\n#? ", "\n", 1), "mappings/theirs.toml")


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_each_guess_has_a_reason_and_a_confidence_that_allows_it(name: str) -> None:
    path = CORPUS / f"{name}.csv"
    for guess in drafted(path.read_bytes(), path.name).guesses:
        assert guess.reason
        assert GUESS_FROM <= guess.confidence <= 1, guess


LOG = "Date,Exercise,Weight (kg),Reps\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (LOG, "no line below it"),
        ("alpha beta\ngamma delta\n", "no delimiter"),
        ("Exercise,Weight,Reps\nSquat,100,5\nSquat,100,5\n", "no column holds calendar days"),
        ("Date,Weight,Distance\n2026-03-02,80,5\n2026-03-03,81,6\n", "names of exercises"),
        ("Date,Exercise,Note\n2026-03-02,Squat,good\n2026-03-03,Squat,bad\n", "repetitions"),
    ],
)
def test_a_file_that_holds_no_log_is_refused_in_one_sentence(text: str, said: str) -> None:
    with pytest.raises(ExportError, match=said) as refused:
        drafted(text)
    assert str(refused.value).startswith("theirs.csv: ")
    assert "\n" not in str(refused.value)


def marked(*sets: tuple[str, float]) -> Draft:
    lines = [
        f"2026-03-{day:02d};Kniebeuge;{mark};{load:g};5"
        for day in range(2, 9)
        for mark, load in sets
    ]
    return drafted("Datum;Übung;Art;Gewicht;Wdh\n" + "\n".join(lines))


def test_a_letter_with_two_meanings_is_read_by_loads_and_order() -> None:
    # In German "A" may be Aufwärmen or Arbeit, "W" a warm-up or Wertung.
    found = marked(("W", 62.5), ("A", 100), ("A", 100))
    assert keyed(found, "values.set_kind") == {"W": "warmup", "A": "work"}
    found = marked(("A", 62.5), ("W", 100), ("W", 100))
    assert keyed(found, "values.set_kind") == {"W": "work", "A": "warmup"}


def test_a_letter_with_two_meanings_stays_open_where_loads_do_not_tell() -> None:
    found = marked(("W", 62.5), ("A", 62.5), ("A", 62.5))
    assert {"W", "A"} <= opened(found)


def test_a_letter_with_two_meanings_is_read_by_clear_marks_beside_it() -> None:
    found = marked(("A", 62.5), ("Arbeitssatz", 62.5), ("Dropsatz", 62.5))
    assert keyed(found, "values.set_kind")["A"] == "warmup"


def test_an_unknown_mark_beside_warm_ups_is_asked_about() -> None:
    found = marked(("Aufwärmsatz", 40), ("Zirkel", 60), ("Zirkel", 60), ("Zirkel", 60))
    assert keyed(found, "columns")["set_kind"] == "Art"
    assert "Zirkel" in opened(found)


def test_words_and_signs_in_number_cells_are_translated() -> None:
    rows = ["2026-03-02,Pull-up,PDC,8,RIR 2", "2026-03-02,Pull-up,PDC+10,6 reps,-",
            "2026-03-04,Squat,100,5,1-2", "2026-03-04,Squat,100,5,échec"]  # fmt: skip
    found = drafted("date,exercice,poids,reps,rir\n" + "\n".join(rows))
    assert keyed(found, "values.load") == {"PDC": "bw", "PDC+10": "bw+10"}
    assert keyed(found, "values.reps") == {"6 reps": "6"}
    assert keyed(found, "values.rir") == {"RIR 2": "2", "-": "", "1-2": "1.5", "échec": "0"}


def test_seconds_in_a_column_of_reps_are_not_taken_for_reps() -> None:
    rows = ["2026-03-02,Plank,0,45 sec", "2026-03-02,Squat,100,5", "2026-03-03,Squat,100,5"]
    found = drafted(LOG + "\n".join(rows))
    assert "45 sec" not in keyed(found, "values.reps")


def test_two_columns_of_weight_leave_the_load_open() -> None:
    rows = [f"2026-03-{day:02d},Squat,100,{20 + day},5" for day in range(2, 12)]
    found = drafted("Date,Exercise,Weight,Load,Reps\n" + "\n".join(rows))
    assert "load" in opened(found)


def test_columns_that_are_not_read_are_named_with_the_reason() -> None:
    rows = [f"2026-03-{day:02d},Bench Press,Dumbbell,Nordbad,30,8" for day in range(2, 12)]
    found = drafted("Date,Exercise,Equipment,Gym,Weight (kg),Reps\n" + "\n".join(rows))
    said = {each.column: each.reason for each in found.unread}
    assert set(said) == {"Equipment", "Gym"}
    assert "dumbbell" in said["Equipment"]


CARRIED = """Date,Exercise,Weight (kg),Reps
2026-03-02,Back Squat,100,5
,,100,5
,Bench Press,80,8
,,80,7
2026-03-04,Back Squat,102.5,5
,,102.5,4
"""


def test_a_day_and_a_lift_written_once_hold_for_the_lines_below() -> None:
    text = mapping_text(drafted(CARRIED), "theirs", "theirs.csv", CARRIED.encode())
    trial = try_mapping(text, "theirs.csv", CARRIED.encode(), None)

    assert parse_mapping(text, "theirs.toml").carried == ("performed_on", "exercise")
    assert trial.loaded is not None
    assert trial.loaded.sets.select("performed_on", "exercise_raw", "reps").rows() == [
        (date(2026, 3, 2), "Back Squat", 5),
        (date(2026, 3, 2), "Back Squat", 5),
        (date(2026, 3, 2), "Bench Press", 8),
        (date(2026, 3, 2), "Bench Press", 7),
        (date(2026, 3, 4), "Back Squat", 5),
        (date(2026, 3, 4), "Back Squat", 4),
    ]


def test_no_day_is_carried_over_a_line_that_could_not_be_read() -> None:
    # Line 6 begins the second session; with a surplus cell it is set aside, and what follows it
    # must not fall to the first session.
    damaged = CARRIED.replace("102.5,5", "102.5,5,surplus")
    text = mapping_text(drafted(CARRIED), "theirs", "theirs.csv", CARRIED.encode())
    trial = try_mapping(text, "theirs.csv", damaged.encode(), None)

    assert trial.loaded is not None
    assert trial.loaded.sets["performed_on"].unique().to_list() == [date(2026, 3, 2)]
    assert trial.loaded.set_aside.select("source_line", "reason").rows() == [
        (6, "surplus_cells"),
        (7, "no_date"),
    ]


def test_a_column_of_set_counts_gives_as_many_alike_sets() -> None:
    rows = [f"2026-03-{day:02d},Squat,3,5,{95 + day}" for day in range(2, 12)]
    text = "Date,Exercise,Sets,Reps,Weight (kg)\n" + "\n".join(rows)
    found = drafted(text)
    assert keyed(found, "columns")["set_count"] == "Sets"
    trial = try_mapping(
        mapping_text(found, "t", "t.csv", text.encode()), "t.csv", text.encode(), None
    )
    assert trial.loaded is not None and trial.loaded.sets.height == 30


def test_a_list_of_reps_that_contradicts_the_count_of_sets_is_asked_about() -> None:
    rows = [f"2026-03-{day:02d},Squat,3,{'8/8/7' if day % 2 else '8'},100" for day in range(2, 12)]
    found = drafted("Date,Exercise,Sets,Reps,Weight (kg)\n" + "\n".join(rows))
    assert "sets" in opened(found)


def test_a_header_that_names_both_units_names_none() -> None:
    rows = [f"2026-03-{day:02d},Squat,100,5" for day in range(2, 12)]
    found = drafted("Date,Exercise,Weight (kg/lbs),Reps\n" + "\n".join(rows))
    assert "load_unit" in opened(found)


def test_a_cell_that_says_rpe_is_read_as_rpe_under_any_header() -> None:
    rows = [f"2026-03-{day:02d},Squat,100,5,RPE {6 + day % 4}" for day in range(2, 12)]
    found = drafted("Date,Exercise,Weight (kg),Reps,Effort\n" + "\n".join(rows))
    assert keyed(found, "columns")["rpe"] == "Effort"
    assert keyed(found, "values.rpe")["RPE 9"] == "9"


def test_numbered_sets_with_moments_of_their_own_are_not_taken_for_counts() -> None:
    rows = [
        f"2026-03-{day:02d}T18:0{number}:00,Squat,{number},100,5"
        for day in range(2, 12)
        for number in (1, 2, 3)
    ]
    found = drafted("Logged at,Exercise,Sets,Weight (kg),Reps\n" + "\n".join(rows))
    assert keyed(found, "columns")["set_no"] == "Sets"


def test_a_word_in_two_columns_that_may_be_the_load_is_translated_once() -> None:
    rows = [f"2026-03-{day:02d},Squat,{20 + day},{60 + day},5" for day in range(2, 12)]
    rows.append("2026-03-12,Pull-up,PDC,PDC,8")
    text = "Date,Exercise,Weight,Load,Reps\n" + "\n".join(rows)
    found = drafted(text)
    assert "load" in opened(found)
    trial = try_mapping(
        mapping_text(found, "t", "t.csv", text.encode()), "t.csv", text.encode(), None
    )
    assert trial.loaded is not None, trial.trouble


def test_the_time_at_which_sessions_begin_is_no_start_of_sets() -> None:
    # As a start time of each set it would make the second and third alike set a duplicate.
    rows = [f"2026-03-{day:02d},18:00,Squat,100,5" for day in range(2, 12) for _ in range(3)]
    text = "Date,Start,Exercise,Weight (kg),Reps\n" + "\n".join(rows)
    found = drafted(text)
    assert "started_at" not in keyed(found, "columns")
    trial = try_mapping(
        mapping_text(found, "t", "t.csv", text.encode()), "t.csv", text.encode(), None
    )
    assert trial.loaded is not None and trial.loaded.sets.height == 30


def listed(*cells: str) -> str:
    days = (f"2026-03-{day:02d}" for day in range(2, 30))
    lifts = ("Squat", "Bench Press", "Deadlift")
    rows = [f"{day};{lift};{cell}" for day in days for lift, cell in zip(lifts, cells, strict=True)]
    return "Date;Exercise;Sets (kg)\n" + "\n".join(rows)


def tried(text: str, extra: str = "") -> Any:
    mapping = mapping_text(drafted(text), "theirs", "theirs.csv", text.encode()) + extra
    trial = try_mapping(mapping, "theirs.csv", text.encode(), None)
    assert trial.loaded is not None, trial.trouble
    return trial.loaded


def test_words_of_one_s_own_are_given_under_values_for_lists_of_sets_too() -> None:
    text = listed("80x8", "Zuschlag 40x8, 60x5 muerto", "Eigenlast x 9")
    assert tried(text).lines_set_aside == 56
    loaded = tried(
        text,
        '[values.load]\n"eigenlast" = "bw"\n[values.set_kind]\nZuschlag = "warmup"\n'
        '[values.to_failure]\nMUERTO = "true"\n',
    )
    assert loaded.lines_set_aside == 0
    assert loaded.sets.head(4).select("load_kg", "reps", "set_kind", "to_failure").rows() == [
        (80, 8, "work", None), (40, 8, "warmup", None), (60, 5, "work", True),
        (None, 9, "work", None),
    ]  # fmt: skip


def test_a_load_for_each_set_may_stand_in_a_list_of_its_own() -> None:
    rows = [f"2026-03-{day:02d};Squat;100 / 97,5;{8 - day % 2} / 7" for day in range(2, 12)]
    loaded = tried("Datum;Übung;Gewichte (kg);Wiederholungen\n" + "\n".join(rows))
    assert loaded.sets.head(2).select("load_kg", "reps").rows() == [(100, 8), (97.5, 7)]
    rows[4] = "2026-03-06;Squat;100 / 97,5 / 95;8 / 7"
    loaded = tried("Datum;Übung;Gewichte (kg);Wiederholungen\n" + "\n".join(rows))
    assert (loaded.sets.height, loaded.lines_set_aside) == (18, 1)


def test_a_column_like_sets_is_never_left_out_without_a_warning() -> None:
    rows = [f"2026-03-{day:02d};80x8;bw x? 9, x? 8;fine" for day in range(2, 12)]
    found = drafted("Date;Squat;Bench Press;Pull-up;Remark\n" + "\n".join(
        row.replace(";bw", ";60x8;bw") for row in rows))  # fmt: skip
    [doubt] = found.doubts
    assert "column 'Pull-up' looks like sets and is not read" in doubt
    assert "[values.load]" in doubt


def test_a_volume_tells_a_count_of_sets_from_their_numbers() -> None:
    rows = [
        f"2026-03-{day:02d};Squat;{sets};{reps};100;{sets * reps * 100}"
        for day in range(2, 12)
        for sets, reps in ((1, 8), (2, 6), (3, 5))
    ]
    found = drafted("Date;Lift;Sets;Reps;kg;Total kg\n" + "\n".join(rows))
    assert keyed(found, "columns")["set_count"] == "Sets"


def test_a_name_beside_others_on_a_day_is_a_person_s() -> None:
    rows = [
        f"{who};2026-03-{day:02d};Squat;100;5" for day in range(2, 12) for who in ("Anke", "Bernd")
    ]
    found = drafted("Name;Date;Lift;kg;Reps\n" + "\n".join(rows))
    assert keyed(found, "columns")["client"] == "Name"
    rows = [f"{('Titan', 'Atlas')[day % 2]};2026-03-{day:02d};Squat;100;5" for day in range(2, 12)]
    found = drafted("Name;Date;Lift;kg;Reps\n" + "\n".join(rows))
    assert "client" in opened(found)

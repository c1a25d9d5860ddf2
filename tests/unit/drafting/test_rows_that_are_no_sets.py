"""Sums, headings, repeated headers and separators are found while drafting, and whose rows."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from pipeline.drafting.mapping_text import mapping_text
from pipeline.drafting.steps import draft_export
from pipeline.drafting.trial import try_mapping
from pipeline.names.exercises_file import load_catalogue
from pipeline.reading.normalise import Normalised
from pipeline.settings.rules import Rules

GERMAN = ["Datum;Übung;Gewicht (kg);Wdh"] + [
    f"{day:02d}.03.2026;{lift};{kg};{reps}"
    for day in (2, 4, 6, 9, 11, 13)
    for lift, kg, reps in (
        ("Kniebeuge", "100", 5),
        ("Bankdrücken", "72,5", 8),
        ("Rudern", "60", 10),
    )
]


def drafted(lines: list[str]) -> tuple[dict[str, Any], Normalised]:
    data = ("\n".join(lines) + "\n").encode()
    found = draft_export(data, "exports/x.csv", load_catalogue(), Rules(), date(2026, 6, 30))
    trial = try_mapping(
        mapping_text(found, "x", "exports/x.csv", data), "exports/x.csv", data, None
    )
    assert trial.loaded is not None, trial.trouble
    return {f"{each.section}.{each.key}": each.value for each in found.guesses}, trial.loaded


def with_rows(*rows: str, every: int = 6) -> list[str]:
    """The German log with some rows after each so many lines."""
    lines = [GERMAN[0]]
    for at, line in enumerate(GERMAN[1:], start=1):
        lines.append(line)
        if at % every == 0:
            lines += rows
    return lines


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (["Summe;;2.325;46"], ["Summe"]),
        ([";Gesamt;2325;46"], ["Gesamt"]),
        (["Summe KW 10;;;46"], ["Summe KW"]),
        (["Woche 11;;;"], ["Woche"]),
        ([GERMAN[0]], ["Datum"]),
        (["-----;-----;-----;---"], ["-----"]),
        (["Summe;;2325;46", "", "Woche 11;;;"], ["Summe", "Woche"]),
    ],
)
def test_rows_that_are_no_sets_are_skipped(rows: list[str], words: list[str]) -> None:
    guesses, loaded = drafted(with_rows(*rows))
    assert guesses["layout.skip"] == words
    assert (loaded.sets.height, loaded.lines_set_aside) == (18, 0)


def test_a_clean_log_has_nothing_to_skip() -> None:
    guesses, loaded = drafted(GERMAN)
    assert "layout.skip" not in guesses
    assert loaded.sets.height == 18


def test_a_lift_of_no_known_name_is_no_heading() -> None:
    guesses, loaded = drafted(with_rows("20.03.2026;Turmzug total;40;8"))
    assert "layout.skip" not in guesses
    assert loaded.sets.height == 21


def test_a_month_as_a_heading_does_not_skip_the_days_of_that_month() -> None:
    lines = ["Date,Exercise,Weight (kg),Reps", "March,,,"]
    lines += [f"March {day} 2026,Squat,100,5" for day in (2, 4, 6, 9)]
    _, loaded = drafted(lines)
    assert loaded.sets.height == 4


@pytest.mark.parametrize("line", ["Name: Mara Lind", "Klient;Mara Lind;;"])
def test_a_line_above_the_header_names_the_client(line: str) -> None:
    guesses, loaded = drafted([line, "", *GERMAN])
    assert guesses["client.label"] == line[:6].split(":")[0]
    assert loaded.spellings == {"mara-lind": "Mara Lind"}


def test_other_lines_above_the_header_name_nobody() -> None:
    guesses, _ = drafted(["Gym: Harbour Lane", "Stand: 3. März 2026", "", *GERMAN])
    assert "client.label" not in guesses

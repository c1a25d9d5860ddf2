"""Kinds of pollution that a survey of 3,712 public CSV files found, one test each.

After the list of Vitagliano et al., "Pollock: A Data Loading Benchmark", PVLDB 16(8), 2023: file,
header, table, record and field. What is expected of each was decided by hand: how many sets are
loaded, and which lines are set aside.
"""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.errors import SetledgerError
from pipeline.names.clients import ClientIndex
from pipeline.reading.export import read_export
from pipeline.reading.normalise import Normalised, normalise
from pipeline.settings.mapping_file import parse_mapping
from pipeline.settings.rules import Rules

COLUMNS = (
    '[columns]\nperformed_on = "day"\nexercise = "lift"\nload = "kg"\nreps = "reps"\n'
    '[formats]\ndate = "%Y-%m-%d"\nload_unit = "kg"\n'
)
HEADER = "day,lift,kg,reps\n"
ROWS = [f"2026-08-{day:02},Row é,80,{day % 5 + 5}\n" for day in range(1, 7)]
LOG = HEADER + "".join(ROWS)


def read(data: bytes, file: str = "") -> Normalised:
    mapping = parse_mapping(f"{file}{COLUMNS}", "log.toml")
    export = read_export(data, mapping.file, "log.csv", mapping.column_names)
    return normalise(export, mapping, 1, ClientIndex(), date(2026, 9, 1), Rules())


def with_row(place: int, row: str) -> bytes:
    """The log with one of its rows written otherwise; row 0 stands on line 2."""
    return (HEADER + "".join([*ROWS[:place], row, *ROWS[place + 1 :]])).encode()


def swapped(old: str, new: str) -> bytes:
    return LOG.replace(old, new).encode()


@pytest.mark.parametrize(
    ("data", "sets"),
    [
        pytest.param(LOG.encode(), 6, id="no pollution"),
        pytest.param((HEADER + ROWS[0]).encode(), 1, id="one row"),
        pytest.param(LOG.rstrip("\n").encode(), 6, id="no line end at the end"),
        pytest.param((LOG + "\n\n").encode(), 6, id="two line ends at the end"),
        pytest.param(LOG.replace("\n", "\n\n").encode(), 6, id="empty lines between"),
        pytest.param(swapped("\n", "\r\n"), 6, id="CRLF"),
        pytest.param(swapped("\n", "\r"), 6, id="CR"),
        pytest.param(with_row(2, ROWS[2].replace("\n", "\r\n")), 6, id="one record with CRLF"),
        pytest.param(with_row(2, ROWS[2].replace("\n", "\r")), 6, id="one record with CR"),
        pytest.param(swapped(",", ";"), 6, id="semicolons"),
        pytest.param(swapped(",", "\t"), 6, id="tabs"),
        pytest.param(swapped(",", "|"), 6, id="bars"),
        pytest.param(LOG.encode("utf-16"), 6, id="UTF-16 with a mark"),
        pytest.param(LOG.encode("utf-16-le"), 6, id="UTF-16 without"),
        pytest.param(LOG.encode("utf-8-sig"), 6, id="UTF-8 with a mark"),
        pytest.param(LOG.encode("cp1252"), 6, id="Windows-1252"),
        pytest.param(("Harbour Lane\nJune to August\n\n" + LOG).encode(), 6, id="preamble"),
        pytest.param(swapped("\n", ",,,\n"), 6, id="empty columns at the right"),
        pytest.param(with_row(3, ROWS[3].replace("\n", ",\n")), 6, id="one delimiter more"),
        pytest.param(swapped("Row é", '"Row é"'), 6, id="quoted without need"),
        pytest.param(with_row(1, ROWS[1].replace("Row é", '"Row ""é"""')), 6, id="doubled quotes"),
        pytest.param(with_row(1, ROWS[1].replace("Row é", '"Row\né"')), 6, id="a line end inside"),
        pytest.param(swapped(",kg,", f",kg,{'x' * 5000},").replace(b",80,", b",80,,"), 6,
                     id="a name of 5,000 characters"),
        pytest.param(
            "".join(line.strip() + "," + ",".join(["x"] * 300) + "\n" if place else line.strip()
                    + "," + ",".join(f"more {n}" for n in range(300)) + "\n"
                    for place, line in enumerate(LOG.splitlines())).encode(), 6,
            id="300 more columns"),
    ],
)  # fmt: skip
def test_what_is_only_written_otherwise_is_loaded_whole(data: bytes, sets: int) -> None:
    result = read(data)
    assert (result.sets.height, result.lines_set_aside) == (sets, 0)


@pytest.mark.parametrize(
    ("data", "aside"),
    [
        pytest.param(with_row(2, "2026-08-03;Row;80;8\n"), [4], id="another delimiter in one row"),
        pytest.param(with_row(2, "2026-08-03,Row80,8\n"), [4], id="a delimiter missing"),
        pytest.param(with_row(2, "2026-08-03,Row,80,8,9\n"), [4], id="a cell too many"),
        pytest.param(with_row(2, "2026-08-03\n"), [4], id="a row of one cell"),
        pytest.param(with_row(2, "'2026-08-03','Row','80','8'\n"), [4], id="single quotes"),
        pytest.param(with_row(2, '2026-08-03,"Row"",80,8\n'), [4], id="one quote too many"),
        pytest.param(with_row(2, '2026-08-03,"Row,80,8\n'), [4], id="a quote not closed"),
        pytest.param((LOG + "six rows in all\n").encode(), [8], id="footnote"),
        pytest.param(
            (HEADER + "(when),(what),(kilos),(times)\n" + "".join(ROWS)).encode(), [2],
            id="header of two lines"),
        pytest.param((LOG + HEADER + ROWS[0]).encode(), [8], id="another table below"),
        pytest.param(with_row(2, "2026-08-03,Row,eighty,8\n"), [4], id="a word for a number"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_set_aside_alone(data: bytes, aside: list[int]) -> None:
    result = read(data)
    assert result.set_aside["source_line"].to_list() == aside
    assert all(result.set_aside["explanation"].to_list())
    assert result.lines_read == result.sets.height + len(aside)
    assert result.sets.height >= 5


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(b"", id="no payload"),
        pytest.param("".join(ROWS).encode(), id="no header"),
        pytest.param(swapped("\n", ",9\n").replace(b"reps,9", b"reps,kg"), id="a name twice"),
    ],
)
def test_what_names_no_columns_is_refused_in_a_sentence(data: bytes) -> None:
    with pytest.raises(SetledgerError, match=r"log\.csv.*\.$"):
        read(data)


def test_a_quote_of_its_own_is_said_in_the_mapping() -> None:
    data = LOG.replace("Row é", "'Row, é'").encode()
    assert read(data, '[file]\nquote = "\'"\n').sets.height == 6

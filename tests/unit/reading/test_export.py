"""From bytes to records: RFC 4180, physical lines, what is skipped and what is set aside."""

from __future__ import annotations

import csv
import io
import json

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import ConfigError, ExportError
from pipeline.reading.dialect import QUOTE_REACH
from pipeline.reading.export import Export, read_export
from pipeline.settings.mapping import FileFormat
from tests.conftest import examples


def read(text: str | bytes, *wanted: str, **file_format: object) -> Export:
    data = text if isinstance(text, bytes) else text.encode()
    return read_export(data, FileFormat(**file_format), "log.csv", wanted)  # type: ignore[arg-type]


def rows(export: Export) -> list[tuple[object, ...]]:
    return export.records.rows()


def aside(export: Export) -> list[tuple[int, str]]:
    return list(export.set_aside.select("source_line", "reason").iter_rows())


def test_cells_stay_as_written() -> None:
    export = read("day,kg,note\n2026-08-31, 080.50 ,1e3\n")
    assert rows(export) == [(2, "2026-08-31", " 080.50 ", "1e3")]
    assert export.records.schema["source_line"] == pl.Int32


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_kind_of_line_end_counts_one_line(end: str) -> None:
    assert rows(read(end.join(["a,b", "1,2", "", "3,4"]) + end)) == [(2, "1", "2"), (4, "3", "4")]


def test_mixed_line_ends_count_one_line_each() -> None:
    assert rows(read("a,b\r\n1,2\r3,4\n5,6")) == [(2, "1", "2"), (3, "3", "4"), (4, "5", "6")]


def test_quoted_commas_quotes_and_line_breaks_belong_to_the_cell() -> None:
    """RFC 4180, section 2, rules 5 to 7."""
    export = read('a,b\n"x,y",1\n"say ""go""",2\n"two\r\nlines",3\n,4\n')
    assert rows(export) == [
        (2, "x,y", "1"),
        (3, 'say "go"', "2"),
        (4, "two\nlines", "3"),
        (6, None, "4"),
    ]


def test_a_quote_inside_a_cell_is_text() -> None:
    assert rows(read('a,b\n5" box,1\n"great" session,2\n')) == [
        (2, '5" box', "1"),
        (3, '"great" session', "2"),
    ]


def test_missing_cells_at_the_end_are_empty() -> None:
    export = read("a,b,c\n1\n1,2\n")
    assert rows(export) == [(2, "1", None, None), (3, "1", "2", None)]
    assert export.set_aside.height == 0


def test_surplus_cells_are_set_aside_only_if_one_holds_something() -> None:
    export = read("a,b\n1,2,,\n3,4,5,\n6,7\n", "a", "b")
    assert rows(export) == [(2, "1", "2"), (4, "6", "7")]
    assert aside(export) == [(3, "surplus_cells")]
    assert json.loads(export.set_aside["cells"][0]) == {"a": "3", "b": "4", "column_3": "5"}
    assert (export.lines_read, export.lines_skipped) == (3, 1)


def test_a_line_with_hundreds_of_surplus_cells_is_set_aside_alone() -> None:
    export = read("a,b\n1,2" + ",x" * 500 + "\n3,4" + "," * 500 + "\n5,6\n", "a")
    assert rows(export) == [(3, "3", "4"), (4, "5", "6")]
    assert aside(export) == [(2, "surplus_cells")]


def test_a_file_of_one_column_is_read() -> None:
    assert rows(read("a\n1\n\n2\n")) == [(2, "1"), (4, "2")]


def test_blank_lines_and_lines_of_empty_cells_are_skipped() -> None:
    export = read('a,b\n\n1,2\n,\n  , \n"",""\n\n')
    assert rows(export) == [(3, "1", "2")]
    assert (export.lines_read, export.lines_skipped) == (1, 6)


@pytest.mark.parametrize("quoted", [False, True])
def test_an_open_quote_costs_one_line_and_no_more(quoted: bool) -> None:
    after = [f'{n},"note {n}"' if quoted else f"{n},note {n}" for n in range(300)]
    export = read("\n".join(["n,note", '7,"never closed', *after]))
    assert aside(export) == [(2, "unclosed_quote")]
    assert rows(export) == [(n + 3, str(n), f"note {n}") for n in range(300)]
    assert json.loads(export.set_aside["cells"][0]) == {"n": "7", "note": '"never closed'}


@pytest.mark.parametrize(("between", "closes"), [(QUOTE_REACH - 1, True), (QUOTE_REACH, False)])
def test_a_quote_may_close_up_to_a_hundred_lines_below(between: int, closes: bool) -> None:
    export = read("\n".join(["n,note", '1,"a', *(["x"] * between), 'z"', "2,b"]))
    assert (aside(export) == []) is closes
    assert rows(export)[-1] == (between + 4, "2", "b")


def test_an_open_quote_on_the_last_line_is_set_aside() -> None:
    assert aside(read('a,b\n1,2\n3,"4\n')) == [(3, "unclosed_quote")]


def test_without_a_quote_character_quotes_are_text() -> None:
    assert rows(read('a,b\n"1,2"\n', quote="")) == [(2, '"1', '2"')]


def test_lines_with_bytes_of_no_character_are_set_aside() -> None:
    text = "a,b\nä,ö\nü,ß\näöü,ß\nàé,è\n".encode()
    export = read(text + b"\xff,1\n2,\x00\n3,4\n")
    assert aside(export) == [(6, "unreadable_characters"), (7, "unreadable_characters")]
    assert rows(export)[-1] == (8, "3", "4")


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_found(delimiter: str) -> None:
    lines = [["Datum", "Übung", "kg"], ["31.08.2026", "Drücken", "80"], ["31.08.2026", "Zug", ""]]
    export = read("\n".join(delimiter.join(line) for line in lines))
    assert export.delimiter == delimiter
    assert export.header == ("Datum", "Übung", "kg")


def test_decimal_commas_do_not_pass_for_delimiters() -> None:
    assert read("Datum;kg;Wdh\n1;82,5;8\n2;80,0;8\n3;77,5;9\n").delimiter == ";"


def test_sets_in_a_cell_do_not_pass_for_columns() -> None:
    export = read("day;sets\n2026-08-31;80x8, 80x8, 75x10\n2026-08-30;60x8\n", "day", "sets")
    assert rows(export)[0] == (2, "2026-08-31", "80x8, 80x8, 75x10")


def test_a_preamble_is_found_by_the_columns_that_the_mapping_names() -> None:
    export = read(
        "My log, 2026, kg\nmade,by,hand,in,ink\n\nday,lift\n2026-08-31,Row\n", "day", "lift"
    )
    assert export.header == ("day", "lift")
    assert rows(export) == [(5, "2026-08-31", "Row")]
    assert (export.lines_read, export.lines_skipped) == (1, 4)


def test_skip_rows_counts_physical_lines() -> None:
    export = read("one\ntwo\nday,lift\n2026-08-31,Row\n", skip_rows=2)
    assert (export.header, rows(export)) == (("day", "lift"), [(4, "2026-08-31", "Row")])


def test_skipping_the_whole_file_is_an_error() -> None:
    with pytest.raises(ExportError, match="skip_rows = 9"):
        read("a,b\n1,2\n", skip_rows=9)


def test_a_file_without_header_has_numbered_columns() -> None:
    export = read("1,2\n3,4\n", header=False)
    assert (export.header, rows(export)) == (
        ("column_1", "column_2"),
        [(1, "1", "2"), (2, "3", "4")],
    )
    assert export.lines_skipped == 0


def test_a_header_over_two_lines_is_one_record() -> None:
    export = read('day,"load\n(kg)"\n2026-08-31,80\n')
    assert (export.header, rows(export)) == (("day", "load (kg)"), [(3, "2026-08-31", "80")])


def test_a_file_with_only_a_header_has_no_lines() -> None:
    export = read("a,b\n")
    assert (export.lines_read, export.lines_skipped, export.records.columns) == (
        0,
        1,
        ["source_line", "a", "b"],
    )


@pytest.mark.parametrize("data", [b"", b"\n\n\n", b"\xef\xbb\xbf", b" \r\n"])
def test_an_empty_file_is_an_error(data: bytes) -> None:
    with pytest.raises(ExportError, match=r"log\.csv: the file is empty"):
        read(data)


def test_columns_of_one_name_are_numbered_and_asked_for_by_number() -> None:
    export = read("reps,kg,reps,,source_line\n8,80,7,x,y\n")
    assert export.header == ("reps_1", "kg", "reps_2", "column_4", "source_line_1")
    with pytest.raises(ConfigError, match="2 columns of that name; write 'reps_1' or 'reps_2'"):
        export.column("reps", "m.toml: [columns] reps")
    assert export.column("reps_2", "key") == "reps_2"
    assert export.column("source_line", "key") == "source_line_1"


def test_a_missing_column_lists_what_was_found() -> None:
    with pytest.raises(ConfigError, match=r"\[columns\] load = 'lbs'.*found: day, kg"):
        read("day,kg\n1,2\n").column("lbs", "m.toml: [columns] load")


def test_a_column_is_found_whichever_way_its_accents_are_composed() -> None:
    assert read("U\u0308bung,kg\n1,2\n").column("Übung", "key") == "Übung"


def test_numbered_columns_are_found_up_to_the_last() -> None:
    export = read("kg1,kg2,kg10,kgx\n1,2,3,4\n")
    assert export.numbered("kg{n}", "key") == {1: "kg1", 2: "kg2", 10: "kg10"}


def test_a_cell_of_a_million_characters_is_read() -> None:
    assert rows(read("a,b\n1," + "x" * 1_000_000 + "\n"))[0][2] == "x" * 1_000_000


def test_ten_thousand_columns_are_read() -> None:
    names = ",".join(f"c{n}" for n in range(10_000))
    export = read(f"{names}\n{names}\n", "c0")
    assert export.records.width == 10_001
    assert export.records["c9999"][0] == "c9999"


CELL = st.text(alphabet=st.sampled_from('ab1,";| é\n'), max_size=6)


@given(
    table=st.lists(st.lists(CELL, min_size=3, max_size=3), min_size=1, max_size=8),
    delimiter=st.sampled_from(",;|\t"),
    end=st.sampled_from(["\n", "\r\n"]),
)
@settings(max_examples=examples(300), deadline=None)
def test_what_the_standard_library_writes_is_read_back(
    table: list[list[str]], delimiter: str, end: str
) -> None:
    """The reference is Python's csv writer, which quotes by RFC 4180."""
    sink = io.StringIO()
    writer = csv.writer(sink, delimiter=delimiter, lineterminator=end)
    writer.writerows([["a", "b", "c"], *table])
    export = read(sink.getvalue(), "a", "b", "c", delimiter=delimiter)
    filled = [row for row in table if any(cell.strip() for cell in row)]
    found = [tuple(cell or "" for cell in row[1:]) for row in rows(export)]
    assert found == [tuple(row) for row in filled]
    assert export.set_aside.height == 0
    assert export.lines_read == len(filled)
    starts, line = [], 2
    for row in table:
        if any(cell.strip() for cell in row):
            starts.append(line)
        line += 1 + sum(cell.count("\n") for cell in row)
    assert export.records["source_line"].to_list() == starts


@given(lines=st.lists(st.text(alphabet=st.sampled_from('a1,"'), max_size=9), max_size=12))
@settings(max_examples=examples(500), deadline=None)
def test_no_line_is_lost_whatever_the_quotes(lines: list[str]) -> None:
    export = read("\n".join(["a,b,c", *lines]) + "\n", "a", "b", "c", delimiter=",")
    starts = [*export.records["source_line"], *export.set_aside["source_line"]]
    assert len(starts) == len(set(starts)) == export.lines_read
    text = "".join("".join(cell or "" for cell in row[1:]) for row in rows(export)) + "".join(
        "".join(json.loads(cells).values()) for cells in export.set_aside["cells"]
    )
    assert text.count("1") == sum(line.count("1") for line in lines)

"""Whatever the bytes: one plain error, or every line loaded or set aside."""

from __future__ import annotations

import random
from datetime import date

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipeline.errors import ConfigError, ExportError
from pipeline.names.clients import ClientIndex
from pipeline.reading.export import read_export
from pipeline.reading.normalise import Normalised, normalise
from pipeline.settings.mapping import Mapping
from pipeline.settings.mapping_file import parse_mapping
from pipeline.settings.rules import Rules
from tests.conftest import examples

SETS = parse_mapping(
    'name = "sets"\n[columns]\nperformed_on = "day"\nexercise = "lift"\nload = "kg"\n'
    'reps = "reps"\nclient = "who"\nset_no = "nth"\nstarted_at = "start"\nset_kind = "kind"\n'
    'bodyweight = "bw"\n[formats]\nload_unit = "kg"\n',
    "sets.toml",
)
WIDE = parse_mapping(
    '[layout]\nrows = "wide"\n[columns]\nperformed_on = "day"\nexercise = "lift"\n'
    'load = "kg{n}"\nreps = "reps{n}"\n[formats]\nload_unit = "kg"\n',
    "wide.toml",
)
CELLS = parse_mapping(
    '[layout]\nrows = "exercises"\n[columns]\nperformed_on = "day"\nexercise = "lift"\n'
    'sets = "sets"\n[formats]\nload_unit = "kg"\n',
    "cells.toml",
)
DAYS = parse_mapping(
    'name = "days"\n[layout]\nrows = "days"\n[columns]\nperformed_on = ["year", "month", "day"]\n'
    'sets = "{exercise}"\n[formats]\ndate = "%Y %m %d"\nload_unit = "kg"\n',
    "days.toml",
)
SIDES = parse_mapping(
    'name = "sides"\n[layout]\nrows = "wide"\ncarried = ["performed_on"]\n[columns]\n'
    'performed_on = "day"\nexercise = "lift"\nload = "kg"\nreps = "reps {side}"\n'
    '[formats]\ndate = "%d.%m."\nyear = 2026\nload_unit = "kg"\n',
    "sides.toml",
)
GOOD = {
    SETS.name: (
        "day,lift,kg,reps,who,nth,start,kind,bw\n"
        '2026-08-30,Row,80,8,Ines,1,18:05,work,64\n2026-08-30,Row,"82,5",8,Ines,2,,,\n'
        '2026-08-31,"Squat, low bar",100,5,Kofi,1,,warmup,\n2026-08-31,"two\nlines",60,8,Kofi,,,,\n'
    ),
    WIDE.name: "day,lift,kg1,reps1,kg2,reps2\n2026-08-30,Row,80,8,80,7\n2026-08-31,Dip,,12,,\n",
    DAYS.name: 'year,month,day,Row,Dip\n2026,8,30,"80x8, 75x10@1",\n2026,8,31,80x8,bw x 12\n',
    SIDES.name: "day,lift,kg,reps left,reps right\n30.08.,Lunge,20,8,9\n,Lunge,20,8,\n",
    CELLS.name: 'day,lift,sets\n2026-08-30,Row,"80x8, 75x10@1"\n2026-08-31,Squat,3x8@100\n',
}
MAPPINGS = (SETS, WIDE, CELLS, DAYS, SIDES)


def load(data: bytes, mapping: Mapping) -> Normalised | None:
    """The reading, or None if it is refused in a sentence; nothing else may happen."""
    try:
        export = read_export(data, mapping.file, "log.csv", mapping.column_names)
        result = normalise(export, mapping, 1, ClientIndex(), date(2026, 9, 1), Rules())
    except (ExportError, ConfigError) as error:
        assert str(error).endswith((".", "'?"))
        return None
    assert result.lines_read == result.lines_loaded + result.lines_set_aside
    starts = [
        *result.sets["source_line"].unique(),
        *result.set_aside["source_line"],
        *result.bodyweights.filter(
            ~result.bodyweights["source_line"].is_in(result.sets["source_line"].implode())
        )["source_line"],
    ]
    assert len(starts) == len(set(starts)) <= result.lines_read
    given = result.sets["source_line"].n_unique() + result.lines_weighed
    assert given + result.lines_set_aside == result.lines_read, "a line left no trace"
    assert result.sets["set_id"].is_unique().all()
    assert result.sets["reps"].is_between(1, 100).all()
    assert result.sets["load_kg"].drop_nulls().is_between(0, 700).all()
    lines = data.count(b"\n") + data.count(b"\r") + 1
    assert all(1 <= line <= lines for line in starts)
    return result


@pytest.mark.parametrize("mapping", MAPPINGS, ids=lambda mapping: mapping.name)
def test_the_undamaged_files_are_loaded_whole(mapping: Mapping) -> None:
    result = load(GOOD[mapping.name].encode(), mapping)
    assert result is not None
    assert result.lines_set_aside == 0


@given(st.binary(max_size=300), st.sampled_from(MAPPINGS))
@example(b"\xff\xfe\x00", SETS)
@example(b"\xff\xfe\x00\xd8\x0a\x00", SETS)
@example(b"\x00\x00\xfe\xff\x00\x11\x00\x00", SETS)
@settings(max_examples=examples(150), deadline=None)
def test_random_bytes_are_refused_or_accounted_for(data: bytes, mapping: Mapping) -> None:
    load(data, mapping)


@given(
    st.sampled_from(MAPPINGS),
    st.lists(
        st.tuples(
            st.floats(0, 1),
            st.sampled_from(["insert", "delete", "replace"]),
            st.sampled_from(
                [b'"', b",", b"\n", b"\r", b"\x00", b"\xff", b"9", b"-", b";", b"x", b" "]
            )
            | st.binary(min_size=1, max_size=3),
        ),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from(["utf-8", "utf-16", "cp1252"]),
)
@settings(max_examples=examples(150), deadline=None)
def test_damaged_files_are_refused_or_accounted_for(
    mapping: Mapping, damages: list[tuple[float, str, bytes]], encoding: str
) -> None:
    data = GOOD[mapping.name].encode(encoding)
    for place, kind, text in damages:
        at = int(place * len(data))
        rest = data[at:] if kind == "insert" else data[at + len(text) :]
        data = data[:at] + (b"" if kind == "delete" else text) + rest
    load(data, mapping)


CELL = st.sampled_from(
    ["", " ", "2026-08-31", "2026-08-31T18:05", "31/08/2026", "8", "80", "82,5", "1,250", "-3", "x",
     "80x8", "w", "drop", "José", "Jose", "18:05", "🙂", "=1+1", "9" * 400, "0", "NaN", "1e9"]
)  # fmt: skip


@given(st.sampled_from(MAPPINGS), st.lists(st.lists(CELL, min_size=1, max_size=10), max_size=12))
@settings(max_examples=examples(150), deadline=None)
def test_any_cells_are_loaded_or_set_aside(mapping: Mapping, table: list[list[str]]) -> None:
    header = GOOD[mapping.name].split("\n", 1)[0]
    lines = [",".join(f'"{cell}"' for cell in row) for row in table]
    load("\n".join([header, *lines]).encode(), mapping)


@pytest.mark.parametrize(
    "tail", [b"\x00" * 4096, b'"' * 1000, b"," * 5000, b"\n" * 5000, b'",' * 999]
)
def test_a_file_with_a_broken_end_keeps_its_lines(tail: bytes) -> None:
    result = load(GOOD["cells"].encode() + tail, CELLS)
    assert result is not None
    assert result.sets.height == 5


def test_a_cell_of_a_million_characters_is_set_aside_with_its_text() -> None:
    result = load(b"day,lift,sets\n2026-08-31,Row," + b"8" * 1_000_000 + b"\n", CELLS)
    assert result is not None
    assert (result.lines_set_aside, len(result.set_aside["explanation"][0]) < 300) == (1, True)


def test_ten_thousand_columns_are_normalised() -> None:
    names = ",".join(f"kg{n},reps{n}" for n in range(1, 5000))
    data = f"day,lift,{names}\n2026-08-31,Row,80,8,80,7\n2026-08-31,Row,80,x\n".encode()
    result = load(data, WIDE)
    assert result is not None
    assert (result.sets.height, result.lines_set_aside) == (2, 1)


def test_a_shuffled_file_loses_nothing() -> None:
    lines = [
        f"2026-08-{1 + n % 30:02d},Lift {n},{n % 90},{1 + n % 20},c,,,,\n" for n in range(2000)
    ]
    random.Random(7).shuffle(lines)
    header = GOOD[SETS.name].split("\n", 1)[0]
    result = load((header + "\n" + "".join(lines)).encode(), SETS)
    assert result is not None
    assert (result.sets.height, result.lines_set_aside) == (2000, 0)

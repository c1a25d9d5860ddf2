"""corrections.csv: one logged value overruled, kept through re-exports, and marked as corrected."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.errors import ConfigError
from pipeline.ledger.replay import opened_work
from pipeline.ledger.side_files import file_weigh_ins, read_corrections, write_side_files
from pipeline.outcome import Outcome
from pipeline.runs.load import load
from pipeline.settings.workspace_file import find_workspace

CONFIG = """
[workspace]
name = "Corrections"
as_of = 2026-06-30
[[sources]]
files = "exports/log.csv"
mapping = "mappings/log.toml"
[[clients]]
id = "ines"
name = "Ines Duarte"
"""

MAPPING = """
name = "log"
[columns]
performed_on = "day"
exercise = "lift"
load = "load"
reps = "reps"
rir = "rir"
set_kind = "kind"
[formats]
load_unit = "kg"
"""

EXPORT = """day,lift,load,reps,rir,kind
2026-06-01,Bench Press,60,8,2,work
2026-06-01,Bench Press,600,8,2,work
2026-06-01,bench press,60,7,1,work
2026-06-01,Back Squat,100,5,,work
2026-06-03,Bench Press,62.5,8,2,work
"""

HEADER = "client,day,exercise,n,field,value,reason\n"


class Room:
    """A workspace with five sets and corrections."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("exports", "mappings"):
            (folder / name).mkdir()
        (folder / "setledger.toml").write_text(CONFIG)
        (folder / "mappings/log.toml").write_text(MAPPING)
        self.export(EXPORT)

    def export(self, text: str) -> None:
        (self.folder / "exports/log.csv").write_text(text)

    def correct(self, *lines: str) -> None:
        (self.folder / "corrections.csv").write_text(HEADER + "\n".join(lines) + "\n")

    def load(self) -> None:
        workspace = find_workspace(self.folder)
        with opened_work(workspace) as work:
            load(work, Outcome())
            write_side_files(work)
            work.is_dirty = True
            work.publish()

    def ask(self, columns: str) -> list[tuple[Any, ...]]:
        """Columns of the sets that count, in the order of the log."""
        with duckdb.connect(str(self.folder / "setledger.duckdb"), read_only=True) as con:
            return con.execute(
                f"select {columns} from ledger.current_sets order by performed_on, day_order"
            ).fetchall()


@pytest.fixture
def room(tmp_path: Path) -> Room:
    return Room(tmp_path)


def test_without_corrections_nothing_is_corrected(room: Room) -> None:
    room.load()
    assert room.ask("is_corrected") == [(False,)] * 5


def test_a_load_is_overruled_and_what_was_logged_stays(room: Room) -> None:
    room.correct("ines,2026-06-01,bench press,2,load,60,a zero too many")
    room.load()
    assert room.ask("load_kg, is_corrected") == [
        (60.0, False),
        (60.0, True),
        (60.0, False),
        (100.0, False),
        (62.5, False),
    ]
    with duckdb.connect(str(room.folder / "setledger.duckdb"), read_only=True) as con:
        assert con.execute("select max(load_kg) from ledger.sets").fetchall() == [(600.0,)]


@pytest.mark.parametrize(
    ("field", "text", "column", "value"),
    [
        ("load", "135 lb", "load_kg", 135 * 0.45359237),
        ("load", "61,5", "load_kg", 61.5),
        ("reps", "12", "reps", 12),
        ("partial_reps", "3", "partial_reps", 3),
        ("rir", "0.5", "rir", 0.5),
        ("rpe", "9.5", "rpe", 9.5),
        ("set_kind", "Warmup", "set_kind", "warmup"),
        ("to_failure", "true", "to_failure", True),
    ],
)
def test_each_field_takes_its_value(
    room: Room, field: str, text: str, column: str, value: Any
) -> None:
    room.correct(f'ines,2026-06-01,Back Squat,1,{field},"{text}",as told')
    room.load()
    corrected = room.ask(f"{column}, is_corrected, exercise")[3]
    assert corrected == (pytest.approx(value) if column == "load_kg" else value, True, "back squat")


def test_two_fields_of_one_set_and_two_sets_of_one_day(room: Room) -> None:
    room.correct(
        "ines,2026-06-01,bench press,3,reps,9,miscounted",
        "ines,2026-06-01,bench press,3,rir,0,miscounted",
        "ines,2026-06-03,bench press,1,reps,7,miscounted",
    )
    room.load()
    assert room.ask("reps, rir, is_corrected") == [
        (8, 2.0, False),
        (8, 2.0, False),
        (9, 0.0, True),
        (5, None, False),
        (7, 2.0, True),
    ]


def test_the_nth_set_counts_all_spellings_of_the_exercise(room: Room) -> None:
    """'Bench Press' twice and 'bench press' once are sets 1 to 3 of the bench press."""
    room.correct("Ines Duarte,2026-06-01,BENCH PRESS,3,load,57.5,another bar")
    room.load()
    assert [load for (load,) in room.ask("load_kg")] == [60.0, 600.0, 57.5, 100.0, 62.5]


def test_a_correction_survives_a_longer_and_a_changed_export(room: Room) -> None:
    room.correct("ines,2026-06-01,bench press,2,load,60,a zero too many")
    room.load()
    room.export(EXPORT + "2026-06-05,Bench Press,65,8,2,work\n")
    room.load()
    assert room.ask("load_kg, is_corrected")[1] == (60.0, True)
    room.export(EXPORT.replace("Back Squat,100,5", "Back Squat,105,5"))
    room.load()
    assert room.ask("load_kg, is_corrected, load_id")[1] == (60.0, True, 3)


def test_a_line_taken_out_gives_the_logged_value_back(room: Room) -> None:
    room.correct("ines,2026-06-01,bench press,2,load,60,a zero too many")
    room.load()
    room.correct()
    room.load()
    assert room.ask("load_kg, is_corrected")[1] == (600.0, False)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("ines,2026-06-01,bench press,2,tempo,3,x", "'tempo' cannot be corrected; it is one of"),
        ("ines,01.06.2026,bench press,2,load,60,x", "'01.06.2026' is no day"),
        ("ines,2026-06-01,bench press,0,load,60,x", "n = '0' is no set's place"),
        ("ines,2026-06-01,bench press,2,load,heavy,x", "load = 'heavy' is no number"),
        ("ines,2026-06-01,bench press,2,load,9000,x", "load = '9000' is outside 0 to 700"),
        ("ines,2026-06-01,bench press,2,reps,7.5,x", "reps = '7.5' is outside 1 to 100"),
        ("ines,2026-06-01,bench press,2,rpe,11,x", "rpe = '11' is outside 1 to 10"),
        ("ines,2026-06-01,bench press,2,set_kind,drop,x", "'drop' is no set kind"),
        ("ines,2026-06-01,bench press,2,to_failure,maybe,x", "'maybe' is neither true nor false"),
    ],
)
def test_an_unusable_line_is_named(room: Room, line: str, message: str) -> None:
    room.correct("ines,2026-06-01,bench press,1,reps,9,x", line)
    with pytest.raises(ConfigError, match=r"^corrections\.csv:3: ") as raised:
        read_corrections(find_workspace(room.folder))
    assert message in str(raised.value)


def test_a_missing_column_is_named(room: Room) -> None:
    (room.folder / "corrections.csv").write_text("client,day,exercise,n,field,reason\n")
    with pytest.raises(ConfigError, match=r'corrections\.csv:1: column "value" is missing'):
        read_corrections(find_workspace(room.folder))


def test_a_weigh_in_with_a_decimal_comma_is_read_whole_or_refused(room: Room) -> None:
    path = room.folder / "bodyweight.csv"
    path.write_text("client;day;bodyweight_kg;note\n# a scale\nines;2026-06-01;64,5;\n")
    assert file_weigh_ins(find_workspace(room.folder)) == [
        ("ines", date(2026, 6, 1), 64.5, "bodyweight.csv", 3)
    ]
    path.write_text("client,day,bodyweight_kg\nines,2026-06-01,64,5\n")
    with pytest.raises(ConfigError, match=r"^bodyweight\.csv:2: this line has more cells"):
        file_weigh_ins(find_workspace(room.folder))

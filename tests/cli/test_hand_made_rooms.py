"""A coach's evening: files of several people in several hand-made shapes, two commands, no edit."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.ledger.replay import opened_work
from pipeline.outcome import Outcome
from pipeline.runs.load import load
from pipeline.settings.workspace_file import find_workspace

HEAD = "Tag;Übung;Last (kg);Wdh\n"
LIFTS = ("Kniebeuge", "Bankdrücken", "Rudern")


def notebook(month: int, base: float, *, sums: bool = False) -> str:
    """Twelve sets of a German month: four days, three lifts; with sums and a heading if asked."""
    text = HEAD
    for at, day in enumerate((2, 9, 16, 23)):
        if sums:
            text += f"Woche {at + 1};;;\n"
        for lift in LIFTS:
            text += f"{day:02d}.{month:02d}.2026;{lift};{base + 2.5 * at:g};8\n".replace(
                ".5;", ",5;"
            )
        if sums:
            text += "Summe;;;24\n"
    return text


def journal(month: int, base: int, who: str) -> str:
    """Eight sets of an English month under a line with the name."""
    text = f"Athlete: {who}\n\nWhen,Movement,Weight (lb),Reps\n"
    for day in (3, 10, 17, 24):
        for lift in ("Back Squat", "Bench Press"):
            text += f"2026-{month:02d}-{day:02d},{lift},{base + day},5\n"
    return text


def shared(month: int) -> str:
    """Four sets of two people who share a table."""
    return "date,member,lift,kg,reps\n" + "".join(
        f"2026-{month:02d}-{day:02d},{who},Deadlift,{100 + day},5\n"
        for day in (4, 11)
        for who in ("Ada Quist", "Bo Falk")
    )


def listed(month: int) -> str:
    """Two lines of three sets each, and a hold."""
    return "Day|What|Done\n" + "".join(
        f"2026-{month:02d}-{day:02d}|Overhead Press|40kg x 8, 40kg x 8, 42.5kg x 6\n"
        f"2026-{month:02d}-{day:02d}|Plank|3x45s\n"
        for day in (5, 12)
    )


def put(room: Path, name: str, content: str | bytes) -> None:
    path = room / "exports" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content.encode() if isinstance(content, str) else content)


@pytest.fixture
def room(setledger: Any, tmp_path: Path) -> Path:
    """Eight files in four shapes, of seven people."""
    assert setledger("init", "room", cwd=tmp_path).returncode == 0
    room = tmp_path / "room"
    put(room, "Mara Lind März 2026.csv", notebook(3, 60, sums=True))
    put(room, "Jürgen Groß März 2026.csv", notebook(3, 90))
    put(room, "tomas-2026-03.csv", notebook(3, 40))
    put(room, "block 1.csv", journal(3, 135, "Ilse Brandt"))
    put(room, "block 2.csv", journal(3, 95, "Noor Haddad"))
    put(room, "studio 2026-03.csv", shared(3))
    put(room, "piet-log-03.csv", listed(3))
    put(room, "piet-log-02.csv", listed(2))
    return room


def rows(room: Path, sql: str) -> list[tuple[Any, ...]]:
    with duckdb.connect(str(room / "setledger.duckdb"), read_only=True) as con:
        return con.execute(sql).fetchall()


def sets_of(room: Path) -> dict[str, int]:
    sql = "select client_id, count(*) from ledger.current_sets group by all order by all"
    return dict(rows(room, sql))


def sources(room: Path) -> list[dict[str, Any]]:
    text = (room / "setledger.toml").read_text(encoding="utf-8")
    found: list[dict[str, Any]] = tomllib.loads(text).get("sources", [])
    return found


def names(room: Path) -> list[str]:
    return [str(path.relative_to(room)) for path in sorted((room / "exports").iterdir())]


MARCH = {
    "ada-quist": 2, "bo-falk": 2, "ilse-brandt": 8, "jurgen-gross": 12, "mara-lind": 12,
    "noor-haddad": 8, "piet": 12, "tomas": 12,
}  # fmt: skip


def test_two_commands_give_every_set_and_every_client(setledger: Any, room: Path) -> None:
    drafted = setledger("draft-mapping", *names(room), cwd=room)
    assert (drafted.returncode, drafted.stderr) == (0, "")
    done = setledger("load", cwd=room)
    assert (done.returncode, done.stderr) == (0, "")
    assert sets_of(room) == MARCH
    aside = "select reason, count(*) from ledger.set_aside group by all"
    assert rows(room, aside) == [("no_repetitions", 4)]
    loads = "select read.path, lines_skipped from ledger.loads as read where path like '%Mara%'"
    assert rows(room, loads) == [("exports/Mara Lind März 2026.csv", 9)]


def test_files_of_one_shape_share_a_mapping_and_a_source(setledger: Any, room: Path) -> None:
    setledger("draft-mapping", "exports/*", cwd=room)
    assert [each["files"] for each in sources(room)] == [
        ["exports/Jürgen Groß *.csv", "exports/Mara Lind *.csv", "exports/tomas-*.csv"],
        "exports/block *.csv",
        "exports/piet-log-*.csv",
        "exports/studio *.csv",
    ]


def test_the_next_month_is_one_command(setledger: Any, room: Path) -> None:
    setledger("draft-mapping", *names(room), cwd=room)
    setledger("load", cwd=room)
    config = (room / "setledger.toml").read_bytes()
    put(room, "Mara Lind April 2026.csv", notebook(4, 60, sums=True))
    put(room, "Jürgen Groß April 2026.csv", notebook(4, 90))
    put(room, "tomas april.csv", notebook(4, 40))
    put(room, "Wera Okafor 04.csv", notebook(4, 30))
    put(room, "block 3.csv", journal(4, 140, "Ilse Brandt"))
    done = setledger("load", cwd=room)
    assert (done.returncode, done.stderr) == (0, "")
    assert sets_of(room) == MARCH | {
        "ilse-brandt": 16, "jurgen-gross": 24, "mara-lind": 24, "tomas": 24, "wera-okafor": 12,
    }  # fmt: skip
    said = setledger("check", cwd=room).stdout
    assert "exports/tomas april.csv: read with mappings/" in said
    assert (room / "setledger.toml").read_bytes() == config
    again = setledger("load", cwd=room)
    assert (again.returncode, again.stderr) == (0, "")
    before = sets_of(room)
    assert setledger("rebuild", cwd=room).returncode in (0, 1)
    assert sets_of(room) == before


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("Wera.csv", notebook(4, 30).replace("(kg)", "(lb)")),
        ("Wera.csv", notebook(4, 30).replace(";", ",").replace(",5,", ".5,")),
        ("Wera.csv", notebook(4, 30).replace("Wdh", "Wiederholungen")),
        ("Wera.csv", "Datum;Lift;Kilo;Mal\n02.04.2026;Rudern;40;8\n"),
    ],
)
def test_a_file_of_another_shape_waits_and_its_command_is_named(
    setledger: Any, room: Path, name: str, content: str
) -> None:
    setledger("draft-mapping", *names(room), cwd=room)
    put(room, name, content)
    done = setledger("load", cwd=room)
    assert done.returncode == 1
    assert f"exports/{name}: no source reads this file; it waits for a mapping" in done.stderr
    assert f"`setledger draft-mapping exports/{name}`" in done.stderr
    assert sets_of(room) == MARCH
    assert setledger("load", cwd=room).returncode == 1


def test_the_command_is_quoted_for_a_shell(setledger: Any, room: Path) -> None:
    setledger("draft-mapping", *names(room), cwd=room)
    put(room, "Wera Mai.csv", "Datum;Lift;Kilo;Mal\n02.04.2026;Rudern;40;8\n")
    assert "`setledger draft-mapping 'exports/Wera Mai.csv'`" in setledger("load", cwd=room).stderr


def test_american_days_do_not_join_european_ones(setledger: Any, tmp_path: Path) -> None:
    def table(form: str) -> str:
        days = ((3, day) for day in (2, 4, 6, 9, 11, 13, 16, 18, 20, 23))
        return "Date,Exercise,Weight (kg),Reps\n" + "".join(
            f"{form.format(d=day, m=month)},Row,50,8\n" for month, day in days
        )

    setledger("init", "room", cwd=tmp_path)
    room = tmp_path / "room"
    put(room, "mara.csv", table("{d:02d}/{m:02d}/2026"))
    setledger("draft-mapping", "exports/mara.csv", cwd=room)
    put(room, "ann.csv", table("{m:02d}/{d:02d}/2026"))
    done = setledger("load", cwd=room)
    assert done.returncode == 1
    assert "draft-mapping exports/ann.csv" in done.stderr
    assert sets_of(room) == {"mara": 10}


def test_what_is_no_table_is_named_with_what_to_do(setledger: Any, room: Path) -> None:
    setledger("draft-mapping", *names(room), cwd=room)
    put(room, "plan.xlsx", b"PK\x03\x04....xl/workbook.xml")
    put(room, "scan.pdf", b"%PDF-1.7\n")
    put(room, ".DS_Store", b"\0\0\0\1Bud1")
    put(room, "~$plan.xlsx", b"\x05Coach")
    put(room, "old/2019.csv", "Datum;Lift;Kilo;Mal\n02.04.2019;Rudern;40;8\n")
    config = room / "setledger.toml"
    text = config.read_text().replace("[workspace]\n", '[workspace]\nignore = ["exports/old/*"]\n')
    config.write_text(text)
    done = setledger("load", cwd=room)
    assert done.returncode == 1
    [plan, scan] = done.stderr.splitlines()
    assert plan.startswith("exports/plan.xlsx: ") and "Save as" in plan and "CSV" in plan
    assert scan.startswith("exports/scan.pdf: ") and "CSV" in scan
    assert sets_of(room) == MARCH


def test_drafting_all_again_leaves_what_is_read_alone(setledger: Any, room: Path) -> None:
    setledger("draft-mapping", *names(room), cwd=room)
    config = (room / "setledger.toml").read_text()
    put(room, "Wera.csv", "Datum;Lift;Kilo;Mal\n2026-04-02;Rudern;42,5;8\n")
    done = setledger("draft-mapping", *names(room), cwd=room)
    assert done.returncode == 0, done.stderr
    text = (room / "setledger.toml").read_text()
    assert text.startswith(config)
    assert text[len(config) :].count("[[sources]]") == 1


def test_the_only_listed_client_is_written_down(setledger: Any, tmp_path: Path) -> None:
    setledger("init", "room", cwd=tmp_path)
    room = tmp_path / "room"
    config = room / "setledger.toml"
    config.write_text(config.read_text() + '\n[[clients]]\nid = "ines"\n')
    put(room, "training-03.csv", notebook(3, 50))
    setledger("draft-mapping", "exports/training-03.csv", cwd=room)
    setledger("load", cwd=room)
    assert sets_of(room) == {"ines": 12}
    config.write_text(config.read_text() + '\n[[clients]]\nid = "bo"\n')
    put(room, "training-jo-04.csv", notebook(4, 20))
    assert setledger("load", cwd=room).returncode == 0
    assert sets_of(room) == {"ines": 12, "jo": 12}


def test_files_whose_names_leave_nothing_are_one_lifter_and_that_is_said(
    setledger: Any, tmp_path: Path
) -> None:
    setledger("init", "room", cwd=tmp_path)
    room = tmp_path / "room"
    put(room, "2026-03.csv", notebook(3, 50))
    put(room, "2026-04.csv", notebook(4, 50))
    done = setledger("draft-mapping", *names(room), cwd=room)
    assert "the sets are those of 'lifter'" in done.stdout
    setledger("load", cwd=room)
    put(room, "2026-05.csv", notebook(5, 50))
    assert setledger("load", cwd=room).returncode == 0
    put(room, "mara-05.csv", notebook(5, 70))
    assert setledger("load", cwd=room).returncode == 0
    assert sets_of(room) == {"lifter": 36, "mara": 12}


def test_a_mended_mapping_leaves_no_ghost_of_the_older_client(
    setledger: Any, tmp_path: Path
) -> None:
    setledger("init", "room", cwd=tmp_path)
    room = tmp_path / "room"
    put(room, "harbour.csv", notebook(3, 50))
    setledger("draft-mapping", "exports/harbour.csv", cwd=room)
    setledger("load", cwd=room)
    assert sets_of(room) == {"harbour": 12}
    mapping = room / "mappings" / "harbour.toml"
    text = mapping.read_text().replace(
        "file_name = true", 'file_name = true\nwithout = ["harbour"]'
    )
    mapping.write_text(text + "\n")
    setledger("load", cwd=room)
    assert sets_of(room) == {"lifter": 12}


def test_a_mapping_that_reads_less_is_read_again_and_never_held(
    setledger: Any, tmp_path: Path
) -> None:
    setledger("init", "room", cwd=tmp_path)
    room = tmp_path / "room"
    put(room, "mara.csv", notebook(3, 50) + "24.03.26;Rudern;50;8\n")
    setledger("draft-mapping", "exports/mara.csv", cwd=room)
    setledger("load", cwd=room)
    [mapping] = (room / "mappings").iterdir()
    mapping.write_text(mapping.read_text().replace('"%d.%m.%Y"', '"%d.%m.%y"'))
    done = setledger("load", cwd=room)
    assert done.returncode == 1 and "set aside, above the limit" in done.stderr
    assert "held" not in done.stderr
    assert sets_of(room) == {"mara": 1}
    assert rows(room, "select state, count(*) from ledger.loads group by all order by all") == [
        ("loaded", 1),
        ("replaced", 1),
    ]


def test_a_mapping_of_one_person_takes_no_other_persons_file(
    setledger: Any, tmp_path: Path
) -> None:
    setledger("init", "room", cwd=tmp_path)
    room = tmp_path / "room"
    put(room, "mara-03.csv", notebook(3, 50))
    setledger("draft-mapping", "exports/mara-03.csv", cwd=room)
    [mapping] = (room / "mappings").iterdir()
    lines = mapping.read_text().splitlines()
    kept = [line for line in lines if not line.startswith(("[client]", "file_name"))]
    mapping.write_text("\n".join([*kept, "[constants]", 'client = "mara"']) + "\n")
    put(room, "jo-03.csv", notebook(3, 20))
    put(room, "mara april.csv", notebook(4, 50))
    done = setledger("load", cwd=room)
    assert done.returncode == 1
    assert "draft-mapping exports/jo-03.csv`" in done.stderr
    assert sets_of(room) == {"mara": 24}


def test_a_run_without_any_source_names_the_files_that_wait(setledger: Any, room: Path) -> None:
    done = setledger("run", cwd=room)
    assert done.returncode == 2
    assert "setledger draft-mapping" in done.stderr
    assert "'exports/Mara Lind März 2026.csv'" in done.stderr


def test_check_names_the_files_that_wait(setledger: Any, room: Path) -> None:
    setledger("draft-mapping", *names(room), cwd=room)
    put(room, "Wera.csv", "Datum;Lift;Kilo;Mal\n02.04.2026;Rudern;40;8\n")
    done = setledger("check", cwd=room)
    assert done.returncode == 1
    assert "draft-mapping exports/Wera.csv" in done.stdout


@pytest.mark.parametrize("value", ['["exports/a*.csv", "exports/b.csv"]', '"exports/[ab]*.csv"'])
def test_a_source_may_list_several_globs(setledger: Any, tmp_path: Path, value: str) -> None:
    setledger("init", "room", cwd=tmp_path)
    room = tmp_path / "room"
    put(room, "a1.csv", notebook(3, 50))
    setledger("draft-mapping", "exports/a1.csv", cwd=room)
    config = room / "setledger.toml"
    [source] = sources(room)
    head, _, _ = config.read_text().rpartition("files = ")
    config.write_text(f'{head}files = {value}\nmapping = "{source["mapping"]}"\n')
    put(room, "b.csv", notebook(4, 50))
    assert setledger("load", cwd=room).returncode == 0
    assert sum(sets_of(room).values()) == 24


def test_a_file_that_joins_is_said_once(room: Path, setledger: Any) -> None:
    setledger("draft-mapping", *names(room), cwd=room)
    setledger("load", cwd=room)
    put(room, "tomas april.csv", notebook(4, 40))
    said = []
    for _ in range(2):
        outcome = Outcome()
        with opened_work(find_workspace(room)) as work:
            load(work, outcome)
            work.publish()
        said.append([each for each in outcome.notes if "tomas april" in each])
    [[sentence], nothing] = said
    assert sentence.startswith("exports/tomas april.csv: has the shape of what mappings/")
    assert "`setledger draft-mapping 'exports/tomas april.csv'`" in sentence
    assert nothing == []

"""draft-mapping as a user runs it: from a file that nobody has seen to sets in the ledger."""

from __future__ import annotations

import re
import shutil
import tomllib
from pathlib import Path
from typing import Any

import duckdb
import pytest

CLEAR = "Date,Exercise,Weight (kg),Reps\n2026-03-14,Back Squat,100,5\n2026-03-16,Bench Press,80,8\n"
OPEN = "Date,Exercise,Weight (kg),Reps\n03/04/2026,Back Squat,100,5\n05/04/2026,Bench Press,80,8\n"


def wide(columns: int) -> bytes:
    """A header of so many columns and a line without a value."""
    header = b",".join(b"c%d" % number for number in range(columns))
    return header + b"\n" + b"," * (columns - 1) + b"\n"


def write(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def loaded(folder: Path) -> list[tuple[Any, ...]]:
    with duckdb.connect(str(folder / "setledger.duckdb"), read_only=True) as con:
        return con.execute(
            "select performed_on::varchar, exercise_raw, load_kg, reps"
            " from ledger.sets order by set_id"
        ).fetchall()


def sources(folder: Path) -> list[dict[str, str]]:
    text = (folder / "setledger.toml").read_text(encoding="utf-8")
    return tomllib.loads(text).get("sources", [])


def test_a_clear_file_is_drafted_and_loaded_without_a_person(
    setledger: Any, tmp_path: Path
) -> None:
    write(tmp_path, "theirs.csv", CLEAR)

    drafted = setledger("draft-mapping", "theirs.csv", cwd=tmp_path)
    assert (drafted.returncode, drafted.stderr) == (0, "")
    assert "2 of 2 lines give 2 sets" in drafted.stdout
    assert "Back Squat" in drafted.stdout

    assert setledger("load", cwd=tmp_path).returncode == 0
    assert loaded(tmp_path) == [
        ("2026-03-14", "Back Squat", 100.0, 5),
        ("2026-03-16", "Bench Press", 80.0, 8),
    ]


def test_an_open_key_passes_the_source_over_until_a_line_is_chosen(
    setledger: Any, tmp_path: Path
) -> None:
    write(tmp_path, "theirs.csv", OPEN)

    drafted = setledger("draft-mapping", "theirs.csv", cwd=tmp_path)
    assert drafted.returncode == 1
    assert '"%d/%m/%Y" or date = "%m/%d/%Y" is left open: column \'Date\'' in drafted.stderr

    passed_over = setledger("load", cwd=tmp_path)
    assert passed_over.returncode == 1
    assert "mappings/theirs.toml:" in passed_over.stderr
    assert "date" in passed_over.stderr and "'Date'" in passed_over.stderr

    mapping = tmp_path / "mappings" / "theirs.toml"
    text = mapping.read_text(encoding="utf-8")
    mapping.write_text(text.replace('#? date = "%d', 'date = "%d'), encoding="utf-8")
    assert setledger("load", cwd=tmp_path).returncode == 0
    assert [row[0] for row in loaded(tmp_path)] == ["2026-04-03", "2026-04-05"]


def test_another_source_is_loaded_while_one_is_open(setledger: Any, tmp_path: Path) -> None:
    write(tmp_path, "clear.csv", CLEAR)
    write(tmp_path, "open.csv", OPEN)
    assert setledger("draft-mapping", "clear.csv", "open.csv", cwd=tmp_path).returncode == 1

    done = setledger("load", cwd=tmp_path)
    assert done.returncode == 1
    assert "mappings/open.toml" in done.stderr
    assert [row[0] for row in loaded(tmp_path)] == ["2026-03-14", "2026-03-16"]


def test_a_file_from_elsewhere_is_copied_into_exports(setledger: Any, tmp_path: Path) -> None:
    outside = write(tmp_path, "downloads/Their Log.csv", CLEAR)
    room = tmp_path / "room"
    room.mkdir()

    done = setledger("draft-mapping", str(outside), cwd=room)
    assert done.returncode == 0, done.stderr
    assert (room / "exports" / "Their Log.csv").read_text(encoding="utf-8") == CLEAR
    assert sources(room) == [
        {"files": "exports/Their Log.csv", "mapping": "mappings/their-log.toml"}
    ]
    assert setledger("load", cwd=room).returncode == 0


def test_another_file_of_that_name_in_exports_is_not_overwritten(
    setledger: Any, tmp_path: Path
) -> None:
    outside = write(tmp_path, "downloads/log.csv", CLEAR)
    room = tmp_path / "room"
    held = write(room, "exports/log.csv", OPEN)

    done = setledger("draft-mapping", str(outside), cwd=room)
    assert done.returncode == 2
    assert "another file of that name" in done.stderr
    assert held.read_text(encoding="utf-8") == OPEN


def test_an_existing_mapping_is_kept_and_the_way_out_is_named(
    setledger: Any, tmp_path: Path
) -> None:
    write(tmp_path, "theirs.csv", CLEAR)
    setledger("draft-mapping", "theirs.csv", cwd=tmp_path)
    before = (tmp_path / "mappings" / "theirs.toml").read_text(encoding="utf-8")
    config = (tmp_path / "setledger.toml").read_text(encoding="utf-8")

    again = setledger("draft-mapping", "theirs.csv", cwd=tmp_path)
    assert again.returncode == 2
    assert again.stderr.startswith("mappings/theirs.toml: this mapping exists")
    assert "-o" in again.stderr
    assert (tmp_path / "mappings" / "theirs.toml").read_text(encoding="utf-8") == before
    assert (tmp_path / "setledger.toml").read_text(encoding="utf-8") == config


def test_comments_in_setledger_toml_stay_and_the_entry_stands_at_the_end(
    setledger: Any, tmp_path: Path
) -> None:
    config = '# ours\n[workspace]\nname = "room"  # the name\n\n[rules]\nreps_max = 60\n'
    write(tmp_path, "setledger.toml", config)
    write(tmp_path, "exports/a [1].csv", CLEAR)

    assert setledger("draft-mapping", "exports/a [1].csv", cwd=tmp_path).returncode == 0
    text = (tmp_path / "setledger.toml").read_text(encoding="utf-8")
    assert text.startswith(config)
    assert len(sources(tmp_path)) == 1
    assert setledger("load", cwd=tmp_path).returncode == 0
    assert len(loaded(tmp_path)) == 2


def test_a_source_that_covers_the_file_gets_no_second_entry(setledger: Any, tmp_path: Path) -> None:
    config = '[[sources]]\nfiles = "exports/*.csv"\nmapping = "mappings/all.toml"\n'
    write(tmp_path, "setledger.toml", config)
    write(tmp_path, "exports/one.csv", CLEAR)

    assert setledger("draft-mapping", "exports/one.csv", cwd=tmp_path).returncode == 0
    assert (tmp_path / "setledger.toml").read_text(encoding="utf-8") == config
    assert (tmp_path / "mappings" / "all.toml").exists()
    assert setledger("load", cwd=tmp_path).returncode == 0


@pytest.mark.parametrize("broken", ["[workspace\n", "sources = []\n"])
def test_nothing_is_written_where_setledger_toml_cannot_take_an_entry(
    setledger: Any, tmp_path: Path, broken: str
) -> None:
    write(tmp_path, "setledger.toml", broken)
    write(tmp_path, "theirs.csv", CLEAR)

    done = setledger("draft-mapping", "theirs.csv", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.startswith("setledger.toml")
    assert (tmp_path / "setledger.toml").read_text(encoding="utf-8") == broken
    assert not (tmp_path / "mappings").exists()


def test_output_to_standard_output_changes_nothing(setledger: Any, tmp_path: Path) -> None:
    write(tmp_path, "theirs.csv", CLEAR)

    done = setledger("draft-mapping", "-o", "-", "theirs.csv", cwd=tmp_path)
    assert done.returncode == 0
    assert tomllib.loads(done.stdout)["columns"]["exercise"] == "Exercise"
    assert [path.name for path in tmp_path.iterdir()] == ["theirs.csv"]


def test_output_to_a_named_file_of_the_workspace(setledger: Any, tmp_path: Path) -> None:
    write(tmp_path, "theirs.csv", CLEAR)
    done = setledger("draft-mapping", "-o", "mappings/mine.toml", "theirs.csv", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert sources(tmp_path) == [{"files": "theirs.csv", "mapping": "mappings/mine.toml"}]
    assert setledger("load", cwd=tmp_path).returncode == 0


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.csv", b""),
        ("blank.csv", b"\n \n"),
        ("header.csv", b"Date,Exercise,Weight,Reps\n"),
        ("packed.csv", b"\x1f\x8b\x08\x00abc"),
        ("nul.csv", b"\x00" * 5000),
        ("words.csv", b"dear diary\ntoday I trained\n"),
        ("long.csv", b"a" * 1_000_000),
        ("wide.csv", wide(1_000)),
        pytest.param("wider.csv", wide(10_000), marks=pytest.mark.slow),
        ("quote.csv", b'Date,Exercise\n"2026-03-02,Squat\n'),
    ],
)
def test_what_is_no_log_is_refused_in_one_sentence(
    setledger: Any, tmp_path: Path, name: str, content: bytes
) -> None:
    (tmp_path / name).write_bytes(content)
    done = setledger("draft-mapping", name, cwd=tmp_path)
    assert done.returncode == 2
    assert name in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.count("\n") == 1


def test_one_bad_file_does_not_stop_the_others(setledger: Any, tmp_path: Path) -> None:
    write(tmp_path, "good.csv", CLEAR)
    done = setledger("draft-mapping", "missing.csv", "good.csv", cwd=tmp_path)
    assert done.returncode == 1
    assert "missing.csv: there is no such file" in done.stderr
    assert len(sources(tmp_path)) == 1


def test_two_mappings_of_one_stem_have_names_of_their_own(setledger: Any, tmp_path: Path) -> None:
    write(tmp_path, "a/log.csv", CLEAR)
    write(tmp_path, "b/log.csv", CLEAR.replace("100", "90"))
    setledger("draft-mapping", "a/log.csv", cwd=tmp_path)
    done = setledger("draft-mapping", "-o", "mappings/log-b.toml", "b/log.csv", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert setledger("load", cwd=tmp_path).returncode == 0
    assert len(loaded(tmp_path)) == 4


def test_the_samples_are_drafted_as_they_are_mapped_by_hand(
    setledger: Any, demo: Path, tmp_path: Path
) -> None:
    # The same sets in every column: days, order, loads, sides, kinds, effort, notes and clients.
    room = tmp_path / "room"
    shutil.copytree(demo / "exports", room / "exports")
    config = (demo / "setledger.toml").read_text(encoding="utf-8")
    parts = re.split(r"(?m)^(?=\[)", config)
    unmapped = "".join(part for part in parts if not part.startswith("[[sources]]"))
    (room / "setledger.toml").write_text(unmapped, encoding="utf-8")

    drafted = setledger("draft-mapping", "exports/*", cwd=room)
    done = setledger("load", cwd=room)

    assert (drafted.returncode, drafted.stderr) == (0, "")
    assert done.returncode == 0, done.stderr
    columns = "* exclude (set_id, load_id, source, replaced_by), split_part(set_id, ':', 3) as nth"
    with duckdb.connect() as con:
        for name, folder in (("drafted", room), ("mapped", demo)):
            con.execute(f"attach '{folder / 'setledger.duckdb'}' as {name} (read_only)")
        for one, other in (("drafted", "mapped"), ("mapped", "drafted")):
            [(differing,)] = con.execute(
                f"select count(*) from (select {columns} from {one}.ledger.sets"
                f" except all select {columns} from {other}.ledger.sets)"
            ).fetchall()
            assert differing == 0
        assert con.execute("select count(*) > 30000 from drafted.ledger.sets").fetchone() == (True,)


def test_words_beside_a_listed_client_s_name_are_no_part_of_it(
    setledger: Any, tmp_path: Path
) -> None:
    setledger("init", "room", cwd=tmp_path)
    room = tmp_path / "room"
    config = room / "setledger.toml"
    listed = ('id = "jo"\nname = "Jo Falk"', 'id = "mia"\nname = "Mia Brandt"')
    config.write_text(config.read_text() + "".join(f"\n[[clients]]\n{each}\n" for each in listed))
    write(room, "exports/pounds-jo.csv", CLEAR)
    write(room, "exports/pounds-Mia Brandt.csv", CLEAR.replace("100,5", "60,5"))
    done = setledger("draft-mapping", "exports/*", cwd=room)
    assert done.returncode == 0, done.stderr
    setledger("load", cwd=room)
    with duckdb.connect(str(room / "setledger.duckdb"), read_only=True) as con:
        found = con.execute("select distinct client_id from ledger.sets order by all").fetchall()
    assert found == [("jo",), ("mia",)]

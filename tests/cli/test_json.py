"""--json of the commands that change something: one document on stdout, the same exit codes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.commands import Done

pytestmark = pytest.mark.usefixtures("without_contract")

LOG = "Day;Lift;Kilos;Reps\n2026-08-24;bench press;80;8\n2026-08-25;bench press;80;x\n"
MAPPING = """name = "log"
[columns]
performed_on = "Day"
exercise = "Lift"
load = "Kilos"
reps = "Reps"
[formats]
date = "%Y-%m-%d"
load_unit = "kg"
[constants]
client = "ines"
"""
SETTINGS = """[workspace]
name = "Room"
as_of = 2026-08-31
[rules]
set_aside_share = 0.4
[[sources]]
files = "exports/log*.csv"
mapping = "mappings/log.toml"
[[clients]]
id = "ines"
name = "Ines Duarte"
email = "ines@example.org"
[mail]
host = "mail.example.org"
from = "Room <room@example.org>"
"""


@pytest.fixture
def room(tmp_path: Path) -> Path:
    """A workspace with one log of two lines, one of them damaged."""
    for folder, name, text in (
        ("exports", "log.csv", LOG),
        ("mappings", "log.toml", MAPPING),
        (".", "setledger.toml", SETTINGS),
    ):
        (tmp_path / folder).mkdir(exist_ok=True)
        (tmp_path / folder / name).write_text(text, encoding="utf-8")
    return tmp_path


def document(done: Done, exit_code: int) -> dict[str, Any]:
    """The one document on stdout; it and the process say the same exit code."""
    assert done.returncode == exit_code, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    assert told["exit_code"] == exit_code
    assert "\n".join(told["problems"]) == done.stderr.rstrip("\n")
    return told


def test_load_says_what_it_read_and_what_needs_a_person(room: Path, setledger: Any) -> None:
    told = document(setledger("load", "--json", cwd=room), 1)
    [read] = told["loads"]
    assert (read["path"], read["source"], read["state"]) == ("exports/log.csv", "log", "loaded")
    assert (read["sets_loaded"], read["lines_set_aside"]) == (1, 1)
    [problem] = told["problems"]
    assert problem.startswith("exports/log.csv: 1 line (50.0%) set aside")
    again = document(setledger("load", "--json", cwd=room), 0)
    assert again["loads"] == []


def test_run_names_pages_and_clients_and_a_broken_model_of_ones_own(
    room: Path, setledger: Any
) -> None:
    (room / "models").mkdir()
    (room / "models" / "mine.sql").write_text("select nope", encoding="utf-8")
    told = document(setledger("run", "--json", cwd=room), 1)
    assert [each.split(":")[0] for each in told["problems"]] == [
        "exports/log.csv", "models/mine.sql"
    ]  # fmt: skip
    assert {"out/index.html", "out/ines/latest.html"} <= set(told["pages"])
    assert all((room / page).is_file() for page in told["pages"])
    assert told["clients"]["ines"]["pages"] >= 1
    assert told["clients"]["ines"]["failure"] is None
    assert set(told["seconds"]) >= {"load", "build"}


def test_send_says_what_became_of_each_mail(room: Path, setledger: Any) -> None:
    setledger("run", cwd=room)
    told = document(setledger("send", "--month", "2026-08", "--dry-run", "--json", cwd=room), 0)
    assert told["clients"]["ines"]["mail"] == "written"
    assert (room / "out" / "mail").is_dir()


def test_draft_mapping_gives_text_preview_and_open_keys(room: Path, setledger: Any) -> None:
    other = room / "other.csv"
    other.write_text("When,What,lbs or kg,Times\n03/04/2026,squat,100,5\n", encoding="utf-8")
    done = setledger("draft-mapping", str(other), "-o", "-", "--json", cwd=room)
    told = json.loads(done.stdout)
    [draft] = told["mappings"]
    assert done.returncode == told["exit_code"] == 1
    assert 'performed_on = "When"' in draft["text"]
    assert [each.rstrip() for each in draft["opens"] + draft["warnings"]] == (
        done.stderr.splitlines()
    ), "day or month first"  # fmt: skip
    assert draft["opens"]
    empty = room / "empty.csv"
    empty.write_text("", encoding="utf-8")
    assert document(setledger("draft-mapping", "empty.csv", "--json", cwd=room), 2)["problems"]


@pytest.mark.parametrize("words", [("run",), ("load",), ("send",)])
def test_a_command_that_stops_leaves_a_document_too(
    room: Path, setledger: Any, words: tuple[str, ...]
) -> None:
    (room / "setledger.toml").write_text("[workspace\n", encoding="utf-8")
    [problem] = document(setledger(*words, "--json", cwd=room), 2)["problems"]
    assert problem.startswith(str(room / "setledger.toml")) or "setledger.toml" in problem

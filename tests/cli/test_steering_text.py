"""Control characters in a log are marks on every page, picture, mail and line, and stay as data."""

from __future__ import annotations

import ast
import csv
import email
import io
import json
import re
import sys
from collections.abc import Iterator
from datetime import date, timedelta
from email.policy import default
from pathlib import Path

import pytest
from click.testing import CliRunner

import pipeline
from pipeline import cli
from pipeline.errors import MailError
from pipeline.visible import json_text, visible

NAME = "bench\x1b[2J press \x9b1m\u202eot\x07 \uffff"
SHOWN = "bench␛[2J press [U+009B]1m[U+202E]ot␇ [U+FFFF]"
UNKNOWN = "=zort\x1b]0;x\x07"
STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\uffff]")

CONFIG = """\
[workspace]
name = "Steering"
as_of = 2026-06-30

[[sources]]
files = "exports/*.csv"
mapping = "mappings/log.toml"

[[clients]]
id = "ines"
email = "ines@example.org"

[mail]
host = "localhost"
security = "none"
from = "room@example.org"
"""
MAPPING = """\
name = "log"
[columns]
performed_on = "day"
exercise = "lift"
load = "load"
reps = "reps"
[formats]
load_unit = "kg"
[constants]
client = "ines"
"""


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workspace whose one lift has a name that steers, with pages made."""
    folder = tmp_path_factory.mktemp("steering")
    (folder / "exports").mkdir()
    (folder / "mappings").mkdir()
    (folder / "setledger.toml").write_text(CONFIG)
    (folder / "mappings" / "log.toml").write_text(MAPPING)
    (folder / "exercises.csv").write_text(f"name,exercise\n{NAME},bench press\n")
    days = [date(2026, 3, 2) + timedelta(days=3 * n) for n in range(40)]
    lines = [
        f"{day},{name},{60 + n % 4},8\n"
        for n, day in enumerate(days)
        for name in (NAME, UNKNOWN, f"{UNKNOWN}2")
    ]
    (folder / "exports" / "log.csv").write_text(f"day,lift,load,reps\n{''.join(lines)}")
    done = run(folder, "run")
    assert done.exit_code == 0, done.output
    return folder


def run(folder: Path, *words: str):  # type: ignore[no-untyped-def]
    return CliRunner().invoke(cli.cli, [*words, "-w", str(folder)])


def test_pages_show_marks(room: Path) -> None:
    for path in (room / "out").rglob("*.html"):
        assert STEERING.findall(path.read_text(encoding="utf-8")) == [], path
    page = (room / "out" / "ines" / "latest.html").read_text(encoding="utf-8")
    assert visible(UNKNOWN) in page


def test_the_mail_of_such_a_client_is_written_with_its_pictures(room: Path) -> None:
    done = run(room, "send", "--dry-run", "--month", "2026-06")
    assert done.exit_code == 0, done.output
    [path] = (room / "out" / "mail").glob("*ines.eml")
    message = email.message_from_bytes(path.read_bytes(), policy=default)
    parts = list(message.walk())
    assert [part.get_content_type() for part in parts].count("image/png") >= 2
    texts = [part.get_content() for part in parts if part.get_content_maintype() == "text"]
    assert len(texts) == 3
    assert STEERING.findall("".join(texts).replace("\r\n", "\n")) == []
    assert visible(UNKNOWN) in texts[0]


@pytest.mark.parametrize(
    "words",
    [
        ("check",),
        ("query", "select distinct exercise_raw from ledger.sets"),
        ("query", "select distinct exercise_raw from ledger.sets", "--format", "csv"),
        ("query", "select distinct exercise_raw from ledger.sets", "--json"),
        ("check", "--json"),
        ("trace", "--client", "ines", "--exercise", UNKNOWN, "--on", "2026-06-27"),
    ],
    ids=" ".join,
)
def test_commands_print_marks(room: Path, words: tuple[str, ...]) -> None:
    done = run(room, *words)
    assert "zort" in done.output
    assert STEERING.findall(done.output) == []


def test_json_keeps_what_stands_in_the_log(room: Path) -> None:
    done = run(room, "query", "select distinct exercise_raw as name from ledger.sets", "--json")
    assert {row["name"] for row in json.loads(done.output)} == {NAME, UNKNOWN, f"{UNKNOWN}2"}


def test_a_csv_holds_no_formula_and_raw_keeps_the_letters(room: Path) -> None:
    sql = (
        "select min(exercise_raw) as \"=name\", -1.5::double as less, '-1' as text, null as none"
        f" from ledger.sets where exercise_raw = '{UNKNOWN}'"
    )
    answers = [
        list(csv.reader(io.StringIO(run(room, "query", sql, "--format", "csv", *raw).output)))
        for raw in ((), ("--raw",))
    ]
    assert answers == [
        [["'=name", "less", "text", "none"], ["'" + visible(UNKNOWN), "-1.5", "'-1", ""]],
        [["=name", "less", "text", "none"], [UNKNOWN, "-1.5", "-1", ""]],
    ]


def test_what_a_mail_server_answers_cannot_steer(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(**_: object) -> None:
        raise MailError("550 \x1b[2Jno\u202e")

    monkeypatch.setattr(cli.cli, "main", fail)
    monkeypatch.setattr(sys, "argv", ["setledger", "send", "-vv"])
    with pytest.raises(SystemExit):
        cli.main()
    assert STEERING.findall(capsys.readouterr().err) == []


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        (NAME, SHOWN),
        ("tab\tand\nline", "tab\tand\nline"),
        ("\x7f \ufeff \u2028 \u200b", "␡ [U+FEFF] [U+2028] [U+200B]"),
        ("José, Ærø, 片足 👩‍👩‍👧, می‌خواهم", "José, Ærø, 片足 👩‍👩‍👧, می‌خواهم"),
    ],
)
def test_each_character_that_steers_has_a_mark(text: str, shown: str) -> None:
    assert visible(text) == shown
    assert visible(shown) == shown
    assert json.loads(json_text({"text": text}, 1)) == {"text": text}


def prints() -> Iterator[str]:
    """Where commands print without `say`."""
    folder = Path(pipeline.__file__).parent
    for path in [folder / "cli.py", *sorted((folder / "commands").glob("*.py"))]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            match node:
                case ast.FunctionDef(name="say"):
                    said = ast.unparse(node)
                    assert said.count("click.echo(visible(text)") == 1
                case ast.Call(func=ast.Attribute(attr="echo" | "secho" | "write", value=on)):
                    if "visible(text)" not in ast.unparse(node):
                        yield f"{path.name}:{node.lineno} {ast.unparse(on)}"
                case ast.Call(func=ast.Name(id="print")):
                    yield f"{path.name}:{node.lineno} print"


def test_commands_print_in_one_way() -> None:
    assert list(prints()) == []

"""`setledger client` and `setledger note`: what a coach knows of clients, written by commands."""

from __future__ import annotations

import json
import re
import shutil
import stat
from pathlib import Path
from typing import Any

import click
import duckdb
import pytest

from pipeline.cli import cli
from pipeline.runs import run as runs
from pipeline.settings.workspace_file import find_workspace
from tests.commands import Done, run_setledger
from tests.conftest import unasked

CONFIG = """\
# Harbour Lane
[workspace]
name = "Harbour Lane"
as_of = 2026-09-02

[[sources]]
files = "exports/*.csv"
mapping = "mappings/log.toml"

[[clients]]
id = "ines"
aliases = ["Ines D."]   # the elder
email = "ines@example.org"

# pounds
[[clients]]
id = "odalys"
units = "lb"
mail = false

# Thresholds
[rules]
"""

MAPPING = """\
name = "log"
[columns]
client = "who"
performed_on = "day"
exercise = "lift"
load = "load"
reps = "reps"
[formats]
load_unit = "kg"
"""

EXPORT = "who,day,lift,load,reps\n" + "".join(
    f"{who},2026-0{month}-{day:02d},{lift},{60 + month},8\n"
    for who in ("Ines D.", "odalys", "kofi")
    for month in (5, 6, 7, 8)
    for day in range(1, 29, 3)
    for lift in ("Kniebeuge", "bench press", "harbour drag")
)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The workspace after a run."""
    folder = tmp_path_factory.mktemp("clients") / "room"
    for name in ("exports", "mappings"):
        (folder / name).mkdir(parents=True)
    (folder / "setledger.toml").write_text(CONFIG, encoding="utf-8")
    (folder / "setledger.toml").chmod(0o640)
    (folder / "mappings/log.toml").write_text(MAPPING, encoding="utf-8")
    (folder / "exports/log.csv").write_text(EXPORT, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patches:
        unasked(patches)
        runs.run(find_workspace(folder))
    return folder


@pytest.fixture
def room(built: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(built, tmp_path / "room"))


def say(room: Path, *words: str, **environment: str) -> Done:
    return run_setledger(*words, cwd=room, **environment)


def text_of(room: Path) -> str:
    return (room / "setledger.toml").read_text(encoding="utf-8")


WISHES = [
    (
        ("add", "kofi", "--name", "Kofi Asante", "--email", "kofi@example.org", "--alias", "K. A.",
         "--alias", "Kofi"),
        '[[clients]]\nid = "kofi"\naliases = ["K. A.", "Kofi"]\nname = "Kofi Asante"\n'
        'email = "kofi@example.org"\n',
        "mail = false\n",
    ),
    (
        ("change", "ines", "--on", "2026-07-01", "one rest day more"),
        '[[clients.changes]]\non = 2026-07-01\nnote = "one rest day more"\n',
        'email = "ines@example.org"\n',
    ),
    (
        ("change", "ines", "--on", "2026-07-01", "--exercise", "Bankdrücken", "another bench"),
        '[[clients.changes]]\non = 2026-07-01\nnote = "another bench"\n'
        'exercise = "Bankdrücken"\n',
        'email = "ines@example.org"\n',
    ),
    (
        ("target", "ines", "Kniebeuge", "82,5x5"),
        '[[clients.targets]]\nexercise = "Kniebeuge"\nload = 82.5\nreps = 5\n',
        'email = "ines@example.org"\n',
    ),
    (
        ("target", "odalys", "Harbour Drag", "145 lb × 8"),
        '[[clients.targets]]\nexercise = "Harbour Drag"\nload = 145.0\nreps = 8\n',
        "mail = false\n",
    ),
    (
        ("phase", "ines", "pause", "--from", "2026-05-02", "--to", "2026-05-20"),
        '[[clients.phases]]\nkind = "pause"\nfrom = 2026-05-02\nto = 2026-05-20\n',
        'email = "ines@example.org"\n',
    ),
    (
        ("waive", "ines", "stall", "--subject", "Bankdrücken", "--why", "a new bench"),
        '[[clients.waived]]\ncode = "stall"\nsubject = "bench press"\nwhy = "a new bench"\n',
        'email = "ines@example.org"\n',
    ),
    (
        ("waive", "ines", "volume", "--subject", "Side delts", "--until", "2027-01-31", "--why",
         "shoulder"),
        '[[clients.waived]]\ncode = "volume"\nsubject = "side_delts"\nuntil = 2027-01-31\n'
        'why = "shoulder"\n',
        'email = "ines@example.org"\n',
    ),
    (
        ("waive", "ines", "return", "--until", "2026-09-30", "--why", "back from the coast"),
        '[[clients.waived]]\ncode = "return"\nuntil = 2026-09-30\nwhy = "back from the coast"\n',
        'email = "ines@example.org"\n',
    ),
]  # fmt: skip


@pytest.mark.parametrize(("words", "block", "after"), WISHES)
def test_a_command_writes_one_block_and_shows_it(
    room: Path, words: tuple[str, ...], block: str, after: str
) -> None:
    done = say(room, "client", *words)
    assert (done.returncode, done.stderr) == (0, "")
    assert text_of(room) == CONFIG.replace(after, f"{after}\n{block}")
    line = text_of(room)[: text_of(room).index(block)].count("\n") + 1
    assert done.stdout == f"setledger.toml:{line}: written for {words[1]}:\n{block}"
    assert stat.S_IMODE((room / "setledger.toml").stat().st_mode) == 0o640
    assert say(room, "--quiet", "client", "list").returncode == 0


def test_a_leaver_s_last_day_is_written_and_can_be_moved(room: Path) -> None:
    say(room, "client", "leave", "ines", "--on", "2026-12-31")
    wanted = CONFIG.replace('ines@example.org"\n', 'ines@example.org"\nuntil = 2026-12-31\n')
    assert text_of(room) == wanted
    say(room, "client", "leave", "ines", "--on", "2026-08-31")
    assert text_of(room) == wanted.replace("2026-12-31", "2026-08-31")
    assert say(room, "client", "leave", "ines", "--on", "2026-08-31").returncode == 2


def test_a_link_to_a_file_elsewhere_stays_a_link(room: Path, tmp_path: Path) -> None:
    (room / "setledger.toml").rename(tmp_path / "mine.toml")
    (room / "setledger.toml").symlink_to(tmp_path / "mine.toml")
    say(room, "client", "leave", "ines", "--on", "2026-12-31")
    assert (room / "setledger.toml").is_symlink()
    assert "until = 2026-12-31" in (tmp_path / "mine.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("change", "inez", "--on", "2026-09-01", "x"), "inez: no such client here; did you mean "
         "ines?"),
        (("leave", "Ines D", "--on", "2026-09-01"), "Ines D: no such client here; did you mean "
         "ines?"),
        (("target", "kofi", "back squat", "100x5"), "kofi: loaded, but not listed in "
         "setledger.toml; `setledger client add kofi --name NAME` lists this client."),
        (("change", "ines", "--on", "1.9.2026", "x"), "--on: '1.9.2026' is not a day"),
        (("target", "ines", "bench bounce", "80x5"), "'bench bounce' is no known exercise and "
         "nobody has logged it; nearest are "),
        (("target", "ines", "bench press", "80"), "'80' is no target; write load and repetitions "
         "such as 82.5x5."),
        (("target", "ines", "bench press", "0x5"), "'0x5' is no target"),
        (("target", "odalys", "bench press", "80kgx5"), "odalys reads lb, so write the load in "
         "lb."),
        (("phase", "ines", "paus", "--from", "2026-09-01"), "'paus' is no phase; did you mean "
         "pause?"),
        (("phase", "ines", "cut", "--from", "2026-09-02", "--to", "2026-09-01"), "is before"),
        (("waive", "ines", "volumes", "--why", "x"), "'volumes' is no finding; did you mean "
         "volume?"),
        (("waive", "ines", "stall", "--subject", "bench bounce", "--why", "x"), "is no known "
         "exercise"),
        (("waive", "ines", "stall", "--why", " "), "--why: say why"),
        (("waive", "ines", "rest", "--until", "2026-09-01", "--why", "x"), "is over already"),
        (("waive", "ines", "care", "--why", "x"), "give --until, at most 28 days away "
         "(2026-09-30)"),
        (("waive", "ines", "pain_note", "--until", "2026-10-01", "--why", "x"), "at most 28 days"),
        (("waive", "ines", "strength_drop", "--until", "2026-09-30", "--subject", "chest", "--why",
          "x"), "is about the client as a whole"),
        (("add", "ines", "--name", "x"), "ines: this client is listed already"),
        (("add", "Nina V.", "--name", "x"), "Nina V.: this is no id"),
        (("add", "nina", "--name", "x", "--alias", "ines d."), "two [[clients]] claim 'ines d.'"),
        (("add", "nina", "--name", "x", "--email", "nina"), "'nina' is no mail address"),
    ],
)  # fmt: skip
def test_a_slip_is_named_and_nothing_is_written(
    built: Path, words: tuple[str, ...], said: str
) -> None:
    done = say(built, "client", *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert text_of(built) == CONFIG


def test_why_is_asked_for(built: Path) -> None:
    done = say(built, "client", "waive", "ines", "rest")
    assert done.returncode == 2
    assert "--why" in done.stderr


def test_what_was_written_is_what_the_review_goes_by(room: Path, without_contract: None) -> None:
    for words, _, _ in WISHES:
        assert say(room, "client", *words).returncode == 0
    done = say(room, "run")
    assert done.returncode == 0, done.stderr
    with duckdb.connect(str(room / "setledger.duckdb"), read_only=True) as con:
        targets = con.execute(
            "select client_id, exercise, target_reps, current_index is null, reason"
            " from review.target_progress order by all"
        ).fetchall()
        changes = con.execute("select distinct client_id, changed_on::varchar from"
                              " review.before_after").fetchall()  # fmt: skip
    [(*squat, reason), (*drag, _)] = targets
    assert squat == ["ines", "back squat", 5, False]
    assert not reason.startswith("the lift has no")
    assert drag[:3] == ["odalys", "harbour drag", 8]
    assert changes == [("ines", "2026-07-01")]
    assert (room / "out/kofi/latest.html").exists()


def test_the_list_says_who_is_logged_until_when_and_where_the_mail_goes(room: Path) -> None:
    say(room, "client", "leave", "ines", "--on", "2026-08-31")
    lines = say(room, "client", "list").stdout.splitlines()
    assert [re.split(r"  +", line) for line in lines] == [
        ["id", "name", "sets", "last session", "mail"],
        ["ines", "ines", "120", "2026-08-28", "left 2026-08-31"],
        ["odalys", "odalys", "120", "2026-08-28", "mail = false"],
        ["kofi", "kofi", "120", "2026-08-28", "not listed"],
    ]
    told = json.loads(say(room, "client", "list", "--json").stdout)
    assert told[0] == {
        "client_id": "ines", "name": "ines", "sets": 120, "last_on": "2026-08-28",
        "mail": "left 2026-08-31",
    }  # fmt: skip


# The coach's word


def editor(folder: Path, text: str) -> str:
    """A command that writes a text into the file that it is given."""
    (folder / "words.md").write_text(text, encoding="utf-8")
    script = folder / "an editor"
    script.write_text(f'#!/bin/sh\ncat "{folder}/words.md" >> "$2"\n', encoding="utf-8")
    script.chmod(0o755)
    return f"'{script}' --wait"


def test_a_word_is_written_in_the_editor_and_stands_on_the_page(
    room: Path, tmp_path: Path, without_contract: None
) -> None:
    done = say(room, "note", "ines", EDITOR=editor(tmp_path, "Well **rowed**.\n"))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("notes/ines/2026-08.md: stands on the page of that month")
    note = room / "notes/ines/2026-08.md"
    assert note.read_text(encoding="utf-8") == "Well **rowed**.\n"
    assert stat.S_IMODE(note.parent.stat().st_mode) == 0o700
    say(room, "run")
    assert "<strong>rowed</strong>" in (room / "out/ines/latest.html").read_text(encoding="utf-8")
    assert "From your coach" not in (room / "out/odalys/latest.html").read_text(encoding="utf-8")


def test_a_month_s_word_goes_with_that_month_s_mail(room: Path, tmp_path: Path) -> None:
    say(room, "note", "ines", "--month", "2026-07", EDITOR=editor(tmp_path, "July was *yours*."))
    done = say(room, "send", "--month", "2026-07", "--client", "ines", "--dry-run")
    assert done.returncode == 0, done.stderr
    mail = (room / "out/mail/2026-07-ines.eml").read_text(encoding="utf-8")
    assert "July was *yours*." in mail
    assert "July was <em>yours</em>." in mail
    page = (room / "out/ines/2026-07-31.html").read_text(encoding="utf-8")
    assert "<p>July was <em>yours</em>.</p>" in page


def test_a_client_who_is_not_listed_gets_a_word_too(room: Path, tmp_path: Path) -> None:
    assert say(room, "note", "kofi", EDITOR=editor(tmp_path, "Hello.")).returncode == 0
    assert (room / "notes/kofi/2026-08.md").exists()


def test_nothing_written_leaves_nothing_behind(room: Path) -> None:
    done = say(room, "note", "ines", EDITOR="true")
    assert done.returncode == 0
    assert done.stdout == "ines: nothing is written, so there is no note of that month.\n"
    assert not (room / "notes").exists()


@pytest.mark.parametrize(
    ("words", "environment", "said"),
    [
        (("ines",), {}, "EDITOR names no editor; set it"),
        (("ines",), {"EDITOR": "no-such-editor"}, "EDITOR: 'no-such-editor' cannot be started"),
        (("ines",), {"EDITOR": "false"}, "EDITOR: 'false' ended with 1"),
        (("ines", "--month", "August"), {"EDITOR": "true"}, "--month: 'August-01' is not a day"),
        (("inse",), {"EDITOR": "true"}, "inse: no such client here; did you mean ines?"),
        (("../exports",), {"EDITOR": "true"}, "../exports: no such client here"),
    ],
)
def test_what_hinders_a_word_is_said(
    built: Path, words: tuple[str, ...], environment: dict[str, str], said: str
) -> None:
    done = say(built, "note", *words, **environment)
    assert done.returncode == 2
    assert said in done.stderr
    assert not (built / "notes").exists()


# README


def _commands() -> dict[str, click.Command]:
    """Every command as it is typed: "run", "client add"."""
    found: dict[str, click.Command] = {}
    for name, command in cli.commands.items():
        if isinstance(command, click.Group):
            found |= {f"{name} {each}": one for each, one in command.commands.items()}
        else:
            found[name] = command
    return found


def test_readme_lists_every_command_and_no_option_that_there_is_not() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    table = readme.split("| command | does |")[1].split("\n\n")[0]
    commands, listed = _commands(), []
    for usage in re.findall(r"^\| (`.+?`) \|", table, re.MULTILINE):
        [name] = [name for name in commands if re.match(rf"`{name}[ `]", usage)]
        listed.append(name)
        options = {opt for param in commands[name].params for opt in param.opts}
        assert set(re.findall(r"--[a-z-]+", usage)) <= options, usage
    assert sorted(listed) == sorted(commands)


def test_every_client_command_has_a_sentence_and_an_example(tmp_path: Path) -> None:
    for name in _commands():
        told: Any = run_setledger(*name.split(), "--help", cwd=tmp_path).stdout
        assert f"Example: setledger {name}" in " ".join(told.split()), name

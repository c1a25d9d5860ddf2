"""A coach's month: who is not listed, who left, whose export ended early, what `run` says of it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pipeline.runs import run as runs
from pipeline.settings.workspace_file import find_workspace
from tests.commands import Done, run_setledger
from tests.conftest import unasked

CONFIG = """\
[workspace]
name = "Harbour Lane"
as_of = 2026-08-31

[[sources]]
files = "exports/*.csv"
mapping = "mappings/log.toml"

[[clients]]
id = "ines"
email = "ines@example.org"
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


def export(who: str, until: int = 31) -> str:
    return "who,day,lift,load,reps\n" + "".join(
        f"{who},2026-0{month}-{day:02d},{lift},{60 + month},8\n"
        for month in (6, 7, 8)
        for day in range(1, (until if month == 8 else 30) + 1, 3)
        for lift in ("bench press", "back squat")
    )


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ines is listed; Jörg Müller is not, and his export ends on 10 August."""
    folder = tmp_path_factory.mktemp("month") / "room"
    for name in ("exports", "mappings"):
        (folder / name).mkdir(parents=True)
    (folder / "setledger.toml").write_text(CONFIG, encoding="utf-8")
    (folder / "mappings/log.toml").write_text(MAPPING, encoding="utf-8")
    (folder / "exports/ines.csv").write_text(export("ines"), encoding="utf-8")
    (folder / "exports/jörg.csv").write_text(export("Jörg  Müller", 10), encoding="utf-8")
    with pytest.MonkeyPatch.context() as patches:
        unasked(patches)
        runs.run(find_workspace(folder))
    return folder


@pytest.fixture
def room(built: Path, tmp_path: Path, without_contract: None) -> Path:
    return Path(shutil.copytree(built, tmp_path / "room"))


def say(room: Path, *words: str) -> Done:
    return run_setledger(*words, cwd=room)


def test_who_is_not_listed_keeps_the_page_under_the_name_as_written(built: Path) -> None:
    page = (built / "out/jorg-muller/latest.html").read_text(encoding="utf-8")
    assert "<h1>Jörg Müller</h1>" in " ".join(page.split()).replace("  ", " ")
    roster = (built / "out/index.html").read_text(encoding="utf-8")
    assert '<a href="jorg-muller/latest.html">Jörg  Müller</a>' in roster
    assert "no new export since 10 Aug; not listed: no mail" in roster


def test_an_export_that_ends_early_is_said_once_and_no_gap_of_the_log(built: Path) -> None:
    page = (built / "out/jorg-muller/latest.html").read_text(encoding="utf-8")
    assert page.count("ends 10 Aug 2026") == 1
    assert "log has gaps" not in page


def test_an_alias_that_is_mended_leaves_no_ghost(room: Path) -> None:
    """His pages go with the id; what the user put there stays."""
    own = room / "out/ours"
    own.mkdir()
    (own / "latest.txt").write_text("mine")
    text = CONFIG + '[[clients]]\nid = "joerg"\naliases = ["Jörg  Müller"]\n'
    (room / "setledger.toml").write_text(text, encoding="utf-8")
    done = say(room, "run", "-v")
    assert (done.returncode, done.stderr) == (0, "")
    assert (
        "out/jorg-muller: no set is of 'jorg-muller' any more; its pages are gone." in done.stdout
    )
    assert sorted(path.name for path in (room / "out").iterdir() if path.is_dir()) == [
        "ines", "joerg", "ours",
    ]  # fmt: skip


def test_a_page_beside_a_file_of_the_user_s_own_goes_and_the_file_stays(room: Path) -> None:
    (room / "out/jorg-muller/plan.txt").write_text("mine")
    (room / "exports/jörg.csv").unlink()
    assert say(room, "unload", "exports/jörg.csv").returncode == 0
    assert say(room, "run").returncode == 0
    assert [path.name for path in (room / "out/jorg-muller").iterdir()] == ["plan.txt"]


def test_a_leaver_keeps_the_page(room: Path) -> None:
    (room / "setledger.toml").write_text(CONFIG + "until = 2026-08-12\n", encoding="utf-8")
    say(room, "run")
    assert (room / "out/ines/latest.html").exists()
    roster = (room / "out/index.html").read_text(encoding="utf-8")
    assert roster.index("Jörg  Müller</a>") < roster.index("ines</a>")
    assert "left 12 Aug 2026" in roster


def test_run_and_dry_run_say_the_checklist_and_cron_hears_nothing(room: Path) -> None:
    checklist = [
        "Before you send August 2026",
        "  No new export: Jörg  Müller (since 10 Aug)",
        "  No note for August 2026: everybody",
    ]
    told = say(room, "run", "-v")
    assert told.stdout.splitlines()[-3:] == checklist
    assert told.returncode == 0
    for words in (("run",), ("run", "--quiet", "-v"), ("run", "--quiet")):
        done = say(room, *words)
        assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    dry = say(room, "send", "--month", "2026-08", "--dry-run", "-v").stdout.splitlines()
    place = dry.index(checklist[0])
    assert dry[place : place + 4] == [
        *checklist[:2], "  No mail: Jörg  Müller (not listed)", checklist[2],
    ]  # fmt: skip
    assert not any("no mail (" in line for line in dry)

"""A page is made again if, and only if, something that it shows has changed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.cli import cli
from pipeline.pages import write

MAPPING = (
    'name = "log"\n[columns]\nperformed_on = "day"\nclient = "who"\nexercise = "lift"\n'
    'load = "kg"\nreps = "reps"\n[formats]\ndate = "%Y-%m-%d"\nload_unit = "kg"\n'
)
LAST = date(2026, 3, 31)


def export(who: str, kg: float) -> str:
    days = [LAST - timedelta(days=n) for n in range(1, 60, 3)]
    rows = (f"{day},{who},bench press,{kg},8\n" for day in days for _ in range(3))
    return "day,who,lift,kg,reps\n" + "".join(rows)


@pytest.fixture
def room(tmp_path: Path) -> Path:
    for name in ("exports", "mappings"):
        (tmp_path / name).mkdir()
    (tmp_path / "mappings/log.toml").write_text(MAPPING)
    (tmp_path / "setledger.toml").write_text(
        f'[workspace]\nas_of = {LAST}\n[[sources]]\nfiles = "exports/*.csv"\n'
        'mapping = "mappings/log.toml"\n[[clients]]\nid = "ines"\n[[clients]]\nid = "kofi"\n'
    )
    for who, kg in (("ines", 50.0), ("kofi", 90.0)):
        (tmp_path / f"exports/{who}.csv").write_text(export(who, kg))
    return tmp_path


@pytest.fixture
def made(room: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], list[str]]:
    """Runs, and gives the clients whose pages were made in it."""
    names: list[str] = []
    as_it_was = write.write_page

    def noted(job: write.PageJob) -> object:
        names.append(job.client_id)
        return as_it_was(job)

    monkeypatch.setattr(write, "write_page", noted)

    def run() -> list[str]:
        names.clear()
        done = CliRunner().invoke(cli, ["-w", str(room), "run"])
        assert done.exit_code in (0, 1), done.output
        return sorted(names)

    return run


def test_pages_of_which_nothing_changed_stand(room: Path, made: Callable[[], list[str]]) -> None:
    assert made() == ["ines", "kofi"]
    pages = {path: path.read_bytes() for path in room.glob("out/*/*.html")}
    assert len(pages) == 2 * 3 + 2 * 1, "three pages each, and that of the month's end"
    assert made() == []
    assert {path: path.read_bytes() for path in room.glob("out/*/*.html")} == pages


def edited(room: Path) -> None:
    (room / "out/kofi/evidence.html").write_text("no more")


def gone(room: Path) -> None:
    (room / "out/kofi/years.html").unlink()


def note(room: Path) -> None:
    (room / "notes/kofi").mkdir(parents=True)
    (room / "notes/kofi/2026-03.md").write_text("Well done.")


def new_sets(room: Path) -> None:
    (room / "exports/kofi.csv").write_text(export("kofi", 90.0) + f"{LAST},kofi,squat,120,5\n")


def damaged(room: Path) -> None:
    (room / "out/kofi/.pages.json").write_text('{"state": 3')


@pytest.mark.parametrize("change", [edited, gone, note, new_sets, damaged])
def test_the_pages_of_a_client_for_whom_something_changed_are_made_again(
    room: Path, made: Callable[[], list[str]], change: Callable[[Path], None]
) -> None:
    made()
    before = (room / "out/kofi/latest.html").read_bytes()
    change(room)
    assert made() == ["kofi"]
    if change in (edited, gone, damaged):
        assert (room / "out/kofi/latest.html").read_bytes() == before
        assert "no more" not in (room / "out/kofi/evidence.html").read_text()
    assert made() == []


def test_a_change_of_the_settings_makes_all_again(
    room: Path, made: Callable[[], list[str]]
) -> None:
    made()
    settings = room / "setledger.toml"
    settings.write_text(settings.read_text() + '\nname = "Kofi Mensah"\n')
    assert made() == ["ines", "kofi"]
    assert "Kofi Mensah" in (room / "out/kofi/latest.html").read_text()

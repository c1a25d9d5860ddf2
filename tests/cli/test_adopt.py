"""`setledger client adopt`: a finding is noted as the change that is made now."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture
def room(demo: Path, tmp_path: Path) -> Path:
    """A copy of the demo, to write into."""
    return Path(shutil.copytree(demo, tmp_path / "room"))


def adopted(setledger: Any, room: Path, *words: str) -> str:
    """The block that was written."""
    before = (room / "setledger.toml").read_text(encoding="utf-8")
    done = setledger("-w", str(room), "client", "adopt", *words, cwd=room)
    assert done.returncode == 0, done.stderr
    block: str = done.stdout.split("\n", 1)[1]
    assert block not in before
    assert block in (room / "setledger.toml").read_text(encoding="utf-8")
    return block


def test_by_default_the_first_change_with_the_figure_that_it_starts_from(
    setledger: Any, room: Path
) -> None:
    assert adopted(setledger, room, "matthis") == (
        "[[clients.changes]]\n"
        "on = 2026-08-30\n"
        'note = "Spread the sets for chest over two days (from 14 sets a session to 8 or fewer)"\n'
        'code = "session_size"\n'
        'subject = "chest"\n'
    )
    again = setledger("-w", str(room), "client", "adopt", "matthis", cwd=room)
    assert (again.returncode, again.stdout) == (2, "")
    assert "matthis: this change of 2026-08-30 is noted already" in again.stderr


def test_another_finding_from_another_day_on(setledger: Any, room: Path) -> None:
    block = adopted(setledger, room, "kofi", "rest", "--on", "2026-08-31")
    assert block.startswith('[[clients.changes]]\non = 2026-08-31\nnote = "Put one rest day into ')
    assert block.endswith('code = "rest"\n')


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("kofi", "restt"), "'restt' is no finding; did you mean rest?"),
        (("sunniva",), "sunniva: nothing is to be changed first; nor is anything noticed."),
        (("matthis", "rest"), "matthis: no finding rest now; there are session_size chest, "),
        (("ines", "jump"), "ines: jump is about several; name one of glutes, hamstrings."),
        (("kofy",), "kofy: no such client here; did you mean kofi?"),
    ],
)
def test_what_is_not_found_cannot_be_adopted(
    setledger: Any, demo: Path, words: tuple[str, ...], said: str
) -> None:
    before = (demo / "setledger.toml").read_bytes()
    done = setledger("-w", str(demo), "client", "adopt", *words, cwd=demo)
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert (demo / "setledger.toml").read_bytes() == before


def test_a_review_of_another_day_gives_nothing_to_adopt(setledger: Any, room: Path) -> None:
    path = room / "setledger.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("as_of = 2026-08-30", "as_of = 2026-08-29"), encoding="utf-8")
    done = setledger("-w", str(room), "client", "adopt", "matthis", cwd=room)
    assert done.returncode == 2
    assert "No review of 2026-08-29 is built yet; run `setledger build` first." in done.stderr

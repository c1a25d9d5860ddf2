"""The shell completes commands: the lines of the README, as each shell asks."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from tests.commands import BARE, COMMAND


def ask(tmp_path: Path, **environment: str) -> str:
    done = subprocess.run(
        [COMMAND], cwd=tmp_path, env=BARE | environment, capture_output=True, text=True, check=False
    )
    assert done.stderr == ""
    return done.stdout


@pytest.mark.parametrize(
    ("shell", "words", "place"),
    [("bash", "setledger comp", "1"), ("zsh", "setledger comp", "1"),
     ("fish", "setledger comp", "comp")],
)  # fmt: skip
def test_a_shell_completes_a_command(tmp_path: Path, shell: str, words: str, place: str) -> None:
    variable = f"_SETLEDGER_COMPLETE={shell}_source"
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    assert f"{variable} setledger" in readme
    assert "setledger" in ask(tmp_path, _SETLEDGER_COMPLETE=f"{shell}_source")
    said = ask(
        tmp_path, _SETLEDGER_COMPLETE=f"{shell}_complete", COMP_WORDS=words, COMP_CWORD=place
    )
    assert "compare" in said
    assert "whatif" not in said

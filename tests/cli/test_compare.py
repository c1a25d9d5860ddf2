"""Two spans side by side, as a script asks for them; every figure by hand."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest

from pipeline.ledger.replay import opened_work
from pipeline.outcome import Outcome
from pipeline.review.build import build
from pipeline.runs.load import load
from pipeline.settings.workspace_file import find_workspace
from tests.commands import Done

CONFIG = """
[workspace]
name = "Harbour Lane Barbell Room"
as_of = 2026-07-26
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
[formats]
load_unit = "kg"
"""
SPANS = ("--span", "2026-06-29..2026-07-26", "--against", "2026-06-01..2026-06-28")


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four weeks of one session with 4 sets to failure, then four of two with one in reserve."""
    root = tmp_path_factory.mktemp("compare")
    for folder in ("exports", "mappings"):
        (root / folder).mkdir()
    (root / "setledger.toml").write_text(CONFIG, encoding="utf-8")
    (root / "mappings" / "log.toml").write_text(MAPPING, encoding="utf-8")
    lines = ["day,lift,load,reps,rir"]
    for week in range(8):
        for weekday in (0, 3)[: 1 if week < 4 else 2]:
            day = date(2026, 6, 1) + timedelta(7 * week + weekday)
            load_kg, rir = (60, 0) if week < 4 else (66, 0 if weekday else 1)
            lines += [f"{day},pec deck,{load_kg},10,{rir}"] * 4
    (root / "exports" / "log.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    with opened_work(find_workspace(root)) as work:
        load(work, Outcome())
        build(work, Outcome(), date(2026, 7, 26))
        work.publish()
    return root


def test_sets_sessions_effort_and_lifts_of_both_spans(
    room: Path, setledger: Callable[..., Done], tmp_path: Path
) -> None:
    done = setledger("compare", "-w", str(room), "--client", "ines", *SPANS, "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    this, against = found["spans"]["this"], found["spans"]["against"]
    assert (this["weekly_sessions"], against["weekly_sessions"]) == (2, 1)
    assert (this["weekly_hard_sets"], against["weekly_hard_sets"]) == (8, 4)
    assert (this["failure_share"], against["failure_share"]) == (0.5, 1)
    chest = next(row for row in found["muscles"] if row["muscle"] == "chest")
    assert (chest["weekly_sets_this"], chest["weekly_sets_against"]) == (8, 4)
    (lift,) = found["lifts"]
    assert (lift["sessions_this"], lift["sessions_against"]) == (8, 4)
    # 10 with one left are 11 to failure: (66 × 41/30 + 66 × 36/26) / 2 against 60 × 4/3 for 10
    assert lift["e1rm_against"] == pytest.approx(80)
    assert lift["e1rm_this"] == pytest.approx((66 * 41 / 30 + 66 * 36 / 26) / 2)


def test_the_table_names_both_spans(
    room: Path, setledger: Callable[..., Done], tmp_path: Path
) -> None:
    done = setledger("compare", "-w", str(room), "--client", "ines", *SPANS, cwd=tmp_path)
    assert "2026-06-29 to 2026-07-26" in done.stdout
    assert "Pec deck" in done.stdout


@pytest.mark.parametrize(
    ("span", "said"),
    [
        ("2026-06-01", "write two days"),
        ("2026-06-28..2026-06-01", "lies before the first"),
        ("2020-01-01..2020-02-01", "nothing is logged"),
        ("2026-06-31..2026-07-02", "--span"),
    ],
)
def test_a_span_that_cannot_be_is_one_sentence(
    room: Path, setledger: Callable[..., Done], tmp_path: Path, span: str, said: str
) -> None:
    words = ("--span", span, *SPANS[2:])
    done = setledger("compare", "-w", str(room), "--client", "ines", *words, cwd=tmp_path)
    assert done.returncode == 2
    assert said in done.stderr

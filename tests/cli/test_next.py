"""The sheet for the next session, asked as a coach asks; every line to beat by hand."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from pipeline.ledger.replay import opened_work
from pipeline.outcome import Outcome
from pipeline.pages.next_sheet import next_sheet
from pipeline.review.build import build
from pipeline.review.next_session import NextSession, next_session
from pipeline.runs.load import load
from pipeline.settings.workspace_file import find_workspace
from tests.commands import Done

AS_OF = date(2026, 7, 26)
"""A Sunday."""
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
[[clients.targets]]
exercise = "bench press"
load = 60
reps = 10
[[clients]]
id = "kofi"
name = "Kofi Asante"
[[clients]]
id = "wren"
name = "Wren Talbot"
[[clients]]
id = "petra"
name = "Petra Osterkamp"
[[clients.phases]]
kind = "cut"
from = 2026-07-01
[[clients]]
id = "odalys"
name = "Odalys Freeman"
units = "lb"
[[clients]]
id = "matthis"
name = "Matthis Röwe"
[[clients.phases]]
kind = "care"
from = 2026-07-20
"""
MAPPING = """
name = "log"
[columns]
client = "who"
performed_on = "day"
exercise = "lift"
load = "load"
reps = "reps"
rir = "rir"
notes = "note"
[formats]
load_unit = "kg"
"""

Line = tuple[str, date, str, float, int, str]


def log() -> Iterator[Line]:
    """Client, day, exercise, load, repetitions, note."""
    for nth in range(24):  # two sessions in turn, each on the third day
        day = AS_OF - timedelta(3 * (23 - nth))
        if nth % 2:
            yield "ines", day, "back squat", 100, 8, ""
        else:
            # 8, 9 or 10 at 57.5, then 60: the last of them, on 23 July, is 60 x 7
            load, reps = [(57.5, 8), (57.5, 9), (57.5, 10), (60, 7)][nth // 2 % 4]
            yield "ines", day, "bench press", load, reps, ""
            yield "ines", day, "lateral raise", [10, 10, 10, 12.5][nth // 2 % 4], 12, ""
    for nth in range(24):
        for who in ("kofi", "petra", "matthis"):
            day = AS_OF - timedelta(3 * (23 - nth))
            yield who, day, "back squat", [60, 60, 62.5][nth % 3], [8, 10, 8][nth % 3], ""
            hurts = who == "kofi" and nth == 23
            yield who, day, "leg curl", 40, 10, "sharp pain in the knee" if hurts else ""
            yield who, day, "bench press", 50, 5, ""
    for week in range(8):  # other work each time, but always Monday and Thursday
        for weekday in (0, 3):
            day = AS_OF - timedelta(6 - weekday + 7 * week)
            lift = "0120211022012100"[2 * week + weekday // 3]
            yield "wren", day, ("bench press", "back squat", "barbell curl")[int(lift)], 50, 8, ""
    for back, lift in ((0, "bench press"), (4, "back squat"), (13, "bench press"), (18, "pull-up"),
                       (33, "back squat"), (37, "pull-up")):  # fmt: skip
        yield "odalys", AS_OF - timedelta(back), lift, 0 if lift == "pull-up" else 45.359237, 8, ""


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workspace with those clients."""
    root = tmp_path_factory.mktemp("next")
    for folder in ("exports", "mappings"):
        (root / folder).mkdir()
    (root / "setledger.toml").write_text(CONFIG, encoding="utf-8")
    (root / "mappings" / "log.toml").write_text(MAPPING, encoding="utf-8")
    lines = ["who,day,lift,load,reps,rir,note"]
    for who, day, lift, kg, reps, note in sorted(log(), key=lambda line: line[:2]):
        lines += [f"{who},{day},{lift},{kg},{reps},1,{note}"] * 4
    (root / "exports" / "log.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    outcome = Outcome()
    with opened_work(find_workspace(root)) as work:
        load(work, outcome)
        build(work, outcome, AS_OF)
        work.publish()
    assert outcome.problems == []
    return root


def ask(room: Path, client_id: str) -> NextSession:
    return next_session(find_workspace(room), client_id)


def of(found: NextSession, exercise: str) -> dict[str, Any]:
    return next(row for row in found.exercises if row["exercise"] == exercise)


def line(found: NextSession, exercise: str) -> tuple[float, int] | None:
    row = of(found, exercise)["line"]
    return row and (row["load_kg"], row["reps"])


def test_the_session_that_is_one_round_back_comes_next(room: Path) -> None:
    found = ask(room, "ines")
    assert found.session["rests_on"] == "rotation"
    assert found.session["session_on"] == date(2026, 7, 23)
    assert [row["exercise"] for row in found.exercises] == ["bench press", "lateral raise"]


def test_at_the_targets_load_the_way_to_it_is_a_repetition_at_a_time(room: Path) -> None:
    found = ask(room, "ines")
    row = of(found, "bench press")
    assert (row["loads_kg"], row["reps"]) == ([60.0] * 4, [7] * 4)
    assert line(found, "bench press") == (60.0, 8)
    assert row["line_after"] == {"load_kg": 60.0, "reps": 9}
    assert (row["best_load_kg"], row["best_reps"]) == (60.0, 7)
    sheet = next_sheet(found, "Harbour Lane")
    assert sheet.lines[0].line == "60 × 8, then 60 × 9"
    assert sheet.lines[0].last_sets == "60 × 7, 7, 7, 7"


def test_a_step_of_over_a_tenth_is_a_repetition_more_instead(room: Path) -> None:
    # 12.5 × 12 last; the only step known, 2.5 kg, is a fifth of it, and 15 × 12 would be harder
    assert line(ask(room, "ines"), "lateral raise") == (12.5, 13)


def test_pain_takes_the_line_from_what_trains_the_same_muscles(room: Path) -> None:
    found = ask(room, "kofi")
    assert of(found, "leg curl")["reason"] == "pain_note"
    assert line(found, "leg curl") is None
    assert line(found, "back squat") == (62.5, 9)  # quads, glutes: between 8 and 10 repetitions
    assert line(found, "bench press") == (50.0, 6)


@pytest.mark.parametrize(("client_id", "reason"), [("petra", "cut"), ("matthis", "care")])
def test_a_phase_takes_every_line_and_says_why_once(
    room: Path, client_id: str, reason: str
) -> None:
    found = ask(room, client_id)
    assert {row["reason"] for row in found.exercises} == {reason}
    assert all(row["line"] is None and row["line_after"] is None for row in found.exercises)
    assert len(next_sheet(found, "").notices) == 1


def test_without_a_rotation_the_weekday_says_what_comes(room: Path) -> None:
    found = ask(room, "wren")
    # last on Thursday 23 July; Mondays are next
    assert found.session["rests_on"] == "weekdays"
    assert found.session["session_on"] == date(2026, 7, 20)
    assert (found.session["trained_rounds"], found.session["rounds"]) == (8, 8)


def test_without_either_the_kind_trained_longest_ago_comes(room: Path) -> None:
    found = ask(room, "odalys")
    assert found.session["rests_on"] == "kinds"
    assert [row["exercise"] for row in found.exercises] == ["pull-up"]  # 18 days ago
    assert "trained longest ago" in next_sheet(found, "").rests_on


def test_csv_has_the_columns_that_scripts_read(
    room: Path, setledger: Callable[..., Done], tmp_path: Path
) -> None:
    words = ("next", "-w", str(room), "--client", "ines", "--format", "csv")
    done = setledger(*words, cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert rows[0] == {
        "exercise": "bench press",
        "sets": "4",
        "last_sets": "60x7, 60x7, 60x7, 60x7",
        "best": "60x7",
        "line_to_beat": "60x8, then 60x9",
    }
    to_file = setledger(*words[:-2], cwd=tmp_path)
    page = room / "out" / "ines" / "next.html"
    assert to_file.stdout.strip() == str(page)
    text = page.read_text(encoding="utf-8")
    assert "Next session" in text
    assert "<input" not in text


def test_an_unknown_client_is_named(
    room: Path, setledger: Callable[..., Done], tmp_path: Path
) -> None:
    done = setledger("next", "-w", str(room), "--client", "inez", cwd=tmp_path)
    assert done.returncode == 2
    assert "did you mean ines?" in done.stderr

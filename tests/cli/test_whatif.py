"""The arithmetic of a change, asked as a coach asks; every figure by hand."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.errors import UsageError
from pipeline.ledger.replay import opened_work
from pipeline.outcome import Outcome
from pipeline.review.build import build
from pipeline.review.whatif.answer import Answer, answer
from pipeline.review.whatif.request import Wish
from pipeline.review.whatif.text import as_json, as_lines, notes, table
from pipeline.runs.load import load
from pipeline.settings.workspace_file import find_workspace

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
kind = "care"
from = 2026-07-01
[[clients]]
id = "odalys"
name = "Odalys Freeman"
[[clients]]
id = "sunniva"
name = "Sunniva Aas"
[[clients]]
id = "matthis"
name = "Matthis Röwe"
[[clients.phases]]
kind = "deload"
from = 2026-07-13
to = 2026-07-19
[[clients.phases]]
kind = "cut"
from = 2026-07-01
[[clients]]
id = "senka"
name = "Senka Ilic"
[[clients]]
id = "runa"
name = "Runa Moe"
[[clients]]
id = "lone"
name = "Lone Berg"
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
set_kind = "kind"
[formats]
load_unit = "kg"
"""
AS_OF = date(2026, 7, 26)
"""A Sunday."""

Line = tuple[str, date, str, int, str]


def log() -> Iterator[Line]:
    """Client, day, exercise, number of sets, kind: each client a pattern to 26 July."""
    for back in range(0, 84, 4):
        yield "ines", AS_OF - timedelta(back), "leg extension", 8, "work"
        yield "petra", AS_OF - timedelta(back), "leg extension", 8, "work"
    for back in range(2, 84, 5):
        yield "senka", AS_OF - timedelta(back), "leg extension", 8, "work"
        yield "senka", AS_OF - timedelta(back + 1), "pec deck", 8, "work"
    for week in range(12):
        yield "kofi", AS_OF - timedelta(7 * week), "leg extension", 4, "work"
        for back in (0, 3):  # Sunday and Thursday
            day = AS_OF - timedelta(7 * week + back)
            yield "kofi", day, "bench press", 4, "work"
            yield "wren", day, "pec deck", 4, "work"
            yield "wren", day, "pec deck", 1, "extension"
        # the week from Monday, 13 July, is a deload
        sets = 1 if week == 1 else 6
        yield "matthis", AS_OF - timedelta(7 * week), "leg extension", sets, "work"
    for back in (0, 7, 14):
        yield "lone", AS_OF - timedelta(back), "leg extension", 4, "work"
    for back in (0, 2, 11, 23, 40):
        yield "odalys", AS_OF - timedelta(back), "pec deck", 4, "work"


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workspace with those clients."""
    root = tmp_path_factory.mktemp("whatif")
    for folder in ("exports", "mappings"):
        (root / folder).mkdir()
    (root / "setledger.toml").write_text(CONFIG, encoding="utf-8")
    (root / "mappings" / "log.toml").write_text(MAPPING, encoding="utf-8")
    lines = ["who,day,lift,load,reps,rir,kind"]
    for who, day, lift, sets, kind in sorted(log(), key=lambda line: line[:2]):
        lines += [f"{who},{day},{lift},50,10,1,{kind}"] * sets
    for week in reversed(range(12)):  # Thursdays' last sets are near failure, Sundays' far from it
        for back, reserves in ((3, (6, 6, 1)), (0, (6, 6, 6))):
            day = AS_OF - timedelta(7 * week + back)
            lines += [f"runa,{day},pec deck,50,10,{rir},work" for rir in reserves]
    (root / "exports" / "log.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    outcome = Outcome()
    with opened_work(find_workspace(root)) as work:  # a run without contract and pages
        load(work, outcome)
        build(work, outcome, AS_OF)
        work.publish()
    assert outcome.problems == []
    return root


def ask(room: Path, client_id: str, as_of: date | None = None, **wish: Any) -> Answer:
    return answer(find_workspace(room), Wish(client_id, **wish), as_of)


def of_muscle(found: Answer, muscle: str) -> dict[str, Any]:
    return next(row for row in found.muscles if row["muscle"] == muscle)


def rates(found: Answer, muscle: str) -> tuple[Any, ...]:
    row = of_muscle(found, muscle)
    names = ("weekly_rate", "days_between", "sets_per_hit", "standing")
    return tuple(row[f"{name}_{when}"] for name in names for when in ("before", "after"))


def test_three_sessions_a_week_for_two_are_half_as_many_again(room: Path) -> None:
    found = ask(room, "wren", sessions=3)
    # pec deck, 4 sets on Sundays and Thursdays: 2 sessions and 8 sets a week become 3 and 12
    week = found.week
    assert (week["sessions_before"], week["sessions_after"]) == (2.0, 3.0)
    assert rates(found, "chest")[:4] == (8.0, 12.0, 3.5, pytest.approx(7 / 3))
    assert "go on in turn" in as_lines(found)[2]


def test_rhythm_is_asked_in_one_way(room: Path) -> None:
    with pytest.raises(UsageError, match="give one of them"):
        ask(room, "wren", sessions=3, rest_days=1)


def test_one_rest_day_makes_8_sets_every_4_days_8_every_5(room: Path) -> None:
    found = ask(room, "ines", rest_days=1)
    # 7 ÷ 4 × 8 = 14 and 7 ÷ 5 × 8 = 11.2
    assert rates(found, "quads") == (14.0, 11.2, 4.0, 5.0, 8.0, 8.0, "within", "within")
    assert found.span["is_fixed"]
    assert (found.span["round_days"], found.span["round_days_after"]) == (4.0, 5.0)
    assert found.week == {
        "sessions_before": 1.75,
        "sessions_after": 1.4,
        "hard_sets_before": 14.0,
        "hard_sets_after": 11.2,
        "extended_sets_before": 0.0,
        "extended_sets_after": 0.0,
    }


def test_a_rotation_of_five_days_reads_its_true_rate_and_one_gap(room: Path) -> None:
    # 8 ÷ 5 × 7 = 11.2 over six rounds, 30 days; with a rest day 8 ÷ 6 × 7 = 9.33
    found = ask(room, "senka", rest_days=1)
    assert rates(found, "quads")[:6] == (11.2, pytest.approx(28 / 3), 5.0, 6.0, 8.0, 8.0)
    gaps = {
        (row["days_between_before"], row["days_between_after"])
        for row in found.muscles
        if row["days_between_before"]
    }
    assert gaps == {(5.0, 6.0)}


def test_4_to_8_sets_twice_a_week_are_8_to_16(room: Path) -> None:
    found = ask(room, "kofi", sets=("chest=+8",))
    assert rates(found, "chest") == (8.0, 16.0, 3.5, 3.5, 4.0, 8.0, "within", "within")
    # 9 sets twice a week: 18, more than 2 × 9 ÷ 8 over the guide's 16
    assert rates(ask(room, "kofi", sets=("chest=+10",)), "chest")[1::2] == (18.0, 3.5, 9.0, "above")


def test_sets_added_count_for_all_that_their_exercises_train(room: Path) -> None:
    # a bench press set is half a set for front delts and triceps: 4 a week, with 2 × 2 more 6
    found = ask(room, "kofi", sets=("chest=+4",))
    assert rates(found, "triceps")[:6] == (4.0, 6.0, None, None, None, None)
    assert rates(found, "front_delts")[:2] == (4.0, 6.0)
    assert (found.week["hard_sets_before"], found.week["hard_sets_after"]) == (12.0, 16.0)


def test_a_swap_moves_the_sets_to_what_the_new_exercise_trains(room: Path) -> None:
    found = ask(room, "kofi", swaps=("benchpress=pec deck",))
    assert found.asked.swaps == (("bench press", "pec deck"),)
    assert rates(found, "chest")[:6] == (8.0, 8.0, 3.5, 3.5, 4.0, 4.0)
    assert rates(found, "triceps")[:2] == (4.0, 0.0)


def test_several_changes_at_once(room: Path) -> None:
    # (4 + 2) pec deck sets twice in 8 days, not 7: 12 × 7 ÷ 8 = 10.5, every 4 days
    found = ask(room, "kofi", rest_days=1, sets=("chest=+4",), swaps=("bench press=pec deck",))
    assert rates(found, "chest")[:6] == (8.0, 10.5, 3.5, 4.0, 4.0, 6.0)
    assert "It is a calendar week now" in "\n".join(as_lines(found))


def test_no_more_sets_are_taken_away_than_there_are(room: Path) -> None:
    found = ask(room, "kofi", sets=("chest=-12",))
    assert rates(found, "chest") == (8.0, 0.0, 3.5, None, 4.0, None, "within", "below")
    assert notes(found)[:3] == [
        "Chest would fall below the guide.",
        "Chest: the sets taken away are taken to be of bench press, and count for every muscle "
        "that it trains.",
        "Chest: there are only 8 sets a week to take away.",
    ]


def test_a_muscle_that_is_not_trained_gets_one_session_a_round(room: Path) -> None:
    found = ask(room, "kofi", sets=("calves=+3",))
    assert rates(found, "calves")[:6] == (0.0, 3.0, None, 7.0, None, 3.0)
    assert any(each.startswith("Calves: not trained directly") for each in notes(found))


def test_dropped_extensions_take_no_set_away(room: Path) -> None:
    # the last of four sets goes on after failure: a quarter
    found = ask(room, "wren", is_without_extensions=True)
    chest = of_muscle(found, "chest")
    assert (chest["weekly_rate_before"], chest["weekly_rate_after"]) == (8.0, 8.0)
    assert (chest["extended_share_before"], chest["extended_share_after"]) == (0.25, 0.0)
    assert any("2 of 8 hard sets a week" in each for each in notes(found))


def test_a_last_set_closer_to_failure_is_a_hard_one_where_it_was_none(room: Path) -> None:
    # Thursdays give one hard set now; Sundays one more, so a hit every 3.5 days in place of 7
    found = ask(room, "runa", closer=("chest",))
    assert rates(found, "chest")[:6] == (1.0, 2.0, 7.0, 3.5, 1.0, 1.0)
    week = found.week
    assert (week["sessions_before"], week["hard_sets_before"], week["hard_sets_after"]) == (1, 1, 2)
    assert any("1 hard set a week more" in each for each in notes(found))
    assert as_json(found)["asked"]["closer"] == ["chest"]
    done = ask(room, "wren", closer=("chest",))
    assert rates(done, "chest")[:2] == (8.0, 8.0)
    assert "Every last set of these exercises was a hard one already." in notes(done)
    with pytest.raises(UsageError, match=r"--closer back: this is a body part; .* upper_back"):
        ask(room, "wren", closer=("back",))


def test_in_care_there_are_figures_and_no_judgement(room: Path) -> None:
    found = ask(room, "petra", rest_days=1)
    headings, rows = table(found)
    assert headings == ["Muscle", "Sets a week", "Days between hits", "Sets a hit"]
    assert rows == [("Quads", "14.0 → 11.2", "4.0 → 5.0", "8.0")]
    assert "licensed professional" in notes(found)[0]
    assert not [key for key in as_json(found)["muscles"][0] if "standing" in key or "guide" in key]


def test_deload_days_are_left_out_and_a_cut_adds_nothing(room: Path) -> None:
    # 6 sets on three Sundays in 21 days: 6 a week, not 19 ÷ 4
    found = ask(room, "matthis", sets=("quads=+2",))
    assert rates(found, "quads")[:2] == (6.0, 8.0)
    assert "26 July 2026, 7 deload days left out; all else" in as_lines(found)[1]
    assert notes(found)[0] == ("In a cut: holding strength is success here, and nothing is added.")


def test_a_log_that_begins_within_the_four_weeks_reads_low_and_says_so(room: Path) -> None:
    # 3 × 4 sets in 28 days
    found = ask(room, "lone", sets=("quads=+2",))
    assert rates(found, "quads")[:2] == (3.0, 5.0)
    assert notes(found)[0].startswith("The log begins on 12 July 2026, within these days")


def test_a_day_beyond_the_export_is_reckoned_to_its_last_day(room: Path) -> None:
    found = ask(room, "ines", date(2026, 8, 10), rest_days=1)
    assert rates(found, "quads") == (14.0, 11.2, 4.0, 5.0, 8.0, 8.0, "within", "within")
    assert found.span["to_on"] == AS_OF


def test_without_a_rotation_it_is_said_what_the_arithmetic_rests_on(room: Path) -> None:
    # 4 sessions of 4 in 28 days: 4 a week; what was done in 7 days takes 8
    found = ask(room, "odalys", rest_days=1)
    assert rates(found, "chest")[:4] == (4.0, 3.5, 7.0, 8.0)
    text = "\n".join(as_lines(found))
    assert "No fixed rotation is found, so a week of seven days is taken as one round" in text


def test_another_day_is_reckoned_from_its_own_four_weeks(room: Path) -> None:
    published = (room / "setledger.duckdb").read_bytes()
    found = ask(room, "ines", date(2026, 7, 5), rest_days=1)
    # the export reaches further; 7 sessions in the 28 days
    assert (found.span["as_of"], found.span["to_on"]) == (date(2026, 7, 5), date(2026, 7, 5))
    assert rates(found, "quads")[:2] == (14.0, 11.2)
    assert (room / "setledger.duckdb").read_bytes() == published


@pytest.mark.parametrize(
    ("wish", "sentence"),
    [
        ({}, "Name at least one change"),
        ({"sets": ("chst=+2",)}, "no such muscle; did you mean chest?"),
        ({"sets": ("back=+2",)}, "name one of its muscles: lats, upper_back, traps."),
        ({"sets": ("chest=2",)}, "as in --sets chest=+2 or --sets biceps=-1."),
        ({"sets": ("chest=+200",)}, "give a number of sets from 1 to 20."),
        ({"sets": ("chest=+2", "Chest=-1")}, "chest is named twice"),
        ({"swaps": ("bench press",)}, "the new one with = between"),
        ({"swaps": ("pec deck=cable fly",)}, "trained for the same muscles: bench press."),
        ({"swaps": ("bench press=Bench Press",)}, "both names are the same exercise"),
        ({"swaps": ("bench press=zorp press",)}, "no such exercise is known"),
    ],
)
def test_what_cannot_be_reckoned_is_one_sentence(
    room: Path, wish: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(UsageError) as error:
        ask(room, "kofi", **wish)
    assert sentence in str(error.value)


def test_unknown_clients_and_days_before_the_first_log_are_named(room: Path) -> None:
    with pytest.raises(UsageError, match=r"no such client in the review; did you mean ines\?"):
        ask(room, "inse", rest_days=1)
    with pytest.raises(UsageError, match="sunniva: nothing is logged up to 2026-07-26"):
        ask(room, "sunniva", rest_days=1)


def test_the_command_prints_a_table_and_json(setledger: Any, room: Path) -> None:
    words = ("whatif", "--client", "ines", "--rest-days", "1")
    done = setledger(*words, cwd=room)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines() == [
        "Ines Duarte: 1 rest day more in each round of the rotation.",
        "Based on the days from 29 June 2026 to 26 July 2026; all else stays as it was then.",
        "The rotation of 4 days with 1 session becomes one of 5 days, 4 of them without a session.",
        "A week: 1.8 → 1.4 sessions, 14.0 → 11.2 hard sets.",
        "",
        "Muscle  Sets a week  Days between hits  Sets a hit  Guide  Standing",
        "Quads   14.0 → 11.2  4.0 → 5.0          8.0         8–16   within",
        "",
        "This is an estimate: sums of what would be counted, not a forecast of what it does to a "
        "lifter. Change one thing at a time and look again after four weeks.",
    ]
    found = json.loads(setledger(*words, "--json", cwd=room).stdout)
    assert found["is_estimate"] is True
    assert found["rests_on"]["round_days_after"] == 5.0
    quads = next(row for row in found["muscles"] if row["muscle"] == "quads")
    assert (quads["weekly_rate_before"], quads["weekly_rate_after"]) == (14.0, 11.2)


@pytest.mark.parametrize("count", [2, pytest.param(7, marks=pytest.mark.slow)])
def test_what_is_now_is_what_the_review_says(demo: Path, count: int) -> None:
    """Dropping extensions changes no count: before, after and the review's own are equal."""
    with duckdb.connect(str(demo / "setledger.duckdb"), read_only=True) as con:
        reviewed = con.execute(
            "select client_id, muscle, weekly_rate, standing,"
            " extended_share from review.muscle_status order by all"
        ).fetchall()
    clients = sorted({row[0] for row in reviewed})
    assert len(clients) == 7
    clients = clients[:count]
    now = {
        (client_id, row["muscle"]): row
        for client_id in clients
        for row in ask(demo, client_id, is_without_extensions=True).muscles
    }
    for client_id, muscle, rate, standing, extended_share in reviewed:
        if client_id not in clients:
            continue
        row = now[client_id, muscle]
        assert row["weekly_rate_before"] == row["weekly_rate_after"]
        assert row["extended_share_before"] == extended_share
        assert row["standing_before"] == standing
        if standing is not None:
            assert row["standing_after"] == standing
        assert row["weekly_rate_before"] == pytest.approx(rate, abs=1e-8)

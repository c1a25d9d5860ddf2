"""The sample exports: made again to the same bytes, and their stories hold in the raw rows.

The stories are counted here with the csv module alone, from what the files say, so that the
review's findings about these lifters can be judged against something other than the review.
"""

from __future__ import annotations

import csv
import os
import re
import shutil
import subprocess
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path
from statistics import mean, median
from types import ModuleType

import pytest

from pipeline.names.clients import ClientIndex
from pipeline.names.exercises_file import load_catalogue
from pipeline.reading.export import read_export
from pipeline.reading.export_files import files_of
from pipeline.reading.normalise import normalise
from pipeline.resources import resource
from pipeline.settings.mapping_file import read_mapping
from pipeline.settings.workspace_file import find_workspace

SAMPLES = resource("sample_exports")
AS_OF = date(2026, 8, 30)
ROTATION_FROM = date(2026, 5, 25)
WREN = ("Wren T.", "wren", "W. Talbot")
SUNNIVA = ("Sunniva Aas", "Sunniva", "S. Aas")
CATALOGUE = load_catalogue()


@cache
def generator() -> ModuleType:
    """generate.py as a module, without leaving bytecode in the folder that the wheel carries."""
    path = SAMPLES / "generate.py"
    module = ModuleType("sample_generator")
    module.__file__ = str(path)
    sys.modules[module.__name__] = module
    exec(compile(path.read_text(encoding="utf-8"), path, "exec"), module.__dict__)
    return module


def check(folder: Path, hash_seed: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(folder / "generate.py"), "--check"],
        env={**os.environ, "PYTHONHASHSEED": hash_seed},
        capture_output=True,
        text=True,
        check=False,
    )


@cache
def rows(name: str) -> list[dict[str, str]]:
    """Rows of an export whose day can be read, cells by column."""
    german = name.startswith("heft")
    text = (SAMPLES / "exports" / name).read_bytes().decode("cp1252" if german else "utf-8")
    lines = text.splitlines(keepends=True)[2 if german else 0 :]
    found = list(csv.DictReader(lines, delimiter=";" if german else ","))
    return [row for row in found if day_of(row) is not None]


def day_of(row: dict[str, str]) -> date | None:
    cell = next(row[key] for key in ("day", "Datum", "when", "date", "tag") if key in row)
    for form in ("%Y-%m-%d", "%d.%m.%Y", "%Y-%m-%d %H:%M", "%d/%m/%Y"):
        try:
            day = datetime.strptime(cell, form).date()
        except ValueError:
            continue
        return day if day <= AS_OF else None
    return None


def days(found: Iterable[dict[str, str]]) -> list[date]:
    return sorted({day for row in found if (day := day_of(row)) is not None})


def since(found: list[dict[str, str]], first: date, last: date = AS_OF) -> list[dict[str, str]]:
    return [row for row in found if first <= (day_of(row) or date.min) <= last]


def written_sets(cell: str) -> list[tuple[float, int]]:
    """Loads and repetitions of a notebook cell without bodyweight forms."""
    return [(float(kg), int(n)) for kg, n in re.findall(r"([\d.]+)x(\d+)", cell)]


def number(cell: str) -> float:
    return float(cell.replace(",", "."))


def epley(load: float, reps: float) -> float:
    return load * (1 + reps / 30)


def session_bests(found: list[dict[str, str]], lift: str) -> dict[date, float]:
    """Best set of each day a lift was trained: Epley, at repetitions to failure, reserve 0 to 4."""
    bests: dict[date, float] = {}
    for row in found:
        day, reserve = day_of(row), row["in_reserve"]
        is_work = row["lift"] == lift and row["kind"] not in ("drop", "warm-up")
        if day and is_work and reserve in ("0", "1", "2", "3", "4") and row["reps"].isdigit():
            set_best = epley(float(row["kg"]), int(row["reps"]) + int(reserve))
            bests[day] = max(bests.get(day, 0.0), set_best)
    return bests


# The files


def test_the_committed_files_are_what_the_generator_makes() -> None:
    for name, data in generator().generate().items():
        assert (SAMPLES / name).read_bytes() == data, name


@pytest.mark.parametrize("hash_seed", ["0", "4711"])
def test_generation_does_not_depend_on_the_order_of_hashes(hash_seed: str) -> None:
    result = check(SAMPLES, hash_seed)
    assert (result.returncode, result.stderr) == (0, "")


def test_check_names_a_file_that_differs(tmp_path: Path) -> None:
    folder = tmp_path / "room"
    shutil.copytree(SAMPLES, folder, ignore=shutil.ignore_patterns("__pycache__"))
    with (folder / "bodyweight.csv").open("a") as handle:
        handle.write("wren,2026-08-30,71.0\n")
    result = check(folder, "0")
    assert result.returncode == 1
    assert result.stderr == "bodyweight.csv: differs from a fresh generation\n"


def test_the_samples_are_small() -> None:
    committed = [SAMPLES / name for name in ("README.md", "generate.py", "setledger.toml")]
    committed += [*SAMPLES.glob("*.csv"), *SAMPLES.glob("*/*.csv"), *SAMPLES.glob("*/*.toml")]
    assert sum(path.stat().st_size for path in committed) < 2_000_000


@pytest.mark.parametrize("path", sorted((SAMPLES / "exports").glob("*.csv")), ids=lambda p: p.name)
def test_each_export_ends_in_the_days_before_the_as_of_day(path: Path) -> None:
    last = days(rows(path.name))[-1]
    assert AS_OF - timedelta(days=3) < last <= AS_OF


def test_remarks_hold_quotes_commas_umlauts_and_a_line_break() -> None:
    notes = {row["note"] for row in rows("tidy-ines.csv")}
    assert any('"' in note for note in notes)
    assert any("," in note for note in notes)
    assert any("ü" in note for note in notes)
    assert any("\n" in note for note in notes)


# Damage: README.md says which lines, and why


def named_damage() -> list[tuple[str, int, str]]:
    """File, line and reason of the table in README.md."""
    text = (SAMPLES / "README.md").read_text(encoding="utf-8")
    found = re.findall(r"^\| `(exports/[\w.-]+)` \| (\d+) \| `(\w+)` \|", text, re.MULTILINE)
    return sorted((file, int(line), reason) for file, line, reason in found)


def test_the_readme_names_each_damaged_line_of_the_generator() -> None:
    damages = generator().DAMAGES
    assert Counter((file, reason) for file, _, reason in named_damage()) == Counter(
        (each.file, each.reason) for each in damages
    )
    for file, place, reason in named_damage():
        encoding = "cp1252" if "heft" in file else "utf-8"
        lines = (SAMPLES / file).read_text(encoding=encoding).splitlines()
        if reason == "duplicate":
            assert lines[place - 1] == lines[place - 2]
        else:
            alike = [each for each in damages if (each.file, each.reason) == (file, reason)]
            assert re.split("[,;]", lines[place - 1])[0] in {each.cells[0] for each in alike}


def test_the_named_lines_and_no_others_are_set_aside() -> None:
    workspace = find_workspace(SAMPLES)
    clients = ClientIndex.of([(each.id, each.name, each.aliases) for each in workspace.clients])
    set_aside, who = [], set()
    for source in workspace.sources:
        mapping = read_mapping(SAMPLES / source.mapping, source.mapping)
        for path in files_of(workspace, source)[0]:
            shown = str(path.relative_to(SAMPLES))
            export = read_export(
                path.read_bytes(), mapping.file, shown, list(mapping.columns.values())
            )
            read = normalise(
                export, mapping, 1, clients, AS_OF + timedelta(days=1), workspace.rules
            )
            assert read.lines_read == read.lines_loaded + read.lines_set_aside
            set_aside += [
                (shown, row["source_line"], row["reason"])
                for row in read.set_aside.iter_rows(named=True)
            ]
            who |= set(read.sets["client_id"])
    assert sorted(set_aside) == named_damage()
    assert who == {each.id for each in workspace.clients}


def test_all_but_two_home_made_exercises_are_known() -> None:
    names = set()
    for name, column in (
        ("tidy-ines.csv", "lift"),
        ("tidy-kofi.csv", "lift"),
        ("heft-matthis.csv", "Übung"),
        ("pounds-odalys.csv", "movement"),
        ("notebook.csv", "exercise"),
        ("wide-petra.csv", "uebung"),
    ):
        names |= {row[column] for row in rows(name) if row[column]}
    unknown = {name for name in names if CATALOGUE.resolve(name).how == "unknown"}
    assert unknown == {"harbour drag", "pier lunge"}


def test_one_load_is_mistyped_far_above_its_lift() -> None:
    bench = [row for row in rows("heft-matthis.csv") if "bankdrücken" in row["Übung"].lower()]
    flat = [number(row["Gewicht"]) for row in bench if "Schräg" not in row["Übung"]]
    top, second = sorted(flat)[-1], sorted(flat)[-2]
    assert top == 225.0
    assert top > 1.5 * second


# The stories


def test_ines_has_four_years_with_a_layoff_of_four_weeks() -> None:
    trained = days(rows("tidy-ines.csv"))
    gaps = {later: later - earlier for earlier, later in pairwise(trained)}
    longest = max(gaps, key=lambda day: gaps[day])
    assert trained[-1] - trained[0] > timedelta(days=4 * 365 - 7)
    assert longest.year == 2024
    assert timedelta(days=28) <= gaps[longest] <= timedelta(days=35)


def test_ines_notes_effort_on_nearly_every_work_set() -> None:
    work = [row for row in rows("tidy-ines.csv") if row["kind"] == "work"]
    assert mean(bool(row["in_reserve"]) for row in work) > 0.9


def test_ines_overhead_press_stands_still_and_her_deadlift_falls() -> None:
    def change(lift: str, first: date) -> float:
        """Mean of the last three weeks' session bests over that of three weeks from `first`."""
        bests = session_bests(rows("tidy-ines.csv"), lift)

        def level(start: date) -> float:
            return mean(best for day, best in bests.items() if 0 <= (day - start).days < 21)

        return level(date(2026, 8, 8)) / level(first)

    assert abs(change("overhead press", date(2026, 5, 25)) - 1) < 0.03
    assert change("overhead press", date(2025, 11, 17)) > 1.05
    assert change("deadlift", date(2026, 5, 18)) < 0.95
    assert change("barbell row", date(2025, 11, 17)) > 1.03


def test_ines_upper_back_gets_fewer_sets_than_her_guide_says() -> None:
    recent = since(rows("tidy-ines.csv"), date(2026, 8, 3))
    sets: dict[str, float] = defaultdict(float)
    for row in recent:
        known = CATALOGUE.exercises.get(CATALOGUE.resolve(row["lift"]).exercise)
        if known is not None and row["kind"] != "warm-up":
            sets["upper_back"] += ("upper_back" in known.direct) + 0.5 * (
                "upper_back" in known.indirect
            )
    guides = {each.muscle: each.week for each in find_workspace(SAMPLES).client("ines").guide}
    low = (guides["upper_back"] or (0.0, 0.0))[0]
    assert 4 < sets["upper_back"] / 4 < low - 1


def test_kofi_hardly_ever_rests_since_the_rotation_began() -> None:
    trained = set(days(rows("tidy-kofi.csv")))
    recent = [AS_OF - timedelta(days=n) for n in range(28)]
    assert sum(day not in trained for day in recent) <= 2
    spans = [all(day - timedelta(days=n) in trained for n in range(7)) for day in recent]
    assert sum(spans) > 14
    before = [day for day in trained if day < ROTATION_FROM]
    weeks = (ROTATION_FROM - min(before)).days / 7
    assert 3.5 < len(before) / weeks <= 4


def test_kofi_extends_most_exercises_and_leaves_nothing_in_reserve() -> None:
    recent = since(rows("tidy-kofi.csv"), date(2026, 8, 3))
    work = [row for row in recent if row["kind"] not in ("drop", "warm-up")]
    drops = [row for row in recent if row["kind"] == "drop"]
    assert len(drops) / len(work) > 0.25
    bouts = {(row["day"], row["lift"]) for row in work}
    assert len({(row["day"], row["lift"]) for row in drops}) / len(bouts) > 0.8
    compound = [
        row["in_reserve"]
        for row in work
        if row["in_reserve"]
        and CATALOGUE.exercises[CATALOGUE.resolve(row["lift"]).exercise].movement == "compound"
    ]
    assert compound.count("0") / len(compound) > 0.5
    earlier = since(rows("tidy-kofi.csv"), date(2025, 6, 30), ROTATION_FROM - timedelta(days=1))
    assert not any(row["kind"] == "drop" for row in earlier)


@pytest.mark.parametrize("lift", ["overhead press", "leg press", "leg curl", "barbell curl"])
def test_kofi_progressed_before_the_rotation_and_not_since(lift: str) -> None:
    def best(first: date) -> float:
        found = since(rows("tidy-kofi.csv"), first, first + timedelta(days=27))
        return mean(session_bests(found, lift).values())

    winter, change, now = best(date(2025, 11, 10)), best(ROTATION_FROM), best(date(2026, 8, 3))
    assert change / winter > 1.05
    assert now / change < 1.02


def test_matthis_trains_each_body_part_once_a_week() -> None:
    parts = defaultdict(set)
    for row in rows("heft-matthis.csv"):
        day = day_of(row)
        assert day is not None
        parts[row["Übung"]].add(day.weekday())
    assert all(len(weekdays) == 1 for weekdays in parts.values())
    assert set().union(*parts.values()) == {0, 1, 2, 3, 4}


def test_matthis_does_a_weeks_chest_work_in_one_session_and_fades() -> None:
    chest = defaultdict(list)
    for row in rows("heft-matthis.csv"):
        if (day_of(row) or AS_OF).weekday() == 0 and row["Art"] == "W":
            chest[row["Datum"]].append(row)
    assert 10 <= median(len(found) for found in chest.values()) <= 14
    fresh, tired = [], []
    for found in chest.values():
        flies = [row for row in found if row["Übung"] == "Butterfly" and row["Reserve"]]
        if not flies:
            continue
        output = mean(
            epley(number(row["Gewicht"]), int(row["Wiederholungen"]) + int(row["Reserve"]))
            for row in flies
        )
        (fresh if found[0]["Übung"] == "Butterfly" else tired).append(output)
    assert len(fresh) >= 10
    assert mean(tired) / mean(fresh) < 0.93


def test_odalys_was_a_month_away_and_came_back_within_the_last_four_weeks() -> None:
    trained = days(rows("pounds-odalys.csv"))
    gaps = {later: later - earlier for earlier, later in pairwise(trained)}
    back = max(gaps, key=lambda day: gaps[day])
    assert gaps[back] >= timedelta(days=28)
    assert AS_OF - back < timedelta(days=28)
    usual = since(rows("pounds-odalys.csv"), date(2026, 6, 1), date(2026, 7, 12))
    eased = since(rows("pounds-odalys.csv"), back)

    def sets_a_session(found: list[dict[str, str]]) -> float:
        return sum(row["type"] == "set" for row in found) / len(days(found))

    assert sets_a_session(eased) < 0.7 * sets_a_session(usual)


def test_odalys_logs_half_steps_of_rpe_and_both_sides() -> None:
    efforts = {row["effort"] for row in rows("pounds-odalys.csv")}
    assert {"8", "8.5", ""} <= efforts
    sides = Counter(row["leg"] for row in rows("pounds-odalys.csv"))
    assert sides["left"] == sides["right"] > 100


def test_wren_never_notes_effort_and_pulls_free_after_the_assisted_months() -> None:
    mine = [row for row in rows("notebook.csv") if row["who"] in WREN]
    assert not any("@" in row["sets"] for row in mine)
    assisted = days(row for row in mine if row["exercise"] == "assisted pull-up")
    free = [row for row in mine if row["exercise"] in ("pull-up", "pull ups")]
    assert assisted[-1] < days(free)[0]
    assert free[0]["sets"].startswith("bw x ")
    assert free[-1]["sets"].startswith("+")


def test_wren_squats_begin_with_unmarked_warm_ups() -> None:
    squats = [
        [kg for kg, _ in written_sets(row["sets"])]
        for row in rows("notebook.csv")
        if row["exercise"] == "back squat" and row["who"] in WREN
    ]
    assert mean(loads[0] < 0.75 * max(loads) for loads in squats) > 0.95


def test_sunniva_s_lifts_move_again_since_she_stops_short_of_failure() -> None:
    mine = [row for row in rows("notebook.csv") if row["who"] in SUNNIVA]
    assert {day.weekday() for day in days(mine)} == {0, 2, 4}

    def level(lift: str, first: date) -> float:
        found = since(mine, first, first + timedelta(days=27))
        cells = [row["sets"] for row in found if row["exercise"] == lift]
        return mean(max(epley(kg, reps) for kg, reps in written_sets(cell)) for cell in cells)

    for lift in {row["exercise"] for row in mine if row["exercise"]}:
        weekly = (level(lift, date(2026, 8, 3)) / level(lift, date(2026, 5, 4))) ** (1 / 13) - 1
        assert 0.002 < weekly < 0.009, lift
        weekly = (level(lift, date(2026, 4, 6)) / level(lift, date(2026, 1, 5))) ** (1 / 13) - 1
        assert weekly < 0.002, lift


def test_petra_loses_weight_and_keeps_her_strength() -> None:
    with (SAMPLES / "bodyweight.csv").open(newline="") as handle:
        weights = [row for row in csv.DictReader(handle) if row["client"] == "petra"]
    start = mean(float(row["bodyweight_kg"]) for row in weights if row["day"] < "2026-06-15")
    assert start - float(weights[-1]["bodyweight_kg"]) > 3

    def level(lift: str, first: date) -> float:
        found = since(rows("wide-petra.csv"), first, first + timedelta(days=34))
        return mean(
            epley(float(row["kg1"]), int(row["wdh1"]) + int(row["res1"]))
            for row in found
            if row["uebung"] == lift and row["res1"]
        )

    for lift in ("Kniebeuge", "Bankdrücken", "Latzug"):
        assert level(lift, date(2026, 7, 27)) / level(lift, date(2026, 5, 11)) > 0.96, lift

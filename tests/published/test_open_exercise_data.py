"""The catalogue's muscle roles against an open data set, on the 60 commonest lifts.

Source: free-exercise-db (public domain, Unlicense); the rows used are copied into
tests/data/open_exercise_muscles.csv. It names 17 muscles and one primary an exercise; shoulders are
not split into heads, so ours are joined before comparing. Where the catalogue differs,
tests/data/muscle_role_disagreements.csv says why; a difference without a reason fails, and so does
a reason for a difference that is no more.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from pipeline.names.catalogue import Catalogue
from pipeline.names.exercises_file import counted_once, load_catalogue

DATA = Path(__file__).parents[1] / "data"

THEIR_NAME = {
    "abs": "abdominals",
    "front_delts": "shoulders",
    "quads": "quadriceps",
    "rear_delts": "shoulders",
    "side_delts": "shoulders",
    "spinal_erectors": "lower back",
    "upper_back": "middle back",
}


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def muscles(cell: str) -> list[str]:
    return [muscle for muscle in cell.split(";") if muscle]


LIFTS = [row for row in rows("open_exercise_muscles.csv") if row["exercise"]]
LISTED_TWICE = [row for row in rows("open_exercise_muscles.csv") if not row["exercise"]]


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue()


def their_roles(row: dict[str, str]) -> dict[str, str]:
    direct, indirect = counted_once(
        muscles(row["primary_muscles"]), muscles(row["secondary_muscles"])
    )
    return dict.fromkeys(indirect, "indirect") | dict.fromkeys(direct, "direct")


def our_roles(catalogue: Catalogue, exercise: str) -> dict[str, str]:
    found = catalogue.exercises[exercise]
    indirect = {THEIR_NAME.get(muscle, muscle): "indirect" for muscle in found.indirect}
    return indirect | {THEIR_NAME.get(muscle, muscle): "direct" for muscle in found.direct}


def test_sixty_different_lifts_are_compared() -> None:
    assert len({row["exercise"] for row in LIFTS}) == 60
    assert {row["equipment"] for row in LIFTS} == {"barbell", "dumbbell", "cable", "machine"}


def test_every_difference_has_a_reason_and_every_reason_a_difference(catalogue: Catalogue) -> None:
    found = set()
    for row in LIFTS:
        theirs, ours = their_roles(row), our_roles(catalogue, row["exercise"])
        for muscle in theirs.keys() | ours.keys():
            roles = theirs.get(muscle, "none"), ours.get(muscle, "none")
            if roles[0] != roles[1]:
                found.add((row["exercise"], muscle, *roles))
    reasons = rows("muscle_role_disagreements.csv")
    explained = {
        (row["exercise"], row["muscle"], row["open_role"], row["our_role"]) for row in reasons
    }
    assert found - explained == set(), "differences without a reason"
    assert explained - found == set(), "reasons without a difference"
    assert len(reasons) == len(explained)
    assert all(len(row["reason"]) > 40 for row in reasons)


def test_their_primary_is_direct_in_all_but_three_lifts(catalogue: Catalogue) -> None:
    primaries = [(row["exercise"], row["primary_muscles"]) for row in LIFTS]
    missed = [pair for pair in primaries if our_roles(catalogue, pair[0]).get(pair[1]) != "direct"]
    assert missed == [
        ("sumo deadlift", "hamstrings"),
        ("reverse curl", "biceps"),
        ("power clean", "hamstrings"),
    ]


@pytest.mark.parametrize("row", LISTED_TWICE, ids=lambda row: row["name"])
def test_a_primary_listed_again_as_secondary_counts_once(row: dict[str, str]) -> None:
    primary, secondary = muscles(row["primary_muscles"]), muscles(row["secondary_muscles"])
    assert set(primary) & set(secondary), "the record shows the fault that the test is about"
    direct, indirect = counted_once(primary, secondary)
    assert list(direct) == primary
    assert sorted([*direct, *indirect]) == sorted({*primary, *secondary})


def test_all_records_with_the_fault_are_in_the_copy() -> None:
    assert sorted(row["name"] for row in LISTED_TWICE) == [
        "Barbell Step Ups",
        "Bent-Arm Barbell Pullover",
        "Clean and Press",
        "Snatch Deadlift",
        "Split Snatch",
    ]

"""Whole rooms, drafted and loaded as a coach does it: no set otherwise than it was meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.rooms import first, second
from tests.rooms.logs import Room
from tests.rooms.measure import MONTHS, expected, tried

NOT_RIGHT = {
    "days_as_headings": "refused",
    "riscaldamento_tra_parentesi": "aside",
    "warm_ups_in_a_column_of_their_own": "asked",
}
ROOMS = [*first.ROOMS, *second.ROOMS]


@pytest.mark.parametrize(
    "room",
    [
        pytest.param(room, id=room.name, marks=[pytest.mark.slow] if place % 3 else [])
        for place, room in enumerate(ROOMS)
    ],
)
def test_two_commands_and_then_one_bring_every_set(room: Room, tmp_path: Path) -> None:
    found = tried(room, tmp_path / "desk")
    assert found.kind == NOT_RIGHT.get(room.name, "right"), found.said


def test_the_rooms_are_many_and_of_several_people_in_several_files() -> None:
    assert (len(first.ROOMS), len(second.ROOMS)) == (38, 14)
    assert all(len(room.people) > 1 for room in ROOMS)
    assert all(expected(room, MONTHS).total() > 100 for room in ROOMS)
    assert len({name for room in ROOMS for number in MONTHS for name in room.files(number)}) > 100

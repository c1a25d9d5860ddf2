"""How many rooms a coach gets right with two commands, and what becomes of the others.

    python -m tests.rooms.measure [first|second] [DIR]

prints what became of each room and the counts; with DIR the rooms stay there, to be looked at.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb

from tests.commands import run_setledger
from tests.rooms import first, second
from tests.rooms.logs import Room, Set, slug

KINDS = ("right", "asked", "aside", "refused", "wrong")
KG = {"kg": 1.0, "lb": 0.45359237}
MONTHS = (3, 4)
_SETS = """
    select
        client_id, performed_on, lower(exercise_raw), round(load_kg, 2), reps, set_kind,
        case when load_basis in ('added', 'assisted') then load_basis end, side, rir, rpe,
        nullif(to_failure, false)
    from ledger.current_sets
"""
_ASIDE = """
    select count(*) from ledger.set_aside inner join ledger.loads using (load_id)
    where loads.state = 'loaded' and set_aside.reason <> 'no_repetitions'
"""


@dataclass(frozen=True)
class Verdict:
    """What became of a room."""

    kind: str
    """right: every set in the ledger, and nobody was asked; asked: a key or a column left to a
    person, by name; aside: lines set aside; refused: a file not read, in words; wrong: read
    otherwise than it was meant, without a word."""
    said: str


def expected(room: Room, months: tuple[int, ...]) -> Counter[tuple[Any, ...]]:
    """The sets of some months as rows of the ledger."""
    return Counter(
        (slug(log.who), day, lift.lower(), *_row(one, room.unit))
        for number in months
        for log in room.month(number).logs
        for day, lift, _, one in log.singly()
    )


def _row(one: Set, unit: str) -> tuple[Any, ...]:
    load = None if one.load is None else round(one.load * KG[unit], 2)
    return (load, one.reps, one.kind, one.basis, one.side, one.rir, one.rpe, one.failure)


def tried(room: Room, folder: Path) -> Verdict:
    """A room drafted and loaded, and the next month loaded, as a coach does both."""
    folder.mkdir(parents=True)
    run_setledger("init", "room", cwd=folder)
    root = folder / "room"
    said = ""
    codes: list[int] = []
    for at, number in enumerate(MONTHS):
        for name, content in room.files(number).items():
            (root / "exports" / name).write_bytes(content)
        names = [f"exports/{name}" for name in room.files(number)]
        commands = ([("draft-mapping", *names)] if at == 0 else []) + [("load",)]
        for words in commands:
            done = run_setledger(*words, cwd=root)
            said += f"\n[{words[0]} {number}] {done.returncode}\n{done.stderr or ''}"
            said += done.stdout if words[0] == "draft-mapping" else ""
            codes.append(done.returncode)
        found = _judged(root, expected(room, MONTHS[: at + 1]), codes, said)
        if found.kind != "right":
            return found
    return found


def _judged(root: Path, wanted: Counter[tuple[Any, ...]], codes: list[int], said: str) -> Verdict:
    got: Counter[tuple[Any, ...]] = Counter()
    aside = 0
    if (root / "setledger.duckdb").exists():
        with duckdb.connect(str(root / "setledger.duckdb"), read_only=True) as con:
            got = Counter(con.execute(_SETS).fetchall())
            [(aside,)] = con.execute(_ASIDE).fetchall()
    missing, surplus = wanted - got, got - wanted
    said += _differences("missing", missing) + _differences("surplus", surplus)
    if surplus:
        return Verdict("wrong", said)
    if not missing and not any(codes) and not aside:
        return Verdict("right", said)
    if "left open" in said or "is not read:" in said or "is not read, for its cells" in said:
        return Verdict("asked", said)
    if aside:
        return Verdict("aside", said)
    return Verdict("refused" if any(codes) else "wrong", said)


def _differences(name: str, sets: Counter[tuple[Any, ...]]) -> str:
    if not sets:
        return ""
    some = "\n".join(f"    {each}" for each in sorted(sets, key=str)[:4])
    return f"\n{sets.total()} {name}, such as\n{some}"


def main(which: str, folder: Path) -> None:
    """Tries each room."""
    rooms = {"first": first, "second": second}[which].ROOMS
    counts: Counter[str] = Counter()
    for room in rooms:
        found = tried(room, folder / room.name)
        counts[found.kind] += 1
        print(f"{room.name}: {found.kind}")  # noqa: T201 - this script's answer
        if found.kind != "right":
            print(found.said[-2500:])  # noqa: T201
    print(", ".join(f"{kind} {counts[kind]}" for kind in KINDS), f"of {len(rooms)}")  # noqa: T201


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as beside:
        main(
            sys.argv[1] if len(sys.argv) > 1 else "first",
            Path(sys.argv[2] if len(sys.argv) > 2 else beside),
        )

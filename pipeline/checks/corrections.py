"""Remarks on bodyweight.csv and corrections.csv: lines about nobody, or that change nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from typing import TYPE_CHECKING, Any

from pipeline.checks.remarks import Remark
from pipeline.errors import ConfigError
from pipeline.ledger.side_files import CORRECTIONS, file_weigh_ins, read_corrections
from pipeline.names.clients import plain
from pipeline.names.nearest import nearest
from pipeline.resources import sql
from pipeline.settings.workspace import Workspace

if TYPE_CHECKING:
    import duckdb


def weigh_ins_and_corrections(
    workspace: Workspace, con: duckdb.DuckDBPyConnection
) -> Iterator[Remark]:
    """What is wrong in the workspace's own tables, line by line."""
    ids = con.execute("select distinct client_id from ledger.sets").fetchall()
    known = {each for (each,) in ids} | {client.id for client in workspace.clients}
    try:
        for client_id, _, _, name, line in file_weigh_ins(workspace):
            if client_id not in known:
                yield _stranger(f"{name}:{line}", client_id, known)
    except ConfigError as error:
        yield Remark.of(error, "files")
    try:
        corrections = read_corrections(workspace)
    except ConfigError as error:
        yield Remark.of(error, "files")
    else:
        yield from _corrections(con, corrections, known)


def _wrong(where: str, text: str) -> Remark:
    return Remark("wrong", "files", where, text)


def _stranger(where: str, client_id: str, known: Iterable[str]) -> Remark:
    near = nearest(plain(client_id), sorted(known), likeness=0.5)
    hint = f"did you mean '{near[0]}'?" if near else "it is nobody's id, name or alias."
    return _wrong(where, f"client '{client_id}' is unknown; {hint}")


def _corrections(
    con: duckdb.DuckDBPyConnection, corrections: list[tuple[Any, ...]], known: set[str]
) -> Iterator[Remark]:
    """Lines of corrections.csv that change nothing, or that two lines say differently."""
    logged = {
        (client_id, day): _logged(con, client_id, day)
        for client_id, day in {(row[1], row[2]) for row in corrections}
    }
    first: dict[tuple[Any, ...], tuple[int, str]] = {}
    for line, client_id, day, exercise, n, name, value, _ in corrections:
        where = f"{CORRECTIONS}:{line}"
        if client_id not in known:
            yield _stranger(where, client_id, known)
            continue
        lifts = logged[client_id, day]
        count = max((sets for names, sets in lifts if exercise.lower() in names), default=0)
        if not lifts:
            yield _wrong(
                where, f"matches no set: {client_id} has none on {day}; mend client or day."
            )
        elif not count:
            found = ", ".join(sorted({names[0] for names, _ in lifts}))
            yield _wrong(
                where,
                f"matches no set: {client_id} did no '{exercise}' on {day}; logged are {found}.",
            )
        elif n > count:
            yield _wrong(
                where, f"matches no set: '{exercise}' has {count} sets on {day}, not {n}; mend n."
            )
        key = (client_id, day, exercise.lower(), n, name)
        if key in first and first[key][1] != value:
            yield _wrong(
                where,
                f"line {first[key][0]} corrects the same {name} of the same set to another value; "
                "keep one.",
            )
        first.setdefault(key, (line, value))


def _logged(
    con: duckdb.DuckDBPyConnection, client_id: str, day: date
) -> list[tuple[tuple[str, ...], int]]:
    """Per exercise of a client's day: (names, lower case, the exercise's first; sets)."""
    given = {"client_id": client_id, "performed_on": day}
    found = con.execute(sql("checks/logged_lifts"), given).fetchall()
    return [((exercise, *spellings), sets) for exercise, spellings, sets in found]

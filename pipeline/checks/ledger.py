"""Remarks on the ledger: held versions, days that two sources share, lines set aside, contract."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from pipeline import formats
from pipeline.checks.contract.verdicts import Verdict
from pipeline.checks.remarks import Remark
from pipeline.ledger.journal import held_loads, held_sentence, read_journal
from pipeline.resources import sql
from pipeline.settings.workspace import CONFIG_NAME, Workspace

if TYPE_CHECKING:
    import duckdb


def held_versions(workspace: Workspace) -> Iterator[Remark]:
    """Versions that wait for a person's word."""
    journal = read_journal(workspace.store)
    for event in held_loads(journal):
        yield Remark(
            "open",
            "versions",
            event["path"],
            held_sentence(event),
            {"load_id": event["load_id"]},
        )


def shared_days(con: duckdb.DuckDBPyConnection) -> Iterator[Remark]:
    """Two sources of one client on one day: both count, which may be meant or may be twice."""
    for client_id, one, other, days, first_on, last_on, equal_sets, paths in con.execute(
        sql("checks/shared_days")
    ).fetchall():
        span = f"on {first_on}" if first_on == last_on else f"between {first_on} and {last_on}"
        counted = f"on {days} days" if days > 1 else "on one day"
        twice = (
            f"{equal_sets:,} of their sets are equal in exercise, load and repetitions, so they "
            "may be counted twice: `setledger unload` one, or part them by `from` and `until`."
            if equal_sets
            else "No set is in both; if it is one training twice, `setledger unload` one, or part "
            "them by `from` and `until`."
        )
        yield Remark(
            "open" if equal_sets else "note",
            "days",
            ", ".join(paths),
            f"{client_id}: the sources '{one}' and '{other}' both give sets {counted} "
            f"({span}), and both count. {twice}",
            {
                "client_id": client_id,
                "sources": [one, other],
                "days": days,
                "first_on": str(first_on),
                "last_on": str(last_on),
                "equal_sets": equal_sets,
            },
        )


def shared_sets(con: duckdb.DuckDBPyConnection, names: Mapping[str, str]) -> Iterator[Remark]:
    """Equal training of two clients: probably one person under two names.

    `names`: id to the spelling in which an unlisted client was found.
    """
    for one, other, days, sets, first_on, last_on in con.execute(
        sql("checks/shared_sets")
    ).fetchall():
        span = f"on {first_on}" if days == 1 else f"on {days} days from {first_on} to {last_on}"
        alias = shlex.quote(names.get(other, other))
        yield Remark(
            "open" if days > 1 else "note",
            "clients",
            CONFIG_NAME,
            f"'{one}' and '{other}' have the same {formats.count(sets, 'set')} {span}. If they are "
            f"one person, write {alias} into the aliases of '{one}' (or `setledger client add "
            f"{one} --name NAME --alias {alias}`), or name the client in the mapping's "
            "[constants]; `setledger run` then reads them as one.",
            {
                "clients": [one, other],
                "days": days,
                "sets": sets,
                "first_on": str(first_on),
                "last_on": str(last_on),
            },
        )


def lines_set_aside(
    con: duckdb.DuckDBPyConnection, verdicts: Sequence[Verdict], limit: float
) -> Iterator[Remark]:
    """How many lines of each loaded version were set aside, and why."""
    too_many = {
        each.load_id: each.share
        for each in verdicts
        if each.key == "set_aside_share" and not each.is_met
    }
    listed = '`setledger query "from ledger.set_aside"` lists them with their reasons'
    for load_id, path, lines, reasons in con.execute(sql("checks/set_aside_lines")).fetchall():
        counted = "one line is" if lines == 1 else f"{lines:,} lines are"
        above = f", above the limit of {limit:.0%}: mend the mapping or the export"
        above *= load_id in too_many
        yield Remark(
            "open" if above else "note",
            "versions",
            path,
            f"{counted} set aside ({reasons}){above}; {listed}.",
            {"lines": lines},
            group="" if above else f"{{}} exports have lines set aside; {listed}",
            item=f"{path}: {formats.count(lines, 'line')} ({reasons})",
        )


def unmet(
    con: duckdb.DuckDBPyConnection, verdicts: Sequence[Verdict], as_of: date
) -> Iterator[Remark]:
    """Clauses of the data contract that do not hold and of which nothing else speaks."""
    paths = dict(con.execute("select load_id, path from ledger.loads").fetchall())
    for each in verdicts:
        if each.is_met or each.key in ("client_listed", "set_aside_share"):
            continue
        is_fresh = each.key != "fresh"
        yield Remark(
            "wrong" if is_fresh else "open",
            "contract",
            paths.get(each.load_id, "the ledger"),
            f"{each.sentence} {_FAULT}" if is_fresh else _stale(con, as_of),
            {
                "expectation": each.expectation,
                "load_id": each.load_id,
                "unexpected": each.unexpected,
                "share": each.share,
            },
        )


def _stale(con: duckdb.DuckDBPyConnection, as_of: date) -> str:
    [(newest,)] = con.execute(
        "select max(performed_on) from ledger.sets where replaced_by is null and performed_on <= ?",
        [as_of],
    ).fetchall()
    return (
        f"the newest set is of {formats.day(newest)}, "
        f"{formats.count((as_of - newest).days, 'day')} before the as-of day ({as_of}). Export "
        "anew, or set [workspace] as_of to the day that you look at."
    )


_FAULT = (
    "`setledger rebuild` makes the ledger again from what was read; if it stays so, report it as a "
    "fault of the tool."
)

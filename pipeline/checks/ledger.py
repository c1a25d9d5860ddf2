"""Remarks on the ledger: held versions, days that two sources share, lines set aside, contract."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from pipeline.checks.contract.verdicts import Verdict
from pipeline.checks.remarks import Remark
from pipeline.ledger.journal import held_loads, held_sentence, read_journal
from pipeline.resources import sql
from pipeline.settings.workspace import Workspace

if TYPE_CHECKING:
    import duckdb

_MENDS = {
    "fresh": "Export anew, or set [workspace] as_of to the day that you look at.",
    "set_aside_share": "Look at ledger.set_aside and mend mapping or export.",
}
"""Clause to what a person does about it; every other one is a fault of the tool."""


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


def lines_set_aside(con: duckdb.DuckDBPyConnection) -> Iterator[Remark]:
    """How many lines of each loaded version were set aside, and why."""
    for _, path, lines, reasons in con.execute(sql("checks/set_aside_lines")).fetchall():
        counted = "one line is" if lines == 1 else f"{lines:,} lines are"
        yield Remark(
            "note",
            "versions",
            path,
            f'{counted} set aside ({reasons}); `setledger query "from '
            'ledger.set_aside"` lists them with their reasons.',
            {"lines": lines},
        )


def unmet(con: duckdb.DuckDBPyConnection, verdicts: Sequence[Verdict]) -> Iterator[Remark]:
    """Clauses of the data contract that do not hold; unlisted clients have remarks of their own."""
    paths = dict(con.execute("select load_id, path from ledger.loads").fetchall())
    for each in verdicts:
        if each.is_met or each.key == "client_listed":
            continue
        mend = _MENDS.get(
            each.key,
            "`setledger rebuild` makes the ledger again from what was read; if it stays so, "
            "report it as a fault of the tool.",
        )
        yield Remark(
            "open" if each.key in _MENDS else "wrong",
            "contract",
            paths.get(each.load_id, "the ledger"),
            f"{each.sentence} {mend}",
            {
                "expectation": each.expectation,
                "load_id": each.load_id,
                "unexpected": each.unexpected,
                "share": each.share,
            },
        )

"""Whether a clause holds, and the verdicts as the ledger keeps them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.checks.contract.clauses import clauses
from pipeline.checks.contract.scope import Scope
from pipeline.resources import sql

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True)
class Verdict:
    """Whether one clause holds of one version, or of the ledger as a whole."""

    key: str
    expectation: str
    column_name: str | None
    load_id: int | None
    is_met: bool
    unexpected: int
    share: float
    is_breach: bool
    examples: tuple[str, ...] = ()
    """Some of the values that break it."""

    @property
    def sentence(self) -> str:
        """The verdict for a person."""
        if self.is_met:
            return self.expectation
        if self.load_id is not None:
            where = f"load {self.load_id}"
        else:
            amount = "one row" if self.unexpected == 1 else f"{self.unexpected:,} rows"
            where = f"{amount} ({self.share:.1%} of those looked at)"
        found = f": {', '.join(self.examples)}" if self.examples else ""
        return f"{self.expectation} Not so in {where}{found}."


def store_verdicts(con: duckdb.DuckDBPyConnection, verdicts: Sequence[Verdict]) -> None:
    """Put verdicts in the place of the earlier ones on the same versions and on the ledger."""
    con.execute(
        "delete from ledger.checks where load_id is null or load_id not in"
        f" ({sql('contract/asked_versions')})"
    )
    if not verdicts:
        return
    told = sorted({each.load_id for each in verdicts if each.load_id is not None})
    con.execute("delete from ledger.checks where load_id in (select unnest(?::integer[]))", [told])
    con.executemany(
        "insert into ledger.checks values (?, ?, ?, ?, ?, ?)", [_row(each) for each in verdicts]
    )


def differs(con: duckdb.DuckDBPyConnection, verdicts: Sequence[Verdict]) -> bool:
    """Whether the verdicts that stand in ledger.checks say anything else."""
    rows = con.execute("select * from ledger.checks").fetchall()
    return sorted(rows, key=repr) != sorted(map(_row, verdicts), key=repr)


def _row(verdict: Verdict) -> tuple[int | None, str, str | None, bool, int, float]:
    return (
        verdict.load_id,
        verdict.expectation,
        verdict.column_name,
        verdict.is_met,
        verdict.unexpected,
        verdict.share,
    )


def is_in_doubt(con: duckdb.DuckDBPyConnection, scope: Scope) -> bool:
    """Whether the whole ledger has to be asked: a clause was broken, or no verdict stands."""
    stored = con.execute(
        "select expectation, is_met from ledger.checks where load_id is null"
    ).fetchall()
    if not stored:
        return bool(con.execute("from ledger.sets limit 1").fetchall())
    breaches = {clause.says for clause in clauses(scope) if clause.is_breach}
    return any(not is_met and says in breaches for says, is_met in stored)

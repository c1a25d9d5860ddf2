"""Whether the verdicts that stand are of the ledger as it is: then nothing need be asked again.

Asking imports great-expectations, which takes longer than all else that `check` does.
"""

from __future__ import annotations

import contextlib
import hashlib
from typing import TYPE_CHECKING

from pipeline import __version__
from pipeline.checks.contract.clauses import clauses
from pipeline.checks.contract.scope import Scope
from pipeline.checks.contract.verdicts import Verdict
from pipeline.resources import sql
from pipeline.settings.rules import BODYWEIGHT_KG

if TYPE_CHECKING:
    import duckdb


def fingerprint(con: duckdb.DuckDBPyConnection, scope: Scope) -> str:
    """Of all that the verdicts on the whole ledger follow from."""
    low_kg, high_kg = BODYWEIGHT_KG
    given = {
        "today": scope.today,
        "as_of": scope.as_of,
        "fresh_days": scope.rules.fresh_days,
        "low_kg": low_kg,
        "high_kg": high_kg,
    }
    row = con.execute(sql("contract/fingerprint"), given).fetchone()
    parts = (__version__, scope.rules.values(), scope.listed, row)
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def note_asked(con: duckdb.DuckDBPyConnection, scope: Scope) -> None:
    """Remember that the verdicts in ledger.checks are of the whole ledger as it is now."""
    con.execute(sql("ledger/contract_asked"))
    con.execute("delete from ledger.contract_asked")
    con.execute("insert into ledger.contract_asked values (?)", [fingerprint(con, scope)])


def is_noted(con: duckdb.DuckDBPyConnection, scope: Scope) -> bool:
    """Whether the contract was asked of the whole ledger as it is now."""
    import duckdb

    with contextlib.suppress(duckdb.Error):  # an earlier version did not note it
        noted = con.execute("from ledger.contract_asked").fetchall()
        return noted == [(fingerprint(con, scope),)]
    return False


def standing_verdicts(con: duckdb.DuckDBPyConnection, scope: Scope) -> list[Verdict] | None:
    """The verdicts that stand; None where the contract has to be asked.

    So it is where rows or limits changed since, and where a clause is broken: its examples are not
    kept.
    """
    if not is_noted(con, scope):
        return None
    suite = {clause.says: (place, clause) for place, clause in enumerate(clauses(scope))}
    verdicts = []
    for load_id, says, column_name, is_met, unexpected, share in con.execute(
        "from ledger.checks"
    ).fetchall():
        if says not in suite or (suite[says][1].is_breach and not is_met):
            return None
        key, is_breach = suite[says][1].key, suite[says][1].is_breach
        verdicts.append(
            Verdict(key, says, column_name, load_id, is_met, unexpected, share, is_breach)
        )
    return sorted(verdicts, key=lambda each: (suite[each.expectation][0], each.load_id or 0))

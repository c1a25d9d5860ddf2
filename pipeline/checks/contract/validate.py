"""The verdict on every clause of the contract, counted over the batches of its frame."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from pipeline.checks.contract.batches import frame_of, prepare
from pipeline.checks.contract.clauses import BY_RECEIPT, Clause, Frame, clauses
from pipeline.checks.contract.expectations import library
from pipeline.checks.contract.scope import Scope
from pipeline.checks.contract.verdicts import Verdict

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

BATCH_ROWS = 500_000
"""Largest pandas batch that is handed over at once."""

_EXAMPLES = 3


def validate(con: duckdb.DuckDBPyConnection, scope: Scope) -> list[Verdict]:
    """The verdict on every clause: of each version, or of the ledger as a whole."""
    prepare(con, scope)
    suite = clauses(scope)
    verdicts: list[Verdict] = []
    for frame in dict.fromkeys(clause.frame for clause in suite):
        asked = [clause for clause in suite if clause.frame == frame]
        verdicts += _judge(asked, frame_of(con, frame, scope), frame)
    verdicts = _with_standing(con, verdicts)
    places = {clause.key: place for place, clause in enumerate(suite)}
    return sorted(verdicts, key=lambda each: (places[each.key], each.load_id or 0))


def _with_standing(con: duckdb.DuckDBPyConnection, verdicts: Sequence[Verdict]) -> list[Verdict]:
    """Where no receipt tells what a version gave, the verdict of the run that read it."""
    receipts = {load_id for (load_id,) in con.execute("select load_id from receipts").fetchall()}
    stored = {
        (load_id, says): (is_met, unexpected, share)
        for load_id, says, is_met, unexpected, share in con.execute(
            "select load_id, expectation, is_met, unexpected, share from ledger.checks"
        ).fetchall()
    }
    asked: list[Verdict] = []
    for verdict in verdicts:
        if verdict.key not in BY_RECEIPT or verdict.load_id in receipts:
            asked.append(verdict)
        elif (verdict.load_id, verdict.expectation) in stored:
            is_met, unexpected, share = stored[verdict.load_id, verdict.expectation]
            asked.append(replace(verdict, is_met=is_met, unexpected=unexpected, share=share))
    return asked


@dataclass
class _Tally:
    """Sets looked at and sets that break a clause, over the batches of a frame."""

    looked_at: int = 0
    unexpected: int = 0
    examples: tuple[str, ...] = ()

    def add(self, other: _Tally) -> None:
        self.looked_at += other.looked_at
        self.unexpected += other.unexpected
        self.examples = (self.examples + other.examples)[:_EXAMPLES]


def _judge(asked: Sequence[Clause], frame: pd.DataFrame, name: Frame) -> list[Verdict]:
    tallies: dict[tuple[str, int | None], _Tally] = {}
    for start in range(0, max(len(frame), 1), BATCH_ROWS):
        batch = frame.iloc[start : start + BATCH_ROWS].reset_index(drop=True)
        for key, load_id, tally in _ask(asked, batch, is_by_load=name == "loads"):
            tallies.setdefault((key, load_id), _Tally()).add(tally)
    by_key = {clause.key: clause for clause in asked}
    return [_verdict(by_key[key], load_id, tally) for (key, load_id), tally in tallies.items()]


def _verdict(clause: Clause, load_id: int | None, tally: _Tally) -> Verdict:
    share = tally.unexpected / tally.looked_at if tally.looked_at else 0.0
    is_met = share <= clause.tolerance or tally.looked_at < clause.least_sets
    return Verdict(
        key=clause.key,
        expectation=clause.says,
        column_name=clause.column,
        load_id=load_id,
        is_met=is_met,
        unexpected=tally.unexpected,
        share=round(share, 9),
        is_breach=clause.is_breach,
        examples=() if is_met else tally.examples,
    )


def _ask(
    asked: Sequence[Clause], batch: pd.DataFrame, *, is_by_load: bool
) -> Iterable[tuple[str, int | None, _Tally]]:
    """(key, load_id, tally) of each clause in one pandas batch."""
    by_key = {clause.key: clause for clause in asked}
    weights = batch["sets"].tolist()
    results = library().validated(asked, batch) if weights else []
    broken = {
        each.expectation_config.meta["key"]: _rows_that_break(each, batch) for each in results
    }
    for key, clause in by_key.items():
        wrong = broken.get(key, set())
        if is_by_load:
            for place, load_id in enumerate(batch["load_id"].tolist()):
                here = wrong & {place}
                yield key, int(load_id), _Tally(1, len(here), _examples(clause, batch, here))
        else:
            unexpected = int(sum(weights[place] for place in wrong))
            examples = _examples(clause, batch, wrong)
            yield key, None, _Tally(int(sum(weights)), unexpected, examples)


def _rows_that_break(result: Any, batch: pd.DataFrame) -> set[int]:
    """Places in the batch; all of them where the question itself could not be asked."""
    if result.success:
        return set()
    if result.exception_info.get("raised_exception", True):
        return set(range(len(batch)))
    return {int(place) for place in result.result["unexpected_index_list"]}


def _examples(clause: Clause, batch: pd.DataFrame, wrong: set[int]) -> tuple[str, ...]:
    """Some of the values that break a clause."""
    if not wrong:
        return ()
    given = clause.given
    shown = [given[each] for each in ("column", "column_A", "column_B") if each in given]
    rows = batch.iloc[sorted(wrong)][shown].drop_duplicates().head(_EXAMPLES)
    return tuple(" ≠ ".join(map(_shown, row)) for row in rows.itertuples(index=False))


def _shown(value: Any) -> str:
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, float):
        return f"{value:g}"
    return repr(value) if isinstance(value, str) else str(value)

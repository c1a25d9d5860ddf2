"""Who was forgotten: told from salted digests, so that a re-export brings nobody back by itself.

The journal keeps no name of a forgotten client, only digests of the spellings under which it was
known. Whoever has the workspace and guesses a spelling can confirm the guess; nobody can read it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import polars as pl

from pipeline.ledger.journal import Event, examine_tombstones, read_journal
from pipeline.names.clients import plain, slug
from pipeline.reading.normalise import Normalised
from pipeline.settings.workspace import Client, Workspace


@dataclass(frozen=True)
class Forgotten:
    """The forgotten clients of a journal, each a salt and digests of its spellings."""

    told: tuple[tuple[str, frozenset[str]], ...] = ()
    passed_over: frozenset[str] = frozenset()
    """Digests of contents that held nobody else's lines."""

    @classmethod
    def of(cls, events: Iterable[Event]) -> Forgotten:
        """Those whom no later event lets in again."""
        told: dict[str, frozenset[str]] = {}
        passed: dict[str, set[str]] = {}
        for event in events:
            if event["event"] == "forget":
                told[event["salt"]] = frozenset(event["who"])
                passed[event["salt"]] = set(event["contents"])
            elif event["event"] == "passed_over":
                for salt in told:
                    passed[salt].add(event["sha256"])
            elif event["event"] == "readmit":
                told.pop(event["salt"], None)
                passed.pop(event["salt"], None)
        return cls(tuple(told.items()), frozenset().union(*passed.values()))

    def __bool__(self) -> bool:
        return bool(self.told)

    @property
    def salts(self) -> list[str]:
        """One a forgotten client."""
        return [salt for salt, _ in self.told]

    def salt_of(self, spelling: str) -> str | None:
        """The salt of the client whom a spelling names; None if it names none of them."""
        for salt, digests in self.told:
            if digests & digests_of(salt, (spelling,)):
                return salt
        return None

    def has(self, spelling: str | None) -> bool:
        """Whether a spelling names a forgotten client."""
        return spelling is not None and self.salt_of(spelling) is not None


@lru_cache(maxsize=100_000)
def _digest(salt: str, text: str) -> str:
    return hashlib.sha256(f"{salt}\n{text}".encode()).hexdigest()


def digests_of(salt: str, spellings: Iterable[str]) -> set[str]:
    """Digests by which spellings are known again, whatever their case and spaces."""
    return {
        _digest(salt, form) for spelling in spellings for form in (plain(spelling), slug(spelling))
    }


def standing(workspace: Workspace) -> Forgotten:
    """The forgotten clients of a workspace, also where its journal is lost."""
    events = read_journal(workspace.store)
    salts = {event["salt"] for event in events if event["event"] == "forget"}
    lost = [
        event if event["event"] == "readmit" else event | {"contents": []}
        for event in examine_tombstones(workspace.store).lines
        if event["salt"] not in salts
    ]
    return Forgotten.of([*events, *lost])


def remembered_clients(workspace: Workspace) -> tuple[Client, ...]:
    """The configured clients, without those who were forgotten but are still listed."""
    forgotten = standing(workspace)
    if not forgotten:
        return workspace.clients
    return tuple(client for client in workspace.clients if not forgotten.has(client.id))


def without(rows: Normalised, forgotten: Forgotten) -> Normalised:
    """A reading as if the lines of forgotten clients were not in the file; all else is unchanged.

    A line is theirs if its client is, or, where a line set aside has none, if a cell names them.
    """
    if not forgotten:
        return rows
    named = _naming(rows.owners["client_id"], forgotten) | _naming(
        rows.owners["spelling"], forgotten
    )
    theirs = rows.owners.filter(named)
    gone = theirs["line"]
    structural = ~rows.set_aside["source_line"].is_in(rows.owners["line"].implode())
    in_cells = _in_cells(rows.set_aside["cells"], forgotten)
    unowned = structural | rows.set_aside["source_line"].is_in(
        rows.owners.filter(pl.col("client_id").is_null())["line"].implode()
    )
    dropped = rows.set_aside["source_line"].is_in(gone.implode()) | (unowned & in_cells)
    lost = rows.set_aside.filter(dropped)["source_line"]
    all_gone = pl.concat([gone.cast(pl.Int64), lost.cast(pl.Int64)]).unique()
    if all_gone.is_empty():
        return rows
    sets = rows.sets.filter(~pl.col("source_line").is_in(gone.implode()))
    set_aside = rows.set_aside.filter(~dropped)
    bodyweights = rows.bodyweights.filter(~_naming(rows.bodyweights["client_id"], forgotten))
    owners = rows.owners.filter(~pl.col("line").cast(pl.Int64).is_in(all_gone.implode()))
    lines_read = rows.lines_read - len(all_gone)
    days = pl.concat([sets["performed_on"], bodyweights["performed_on"]])
    return replace(
        rows,
        sets=sets,
        set_aside=set_aside,
        bodyweights=bodyweights,
        owners=owners,
        first_on=days.min(),  # type: ignore[arg-type]
        last_on=days.max(),  # type: ignore[arg-type]
        lines_read=lines_read,
        lines_loaded=lines_read - set_aside.height,
        lines_weighed=int(owners["is_weighed"].sum()),
        lines_set_aside=set_aside.height,
        spellings={
            client_id: spelling
            for client_id, spelling in rows.spellings.items()
            if not forgotten.has(client_id)
        },
        is_partial=True,
    )


def _naming(spellings: pl.Series, forgotten: Forgotten) -> pl.Series:
    """Whether each spelling is a forgotten client's."""
    theirs = [each for each in spellings.drop_nulls().unique().to_list() if forgotten.has(each)]
    return spellings.is_in(theirs).fill_null(False)


def _in_cells(cells: pl.Series, forgotten: Forgotten) -> pl.Series:
    """Whether one of a line's cells is a forgotten client's spelling."""
    return pl.Series(
        [any(forgotten.has(str(value)) for value in json.loads(line).values()) for line in cells],
        dtype=pl.Boolean,
    )

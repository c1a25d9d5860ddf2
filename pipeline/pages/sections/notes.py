"""Data notes: entries of effort that contradict each other, and what the data contract found."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline import formats
from pipeline.checks.contract.clauses import CLIENT_LISTED
from pipeline.ledger.connection import Row, fetch
from pipeline.pages import texts
from pipeline.pages.client_data import Desk
from pipeline.pages.page_data import Block, Column, Figure, Heading, Passage, Table

if TYPE_CHECKING:
    import duckdb

LISTED_MOST = 40
"""Contradictions that a page lists; the rest are counted."""

_DISAGREEMENTS = """
    select
        listed.performed_on,
        listed.exercise,
        listed.rir,
        listed.rpe,
        listed.has_failed,
        listed.counted_rir,
        listed.source_line,
        loads.path,
    from review.effort_disagreements as listed
    left join ledger.loads as loads on listed.load_id = loads.load_id
    where listed.client_id = ?
    order by listed.performed_on desc, listed.set_id
"""

_CHECKS = """
    select checks.expectation, checks.is_met, checks.unexpected, checks.share, loads.path
    from ledger.checks as checks
    left join ledger.loads as loads on checks.load_id = loads.load_id
    where
        checks.expectation <> ?
        and (checks.load_id is null or loads.state = 'loaded')
        and (?::integer[] is null or checks.load_id is null or checks.load_id in (
            select unnest(?::integer[])
        ))
    order by checks.load_id nulls first, checks.expectation
"""


def disagreement_blocks(desk: Desk) -> list[Block]:
    """Sets whose entries of effort contradict each other, with file and line and what counts."""
    if "effort_disagreements" not in desk.tables:
        return []
    rows = desk.rows(_DISAGREEMENTS, desk.client_id)
    if not rows:
        return []
    columns = (
        Column("Set", is_number=False),
        Column("Day", is_number=False),
        Column("Logged", is_number=False),
        Column("Counts as", is_number=False),
        Column("Where", is_number=False),
    )
    cells = tuple(
        (
            Figure(row["exercise"]),
            Figure(formats.day(row["performed_on"])),
            Figure(texts.logged_effort(row["rir"], row["rpe"], row["has_failed"])),
            Figure(texts.in_reserve(row["counted_rir"])),
            Figure(texts.place(row["path"], row["source_line"])),
        )
        for row in rows[:LISTED_MOST]
    )
    blocks: list[Block] = [
        Heading(texts.DISAGREEMENTS_HEADING),
        Passage(texts.DISAGREEMENTS_INTRO),
        Table(texts.disagreements_caption(len(rows)), columns, cells),
    ]
    if len(rows) > LISTED_MOST:
        blocks.append(Passage(texts.more_disagreements(len(rows) - LISTED_MOST), is_small=True))
    return blocks


def contract_blocks(
    con: duckdb.DuckDBPyConnection, load_ids: list[int] | None = None
) -> list[Block]:
    """What the data contract says of the ledger and of some versions (None: of all)."""
    rows = fetch(con, _CHECKS, CLIENT_LISTED, load_ids, load_ids)
    broken = [row for row in rows if not row["is_met"]]
    if not broken:
        return [Passage(texts.contract_kept(bool(rows)), is_small=True)]
    columns = (
        Column("What does not hold", is_number=False, is_long=True),
        Column("Where", is_number=False),
        Column("Rows"),
    )
    return [
        Heading(texts.CONTRACT_HEADING),
        Passage(texts.CONTRACT_INTRO),
        Table(texts.CONTRACT_TABLE, columns, tuple(map(_broken, broken))),
    ]


def _broken(row: Row) -> tuple[Figure, ...]:
    return (
        Figure(row["expectation"], mark="look"),
        Figure(row["path"] or texts.WHOLE_LEDGER),
        Figure(formats.number(row["unexpected"], 0), note=formats.percent(row["share"])),
    )

"""Data: what was read, what was set aside and why, and how each figure is counted."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from functools import lru_cache

from pipeline import formats
from pipeline.ledger.connection import Row
from pipeline.names.clients import slug
from pipeline.pages import texts
from pipeline.pages.client_data import Desk
from pipeline.pages.page_data import (
    Block,
    Column,
    Definitions,
    Figure,
    Heading,
    Items,
    Passage,
    Section,
    Table,
    trace_command,
)
from pipeline.pages.sections.notes import contract_blocks, disagreement_blocks
from pipeline.settings.rules import all_rules
from pipeline.units import from_kg

_PUBLISHED = re.compile(r"[A-Z][\w-]+ (et al\. )?(19|20)\d\d")
"""Names and a year: a basis that is a publication, not a practice or a measurement of ours."""

LINES_MOST = 40
"""Lines set aside, and suspect sets, that a page lists; the rest are counted."""

# Counting is a fifth of the cost of comparing names: with millions of sets it is what a page costs.
_LOADS = """
    with own_loads as (
        select load_id, count(*) as sets
        from ledger.sets
        where client_id = ?
        group by all
    ),

    whole_loads as (
        select load_id, count(*) as sets
        from ledger.sets
        group by all
    )

    select loads.*, own_loads.sets < whole_loads.sets as is_shared
    from own_loads
    inner join whole_loads on own_loads.load_id = whole_loads.load_id
    inner join ledger.loads as loads on own_loads.load_id = loads.load_id
    order by loads.load_id
"""

_SET_ASIDE = """
    select load_id, source_line, cells, reason, explanation
    from ledger.set_aside
    where load_id in (select unnest(?::integer[]))
    order by load_id, source_line
"""

_SUSPECT_IDS = """
    select set_id
    from review.graded_sets
    where client_id = ? and is_suspect
"""

_SUSPECTS = """
    select sets.performed_on, sets.exercise, sets.load_kg, sets.reps, sets.source_line, loads.path
    from ledger.current_sets as sets
    left join ledger.loads as loads on sets.load_id = loads.load_id
    where sets.client_id = ? and sets.set_id in (select unnest(?::varchar[]))
    order by sets.performed_on desc, sets.set_id
"""

_SPELLINGS = """
    select
        sets.exercise_raw,
        names.exercise,
        names.how,
        names.score,
        count(*) as sets,
        max(sets.performed_on) as last_on,
    from ledger.sets as sets
    inner join ledger.exercise_names as names on sets.exercise_raw = names.exercise_raw
    where
        sets.client_id = ?
        and sets.replaced_by is null
        and names.how in ('near', 'unknown')
    group by all
    order by sets desc, sets.exercise_raw
"""

_CORRECTIONS = """
    select line, performed_on, exercise, n, field, value, reason
    from ledger.corrections
    where client_id = ?
    order by performed_on, line
"""


def read_loads(desk: Desk) -> list[Row]:
    """Versions of exports that hold, or held, sets of the client; `is_shared`: others too."""
    return desk.rows(_LOADS, desk.client_id)


def read_set_aside(desk: Desk, loads: list[Row]) -> tuple[list[Row], int]:
    """Lines set aside that are the client's, and how many of shared exports name no one.

    A line of an export with one client is that client's; of a shared one, it must name the client:
    nobody reads another's lines.
    """
    counting = {row["load_id"]: row for row in loads if row["state"] == "loaded"}
    rows = desk.rows(_SET_ASIDE, list(counting)) if counting else []
    names = {slug(name) for name in (desk.client_id, desk.client.name, *desk.client.aliases)}
    own: list[Row] = []
    unnamed = 0
    for row in rows:
        if not counting[row["load_id"]]["is_shared"] or names & _slugs(row["cells"]):
            own.append(row | {"path": counting[row["load_id"]]["path"]})
        else:
            unnamed += 1
    return own, unnamed


@lru_cache(maxsize=20_000)
def _slugs(cells: str) -> frozenset[str]:
    """What a line's cells would be as ids; kept, since every page asks of the same lines."""
    values = json.loads(cells).values()
    return frozenset(slug(value) for value in values if isinstance(value, str) and value)


def data_section(desk: Desk, loads: list[Row], set_aside: tuple[list[Row], int]) -> Section:
    """The section; it always has something to say."""
    lines, unnamed = set_aside
    blocks: list[Block] = [Passage(texts.DATA_INTRO)]
    if loads:
        blocks.append(loads_table(loads))
    blocks += set_aside_blocks(lines)
    if unnamed:
        blocks.append(Passage(texts.further_set_aside(unnamed), is_small=True))
    blocks += _spelling_blocks(desk)
    blocks += _suspect_blocks(desk)
    blocks += disagreement_blocks(desk)
    blocks += _correction_blocks(desk)
    blocks += contract_blocks(desk.con, [row["load_id"] for row in loads])
    blocks.append(Definitions(texts.COUNTED, texts.definitions(desk.rules)))
    blocks.append(Items(texts.SOURCES_HEADING, sources()))
    blocks.append(Passage(texts.PRACTICE_NOTE, is_small=True))
    return Section("data", texts.SECTIONS["data"], tuple(blocks))


def loads_table(loads: list[Row]) -> Table:
    """Exports read, with their lines."""
    columns = (
        Column("Export", is_number=False),
        Column("State", is_number=False),
        Column("Days", is_number=False),
        Column("Lines read"),
        Column("Loaded"),
        Column("Set aside"),
        Column("Sets"),
    )
    return Table(
        texts.LOADS_TABLE,
        columns,
        tuple(
            (
                Figure(row["path"]),
                Figure(texts.state(row["state"])),
                Figure(texts.span(row["first_on"], row["last_on"])),
                Figure(formats.number(row["lines_read"], 0)),
                Figure(formats.number(row["lines_loaded"], 0)),
                Figure(
                    formats.number(row["lines_set_aside"], 0),
                    mark="look" if row["lines_set_aside"] else "",
                ),
                Figure(formats.number(row["sets_loaded"], 0)),
            )
            for row in loads
        ),
    )


def set_aside_blocks(lines: list[Row]) -> list[Block]:
    """Lines set aside, each with its file and line and the reason in words."""
    if not lines:
        return []
    columns = (
        Column("Line set aside", is_number=False),
        Column("Why", is_number=False, is_long=True),
    )
    rows = tuple(
        (Figure(texts.place(row["path"], row["source_line"])), Figure(row["explanation"]))
        for row in lines[:LINES_MOST]
    )
    blocks: list[Block] = [Table(texts.set_aside_caption(len(lines)), columns, rows)]
    if len(lines) > LINES_MOST:
        blocks.append(Passage(texts.more_lines(len(lines) - LINES_MOST), is_small=True))
    return blocks


def _spelling_blocks(desk: Desk) -> list[Block]:
    rows = desk.rows(_SPELLINGS, desk.client_id)
    unknown = [row for row in rows if row["how"] == "unknown"]
    near = [row for row in rows if row["how"] == "near"]
    blocks: list[Block] = []
    if unknown:
        nearest = _nearest(desk, [row["exercise_raw"] for row in unknown])
        columns = (
            Column("Unknown exercise", is_number=False),
            Column("Nearest known", is_number=False),
            Column("Sets"),
            Column("Last logged", is_number=False),
        )
        blocks += [
            Heading(texts.UNKNOWN_HEADING),
            Passage(texts.UNKNOWN_INTRO),
            Table(
                texts.UNKNOWN_TABLE,
                columns,
                tuple(
                    (
                        Figure(row["exercise_raw"]),
                        Figure(texts.alternatives(nearest.get(row["exercise_raw"], ()))),
                        Figure(formats.number(row["sets"], 0)),
                        Figure(formats.day(row["last_on"])),
                    )
                    for row in unknown
                ),
            ),
        ]
    if near:
        blocks += [
            Passage(texts.NEAR_INTRO),
            Table(
                texts.NEAR_TABLE,
                (
                    Column("As logged", is_number=False),
                    Column("Taken for", is_number=False),
                    Column("Sets"),
                ),
                tuple(
                    (
                        Figure(row["exercise_raw"]),
                        Figure(row["exercise"]),
                        Figure(formats.number(row["sets"], 0)),
                    )
                    for row in near
                ),
            ),
        ]
    return blocks


def _nearest(desk: Desk, spellings: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """The nearest exercises of the catalogue as used; only to propose, nothing is decided by it."""
    from rapidfuzz import fuzz, process

    if "exercises" not in desk.tables:
        return {}
    known = [row["exercise"] for row in desk.rows("select exercise from review.exercises")]
    return {
        spelling: tuple(
            name
            for name, _, _ in process.extract(
                spelling.lower(), known, scorer=fuzz.token_sort_ratio, limit=2, score_cutoff=60
            )
        )
        for spelling in spellings
    }


def _suspect_blocks(desk: Desk) -> list[Block]:
    set_ids = [row["set_id"] for row in desk.rows(_SUSPECT_IDS, desk.client_id)]
    if not set_ids:
        return []
    rows = desk.rows(_SUSPECTS, desk.client_id, set_ids)
    units = desk.client.units
    columns = (
        Column("Suspect set", is_number=False),
        Column("Day", is_number=False),
        Column(f"Load × reps ({units})"),
        Column("Where", is_number=False),
    )

    def cells(row: Row) -> tuple[Figure, ...]:
        load = None if row["load_kg"] is None else from_kg(row["load_kg"], units)
        return (
            Figure(row["exercise"]),
            Figure(formats.day(row["performed_on"])),
            Figure(
                texts.times(load, row["reps"]),
                trace_command(
                    "graded_sets.is_suspect",
                    desk.client_id,
                    exercise=row["exercise"],
                    on=row["performed_on"],
                ),
            ),
            Figure(texts.place(row["path"], row["source_line"])),
        )

    blocks: list[Block] = [
        Heading(texts.SUSPECT_HEADING),
        Passage(texts.SUSPECT_INTRO),
        Table(texts.SUSPECT_TABLE, columns, tuple(cells(row) for row in rows[:LINES_MOST])),
    ]
    if len(rows) > LINES_MOST:
        blocks.append(Passage(texts.more_suspects(len(rows) - LINES_MOST), is_small=True))
    return blocks


def _correction_blocks(desk: Desk) -> list[Block]:
    rows = desk.rows(_CORRECTIONS, desk.client_id)
    if not rows:
        return []
    columns = (
        Column("Corrected", is_number=False),
        Column("Day", is_number=False),
        Column("Set"),
        Column("Now", is_number=False),
        Column("Why", is_number=False, is_long=True),
    )
    return [
        Heading(texts.CORRECTIONS_HEADING),
        Table(
            texts.CORRECTIONS_TABLE,
            columns,
            tuple(
                (
                    Figure(row["exercise"]),
                    Figure(formats.day(row["performed_on"])),
                    Figure(formats.number(row["n"], 0)),
                    Figure(texts.corrected(row["field"], row["value"])),
                    Figure(row["reason"] or formats.NOTHING),
                )
                for row in rows
            ),
        ),
    ]


def sources() -> tuple[str, ...]:
    """Formulas, and what the thresholds name as their basis."""
    named = (rule.basis for rule in all_rules().values())
    published = dict.fromkeys(basis for basis in named if _PUBLISHED.search(basis))
    return (*texts.SOURCES, *(formats.sentence(basis) for basis in published))

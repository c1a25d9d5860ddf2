"""What was read for a client, or for all: the exports, and their lines that were set aside."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from functools import lru_cache

from pipeline.formats import NOTHING, capital, counted, day, number, plain
from pipeline.ledger.connection import Row
from pipeline.names.clients import slug
from pipeline.pages import texts
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Block, Column, Figure, Passage, Table
from pipeline.reading.reasons import NO_FAULTS, Reason


def read_loads(data: ClientData) -> list[Row]:
    """Versions of exports that hold, or held, sets of the client; `is_shared`: others too."""
    return data.answer("loads")


def read_set_aside(data: ClientData, loads: list[Row]) -> tuple[list[Row], int]:
    """Lines set aside that are the client's, and how many of shared exports name no one.

    A line of an export with one client is that client's; of a shared one, it must name the client:
    nobody reads another's lines.
    """
    counting = {row["load_id"]: row for row in loads if row["state"] == "loaded"}
    rows = data.rows(
        "from ledger.set_aside where load_id in (select unnest(?::integer[]))"
        " order by load_id, source_line",
        list(counting),
    )
    names = {slug(name) for name in (data.client_id, data.client.name, *data.client.aliases)}
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
        LOADS_CAPTION,
        columns,
        tuple(
            (
                Figure(row["path"]),
                Figure(state(row["state"])),
                Figure(span(row["first_on"], row["last_on"])),
                Figure(number(row["lines_read"], 0)),
                Figure(number(row["lines_loaded"], 0)),
                Figure(
                    number(row["lines_set_aside"], 0),
                    mark="look" if row["lines_set_aside"] else "",
                ),
                Figure(number(row["sets_loaded"], 0)),
            )
            for row in loads
        ),
    )


def unread(lines: list[Row]) -> int:
    """How many of the lines set aside could not be read; the others are no faults, or repeats."""
    return sum(row["reason"] not in {*NO_FAULTS, Reason.DUPLICATE} for row in lines)


def set_aside_blocks(lines: list[Row], unnamed: int = 0) -> list[Block]:
    """Lines set aside, a row a reason: how many, where the first stand, and one in words.

    `unnamed`: how many more of shared exports name no one.
    """
    further = [Passage(further_set_aside(unnamed), is_small=True)] if unnamed else []
    if not lines:
        return [*further]
    columns = (
        Column("Reason", is_number=False),
        Column("Lines"),
        Column("The first stand at", is_number=False, is_long=True),
        Column("One of them", is_number=False, is_long=True),
    )
    by_reason: dict[str, list[Row]] = defaultdict(list)
    for row in lines:
        by_reason[row["reason"]].append(row)
    rows = tuple(
        (
            Figure(capital(plain(reason))),
            Figure(number(len(of_reason), 0)),
            Figure(first_places([(row["path"], row["source_line"]) for row in of_reason])),
            Figure(of_reason[0]["explanation"]),
        )
        for reason, of_reason in sorted(by_reason.items(), key=lambda each: -len(each[1]))
    )
    return [Table(set_aside_caption(len(lines)), columns, rows), *further]


# What it says

LOADS_CAPTION = "Exports read"
STATES = {
    "loaded": "loaded",
    "held": "held: waits for `load --accept`",
    "replaced": "replaced by a later version",
    "unloaded": "unloaded",
}


def state(code: str) -> str:
    """What became of a version of an export."""
    return STATES.get(code, code)


def span(first_on: date | None, last_on: date | None) -> str:
    """Two days."""
    return NOTHING if first_on is None else f"{day(first_on)} to {day(last_on)}"


def set_aside_caption(amount: int) -> str:
    """Over the lines set aside."""
    return f"{capital(counted(amount, 'line'))} set aside: read, but not counted"


def further_set_aside(amount: int) -> str:
    """Lines of shared exports that name no client."""
    return (
        f"{capital(counted(amount, 'further line'))} of exports shared with other clients "
        f"{'was' if amount == 1 else 'were'} set aside without naming this client; the roster page "
        "lists them all."
    )


def first_places(places: Sequence[tuple[str, int]], most: int = 3) -> str:
    """The first lines with their file, and how many more."""
    found = [texts.place(path, line) for path, line in places[:most]]
    more = len(places) - most
    return ", ".join([*found, f"{more} more"] if more > 0 else found)

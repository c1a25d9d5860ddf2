"""Before and after: the same measures four weeks before and four weeks after a noted change."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import groupby

from pipeline.ledger.connection import Row
from pipeline.pages import texts
from pipeline.pages.client_data import Desk
from pipeline.pages.page_data import (
    Block,
    Column,
    Figure,
    Heading,
    Passage,
    Section,
    Table,
    trace_command,
)

COLUMNS = (
    Column("Measure", is_number=False),
    Column("Before", "the four weeks before"),
    Column("After", "the four weeks from the change on"),
    Column("Difference"),
    Column(
        "Against the usual",
        "whether four weeks usually differ as much, and the largest difference that is usual",
        is_number=False,
        is_long=True,
    ),
)


def changes_section(desk: Desk) -> Section | None:
    """The section, or None where no change was noted."""
    rows = desk.of_client("before_after", "changed_on desc, measure")
    if not rows:
        return None
    blocks: list[Block] = [Passage(texts.changes_intro(desk.rules), is_small=True)]
    for changed_on, of_change in groupby(rows, key=lambda row: row["changed_on"]):
        blocks += _blocks(desk, changed_on, sorted(of_change, key=_place))
    return Section("changes", texts.SECTIONS["changes"], tuple(blocks))


def _place(row: Row) -> tuple[int, str]:
    """Place of a measure on the page; one without a place stands last."""
    order = list(texts.CHANGE_MEASURES)
    code = row["measure"]
    return (order.index(code) if code in order else len(order), code)


def _blocks(desk: Desk, changed_on: date, rows: Sequence[Row]) -> Iterator[Block]:
    """One change: its note, what is to be known, and the measures side by side."""
    # several changes of one day share their figures
    notes = [change.note for change in desk.client.changes if change.changed_on == changed_on]
    yield Heading(texts.change_heading(changed_on, "; ".join(notes)))
    judged = [row for row in rows if row["is_usual_variation"] is not None]
    unusual = [texts.measure(row["measure"])[0] for row in judged if not row["is_usual_variation"]]
    first = rows[0]
    sentences = [
        texts.change_reading(len(rows), unusual, len(judged)),
        texts.change_span(first["days_before"], first["days_after"], desk.rules["change_days"]),
        texts.other_changes(first["other_changes"]) if first["other_changes"] else "",
    ]
    yield Passage(" ".join(filter(None, sentences)))
    cells = tuple(_cells(desk, row) for row in rows)
    yield Table(texts.change_caption(changed_on), COLUMNS, cells)


def _cells(desk: Desk, row: Row) -> tuple[Figure, ...]:
    name, value, difference = texts.measure(row["measure"])

    def traced(column: str, text: str) -> Figure:
        grain = {"on": row["changed_on"], "measure": row["measure"]}
        return Figure(text, trace_command(f"before_after.{column}", desk.client_id, **grain))

    return (
        Figure(name),
        traced("before", value(row["before"])),
        traced("after", value(row["after"])),
        traced("difference", difference(row["difference"])),
        Figure(
            texts.usual(row["is_usual_variation"]),
            note=texts.reach(difference(row["usual_difference"])),
        ),
    )

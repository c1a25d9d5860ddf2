"""Before and after: the same measures four weeks before and four weeks after a noted change."""

from __future__ import annotations

from itertools import groupby

from pipeline import wording
from pipeline.figures import Block, Column, Figure, Heading, Section, Table, trace_command
from pipeline.rows import Desk, Row

COLUMNS = (
    Column("Measure", is_number=False),
    Column("Before", "the four weeks before"),
    Column("After", "the four weeks after"),
    Column("Difference"),
    Column("", "whether four weeks usually differ as much", is_number=False),
)


def changes_section(desk: Desk) -> Section | None:
    """The section, or None where no change was noted."""
    rows = desk.of_client("before_after", "changed_on desc, measure")
    if not rows:
        return None
    notes = {change.changed_on: change.note for change in desk.client.changes}
    blocks: list[Block] = []
    for changed_on, of_change in groupby(rows, key=lambda row: row["changed_on"]):
        blocks += [
            Heading(wording.change_heading(changed_on, notes.get(changed_on, ""))),
            Table(
                wording.change_caption(changed_on),
                COLUMNS,
                tuple(_cells(desk, row) for row in of_change),
            ),
        ]
    return Section("changes", wording.SECTIONS["changes"], tuple(blocks))


def _cells(desk: Desk, row: Row) -> tuple[Figure, ...]:
    name, value, difference = wording.measure(row["measure"], desk.client.units)
    trace = trace_command(
        "before_after.difference", desk.client_id, on=row["changed_on"], measure=row["measure"]
    )
    return (
        Figure(name),
        Figure(value(row["before"]), trace),
        Figure(value(row["after"]), trace),
        Figure(difference(row["difference"]), trace),
        Figure(wording.usual(row["is_usual_variation"])),
    )

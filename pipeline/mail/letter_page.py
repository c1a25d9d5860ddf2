"""From page data to what one mail shows: a client's month, or the roster, in short.

Everything is taken from the page data, so that mail and page say the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from pipeline import formats
from pipeline.pages.charts.mail import beside, width_of
from pipeline.pages.page_data import (
    Beside,
    ClientPage,
    CoachNote,
    Finding,
    Panels,
    RosterPage,
    Table,
)
from pipeline.pages.sections.muscles import STRIPS_TITLE

CLIENT_CLOSING = "The whole review is attached: open it in a browser, it needs no network."
COACH_CLOSING = "The roster is attached: open it in a browser, it needs no network."
LIFTS_PICTURE = "Lifts that need a look first, sessions of 52 weeks"
MUSCLE_COLUMNS = ("Muscle", "Weekly rate", "4 weeks before", "Guide", "Standing")
LIFT_COLUMNS = ("Lift", "Status", "Change a week", "Best e1RM")
ROSTER_COLUMNS = ("Client", "Change first", "Last session", "Sessions", "Hard sets a week", "Data")
LIFTS_DRAWN = 4
LIFTS_LISTED = 12


@dataclass(frozen=True)
class Picture:
    """A drawing inside the mail."""

    key: str
    """Its Content-ID without the host; also its file name."""
    svg: str
    width: int
    alt: str
    reading: str


@dataclass(frozen=True)
class Part:
    """A heading with a drawing, a table, or both."""

    heading: str
    picture: Picture | None
    table: Table | None


@dataclass(frozen=True)
class LetterPage:
    """What one mail shows, in reading order."""

    title: str
    house: str
    lines: tuple[str, ...]
    """Period, what the figures rest on, notices."""
    first: Finding | None
    noticed: tuple[str, ...]
    works: tuple[str, ...]
    parts: tuple[Part, ...]
    closing: str
    cautions: tuple[str, ...]
    foot: str
    note: CoachNote | None = None
    """The coach's own word, before all else."""
    last: str = ""
    """What became of the last change."""
    plan: tuple[str, ...] = ()
    """Of the first change: by how much, in which sessions, until when."""


def client_letter(page: ClientPage, month: date) -> LetterPage:
    """A client's month in short."""
    lead = page.lead
    sections = {section.key: section for section in page.sections}
    parts = [Part(page.month.caption, None, page.month)] if page.month else []
    for block in sections["muscles"].blocks if "muscles" in sections else ():
        if isinstance(block, Beside):
            drawn = _picture("muscles", block.chart.svg, STRIPS_TITLE, block.chart.reading)
            parts.append(
                Part(sections["muscles"].title, drawn, _narrowed(block.table, MUSCLE_COLUMNS))
            )
    if "lifts" in sections:
        parts.append(_lifts(sections["lifts"].title, sections["lifts"].blocks))
    return LetterPage(
        title=f"{page.name}: {formats.month(month)}",
        house=page.workspace_name,
        lines=(page.period, *([page.rests_on.text] if page.rests_on else []), *page.notices),
        first=lead.first if lead else None,
        noticed=tuple(each.headline for each in lead.noticed) if lead else (),
        works=tuple(each.text for each in lead.works) if lead else (),
        parts=tuple(parts),
        closing=CLIENT_CLOSING,
        cautions=page.cautions,
        foot=page.foot,
        note=page.note,
        last=lead.last.text if lead and lead.last else "",
        plan=lead.plan if lead else (),
    )


def coach_letter(page: RosterPage, month: date) -> LetterPage:
    """The roster in short, for the coach."""
    parts = [
        Part(table.caption, None, narrowed)
        for table, narrowed in (
            (page.table, _narrowed(page.table, ROSTER_COLUMNS) if page.table else None),
            (page.month, page.month),
        )
        if table is not None
    ]
    return LetterPage(
        title=f"{page.workspace_name}: {formats.month(month)}",
        house=page.workspace_name,
        lines=(page.as_of,),
        first=None,
        noticed=(),
        works=(),
        parts=tuple(parts),
        closing=COACH_CLOSING,
        cautions=page.cautions,
        foot=page.foot,
    )


def _lifts(title: str, blocks: Iterable[object]) -> Part:
    panels = [panel for block in blocks if isinstance(block, Panels) for panel in block.panels]
    tables = [
        block for block in blocks if isinstance(block, Table) and block.columns[0].label == "Lift"
    ]
    drawn = None
    if panels:
        shown = panels[:LIFTS_DRAWN]
        svg = beside([(f"{each.heading} ({each.unit})", each.svg) for each in shown])
        reading = " ".join(f"{each.heading}: {each.word or 'no status'}." for each in shown)
        drawn = _picture("lifts", svg, LIFTS_PICTURE, reading)
    table = _narrowed(tables[0], LIFT_COLUMNS, LIFTS_LISTED) if tables else None
    return Part(title, drawn, table)


def _picture(key: str, svg: str, alt: str, reading: str) -> Picture:
    return Picture(key, svg, width_of(svg), alt, reading)


def _narrowed(table: Table, labels: Sequence[str], most: int | None = None) -> Table:
    """The columns of these names (or beginnings), and the first rows."""
    places = [
        place
        for place, column in enumerate(table.columns)
        if any(column.label == label or column.label.startswith(f"{label} (") for label in labels)
    ]
    return Table(
        table.caption,
        tuple(table.columns[place] for place in places),
        tuple(tuple(row[place] for place in places) for row in table.rows[:most]),
    )

"""What a page shows, as data: text already worded, numbers already formatted, order decided.

Templates only loop over these and escape. Every number carries the command that traces it.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from pipeline import formats

Grain = str | int | float | date


@dataclass(frozen=True)
class Figure:
    """One cell or number as it is shown."""

    text: str
    trace: str = ""
    """The command that leads to the rows behind it; shown as title text."""
    mark: str = ""
    """CSS class for a figure that needs a look; the text says the same in words."""
    order: str = ""
    """What the roster's sorting compares; empty: the text."""
    note: str = ""
    """Small print below it."""
    href: str = ""
    svg: str = ""
    """A word-sized drawing in place of the text."""


@dataclass(frozen=True)
class Column:
    """A table's column; `meaning` explains the label in title text."""

    label: str
    meaning: str = ""
    is_number: bool = True
    is_long: bool = False
    """Whether its text may break into lines."""


@dataclass(frozen=True)
class Table:
    """A table whose first column names the row."""

    kind: ClassVar[str] = "table"
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Figure, ...], ...]
    is_folded: bool = False
    """Whether it stands behind a line that opens it."""
    is_sortable: bool = False


@dataclass(frozen=True)
class Chart:
    """An inline drawing, its reading as caption and its numbers as a table."""

    kind: ClassVar[str] = "chart"
    svg: str
    reading: str
    """One computed sentence."""
    numbers: Table | None = None
    key: str = ""
    """How to read the marks, where they do not explain themselves."""
    title: str = ""
    """What is drawn, where no heading says it."""


@dataclass(frozen=True)
class Beside:
    """A drawing with a table at its side; below each other where the sheet is narrow."""

    kind: ClassVar[str] = "beside"
    chart: Chart
    table: Table


@dataclass(frozen=True)
class Panel:
    """One small multiple: its heading and unit, a word on how it stands, drawing and reading."""

    heading: str
    unit: str
    svg: str
    reading: str
    word: str = ""
    mark: str = ""


@dataclass(frozen=True)
class Panels:
    """Small multiples, with all their numbers behind one line."""

    kind: ClassVar[str] = "panels"
    panels: tuple[Panel, ...]
    numbers: tuple[Table, ...]
    numbers_caption: str
    size: str = ""
    """CSS class: wide or tight; empty: between the two."""


@dataclass(frozen=True)
class Passage:
    """A paragraph."""

    kind: ClassVar[str] = "passage"
    text: str
    is_small: bool = False


@dataclass(frozen=True)
class Items:
    """A heading of the third rank with a list below."""

    kind: ClassVar[str] = "items"
    heading: str
    items: tuple[str, ...]


@dataclass(frozen=True)
class Definitions:
    """A heading of the third rank with terms and what they mean."""

    kind: ClassVar[str] = "definitions"
    heading: str
    terms: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Heading:
    """A heading of the third rank."""

    kind: ClassVar[str] = "heading"
    text: str


Block = Table | Chart | Beside | Panels | Passage | Items | Definitions | Heading


@dataclass(frozen=True)
class Section:
    """One part of a page; never without blocks."""

    key: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Finding:
    """One thing noticed: what, its evidence in numbers, one small step and its arithmetic."""

    headline: str
    evidence: tuple[Figure, ...]
    step: str
    arithmetic: str = ""
    table: Table | None = None
    """Lifts told together, where they are more than a sentence carries."""
    code: str = ""
    """What setledger.toml and the mail book call it by; empty: nothing to change."""
    subject: str = ""


@dataclass(frozen=True)
class Lead:
    """The first screen: what to change first with its picture, what waits, what works."""

    first: Finding
    """A page without a change says so in it."""
    picture: Chart | None
    """The very lift, muscle or measure that the first change names."""
    noticed: tuple[Finding, ...]
    works: tuple[Figure, ...]
    last: Figure | None = None
    """What became of the last change; None in the first month."""
    plan: tuple[str, ...] = ()
    """Of the first change: by how much, in which sessions, until when, what success would be."""


@dataclass(frozen=True)
class CoachNote:
    """The coach's own word: Markdown as written, and as HTML in which nothing raw is left."""

    text: str
    html: str


@dataclass(frozen=True)
class ClientPage:
    """Everything that one client's page shows."""

    client_id: str
    name: str
    workspace_name: str
    period: str
    notices: tuple[str, ...]
    """Phase, silence: what colours the whole page."""
    rests_on: Figure | None
    lead: Lead | None
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]
    foot: str
    month: Table | None = None
    """The month against the month before."""
    earlier: tuple[Figure, ...] = ()
    """Links to the pages of earlier days."""
    note: CoachNote | None = None
    """The coach's word for the month of the last covered day."""
    years: str = ""
    """The page of all years, where it stands beside this one."""
    days: Chart | None = None
    """When the client trained, as a strip of time."""
    is_alone: bool = False
    """Whether it goes out by mail, where links to other pages lead nowhere."""


@dataclass(frozen=True)
class SidePage:
    """A page beside a client's: the coach's evidence, or the whole log by years."""

    name: str
    workspace_name: str
    title: str
    intro: str
    sections: tuple[Section, ...]
    foot: str
    is_coachs: bool
    """Whether only the coach reads it: it says so, and names tool and tables at its foot."""


@dataclass(frozen=True)
class RosterPage:
    """Everything that the roster shows."""

    workspace_name: str
    as_of: str
    intro: str
    table: Table | None
    """None where there is no client yet."""
    data: tuple[Block, ...]
    cautions: tuple[str, ...]
    foot: str
    month: Table | None = None
    """The month against the month before, a row a client."""
    earlier: tuple[Figure, ...] = ()
    """Links to the rosters of earlier days."""
    before: Definitions | None = None
    """What to look at before the month is sent."""


def links_to(days: Sequence[date]) -> tuple[Figure, ...]:
    """Links to the pages of these days, which stand beside the page."""
    return tuple(Figure(formats.day(day), href=f"{day.isoformat()}.html") for day in days)


def trace_command(column: str, client_id: str, **grain: Grain | None) -> str:
    """The command that shows the rows behind a figure: review table and column, client, grain.

    Grain options are named as `setledger trace` names them; None is left out.
    """
    words = ["setledger trace", f"review.{column} --client", shlex.quote(client_id)]
    for name, value in grain.items():
        if value is not None:
            words += [f"--{name.replace('_', '-')}", shlex.quote(str(value))]
    return " ".join(words)

"""The coach's page of a client: what was read, what was not, and what stands behind figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any

from pipeline.formats import number, sentence
from pipeline.ledger.connection import Row
from pipeline.pages import finding_text, texts
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import (
    Block,
    ClientPage,
    Column,
    Figure,
    Passage,
    Section,
    SidePage,
    Table,
    trace_command,
)
from pipeline.pages.sections.counted import counted_blocks
from pipeline.pages.sections.data import correction_blocks, spelling_blocks, suspect_blocks
from pipeline.pages.sections.exports import (
    loads_table,
    read_loads,
    read_set_aside,
    set_aside_blocks,
)
from pipeline.pages.sections.notes import (
    contract_blocks,
    disagreement_blocks,
    pain_blocks,
    slip_blocks,
    waived_blocks,
)


def read_evidence(data: ClientData, page: ClientPage) -> SidePage:
    """What a client's page leaves out, and the commands behind its figures."""
    loads = read_loads(data)
    grouped: tuple[tuple[str, str, list[Block]], ...] = (
        ("pain", "Notes that speak of pain", pain_blocks(data)),
        ("findings", "Findings", _finding_blocks(data)),
        ("waived", "Put aside", waived_blocks(data)),
        ("exports", "Exports", [loads_table(loads)] if loads else []),
        ("set-aside", "Lines set aside", set_aside_blocks(*read_set_aside(data, loads))),
        ("exercises", "Names of exercises", spelling_blocks(data)),
        ("slips", "Loads in another unit?", slip_blocks(data)),
        ("suspect", "Suspect sets", suspect_blocks(data)),
        ("efforts", "Effort logged twice, and differently", disagreement_blocks(data)),
        ("corrections", "Corrections", correction_blocks(data)),
        ("contract", "Data contract", contract_blocks(data.con, [row["load_id"] for row in loads])),
        ("counted", "How each figure is counted", counted_blocks(data.rules)),
        ("traces", "Behind the figures", _trace_blocks(page)),
    )
    return SidePage(
        name=page.name,
        workspace_name=page.workspace_name,
        title=TITLE,
        intro=f"{texts.as_of(data.as_of)} {INTRO}",
        sections=tuple(
            Section(key, title, tuple(blocks)) for key, title, blocks in grouped if blocks
        ),
        foot=page.foot,
        is_coachs=True,
    )


def _finding_blocks(data: ClientData) -> list[Block]:
    """All that the rules found, said or not; what was put aside stands for itself."""
    rows = data.rows(
        "from review.findings where client_id = ? and not is_waived"
        " order by is_first_change desc, is_noticed desc, lever, severity desc, code, subject",
        data.client_id,
    )
    if not rows:
        return [Passage(NO_FINDINGS)]
    columns = (
        Column("Finding", is_number=False, is_long=True),
        Column("Said", is_number=False),
        Column("Numbers", is_number=False, is_long=True),
        Column("Step", is_number=False, is_long=True),
    )
    return [Table(FINDINGS_CAPTION, columns, tuple(_finding(data, row) for row in rows))]


def _finding(data: ClientData, row: Row) -> tuple[Figure, ...]:
    evidence = finding_text.evidence_of(row)
    text = finding_text.finding(row["code"], data.subject(row["subject"]), evidence, data.units)
    trace = trace_command(
        "findings.evidence", data.client_id, code=row["code"], subject=row["subject"] or None
    )
    return (
        Figure(text.headline, trace),
        Figure(said(is_first=row["is_first_change"], is_noticed=row["is_noticed"])),
        Figure(". ".join(text.evidence), note=text.arithmetic),
        Figure(sentence(row["suggestion"] or "")),
    )


def _trace_blocks(page: ClientPage) -> list[Block]:
    """A row a column of the tables: how many figures show it, and the command of one of them."""
    commands: dict[str, list[str]] = {}
    for command in dict.fromkeys(_traces(page)):
        commands.setdefault(command.split(" ", 3)[2], []).append(command)
    if not commands:
        return []
    columns = (
        Column("Figure", is_number=False),
        Column("On the page"),
        Column("Command of the first", is_number=False, is_long=True),
    )
    rows = tuple(
        (
            Figure(column.removeprefix("review.")),
            Figure(number(len(found), 0)),
            Figure(found[0], found[0]),
        )
        for column, found in sorted(commands.items())
    )
    return [Passage(TRACES_INTRO), Table(TRACES_CAPTION, columns, rows)]


def _traces(shown: Any) -> Iterator[str]:
    """Commands of all figures inside what a page shows, in its order."""
    if isinstance(shown, Figure):
        if shown.trace:
            yield shown.trace
    elif isinstance(shown, tuple):
        for each in shown:
            yield from _traces(each)
    elif is_dataclass(shown):
        for field in fields(shown):
            yield from _traces(getattr(shown, field.name))


# What it says

TITLE = "Evidence"
INTRO = "For the coach: what the client’s page leaves out. It is never mailed."
NO_FINDINGS = "No rule found anything."
FINDINGS_CAPTION = "What the rules found, with their numbers"
TRACES_INTRO = (
    "Every figure of the client’s page carries its command in its title text: point at it. "
    "`setledger trace` lists the sets behind it with file and line; `setledger describe` says what "
    "each column means."
)
TRACES_CAPTION = "Columns that the page shows; muscle, exercise and day are those of the figure"


def said(*, is_first: bool, is_noticed: bool) -> str:
    """Where a finding stands on the client's page."""
    return "change first" if is_first else "noticed" if is_noticed else "not said"

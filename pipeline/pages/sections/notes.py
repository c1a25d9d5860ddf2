"""Data notes: pain that was noted, findings put aside, effort that contradicts itself, contract."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.checks.contract.clauses import CLIENT_LISTED
from pipeline.checks.slips import beside, perhaps, settling
from pipeline.formats import NOTHING, capital, counted, day, listing, number, percent
from pipeline.ledger.connection import Row
from pipeline.pages import finding_text, texts
from pipeline.pages.client_data import ClientData, answer
from pipeline.pages.page_data import Block, Column, Figure, Heading, Passage, Table, trace_command

if TYPE_CHECKING:
    import duckdb

LISTED_MOST = 40
"""Rows of a list of data notes that a page shows; the rest are counted."""


def disagreement_blocks(data: ClientData) -> list[Block]:
    """Sets whose entries of effort contradict each other, with file and line and what counts."""
    rows = data.answer("effort_disagreements")
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
            Figure(day(row["performed_on"])),
            Figure(logged_effort(row["rir"], row["rpe"], row["has_failed"])),
            Figure(in_reserve(row["counted_rir"])),
            Figure(texts.place(row["path"], row["source_line"])),
        )
        for row in rows[:LISTED_MOST]
    )
    blocks: list[Block] = [
        Passage(DISAGREEMENTS_INTRO),
        Table(disagreements_caption(len(rows)), columns, cells),
    ]
    if len(rows) > LISTED_MOST:
        blocks.append(Passage(more_disagreements(len(rows) - LISTED_MOST), is_small=True))
    return blocks


def pain_blocks(data: ClientData) -> list[Block]:
    """Notes of late that speak of pain, in their own words: nowhere else are they quoted."""
    rows = data.answer("pain_notes")
    if not rows:
        return []
    columns = (
        Column("Day", is_number=False),
        Column("Exercise", is_number=False),
        Column("Note", is_number=False, is_long=True),
        Column("Sets"),
        Column("Where", is_number=False),
    )
    cells = tuple(
        (
            Figure(day(row["performed_on"])),
            Figure(row["exercise"]),
            Figure(row["notes"]),
            Figure(
                number(row["sets"], 0),
                trace_command(
                    "pain_notes.set_id",
                    data.client_id,
                    exercise=row["exercise"],
                    on=row["performed_on"],
                ),
            ),
            Figure(texts.place(row["path"], row["source_line"])),
        )
        for row in rows[:LISTED_MOST]
    )
    return [Passage(PAIN_INTRO), Table(PAIN_CAPTION, columns, cells)]


def waived_blocks(data: ClientData) -> list[Block]:
    """Findings that the coach put aside, with the reason."""
    rows = data.rows(
        "select code, subject, evidence from review.findings"
        " where client_id = ? and is_waived order by lever, code, subject",
        data.client_id,
    )
    if not rows:
        return []
    columns = (
        Column("Put aside", is_number=False, is_long=True),
        Column("Until", is_number=False),
        Column("Why", is_number=False, is_long=True),
    )
    return [
        Table(WAIVED_CAPTION, columns, tuple(_waived(data, row) for row in rows)),
    ]


def _waived(data: ClientData, row: Row) -> tuple[Figure, ...]:
    waiver = next(
        each
        for each in data.client.waived
        if each.code == row["code"] and each.subject in (None, row["subject"])
    )
    text = finding_text.finding(
        row["code"], data.subject(row["subject"]), finding_text.evidence_of(row), data.units
    )
    trace = trace_command(
        "findings.evidence", data.client_id, code=row["code"], subject=row["subject"] or None
    )
    return (
        Figure(text.headline, trace, note="; ".join(text.evidence)),
        Figure(day(waiver.until_on) if waiver.until_on else NOTHING),
        Figure(waiver.why or NOTHING),
    )


def slip_blocks(data: ClientData) -> list[Block]:
    """Sessions whose loads look noted in another unit; nothing where there are none."""
    rows = data.of_client("unit_slips", "slipped_from desc, exercise")
    if not rows:
        return []
    columns = (
        Column("Lift", is_number=False),
        Column("From", is_number=False),
        Column("To", is_number=False),
        Column("Sessions"),
        Column("Loads stand at", is_number=False),
        Column("Perhaps", is_number=False),
        Column("If it is a real change", is_number=False, is_long=True),
    )
    cells = (
        (
            Figure(row["exercise"]),
            Figure(day(row["slipped_from"])),
            Figure(day(row["slipped_to"])),
            Figure(number(row["sessions"], 0)),
            Figure(beside(row)),
            Figure(perhaps(row)),
            Figure(settling(row)),
        )
        for row in rows
    )
    return [Passage(SLIP_INTRO), Table(SLIP_CAPTION, columns, tuple(cells))]


def contract_blocks(
    con: duckdb.DuckDBPyConnection, load_ids: list[int] | None = None
) -> list[Block]:
    """What the data contract says of the ledger and of some versions (None: of all)."""
    rows = answer(con, "pages/checks", left_out=CLIENT_LISTED, load_ids=load_ids)
    broken = [row for row in rows if not row["is_met"]]
    if not broken:
        return [Passage(contract_kept(bool(rows)), is_small=True)]
    columns = (
        Column("What does not hold", is_number=False, is_long=True),
        Column("Where", is_number=False),
        Column("Rows"),
    )
    return [
        Heading(CONTRACT_HEADING),
        Passage(CONTRACT_INTRO),
        Table(CONTRACT_CAPTION, columns, tuple(map(_broken, broken))),
    ]


def _broken(row: Row) -> tuple[Figure, ...]:
    return (
        Figure(row["expectation"], mark="look"),
        Figure(row["path"] or WHOLE_LEDGER),
        Figure(number(row["unexpected"], 0), note=percent(row["share"])),
    )


# What it says

PAIN_INTRO = (
    "Notes of the last four weeks with words for pain, injury or dizziness. Nothing is added for "
    "the muscles of these exercises. Pain and injury are a matter for a licensed professional."
)
PAIN_CAPTION = "Notes as logged"
WAIVED_CAPTION = "Findings that are never the first change for now; what they bar stays barred"
DISAGREEMENTS_INTRO = (
    "Reserve, exertion and failure of one set that contradict each other. Repetitions in reserve "
    "count first, then 10 less the exertion, then failure as none in reserve."
)


def disagreements_caption(amount: int) -> str:
    """Over the sets whose entries of effort contradict each other."""
    return f"{capital(counted(amount, 'set'))} whose entries of effort disagree"


def more_disagreements(amount: int) -> str:
    """When the list of contradicting entries is cut."""
    return (
        f"{capital(counted(amount, 'earlier one'))} not shown: "
        '`setledger query "from review.effort_disagreements"` lists all.'
    )


def in_reserve(rir: float) -> str:
    """Repetitions in reserve, in words."""
    return f"{number(rir, 0 if rir == int(rir) else 1)} in reserve"


def logged_effort(rir: float | None, rpe: float | None, has_failed: bool) -> str:
    """The entries of effort of one set, as logged."""
    parts = [] if rir is None else [in_reserve(rir)]
    if rpe is not None:
        parts.append(f"RPE {number(rpe, 0 if rpe == int(rpe) else 1)}")
    if has_failed:
        parts.append("to failure or beyond")
    return listing(parts)


CONTRACT_HEADING = "Data contract"
CONTRACT_INTRO = (
    "What must hold of every ledger is looked up after each run. This does not hold; "
    "`setledger check` says how to mend it."
)
CONTRACT_CAPTION = "Expectations that the data break"
WHOLE_LEDGER = "the whole ledger"


def contract_kept(is_asked: bool) -> str:
    """When nothing of the data contract is broken.

    How many were asked is no figure for a page: a run asks more of what it read itself.
    """
    if not is_asked:
        return "The data contract has not been asked yet: `setledger check` asks it."
    return "The data contract holds: nothing expected of the ledger or of exports is broken."


SLIP_INTRO = (
    "Sessions whose loads stand to those before or after as a pound to a kilogram, or as two to "
    "one. Their sets count, but not in references, trends, bests and records until it is settled: "
    "mend the loads in corrections.csv, or note what changed. Which side is wrong the log does not "
    "say: the fewer sessions are named."
)
SLIP_CAPTION = "Sessions with loads that look noted in another unit"

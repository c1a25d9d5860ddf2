"""What in a log needs a person: names that no catalogue has, unlikely loads, corrections."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pipeline.formats import NOTHING, capital, counted, day, listing, number, plain
from pipeline.ledger.connection import Row
from pipeline.pages import texts
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import (
    Block,
    Column,
    Figure,
    Passage,
    Table,
    trace_command,
)
from pipeline.pages.sections.notes import LISTED_MOST
from pipeline.units import from_kg


def spelling_blocks(data: ClientData) -> list[Block]:
    """Exercises that no catalogue knows, and spellings taken for a near name."""
    rows = data.answer("spellings")
    unknown = [row for row in rows if row["how"] == "unknown"]
    near = [row for row in rows if row["how"] == "near"]
    blocks: list[Block] = []
    if unknown:
        nearest = _nearest(data, [row["exercise_raw"] for row in unknown])
        columns = (
            Column("Unknown exercise", is_number=False),
            Column("Nearest known", is_number=False),
            Column("Sets"),
            Column("Last logged", is_number=False),
        )
        blocks += [
            Passage(UNKNOWN_INTRO),
            Table(
                UNKNOWN_CAPTION,
                columns,
                tuple(
                    (
                        Figure(row["exercise_raw"]),
                        Figure(alternatives(nearest.get(row["exercise_raw"], ()))),
                        Figure(number(row["sets"], 0)),
                        Figure(day(row["last_on"])),
                    )
                    for row in unknown
                ),
            ),
        ]
    if near:
        blocks += [
            Passage(NEAR_INTRO),
            Table(
                NEAR_CAPTION,
                (
                    Column("As logged", is_number=False),
                    Column("Taken for", is_number=False),
                    Column("Sets"),
                ),
                tuple(
                    (
                        Figure(row["exercise_raw"]),
                        Figure(row["exercise"]),
                        Figure(number(row["sets"], 0)),
                    )
                    for row in near
                ),
            ),
        ]
    return blocks


def _nearest(data: ClientData, spellings: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """The nearest exercises of the catalogue as used; only to propose, nothing is decided by it."""
    from rapidfuzz import fuzz, process

    known = [row["exercise"] for row in data.rows("select exercise from review.exercises")]
    return {
        spelling: tuple(
            name
            for name, _, _ in process.extract(
                spelling.lower(), known, scorer=fuzz.token_sort_ratio, limit=2, score_cutoff=60
            )
        )
        for spelling in spellings
    }


def suspect_blocks(data: ClientData) -> list[Block]:
    """Sets with an unlikely load, with file and line."""
    suspect = data.rows(
        "select set_id from review.graded_sets where client_id = ? and is_suspect and not is_slip",
        data.client_id,
    )
    set_ids = [row["set_id"] for row in suspect]
    if not set_ids:
        return []
    rows = data.answer("suspect_sets", set_ids=set_ids)
    units = data.units
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
            Figure(day(row["performed_on"])),
            Figure(
                texts.times(load, row["reps"]),
                trace_command(
                    "graded_sets.is_suspect",
                    data.client_id,
                    exercise=row["exercise"],
                    on=row["performed_on"],
                ),
            ),
            Figure(texts.place(row["path"], row["source_line"])),
        )

    blocks: list[Block] = [
        Passage(SUSPECT_INTRO),
        Table(SUSPECT_CAPTION, columns, tuple(cells(row) for row in rows[:LISTED_MOST])),
    ]
    if len(rows) > LISTED_MOST:
        blocks.append(Passage(more_suspects(len(rows) - LISTED_MOST), is_small=True))
    return blocks


def correction_blocks(data: ClientData) -> list[Block]:
    """Logged values that corrections.csv overrules."""
    rows = data.rows(
        "from ledger.corrections where client_id = ? order by performed_on, line", data.client_id
    )
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
        Table(
            CORRECTIONS_CAPTION,
            columns,
            tuple(
                (
                    Figure(row["exercise"]),
                    Figure(day(row["performed_on"])),
                    Figure(number(row["n"], 0)),
                    Figure(corrected(row["field"], row["value"])),
                    Figure(row["reason"] or NOTHING),
                )
                for row in rows
            ),
        ),
    ]


# What it says

SUSPECT_INTRO = (
    "Loads far above the lift’s recent best. They count as sets but not in references, trends and "
    "records. The commonest slips: pounds for kilograms, one dumbbell for two, a digit."
)
SUSPECT_CAPTION = "Sets with an unlikely load"


def more_suspects(amount: int) -> str:
    """When the list of suspect sets is cut."""
    return f"{capital(counted(amount, 'earlier suspect set'))} not shown."


UNKNOWN_INTRO = (
    "Exercises that are not in the catalogue: their sets are kept but count for no muscle. Name "
    "them in the workspace’s exercises.csv."
)
UNKNOWN_CAPTION = "Exercises that count for no muscle"
NO_NEAREST = "nothing near"


def alternatives(names: Sequence[str]) -> str:
    """Nearest known exercises."""
    return listing(names, "or") or NO_NEAREST


NEAR_INTRO = "Spellings taken for a near name: look whether they are right."
NEAR_CAPTION = "Spellings taken for a near name"
CORRECTIONS_CAPTION = "Logged values overruled by corrections.csv"


def corrected(field: str, value: str) -> str:
    """A value that overrules a logged one."""
    return f"{plain(field)} {value}"

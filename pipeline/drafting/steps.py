"""From an unknown export to a mapping: which column fills which field, each with its reason.

Headers are read first, and cells have a veto: a column called "Weight" that holds days is none.
Where no header tells, cells alone decide. Where two readings fit, the key stays open.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from pipeline.drafting.column_profiles import profiles_of
from pipeline.drafting.draft import Board
from pipeline.drafting.effort import find_efforts, find_kinds
from pipeline.drafting.guesses import Guess, Open, Unread
from pipeline.drafting.header_words import EXACT, HeaderReading, header_reading, load_vocabulary
from pipeline.drafting.lift_columns import skip_others, takes_days, takes_sides
from pipeline.drafting.other_fields import (
    describe_file,
    find_beside,
    find_decimals,
    find_units,
    why_unread,
)
from pipeline.drafting.set_layouts import take_sets, takes_listed, takes_wide
from pipeline.drafting.sniffer import Sniffed, sniff
from pipeline.drafting.who_when_what import find_carried, find_clients, find_days, find_exercises
from pipeline.errors import ExportError
from pipeline.names.catalogue import Catalogue
from pipeline.settings.mapping import Rows
from pipeline.settings.rules import Rules
from pipeline.units import KG_PER_LB


@dataclass(frozen=True)
class Draft:
    """What is known of an unknown export."""

    sniffed: Sniffed
    rows: Rows
    guesses: tuple[Guess, ...]
    opens: tuple[Open, ...]
    unread: tuple[Unread, ...]
    doubts: tuple[str, ...] = ()
    """Sentences on columns that are called like a field and are not read: a person must look."""


_FIELDS = (
    "load",
    "rir",
    "rpe",
    "effort",
    "set_kind",
    "warmup",
    "extension",
    "side",
    "to_failure",
    "partial_reps",
    "load_unit",
    "load_basis",
    "client",
)


def doubts_of(board: Board) -> tuple[str, ...]:
    """What the headers promise and no field holds: not to be lost without a word."""
    filled = {each.key for each in board.guesses if each.section in ("columns", "constants")}
    filled |= {key for each in board.opens for key, _ in each.readings}
    filled |= {"effort"} if filled & {"rir", "rpe"} else set()
    filled |= {"warmup", "extension"} if "set_kind" in filled else set()
    doubts = []
    for each in board.profiles:
        if each.name in board.taken or each.name in board.said or len(each.counts) < 2:
            continue
        header = each.header
        best = header.strength(*header.strengths)
        named = [
            name
            for name in _FIELDS
            if name not in filled and header.strength(name) >= max(EXACT, best)
        ]
        is_labels = header.strength("set_no", "sets") >= EXACT and each.number_share < 0.9
        if named or (is_labels and not filled & {"set_no", "sets", "set_kind"}):
            some = ", ".join(f"'{text}'" for text in list(each.counts)[:3])
            doubts.append(
                f"{board.shown}: column '{each.name}' is not read, for its cells (such as {some}) "
                "are not understood; if they matter, name it under [columns] and its words under "
                "[values]."
            )
    return tuple(doubts)


def draft(data: bytes, shown: str, catalogue: Catalogue, rules: Rules, tomorrow: date) -> Draft:
    """The mapping of an unknown export. Raises ExportError, in one sentence, if it holds no log.

    `shown` is the file's name in messages; `tomorrow` the last day that is believed.
    """
    sniffed = sniff(data, shown)
    export = sniffed.export
    if not export.records.height:
        raise ExportError(
            f"{shown}: it holds a header and no line below it; nothing can be drafted."
        )
    vocabulary = load_vocabulary()
    headers = [
        replace(header_reading(name), name=name) if sniffed.has_header else HeaderReading(name)
        for name in export.header
    ]
    doubled = {name for name in export.written_header if export.written_header.count(name) > 1}
    if len(doubled) == 1:
        # one name twice is a slip; several names as often as each other are sets side by side
        headers = [
            replace(each, number=None, pattern=None) if written in doubled else each
            for each, written in zip(headers, export.written_header, strict=True)
        ]
    profiles, decimal, marks = profiles_of(
        export.records, headers, catalogue, vocabulary, rules.load_max_kg / KG_PER_LB, tomorrow
    )
    return _decided(Board(sniffed, profiles, decimal, marks, shown))


def _decided(board: Board) -> Draft:
    """All decisions, the needed fields first."""
    describe_file(board)
    find_days(board)
    find_clients(board)
    if not takes_days(board):
        find_exercises(board)
        if not (takes_sides(board) or takes_wide(board) or takes_listed(board)):
            take_sets(board)
    find_efforts(board)
    find_kinds(board)
    find_beside(board)
    find_carried(board)
    skip_others(board)
    find_units(board)
    find_decimals(board)
    unread = tuple(
        Unread(each.name, board.said.get(each.name) or why_unread(board, each))
        for each in board.profiles
        if each.name not in board.taken
    )
    return Draft(
        board.sniffed,
        board.rows,
        tuple(board.guesses),
        tuple(board.opens),
        unread,
        doubts_of(board),
    )

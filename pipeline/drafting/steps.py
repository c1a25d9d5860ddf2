"""From an unknown export to a mapping: which column fills which field, each with its reason.

Headers are read first, and cells have a veto: a column called "Weight" that holds days is none.
Where no header tells, cells alone decide. Where two readings fit, the key stays open.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date

from pipeline.drafting.column_profiles import Column, columns_of
from pipeline.drafting.draft import Draft, Unread
from pipeline.drafting.effort import find_effort, find_set_kinds
from pipeline.drafting.header_words import (
    EXACT,
    OTHER,
    SURE,
    HeaderReading,
    header_reading,
    load_vocabulary,
)
from pipeline.drafting.other_fields import (
    describe_file,
    find_decimal_mark,
    find_load_unit,
    find_other_fields,
    why_unread,
)
from pipeline.drafting.row_words import find_skipped
from pipeline.drafting.set_layouts import (
    skip_others,
    take_sets,
    takes_days,
    takes_listed,
    takes_sides,
    takes_wide,
)
from pipeline.drafting.sniffer import Sniffed, sniff
from pipeline.drafting.who_when_what import (
    find_carried,
    find_client_label,
    find_clients,
    find_days,
    find_exercises,
)
from pipeline.errors import ExportError
from pipeline.names.catalogue import Catalogue
from pipeline.reading.cells import shortened
from pipeline.settings.rules import Rules
from pipeline.units import KG_PER_LB

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


_LIKE_SETS = 0.3
"""Share of cells like sets from which on a column is not left out without a warning."""


def _is_free(column: Column) -> bool:
    """Whether the header does not say that the column is a plan, a remark or a volume."""
    return column.header.strength(OTHER, "notes") < SURE


def _is_named_as_exercise(column: Column) -> bool:
    """Whether the column is called like a known exercise."""
    return column.catalogue.resolve(column.name).how != "unknown"


def _why_no_list(column: Column) -> str:
    if not column.unread_list:
        return "another column holds the sets; write those of a line in one cell or number them."
    cell, why = column.unread_list
    return (
        f"'{shortened(cell)}' is not understood ({why}). A word of your own goes under "
        "[values.load], [values.set_kind] or [values.to_failure]."
    )


def _doubts(draft: Draft) -> list[str]:
    """What the headers promise and no field holds: not to be lost without a word."""
    filled = {each.key for each in draft.guesses if each.section in ("columns", "constants")}
    filled |= {key for each in draft.opens for key, _ in each.readings}
    filled |= {"effort"} if filled & {"rir", "rpe"} else set()
    filled |= {"warmup", "extension"} if "set_kind" in filled else set()
    doubts: list[str] = []
    for each in draft.columns:
        if each.name in draft.taken or each.name in draft.unread_because or not each.counts:
            continue
        is_list = _is_free(each) and each.set_like_share >= _LIKE_SETS
        if is_list or (draft.rows == "days" and _is_named_as_exercise(each)):
            doubts.append(
                f"{draft.shown}: column '{each.name}' looks like sets and is not read: "
                f"{_why_no_list(each)}"
            )
            continue
        if len(each.counts) < 2:
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
                f"{draft.shown}: column '{each.name}' is not read, for its cells (such as {some}) "
                "are not understood; if they matter, name it under [columns] and its words under "
                "[values]."
            )
    return doubts


def draft_export(
    data: bytes, shown: str, catalogue: Catalogue, rules: Rules, tomorrow: date
) -> Draft:
    """The mapping of an unknown export. Raises ExportError, in one sentence, if it holds no log.

    `shown` is the file's name in messages; `tomorrow` the last day that is believed.
    """
    return draft_sniffed(sniff(data, shown), shown, catalogue, rules, tomorrow)


def draft_sniffed(
    sniffed: Sniffed, shown: str, catalogue: Catalogue, rules: Rules, tomorrow: date
) -> Draft:
    """The mapping of one or several files that are cut into records already."""
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
    doubled = {name for name, times in Counter(export.written_header).items() if times > 1}
    if len(doubled) == 1:
        # one name twice is a slip; several names as often as each other are sets side by side
        headers = [
            replace(each, number=None, pattern=None) if written in doubled else each
            for each, written in zip(headers, export.written_header, strict=True)
        ]
    columns, decimal, marks = columns_of(
        export.records, headers, catalogue, vocabulary, rules.load_max_kg / KG_PER_LB, tomorrow
    )
    return _decided(Draft(sniffed, columns, decimal, marks, shown))


def _decided(draft: Draft) -> Draft:
    """All decisions, the needed fields first."""
    describe_file(draft)
    find_days(draft)
    find_clients(draft)
    if not takes_days(draft):
        find_exercises(draft)
        if not (takes_sides(draft) or takes_wide(draft) or takes_listed(draft)):
            take_sets(draft)
    find_effort(draft)
    find_set_kinds(draft)
    find_other_fields(draft)
    find_client_label(draft)
    find_carried(draft)
    find_skipped(draft)
    skip_others(draft)
    find_load_unit(draft)
    find_decimal_mark(draft)
    draft.unread = [
        Unread(
            each.name,
            draft.unread_because.get(each.name) or why_unread(draft, each),
            bool(each.counts),
        )
        for each in draft.columns
        if each.name not in draft.taken
    ]
    draft.doubts = _doubts(draft)
    return draft

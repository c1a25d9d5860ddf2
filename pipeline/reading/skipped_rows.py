"""Rows that are no sets: sums, headings, repeated headers, separators. They count as skipped."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import replace

import polars as pl

from pipeline.reading.cells import by_distinct
from pipeline.reading.export import Export
from pipeline.settings.mapping import Mapping, is_numbered

_WORD = re.compile(r"[^\W\d_]+")


def skip_word(cell: str) -> str:
    """A cell as `[layout] skip` compares it: its words, whatever their case and the numbers beside.

    So "Week" stands for "Week 12" too. Of a cell without any letter or digit only the marks count;
    one of digits and no letter stays as it is.
    """
    text = unicodedata.normalize("NFKC", cell).casefold().strip()
    words = _WORD.findall(text)
    if words or any(letter.isalnum() for letter in text):
        return " ".join(words) or text
    return "".join(sorted(set(text) - {" "}))


def without_skipped(export: Export, mapping: Mapping) -> Export:
    """An export without the rows whose day or exercise cell is a word of `[layout] skip`."""
    if not mapping.skip or not export.records.height:
        return export
    wanted = {skip_word(each) for each in mapping.skip} - {""}
    is_skipped = pl.Series("is_skipped", [False]).new_from_index(0, export.records.height)
    for column in _columns(export, mapping):
        found = by_distinct(
            export.records[column], lambda text: skip_word(text) in wanted, pl.Boolean()
        )
        is_skipped = is_skipped | found.fill_null(False)
    skipped = int(is_skipped.sum())
    if not skipped:
        return export
    return replace(
        export,
        records=export.records.filter(~is_skipped),
        lines_read=export.lines_read - skipped,
        lines_skipped=export.lines_skipped + skipped,
    )


def _columns(export: Export, mapping: Mapping) -> list[str]:
    """The columns of the day and of the exercise."""
    named = list(mapping.day_columns) or [mapping.columns.get("performed_on", "")]
    named.append(mapping.columns.get("exercise", ""))
    return [
        export.column(each, f"{mapping.path}: [columns]")
        for each in named
        if each and not is_numbered(each)
    ]

"""Rows of an unknown export that are no sets: sums, headings, repeated headers, separators."""

from __future__ import annotations

import re
from collections.abc import Iterable

import polars as pl

from pipeline.drafting.column_profiles import Column
from pipeline.drafting.draft import Draft, days_of
from pipeline.reading.month_names import DAYS, MONTHS, fold_name
from pipeline.reading.skipped_rows import skip_word
from pipeline.reading.word_lists import words

_WORD = re.compile(r"[^\W\d_]+")


_SUMS = words("sum")
"""Folded words by which a row is a sum."""

_BESIDE = words("beside sum")
"""Folded words that stand beside a sum, or that make a heading with a number."""

_MOST = 20
_TAIL = 5
"""Letters of a word with which a compound may end."""


def find_skipped(draft: Draft) -> None:
    """[layout] skip: the words by which such rows are told from sets."""
    columns = [each for each in (draft.day, draft.exercise) if each is not None]
    if not columns:
        return
    records = draft.sniffed.export.records.drop("source_line")
    headers = [name.casefold() for name in draft.sniffed.export.written_header]
    found: dict[str, str] = {}
    left = pl.Series([True]).new_from_index(0, records.height)
    for column in columns:
        told = {
            text: why
            for text, rows in _rows_of(records, column, _odd_texts(draft, column), left).items()
            if (why := _why_no_set(draft, column, text, rows, headers))
        }
        left = left & ~column.texts.is_in(list(told)).fill_null(False)
        found = {_shown(text): why for text, why in told.items()} | found
    kept = _kept_texts(columns, found)
    words = [text for text in found if skip_word(text) not in kept][:_MOST]
    if words:
        reasons = ", ".join(dict.fromkeys(found[each] for each in words))
        draft.guess("layout", "skip", words, 0.9, f"rows that are no sets: {reasons}")


def _odd_texts(draft: Draft, column: Column) -> list[str]:
    """Texts under the day that are no day, and texts under the exercise that are no known one."""
    if column is draft.day:
        texts = column.texts.filter(days_of(column).is_null() & column.texts.is_not_null())
        return texts.unique(maintain_order=True).to_list()[:200]
    return [
        text
        for text in column.counts
        if column.catalogue.resolve(text).how == "unknown" or _is_mark(text)
    ]


def _rows_of(
    records: pl.DataFrame, column: Column, texts: Iterable[str], left: pl.Series
) -> dict[str, list[list[str]]]:
    """Each text with the cells of the rows where it stands, as the file has them."""
    wanted = list(texts)
    places = left & column.texts.is_in(wanted).fill_null(False)
    rows: dict[str, list[list[str]]] = {}
    chosen = records.filter(places).rows()
    for text, row in zip(column.texts.filter(places).to_list(), chosen, strict=True):
        rows.setdefault(text, []).append([(cell or "").strip() for cell in row])
    return rows


def _why_no_set(
    draft: Draft, column: Column, text: str, rows: list[list[str]], headers: list[str]
) -> str:
    """What sort of row these are; empty where they may be sets."""
    filled = [[cell for cell in row if cell] for row in rows]
    if _is_mark(text):
        return "separators" if all(_is_mark(cell) for row in filled for cell in row) else ""
    if text.casefold() == column.name.casefold():
        repeats = [
            sum(
                bool(cell) and cell.casefold() == name
                for cell, name in zip(row, headers, strict=True)
            )
            for row in rows
        ]
        return "the header again" if min(repeats) >= 2 else ""
    words = [fold_name(each) for each in _WORD.findall(text)]
    if words and any(map(_is_sum, words)) and _are_known(words):
        return "sums"
    is_alone = all(len(row) == 1 for row in filled)
    if is_alone and words:
        return "headings"
    is_period = bool(words) and any(each in _BESIDE for each in words) and _are_known(words)
    reps = [each for each in draft.columns if draft.taken.get(each.name) in _SET_FIELDS]
    bare = all(not row[each.place] for row in rows for each in reps)
    return "headings" if column is draft.day and is_period and bare and reps else ""


_SET_FIELDS = ("reps", "load", "sets", "exercise")


def _are_known(words: list[str]) -> bool:
    return all(_is_sum(each) or each in _BESIDE or each in MONTHS or each in DAYS for each in words)


def _is_sum(word: str) -> bool:
    """A word of a sum, or a compound that ends in one, as "Monatssumme"."""
    return word in _SUMS or any(word.endswith(each) for each in _SUMS if len(each) >= _TAIL)


def _is_mark(text: str) -> bool:
    return not any(letter.isalnum() for letter in text)


def _shown(text: str) -> str:
    """A cell as [layout] skip names it: without its numbers."""
    return " ".join(_WORD.findall(text)) or text


def _kept_texts(columns: list[Column], found: dict[str, str]) -> set[str]:
    """What days and exercises of sets would be taken for: no word may skip them."""
    kept = set()
    for column in columns:
        for text in column.counts:
            if _shown(text) not in found:
                kept.add(skip_word(text))
    if columns[0].days is not None:
        days = days_of(columns[0])
        read = columns[0].texts.filter(days.is_not_null()).unique().to_list()
        kept |= {skip_word(text) for text in read}
    return kept

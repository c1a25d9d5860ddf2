"""Days of an unknown export that no single column tells: in parts, or without their year."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import polars as pl

from pipeline.drafting.column_profiles import Column
from pipeline.drafting.date_formats import DayForm, day_form, patterns_of
from pipeline.drafting.draft import Draft
from pipeline.drafting.header_words import SURE
from pipeline.names.spelling import fold
from pipeline.reading.dates import LEAP_YEAR, read_by_format, read_moment, with_years
from pipeline.reading.month_names import MONTHS, fold_name
from pipeline.reading.word_lists import words

_PARTS = ("year", "month", "day")
_YEAR = re.compile(r"(?<!\d)(?:19[5-9]|20[0-9])\d(?!\d)")
_YEARS_BACK = 7
_MONTH_WORD = re.compile(r"[^\W\d_]{3,}")
_LISTED = 3


def takes_day_parts(draft: Draft) -> bool:
    """Year, month and day in columns of their own, or a day beside a column with its year."""
    parts = {part: _part(draft, part) for part in _PARTS}
    year, month, day = parts["year"], parts["month"], parts["day"]
    if year is None:
        return False
    if month is not None and day is not None:
        found = [year, month, day]
    else:
        yearless = [
            each
            for each in draft.free()
            if each is not year and each.header.strength("performed_on") >= SURE
        ]
        found = [yearless[0], year] if yearless else []
    if not found:
        return False
    joined = _joined(found)
    form = joined.days
    if form is None or form.share < SURE:
        return False
    names = [each.name for each in found]
    example = next(iter(joined.counts))
    draft.guess(
        "columns",
        "performed_on",
        names,
        0.7 + 0.25 * form.share,
        f"together their cells are days, such as '{example}'",
    )
    for each in found:
        draft.taken[each.name] = "performed_on"
    patterns = [form.pattern or "%Y %m %d", *form.others]
    if form.others:
        listed = " and ".join(f"'{each}'" for each in names)
        draft.ask("formats", [("date", each) for each in patterns], f"{listed}: {form.reason}")
    else:
        draft.guess("formats", "date", patterns[0], form.confidence, form.reason)
    draft.day = joined
    return True


def _part(draft: Draft, part: str) -> Column | None:
    ranges = {"year": (1950, draft.columns[0].tomorrow.year), "month": (1, 12), "day": (1, 31)}
    low, high = ranges[part]
    for each in draft.free():
        if fold(each.header.name) not in words(part):
            continue
        named = each.share(lambda text: fold_name(text) in MONTHS) if part == "month" else 0.0
        if each.number_share * each.within(low, high, whole=True) + named >= 0.9:
            return each
    return None


def _joined(found: Sequence[Column]) -> Column:
    """Several columns as one, their cells joined by a space."""
    texts = pl.DataFrame([each.texts.alias(str(at)) for at, each in enumerate(found)])
    joined = texts.select(pl.concat_str(pl.all(), separator=" ")).to_series()
    name = " + ".join(each.name for each in found)
    return replace(found[0], name=name, texts=joined, counts=_counts(joined))


def _counts(texts: pl.Series) -> dict[str, int]:
    return dict(Counter(texts.drop_nulls().to_list()).most_common())


def takes_yearless(draft: Draft) -> bool:
    """A column of days without their year; the year is told beside it, or left open."""
    found = [each for each in draft.free() if _may_be_yearless(each)]
    found.sort(key=lambda each: (-each.header.strength("performed_on"), each.place))
    for each in found:
        years, why = _told_years(draft, each)
        tomorrow = each.tomorrow
        forms = {
            year: form
            for year in years or range(tomorrow.year, tomorrow.year - _YEARS_BACK, -1)
            if (form := _form_in(each, year)) is not None
        }
        if not forms and years:
            continue
        if forms:
            _take_yearless(draft, each, forms, why if years else "")
            return True
    return False


def _may_be_yearless(column: Column) -> bool:
    if column.header.strength("performed_on") >= SURE:
        return True
    return column.share(_is_worded_day) >= 0.9


def _is_worded_day(text: str) -> bool:
    """Whether a text has a day's number and a month's name, or the points of a day: "14.03."."""
    has_month = any(fold_name(word) in MONTHS for word in _MONTH_WORD.findall(text))
    return bool(has_month and re.search(r"\d", text)) or bool(
        re.fullmatch(r"\d{1,2}\. ?\d{1,2}\.", text)
    )


def _told_years(draft: Draft, column: Column) -> tuple[list[int], str]:
    """Years that the header, a line above it or the file's name tell."""
    for texts, why in (
        ([column.name], "the header names it"),
        (draft.sniffed.preamble, "a line above the header names it"),
        ([draft.shown], "the file's name has it"),
    ):
        years = sorted({int(year) for text in texts for year in _YEAR.findall(text)})
        if years:
            return years[:1], why
    return [], ""


def _form_in(column: Column, year: int) -> DayForm | None:
    """The form of the days with a year written behind; None if they are none in that year.

    Where a weekday stands beside the day, it fits in one year of several.
    """
    has_weekday = column.share(lambda text: len(_MONTH_WORD.findall(text)) > 0) > 0
    behind = year if has_weekday else LEAP_YEAR
    counts = {f"{text} {behind}": times for text, times in column.counts.items()}
    changes = column.texts.drop_nulls()
    changes = changes.filter((changes != changes.shift()).fill_null(True))
    form = day_form(counts, [f"{text} {behind}" for text in changes.to_list()], date(9000, 1, 1))
    if form is None or form.pattern is None or form.share < 0.9:
        return None
    patterns = [form.pattern, *form.others]
    if not all(pattern.endswith(" %Y") for pattern in patterns):
        return None
    short = [pattern.removesuffix(" %Y") for pattern in patterns]
    return replace(form, pattern=short[0], others=tuple(short[1:]))


def _take_yearless(draft: Draft, column: Column, forms: dict[int, DayForm], why: str) -> None:
    form = next(iter(forms.values()))
    share = f"{form.share:.0%} of {column.filled} cells are days without a year"
    draft.take("performed_on", column, 0.7 + 0.2 * form.share, share)
    patterns = (form.pattern or "", *form.others)
    if form.others:
        draft.ask("formats", [("date", one) for one in patterns], f"column '{column.name}': "
                  f"{form.reason}, such as '{next(iter(column.counts))}'")  # fmt: skip
    else:
        draft.guess("formats", "date", patterns[0], form.confidence, form.reason)
    dated = {year: _dated(column, patterns[0], year) for year in forms}
    possible = [
        year for year, days in dated.items() if max(filter(None, days)) <= column.tomorrow
    ]  # fmt: skip
    possible = possible or list(forms)
    has_weekday = patterns[0].startswith("%a")
    if why or (has_weekday and len(possible) == 1):
        year = possible[0]
        told = why or f"the weekdays fit in no other of the last {_YEARS_BACK} years"
        draft.guess("formats", "year", year, 0.85, f"year of the first line: {told}")
    else:
        year = possible[0]
        draft.ask(
            "formats",
            [("year", one) for one in possible[:_LISTED]],
            f"column '{column.name}' has no year, and neither file name nor header tells that of "
            "the first line",
        )
    iso = [str(day) if day else None for day in dated[year]]
    texts = pl.Series(column.texts.name, iso, dtype=pl.String)
    draft.day = replace(column, texts=texts, counts=_counts(texts))


def _dated(column: Column, pattern: str, year: int) -> list[date | None]:
    read = {
        text: found.day
        if (found := read_by_format(f"{text} {LEAP_YEAR}", f"{pattern} %Y"))
        else None
        for text in column.counts
    }
    return with_years([read.get(text) if text else None for text in column.texts.to_list()], year)


def why_no_days(draft: Draft) -> str:
    """A sentence for an export in which no column holds days."""
    records = draft.sniffed.export.records.drop("source_line")
    first = [cell for cell in records.row(0) if cell]
    names = first if not draft.sniffed.has_header else [each.name for each in draft.columns]
    headed = [each for each in names if read_moment(each.strip()) or patterns_of(each.strip())]
    if len(headed) > 1:
        return (
            f"the days are its columns ('{headed[0]}', '{headed[1]}'), and no line tells one; turn "
            "the table round, so that each line has its day in a column."
        )
    alone = _day_alone(draft)
    if alone:
        return (
            f"days stand in lines of their own, such as '{alone}', above the sets that they hold "
            "for; write the day into a column beside each set."
        )
    return (
        "no column holds calendar days; write the day of each set into a column, such as "
        "2026-08-31."
    )


def _day_alone(draft: Draft) -> str | None:
    """A day in a line that has no other cell."""
    records = draft.sniffed.export.records.drop("source_line")
    for row in records.head(200).iter_rows():
        cells = [cell.strip() for cell in row if cell and cell.strip()]
        if len(cells) == 1 and (read_moment(cells[0]) or patterns_of(cells[0])):
            return shown if len(shown := cells[0]) <= 40 else None
    return None

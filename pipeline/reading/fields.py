"""From records to fields: a text for each field that a mapping names, a row a record."""

from __future__ import annotations

import polars as pl

from pipeline.reading.cells import stripped, translated
from pipeline.reading.context import Context
from pipeline.settings.mapping import PER_SET_FIELDS, SETS_COLUMN, is_numbered

_LINE_FIELDS = (
    "client",
    "performed_on",
    "started_at",
    "exercise",
    "notes",
    "bodyweight",
    "set_count",
)


def field_texts(records: pl.DataFrame, context: Context) -> pl.DataFrame:
    """`line`, `n` and a text for each field that is not numbered, in file order."""
    mapping = context.mapping
    texts: dict[str, pl.Expr] = {}
    for field, column in mapping.columns.items():
        if field == SETS_COLUMN and mapping.rows == "days":
            continue
        if field == "performed_on" and mapping.day_columns:
            texts[field] = _joined_day(context)
        elif not is_numbered(column):
            texts[field] = stripped(context.column(field))
        elif field == SETS_COLUMN:
            texts[field] = _joined_cells(context.export.numbered(column, context.key(field)))
    for field, value in mapping.constants.items():
        texts[field] = pl.lit(value, dtype=pl.String)
    fields = (*_LINE_FIELDS, *PER_SET_FIELDS, SETS_COLUMN)
    lines = records.select(
        pl.col("source_line").alias("line"),
        pl.lit(1, dtype=pl.Int32).alias("n"),
        *(texts.get(field, pl.lit(None, dtype=pl.String)).alias(f"t_{field}") for field in fields),
    )
    return translated(_carried(lines, context), mapping, ("exercise", "client"))


def _carried(lines: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Lines with empty cells of carried fields filled from the line above.

    Nothing is carried over a line that could not be read: it may have held the next value.
    """
    if not context.mapping.carried:
        return lines
    breaks = context.export.set_aside["source_line"].sort()
    stretch = pl.Series("stretch", breaks.search_sorted(lines["line"]))
    names = [f"t_{field}" for field in context.mapping.carried]
    return (
        lines.with_columns(stretch)
        .with_columns(pl.col(name).forward_fill().over("stretch") for name in names)
        .drop("stretch")
    )


def _joined_day(context: Context) -> pl.Expr:
    """The cells that make up a day, joined by a space; null where one is empty."""
    key = context.key("performed_on")
    columns = [context.export.column(each, key) for each in context.mapping.day_columns]
    return pl.concat_str([stripped(column) for column in columns], separator=" ")


def _joined_cells(columns: dict[int, str]) -> pl.Expr:
    """The cells of numbered columns as one list of sets; null where all are empty."""
    cells = [stripped(columns[number]) for number in sorted(columns)]
    joined = pl.concat_str(cells, separator="; ", ignore_nulls=True)
    return pl.when(joined != "").then(joined)

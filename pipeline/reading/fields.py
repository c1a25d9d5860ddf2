"""A mapping's fields as columns of a frame: `t_load` is the text that the export has for load.

Texts are read once per distinct one (`by_distinct`): an export repeats its days, names and loads.
"""

from __future__ import annotations

import polars as pl

from pipeline.reading.cells import stripped, translated
from pipeline.reading.export import Export
from pipeline.settings.mapping import PER_SET_FIELDS, SETS_COLUMN, Mapping, is_numbered

_LINE_FIELDS = (
    "client",
    "performed_on",
    "started_at",
    "exercise",
    "notes",
    "bodyweight",
    "set_count",
)


def line_texts(export: Export, mapping: Mapping) -> pl.DataFrame:
    """A row a record: `line` and a text for each field that is not numbered, in file order."""
    texts: dict[str, pl.Expr] = {}
    for name, column in mapping.columns.items():
        if name == SETS_COLUMN and mapping.rows == "days":
            continue
        if name == "performed_on" and mapping.day_columns:
            texts[name] = _joined_day(export, mapping)
        elif not is_numbered(column):
            texts[name] = stripped(export.column(column, key_of(mapping, name)))
        elif name == SETS_COLUMN:
            texts[name] = _joined_cells(export.numbered(column, key_of(mapping, name)))
    for name, value in mapping.constants.items():
        texts[name] = pl.lit(value, dtype=pl.String)
    fields = (*_LINE_FIELDS, *PER_SET_FIELDS, SETS_COLUMN)
    frame = export.records.select(
        pl.col("source_line").alias("line"),
        pl.lit(1, dtype=pl.Int32).alias("n"),
        *(texts.get(name, pl.lit(None, dtype=pl.String)).alias(f"t_{name}") for name in fields),
    )
    return translated(_carried(frame, mapping, export), mapping, ("exercise", "client"))


def _carried(frame: pl.DataFrame, mapping: Mapping, export: Export) -> pl.DataFrame:
    """`frame` with empty cells of carried fields filled from the line above.

    Nothing is carried over a line that could not be read: it may have held the next value.
    """
    if not mapping.carried:
        return frame
    breaks = export.set_aside["source_line"].sort()
    stretch = pl.Series("stretch", breaks.search_sorted(frame["line"]))
    names = [f"t_{name}" for name in mapping.carried]
    return (
        frame.with_columns(stretch)
        .with_columns(pl.col(name).forward_fill().over("stretch") for name in names)
        .drop("stretch")
    )


def _joined_day(export: Export, mapping: Mapping) -> pl.Expr:
    """The cells that make up a day, joined by a space; null where one is empty."""
    key = key_of(mapping, "performed_on")
    return pl.concat_str(
        [stripped(export.column(each, key)) for each in mapping.day_columns], separator=" "
    )


def _joined_cells(columns: dict[int, str]) -> pl.Expr:
    """The cells of numbered columns as one list of sets; null where all are empty."""
    cells = [stripped(columns[number]) for number in sorted(columns)]
    joined = pl.concat_str(cells, separator="; ", ignore_nulls=True)
    return pl.when(joined != "").then(joined)


def is_given(mapping: Mapping, name: str) -> bool:
    return name in mapping.columns or name in mapping.constants


def key_of(mapping: Mapping, name: str, section: str = "columns") -> str:
    return f"{mapping.path}: [{section}] {name}"


def shown_name(mapping: Mapping, name: str) -> str:
    """A field as a person finds it: the export's column."""
    return f"'{mapping.columns[name]}'" if name in mapping.columns else f"'{name}'"

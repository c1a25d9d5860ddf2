"""Cells as texts, in columns named for the field they fill: `t_load` is the text for the load.

Texts are read once per distinct one (`by_distinct`): an export repeats its days, names and loads.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import polars as pl

from pipeline.settings.mapping import Mapping


def text_of(name: str) -> pl.Expr:
    """The text of a field; null where the cell is empty or the field is not mapped."""
    return pl.col(f"t_{name}")


def stripped(column: str) -> pl.Expr:
    """The text of a cell; null where it is empty."""
    text = pl.col(column).str.strip_chars()
    return pl.when(text != "").then(text)


def by_distinct(texts: pl.Series, read: Callable[[str], Any], dtype: pl.DataType) -> pl.Series:
    """What `read` makes of each text, called once per distinct one; null stays null."""
    distinct = texts.drop_nulls().unique()
    if not distinct.len():
        return pl.Series(texts.name, [None], dtype=dtype).new_from_index(0, texts.len())
    told = pl.Series([read(text) for text in distinct.to_list()], dtype=dtype)
    return texts.replace_strict(distinct, told, default=None, return_dtype=dtype)


def translated(frame: pl.DataFrame, mapping: Mapping, fields: Iterable[str]) -> pl.DataFrame:
    """`frame` with the export's values replaced as [values.<field>] says."""
    for name in fields:
        table = mapping.values.get(name)
        if table:
            folded = {key.strip().casefold(): value for key, value in table.items()}

            def told(
                text: str,
                table: dict[str, str] = table,
                folded: dict[str, str] = folded,
            ) -> str | None:
                return table.get(text, folded.get(text.casefold(), text)) or None

            read = by_distinct(frame[f"t_{name}"], told, pl.String())
            frame = frame.with_columns(read.alias(f"t_{name}"))
            if "" in folded:
                frame = frame.with_columns(text_of(name).fill_null(folded[""]))
    return frame


def said(*parts: str | pl.Expr) -> pl.Expr:
    """An explanation of fixed words and values; values are cut to one line."""
    return pl.concat_str(
        [
            pl.lit(part)
            if isinstance(part, str)
            else part.cast(pl.String).fill_null("").str.replace_all(r"\s+", " ").str.slice(0, 60)
            for part in parts
        ]
    )


def shortened(text: str, most: int = 60) -> str:
    """A value as an explanation names it: one line, not longer than needed."""
    line = " ".join(text.split())
    return line if len(line) <= most else f"{line[:most]}…"

"""From fields to days and numbers: whose line it is, of which day, when it began, how heavy."""

from __future__ import annotations

import polars as pl

from pipeline.errors import OpenKeyError
from pipeline.names.clients import plain, slug
from pipeline.reading.cells import by_distinct
from pipeline.reading.context import Context
from pipeline.reading.date_columns import with_days, with_starts
from pipeline.reading.numbers import in_kg, number_columns
from pipeline.reading.whose import name_of_client
from pipeline.settings.words import UNIT_WORDS, word


def line_values(lines: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Lines with client, day, start and bodyweight read; null where a text cannot be."""
    lines = _with_clients(lines, context)
    lines = with_days(lines, context)
    lines = with_starts(lines, context)
    return _with_bodyweights(lines, context)


def _with_clients(lines: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Adds `client_id`, and `client_doubt`: why a spelling is no one client's."""
    if not context.gives("client"):
        name = name_of_client(context.export, context.mapping)
        if not name:
            return lines.with_columns(
                pl.lit(context.clients.sole).alias("client_id"),
                pl.lit(None, dtype=pl.String).alias("client_doubt"),
            )
        lines = lines.with_columns(pl.lit(_as_known(name, context)).alias("t_client"))
    spellings = lines["t_client"]
    found = context.clients.resolve(spellings.drop_nulls().unique().to_list())
    return lines.with_columns(
        by_distinct(spellings, found.ids.get, pl.String()).alias("client_id"),
        by_distinct(spellings, found.ambiguous.get, pl.String()).alias("client_doubt"),
    )


def _as_known(name: str, context: Context) -> str:
    """A name from a file's name in the spelling known already: hyphens there may be spaces."""
    known = context.clients.known.get(slug(name), name)
    return known if plain(known.replace("-", " ")) == plain(name.replace("-", " ")) else name


def _with_bodyweights(lines: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Adds `bodyweight_kg`; null and a text: it cannot be read."""
    if not context.gives("bodyweight"):
        return lines.with_columns(pl.lit(None, dtype=pl.Float64).alias("bodyweight_kg"))
    mapping = context.mapping
    read = number_columns(lines["t_bodyweight"], context.number_style)
    units = [read["unit"], pl.lit(mapping.bodyweight_unit or mapping.load_unit, dtype=pl.String)]
    if not mapping.bodyweight_unit:
        table = mapping.values.get("load_unit", {})
        units.insert(
            1,
            by_distinct(
                lines["t_load_unit"],
                lambda text: UNIT_WORDS.get(word(table.get(text, text))),
                pl.String(),
            ),
        )
    lines = lines.with_columns(
        read["value"].alias("bodyweight"), pl.coalesce(units).alias("bodyweight_unit")
    )
    if lines.filter(
        pl.col("bodyweight").is_not_null() & pl.col("bodyweight_unit").is_null()
    ).height:
        raise OpenKeyError(
            f"{mapping.path}: [formats] bodyweight_unit is open: column "
            f"{context.shown('bodyweight')} of {context.export.shown} does not say "
            'kg or lb; write bodyweight_unit = "kg" or "lb" under [formats].'
        )
    return lines.with_columns(in_kg("bodyweight", "bodyweight_unit").alias("bodyweight_kg"))

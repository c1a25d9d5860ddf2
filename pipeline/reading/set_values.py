"""From entries to sets: the load in kilograms, repetitions, effort, kind and side of each."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import polars as pl

from pipeline.errors import OpenKeyError
from pipeline.reading.cells import by_distinct, text_of, translated
from pipeline.reading.context import Context
from pipeline.reading.numbers import in_kg, number_columns
from pipeline.settings.mapping import PER_SET_FIELDS, SETS_COLUMN
from pipeline.settings.words import (
    BASIS_WORDS,
    KIND_WORDS,
    SIDE_WORDS,
    TRUTH_WORDS,
    UNIT_WORDS,
    word,
)


def set_values(entries: pl.DataFrame, context: Context) -> pl.DataFrame:
    """The entries that are sets, with their texts read; null and a text: it cannot be read."""
    mapping, numbers = context.mapping, context.number_style
    if not entries["is_set"].all():
        entries = entries.filter("is_set")
    entries = translated(entries, mapping, PER_SET_FIELDS)
    load = number_columns(entries["t_load"], numbers)
    rir_texts = entries["t_rir"].str.strip_suffix("+")
    rir, rpe = (number_columns(texts, numbers)["value"] for texts in (rir_texts, entries["t_rpe"]))
    counts = {
        name: number_columns(entries[f"t_{name}"], numbers)["value"]
        for name in ("reps", "partial_reps", "set_no")
    }
    words = {
        name: by_distinct(entries[f"t_{name}"], _word_reader(table), dtype)
        for name, table, dtype in (
            ("set_kind", KIND_WORDS, pl.String()),
            ("load_basis", BASIS_WORDS, pl.String()),
            ("load_unit", UNIT_WORDS, pl.String()),
            ("to_failure", TRUTH_WORDS, pl.Boolean()),
            ("side", SIDE_WORDS, pl.String()),
        )
    }
    side_known = by_distinct(entries["t_side"], lambda text: word(text) in SIDE_WORDS, pl.Boolean())
    entries = entries.with_columns(
        load["value"].alias("load"),
        load["is_read"].alias("load_read"),
        load["unit"].alias("cell_unit"),
        load["is_added"].alias("is_added"),
        load["is_assisted"].alias("is_assisted"),
        rir.alias("rir"),
        rpe.alias("rpe"),
        *(series.alias(name) for name, series in (counts | words).items()),
        side_known.alias("side_known"),
    )
    if context.gives("to_failure"):
        entries = entries.with_columns(
            pl.when(text_of("to_failure").is_null())
            .then(pl.lit(False))
            .otherwise("to_failure")
            .alias("to_failure")
        )
    entries = _with_noted(entries)
    entries = entries.with_columns(
        pl.coalesce("cell_unit", "load_unit", pl.lit(mapping.load_unit, dtype=pl.String)).alias(
            "unit"
        ),
        pl.when(pl.col("load_basis").is_null() & pl.col("is_added"))
        .then(pl.lit("added"))
        .when(pl.col("load_basis").is_null() & pl.col("is_assisted"))
        .then(pl.lit("assisted"))
        .otherwise("load_basis")
        .alias("load_basis"),
    )
    _refuse_open_unit(entries, context)
    return entries.with_columns(in_kg("load", "unit").alias("load_kg"))


def _with_noted(entries: pl.DataFrame) -> pl.DataFrame:
    """What a cell lists wins over what holds for the whole line."""
    if "noted_reps" not in entries.columns:
        return entries
    return entries.with_columns(
        pl.coalesce("noted_load", "load").alias("load"),
        pl.coalesce("noted_unit", "cell_unit").alias("cell_unit"),
        pl.coalesce("noted_basis", "load_basis").alias("load_basis"),
        pl.col("noted_reps").cast(pl.Float64).alias("reps"),
        pl.col("noted_reps").cast(pl.String).alias("t_reps"),
        pl.coalesce(pl.col("noted_load").cast(pl.String), "t_load").alias("t_load"),
        pl.coalesce(pl.col("noted_partial_reps").cast(pl.Float64), "partial_reps").alias(
            "partial_reps"
        ),
        pl.coalesce("noted_rir", "rir").alias("rir"),
        pl.coalesce("noted_rpe", "rpe").alias("rpe"),
        pl.coalesce("noted_to_failure", "to_failure").alias("to_failure"),
        pl.coalesce("noted_kind", "set_kind").alias("set_kind"),
        pl.coalesce(pl.col("noted_partial_reps").cast(pl.String), "t_partial_reps").alias(
            "t_partial_reps"
        ),
        pl.coalesce(pl.col("noted_rir").cast(pl.String), "t_rir").alias("t_rir"),
        pl.coalesce(pl.col("noted_rpe").cast(pl.String), "t_rpe").alias("t_rpe"),
    )


def _word_reader(table: dict[str, Any]) -> Callable[[str], Any]:
    folded = {word(key): value for key, value in table.items()}
    return lambda text: folded.get(word(text))


def _refuse_open_unit(entries: pl.DataFrame, context: Context) -> None:
    """A load of no known unit is never guessed at; zero is zero in either."""
    mapping = context.mapping
    if mapping.load_unit or context.gives("load_unit"):
        return
    bare = entries.filter((pl.col("load") != 0) & pl.col("unit").is_null())
    if not bare.height:
        return
    name = SETS_COLUMN if mapping.rows in ("exercises", "days") else "load"
    raise OpenKeyError(
        f"{mapping.path}: [formats] load_unit is open: column {context.shown(name)} of "
        f"{context.export.shown} does not say kg or lb (line {bare['line'][0]}); write "
        'load_unit = "kg" or "lb" under [formats].'
    )

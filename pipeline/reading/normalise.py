"""From records to sets: every line gives sets or a weigh-in whole, or is set aside with a reason.

The work is done in polars expressions over whole columns; the steps are `fields` (cells to texts),
`days` and `numbers` (texts to values), `layouts` (lines to sets), `judging` and `neighbours`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import polars as pl

from pipeline.errors import OpenKeyError
from pipeline.names.clients import ClientIndex
from pipeline.reading.cells import by_distinct, text_of, translated
from pipeline.reading.date_columns import with_days, with_starts
from pipeline.reading.day_order import duplicates, with_day_order
from pipeline.reading.export import Export
from pipeline.reading.fields import is_given, line_texts, shown_name
from pipeline.reading.layouts import entries_of, weigh_ins
from pipeline.reading.numbers import Decimal, NumberStyle, number_columns, number_style
from pipeline.reading.records import SET_ASIDE_SCHEMA
from pipeline.reading.validation import Faults, entry_tests, line_tests
from pipeline.settings.mapping import PER_SET_FIELDS, SETS_COLUMN, Mapping
from pipeline.settings.rules import Rules
from pipeline.settings.words import (
    BASIS_WORDS,
    KIND_WORDS,
    SIDE_WORDS,
    TRUTH_WORDS,
    UNIT_WORDS,
    word,
)
from pipeline.units import KG_PER_LB

SETS_SCHEMA = {
    "set_id": pl.String(),
    "client_id": pl.String(),
    "performed_on": pl.Date(),
    "started_at": pl.Datetime("us"),
    "session_id": pl.String(),
    "exercise_raw": pl.String(),
    "day_order": pl.Int32(),
    "set_no": pl.Int32(),
    "side": pl.String(),
    "load_kg": pl.Float64(),
    "load_unit": pl.String(),
    "load_basis": pl.String(),
    "reps": pl.Int32(),
    "partial_reps": pl.Int32(),
    "rir": pl.Float64(),
    "rpe": pl.Float64(),
    "to_failure": pl.Boolean(),
    "set_kind": pl.String(),
    "notes": pl.String(),
    "source": pl.String(),
    "load_id": pl.Int32(),
    "source_line": pl.Int32(),
}
"""Columns of ledger.sets in their order, without replaced_by."""


BODYWEIGHTS_SCHEMA = {
    "client_id": pl.String(),
    "performed_on": pl.Date(),
    "bodyweight_kg": pl.Float64(),
    "source": pl.String(),
    "load_id": pl.Int32(),
    "source_line": pl.Int32(),
}


@dataclass(frozen=True)
class Normalised:
    """One version of an export as rows of the ledger."""

    sets: pl.DataFrame
    """As SETS_SCHEMA, in the order of the file."""
    set_aside: pl.DataFrame
    """load_id, source_line, cells (JSON), reason, explanation; a row a line."""
    bodyweights: pl.DataFrame
    """As BODYWEIGHTS_SCHEMA; a weigh-in repeated on the lines of a day stands once."""
    first_on: date | None
    last_on: date | None
    lines_read: int
    lines_loaded: int
    lines_weighed: int
    """Those of lines_loaded that gave a weigh-in and no set."""
    lines_set_aside: int
    lines_skipped: int
    encoding: str
    delimiter: str
    decimal: Decimal
    """Decimal mark of the file: as the mapping says, else as found."""
    spellings: dict[str, str]
    """Ids that this file's spellings gave, with the first spelling: `known` of later files."""
    owners: pl.DataFrame = field(repr=False)
    """line, client_id, spelling, is_weighed: whose each line is, read or set aside after reading,
    and whether it gave a weigh-in and no set."""
    is_partial: bool = False
    """Whether lines of forgotten clients were left out."""

    def numbered(self, load_id: int) -> Normalised:
        """The same rows as those of another version number."""
        number = pl.lit(load_id, dtype=pl.Int32).alias("load_id")
        set_id = pl.col("set_id").str.replace("^[0-9]+", str(load_id))
        return replace(
            self,
            sets=self.sets.with_columns(set_id, number),
            set_aside=self.set_aside.with_columns(number),
            bodyweights=self.bodyweights.with_columns(number),
        )


def normalise(
    export: Export,
    mapping: Mapping,
    load_id: int,
    clients: ClientIndex,
    tomorrow: date,
    rules: Rules,
    period: tuple[date | None, date | None] = (None, None),
) -> Normalised:
    """The sets, weigh-ins and set-aside lines of an export.

    `tomorrow` is the last day that is believed; `period` the first and the last day that the
    source is to give (None: no bound). Raises ConfigError, naming the key, if the mapping
    does not fit the file or leaves open what the file does not tell.
    """
    faults = Faults()
    lines = line_texts(export, mapping)
    numbers = number_style(export, mapping, lines, rules)
    lines, spellings = _read_lines(lines, mapping, export, clients, numbers)
    owners = _owners(lines)
    lines = faults.sift(lines, line_tests(mapping, tomorrow, period))
    weighed, entries = entries_of(lines, export, mapping, faults)
    owners = owners.with_columns(
        pl.col("line").is_in(weighed["line"].implode()).alias("is_weighed")
    )
    entries = _read_entries(entries, export, mapping, numbers)
    entries = faults.sift(entries, entry_tests(mapping, rules))
    entries = faults.sift(entries, duplicates(entries, export, mapping))
    entries = with_day_order(entries, faults)
    bad = faults.rows()
    sets = _sets(entries, mapping, load_id)
    set_aside = _set_aside(export, bad, load_id)
    weighed = pl.concat([weighed, weigh_ins(entries)])
    bodyweights = _bodyweights(weighed, mapping, load_id)
    days = pl.concat([sets["performed_on"], bodyweights["performed_on"]])
    return Normalised(
        sets=sets,
        set_aside=set_aside,
        bodyweights=bodyweights,
        first_on=days.min(),  # type: ignore[arg-type]
        last_on=days.max(),  # type: ignore[arg-type]
        lines_read=export.lines_read,
        lines_loaded=export.lines_read - set_aside.height,
        lines_weighed=int(owners["is_weighed"].sum()),
        lines_set_aside=set_aside.height,
        lines_skipped=export.lines_skipped,
        encoding=export.encoding,
        delimiter=export.delimiter,
        decimal=numbers.decimal,
        spellings=spellings,
        owners=owners,
    )


def _owners(lines: pl.DataFrame) -> pl.DataFrame:
    spelling = pl.col("t_client") if "t_client" in lines.columns else pl.lit(None)
    return lines.select("line", "client_id", spelling.cast(pl.String).alias("spelling"))


def _read_lines(
    lines: pl.DataFrame,
    mapping: Mapping,
    export: Export,
    clients: ClientIndex,
    numbers: NumberStyle,
) -> tuple[pl.DataFrame, dict[str, str]]:
    """Lines with client, day, start and bodyweight read; null where a text cannot be."""
    lines, spellings = _with_clients(lines, mapping, clients)
    lines = with_days(lines, mapping, export)
    lines = with_starts(lines, mapping)
    lines = _with_bodyweights(lines, mapping, numbers, export)
    return lines, spellings


def _with_clients(
    lines: pl.DataFrame, mapping: Mapping, clients: ClientIndex
) -> tuple[pl.DataFrame, dict[str, str]]:
    if not is_given(mapping, "client"):
        return (
            lines.with_columns(
                pl.lit(clients.sole).alias("client_id"),
                pl.lit(None, dtype=pl.String).alias("client_doubt"),
            ),
            {},
        )
    found = clients.resolve(lines["t_client"].drop_nulls().unique().to_list())
    lines = lines.with_columns(
        by_distinct(lines["t_client"], found.ids.get, pl.String()).alias("client_id"),
        by_distinct(lines["t_client"], found.ambiguous.get, pl.String()).alias("client_doubt"),
    )
    spellings: dict[str, str] = {}
    for spelling, client_id in sorted(found.ids.items()):
        if client_id not in clients.ids:
            spellings.setdefault(client_id, spelling)
    return lines, spellings


def _with_bodyweights(
    lines: pl.DataFrame, mapping: Mapping, numbers: NumberStyle, export: Export
) -> pl.DataFrame:
    """Adds `bodyweight_kg`; null and a text: it cannot be read."""
    if not is_given(mapping, "bodyweight"):
        return lines.with_columns(pl.lit(None, dtype=pl.Float64).alias("bodyweight_kg"))
    read = number_columns(lines["t_bodyweight"], numbers)
    row_unit = by_distinct(lines["t_load_unit"], _unit_reader(mapping), pl.String())
    default = mapping.bodyweight_unit or mapping.load_unit
    given = (
        pl.coalesce(read["unit"], pl.lit(default, dtype=pl.String))
        if mapping.bodyweight_unit
        else pl.coalesce(read["unit"], row_unit, pl.lit(default, dtype=pl.String))
    )
    lines = lines.with_columns(read["value"].alias("bodyweight"), given.alias("bodyweight_unit"))
    if lines.filter(
        pl.col("bodyweight").is_not_null() & pl.col("bodyweight_unit").is_null()
    ).height:
        raise OpenKeyError(
            f"{mapping.path}: [formats] bodyweight_unit is open: column "
            f"'{mapping.columns.get('bodyweight', 'bodyweight')}' of {export.shown} does not say "
            'kg or lb; write bodyweight_unit = "kg" or "lb" under [formats].'
        )
    return lines.with_columns(
        (pl.col("bodyweight") * _factor("bodyweight_unit")).alias("bodyweight_kg")
    )


def _unit_reader(mapping: Mapping) -> Callable[[str], str | None]:
    table = mapping.values.get("load_unit", {})

    def read(text: str) -> str | None:
        told = table.get(text, text)
        return UNIT_WORDS.get(word(told))

    return read


def _read_entries(
    entries: pl.DataFrame, export: Export, mapping: Mapping, numbers: NumberStyle
) -> pl.DataFrame:
    """Entries with their texts read; null and a text: it cannot be read."""
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
        rir.alias("rir"),
        rpe.alias("rpe"),
        *(series.alias(name) for name, series in (counts | words).items()),
        side_known.alias("side_known"),
    )
    if is_given(mapping, "to_failure"):
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
        pl.when(pl.col("is_added") & pl.col("load_basis").is_null())
        .then(pl.lit("added"))
        .otherwise("load_basis")
        .alias("load_basis"),
    )
    _refuse_open_unit(entries, export, mapping)
    return entries.with_columns((pl.col("load") * _factor("unit")).alias("load_kg"))


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


def _factor(unit: str) -> pl.Expr:
    return pl.when(pl.col(unit) == "lb").then(KG_PER_LB).otherwise(1.0)


def _refuse_open_unit(entries: pl.DataFrame, export: Export, mapping: Mapping) -> None:
    """A load of no known unit is never guessed at; zero is zero in either."""
    if mapping.load_unit or is_given(mapping, "load_unit"):
        return
    bare = entries.filter((pl.col("load") != 0) & pl.col("unit").is_null())
    if not bare.height:
        return
    name = SETS_COLUMN if mapping.rows in ("exercises", "days") else "load"
    raise OpenKeyError(
        f"{mapping.path}: [formats] load_unit is open: column {shown_name(mapping, name)} of "
        f"{export.shown} does not say kg or lb (line {bare['line'][0]}); write "
        'load_unit = "kg" or "lb" under [formats].'
    )


def _sets(entries: pl.DataFrame, mapping: Mapping, load_id: int) -> pl.DataFrame:
    found: dict[str, pl.Expr] = {
        "set_id": pl.concat_str(pl.lit(f"{load_id}:"), pl.col("line"), pl.lit(":"), pl.col("n")),
        "session_id": pl.concat_str(
            "client_id", pl.lit("/"), pl.col("performed_on").dt.to_string("%Y-%m-%d")
        ),
        "exercise_raw": text_of("exercise"),
        "load_unit": pl.when(pl.col("load_kg").is_not_null()).then("unit"),
        "set_kind": pl.col("set_kind").fill_null("work"),
        "notes": text_of("notes"),
        "source": pl.lit(mapping.name),
        "load_id": pl.lit(load_id, dtype=pl.Int32),
        "source_line": pl.col("line"),
    }
    return entries.select(
        found.get(name, pl.col(name)).cast(dtype).alias(name) for name, dtype in SETS_SCHEMA.items()
    )


def _bodyweights(weighed: pl.DataFrame, mapping: Mapping, load_id: int) -> pl.DataFrame:
    once = weighed.sort("line").unique(
        ["client_id", "performed_on", "bodyweight_kg"], keep="first", maintain_order=True
    )
    return once.select(
        "client_id",
        "performed_on",
        "bodyweight_kg",
        pl.lit(mapping.name).alias("source"),
        pl.lit(load_id, dtype=pl.Int32).alias("load_id"),
        pl.col("line").alias("source_line"),
    )


def _set_aside(export: Export, bad: pl.DataFrame, load_id: int) -> pl.DataFrame:
    """Structural faults of the reader and faults found here, as rows of ledger.set_aside."""
    records = export.records.join(
        bad.rename({"line": "source_line"}).select("source_line"),
        on="source_line",
        how="semi",
        maintain_order="left",
    )
    cells = records.select(
        "source_line",
        pl.struct(pl.exclude("source_line").fill_null("")).struct.json_encode().alias("cells"),
    )
    told = cells.join(
        bad, left_on="source_line", right_on="line", how="left", maintain_order="left"
    )
    return (
        pl.concat([export.set_aside, told.select(tuple(SET_ASIDE_SCHEMA))])
        .sort("source_line")
        .select(pl.lit(load_id, dtype=pl.Int32).alias("load_id"), pl.all())
    )

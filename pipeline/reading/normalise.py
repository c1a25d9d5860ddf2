"""From records to sets: every line gives sets or a weigh-in whole, or is set aside with a reason.

Each stage takes the rows of the one before it, in polars expressions over whole columns; what it
finds wrong is set aside at its end.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

import polars as pl
import polars.selectors as cs

from pipeline.names.clients import ClientIndex
from pipeline.reading.cells import text_of
from pipeline.reading.context import Context
from pipeline.reading.day_order import with_day_order, with_equal_lines
from pipeline.reading.export import Export
from pipeline.reading.fields import field_texts
from pipeline.reading.layouts import layout_entries
from pipeline.reading.line_values import line_values
from pipeline.reading.numbers import Decimal
from pipeline.reading.records import SET_ASIDE_SCHEMA
from pipeline.reading.set_values import set_values
from pipeline.reading.skipped_rows import without_skipped
from pipeline.reading.validation import (
    Fault,
    SetAside,
    entry_faults,
    extension_faults,
    line_faults,
    repeat_faults,
    set_faults,
)
from pipeline.settings.mapping import Mapping
from pipeline.settings.rules import Rules

Read = Callable[[pl.DataFrame, Context], pl.DataFrame]
Check = Callable[[Context], Sequence[Fault]]

STAGES: tuple[tuple[Read, Check], ...] = (
    (field_texts, lambda _: ()),
    (line_values, line_faults),
    (layout_entries, entry_faults),
    (set_values, set_faults),
    (with_equal_lines, repeat_faults),
    (with_day_order, extension_faults),
)
"""Records → fields → days and numbers → entries by layout → sets, validated: what each stage makes
of the rows before it, and the faults for which a line then goes no further."""

_WHOSE = ("line", "client_id", "t_client", "performed_on", "bodyweight_kg", "is_set")
"""Columns that tell whose a line is and what it weighs."""

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


@dataclass(frozen=True)
class Normalised:
    """One version of an export as rows of the ledger."""

    sets: pl.DataFrame
    """As SETS_SCHEMA, in the order of the file."""
    set_aside: pl.DataFrame
    """load_id, source_line, cells (JSON), reason, explanation; a row a line."""
    bodyweights: pl.DataFrame
    """client_id, performed_on, bodyweight_kg, source, load_id, source_line; a weigh-in that is
    repeated on the lines of a day stands once."""
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
    beyond_on: date | None = None
    """Earliest day of the lines set aside because they lie beyond tomorrow."""

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
    export = without_skipped(export, mapping)
    context = Context(export, mapping, clients, tomorrow, rules, period)
    aside = SetAside()
    whose: dict[Read, pl.DataFrame] = {}
    rows = export.records
    for read, faults in STAGES:
        rows = read(rows, context)
        whose[read] = rows.select(cs.by_name(*_WHOSE, require_all=False))
        rows = aside.sift(rows, faults(context))
    weighed = _weigh_ins(whose[layout_entries].filter(~pl.col("is_set")))
    owners = whose[line_values].select(
        "line",
        "client_id",
        pl.col("t_client").alias("spelling"),
        pl.col("line").is_in(weighed["line"].implode()).alias("is_weighed"),
    )
    sets = _sets(rows, mapping, load_id)
    set_aside = _set_aside(export, aside.rows(), load_id)
    bodyweights = _bodyweights(pl.concat([weighed, _weigh_ins(rows)]), mapping, load_id)
    days = pl.concat([sets["performed_on"], bodyweights["performed_on"]])
    told = whose[line_values]["performed_on"]
    return Normalised(
        sets=sets,
        set_aside=set_aside,
        bodyweights=bodyweights,
        first_on=days.min(),  # type: ignore[arg-type]
        last_on=days.max(),  # type: ignore[arg-type]
        lines_read=export.lines_read,
        lines_loaded=export.lines_read - set_aside.height,
        lines_weighed=weighed.height,
        lines_set_aside=set_aside.height,
        lines_skipped=export.lines_skipped,
        encoding=export.encoding,
        delimiter=export.delimiter,
        decimal=context.number_style.decimal,
        spellings=_new_spellings(owners, clients),
        owners=owners,
        beyond_on=told.filter(told > tomorrow).min(),  # type: ignore[arg-type]
    )


def _new_spellings(owners: pl.DataFrame, clients: ClientIndex) -> dict[str, str]:
    """Ids that are not known yet, each with its first spelling in order of the alphabet."""
    spelled = owners.select("spelling", "client_id").drop_nulls().unique()
    spellings: dict[str, str] = {}
    for spelling, client_id in sorted(spelled.iter_rows()):
        if client_id not in clients.ids:
            spellings.setdefault(client_id, spelling)
    return spellings


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


def _weigh_ins(frame: pl.DataFrame) -> pl.DataFrame:
    """The weigh-ins that lines carry: client_id, performed_on, bodyweight_kg, line."""
    return frame.filter(pl.col("bodyweight_kg").is_not_null()).select(
        "client_id", "performed_on", "bodyweight_kg", "line"
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

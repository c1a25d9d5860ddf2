"""From lines to entries, a row a set, in the four layouts: sets, wide, exercises and days.

A line without a set stays as one row that is no set: it may hold a weigh-in.
"""

from __future__ import annotations

import re
from dataclasses import replace

import polars as pl

from pipeline.reading.cells import by_distinct, stripped, text_of, translated
from pipeline.reading.context import Context
from pipeline.reading.holds import is_hold
from pipeline.reading.notation_words import with_own_words
from pipeline.reading.noted_sets import SETS_MAX, NotationError, Reading
from pipeline.reading.set_notation import CELL_MAX, parse, parse_column
from pipeline.settings.mapping import EXERCISE_MARK, SETS_COLUMN, is_numbered

_RANGE = re.compile(r"[0-9]+ ?[–-] ?[0-9]+")
_BETWEEN_REPS = re.compile(r"(?<=[0-9])(?:\s*[,;|–-]\s*|\s+)(?=[0-9])")

_BETWEEN_LOADS = re.compile(r"(?<=[0-9a-z])(?: ?[/;|] ?|, | - |-)(?=[0-9])", re.IGNORECASE)

_PARTED = "\x1f"

_OWN_WORDS = ("load", "set_kind", "to_failure")
"""Fields whose [values] are words that may stand in a list of sets."""

_NOTED = {
    "cell": pl.String,
    "n": pl.Int32,
    "noted_load": pl.Float64,
    "noted_unit": pl.String,
    "noted_basis": pl.String,
    "noted_reps": pl.Int32,
    "noted_partial_reps": pl.Int32,
    "noted_rir": pl.Float64,
    "noted_rpe": pl.Float64,
    "noted_to_failure": pl.Boolean,
    "noted_kind": pl.String,
}


def layout_entries(lines: pl.DataFrame, context: Context) -> pl.DataFrame:
    """A row for each set of the lines, `n` counting them, and one for each line without a set.

    Adds `is_set` and, where a cell lists the sets, `doubt`: why the cell is refused.
    """
    read = {
        "sets": _counted_sets,
        "wide": _wide_sets,
        "exercises": _listed_sets,
        "days": _listed_sets_of_days,
    }
    return read[context.mapping.rows](lines, context)


def _counted_sets(lines: pl.DataFrame, context: Context) -> pl.DataFrame:
    """A row for each of the alike sets that a line stands for; an empty count is one set.

    Where counts are given, adds `count_read`: whether the count is a whole number of sets.
    """
    mapped = [
        field
        for field in ("load", "reps", "set_no", "rir", "rpe")
        if field in context.mapping.columns
    ]
    has_set = pl.lit(True)
    if mapped:
        is_filled = pl.any_horizontal(
            text_of(field).is_not_null() for field in (*mapped, "exercise")
        )
        has_set = is_filled | pl.col("bodyweight_kg").is_null()
    lines = lines.with_columns(has_set.alias("is_set"))
    if not context.gives("set_count"):
        return lines
    text = text_of("set_count")
    count = text.str.extract(r"^([0-9]{1,3})(?:[.,]0+)?$").cast(pl.Int32, strict=False)
    times = pl.when(pl.col("is_set") & count.is_between(1, SETS_MAX)).then(count).otherwise(1)
    return lines.with_columns(
        (text.is_null() | count.is_between(1, SETS_MAX)).fill_null(False).alias("count_read"),
        pl.int_ranges(1, times + 1, dtype=pl.Int32).alias("n"),
    ).explode("n")


def _wide_sets(lines: pl.DataFrame, context: Context) -> pl.DataFrame:
    """A row for each group of numbered cells that is not empty."""
    numbered = {
        field: context.export.columns_of(column, context.key(field), context.mapping.side_words)
        for field, column in context.mapping.columns.items()
        if is_numbered(column)
    }
    records = context.export.records.join(
        lines.select(pl.col("line").alias("source_line")),
        on="source_line",
        how="semi",
        maintain_order="left",
    )
    counts = records.null_count().row(0, named=True)
    unfilled = {column for column, count in counts.items() if count == records.height}
    groups = [lines.clear()]
    marks = dict.fromkeys(each for found in numbered.values() for each in found)
    for place, mark in enumerate(sorted(marks, key=_rank), start=1):
        columns = {field: found[mark] for field, found in numbered.items() if mark in found}
        if all(column in unfilled for column in columns.values()):
            continue
        texts = records.select(
            *(stripped(column).alias(f"t_{field}") for field, column in columns.items())
        )
        absent = [
            pl.lit(None, dtype=pl.String).alias(f"t_{field}")
            for field in numbered
            if field not in columns
        ]
        group = lines.with_columns(*texts.get_columns(), *absent).with_columns(
            pl.lit(place, dtype=pl.Int32).alias("n"),
            *([pl.lit(mark).alias("t_side")] if isinstance(mark, str) else []),
        )
        groups.append(
            group.filter(pl.any_horizontal(text_of(field).is_not_null() for field in columns))
        )
    sets = pl.concat(groups)
    bare = lines.join(sets.select("line"), on="line", how="anti")
    return _numbered(
        pl.concat(
            [
                sets.with_columns(pl.lit(True).alias("is_set")),
                bare.with_columns(pl.lit(False).alias("is_set")),
            ]
        ).sort("line", "n")
    )


def _rank(mark: int | str) -> int:
    """Numbers in their order; sides in the order of the file, which `sorted` keeps."""
    return mark if isinstance(mark, int) else 0


def _listed_sets_of_days(lines: pl.DataFrame, context: Context) -> pl.DataFrame:
    """A row for each set that a cell under an exercise lists, in the order of the columns."""
    mapping, export = context.mapping, context.export
    named = (*mapping.columns.values(), *mapping.day_columns, *mapping.skip_columns)
    columns = export.others(
        mapping.columns[SETS_COLUMN], EXERCISE_MARK, context.key(SETS_COLUMN), named
    )
    cells = (
        export.records.select(
            pl.col("source_line").alias("line"),
            *(stripped(column).alias(exercise) for exercise, column in columns.items()),
        )
        .unpivot(index="line", variable_name="t_exercise", value_name=f"t_{SETS_COLUMN}")
        .with_row_index("place")
        .filter(pl.col(f"t_{SETS_COLUMN}").str.contains(r"[\pL\pN]"))  # "-" is an empty cell
    )
    cells = _without_holds(cells)
    rows = lines.drop("t_exercise", f"t_{SETS_COLUMN}").join(cells, on="line", how="left")
    rows = rows.sort("line", "place").select(lines.columns)
    return _numbered(_listed_sets(translated(rows, mapping, ("exercise",)), context))


def _without_holds(cells: pl.DataFrame) -> pl.DataFrame:
    """Cells without holds, but on a day that has nothing else: the sets beside them still count."""
    texts = cells[f"t_{SETS_COLUMN}"]
    held = by_distinct(texts, is_hold, pl.Boolean()).fill_null(False).alias("is_hold")
    if not held.any():
        return cells
    marked = cells.with_columns(held)
    return marked.filter(~pl.col("is_hold") | pl.col("is_hold").all().over("line")).drop("is_hold")


def _numbered(entries: pl.DataFrame) -> pl.DataFrame:
    """Entries with `n` counting the rows of each line."""
    return entries.with_columns(pl.col("line").cum_count().over("line").cast(pl.Int32).alias("n"))


def _listed_sets(lines: pl.DataFrame, context: Context) -> pl.DataFrame:
    """A row for each set that a cell lists, and one for each cell that is refused."""
    cell = pl.col(f"t_{SETS_COLUMN}")
    named = lines.filter(cell.is_not_null() & text_of("exercise").is_not_null())
    cells = named[f"t_{SETS_COLUMN}"].unique().to_list()
    words = {field: context.mapping.values.get(field, {}) for field in _OWN_WORDS}
    told = {each: with_own_words(each, words) for each in cells}
    distinct = list(told.values())
    found = reps_lists(distinct) if context.gives("load") else parse_column(distinct)
    read = {each: found[told[each]] for each in cells}
    refused = {text: each.reason for text, each in read.items() if isinstance(each, NotationError)}
    noted = pl.DataFrame(
        [
            (
                text,
                n,
                each.load,
                each.unit,
                each.basis,
                each.reps,
                each.partial_reps,
                each.rir,
                each.rpe,
                each.to_failure,
                None if each.kind == "work" else each.kind,
            )
            for text, sets in read.items()
            if not isinstance(sets, NotationError)
            for n, each in enumerate(sets, start=1)
        ],
        schema=_NOTED,
        orient="row",
    )
    doubts = by_distinct(lines[f"t_{SETS_COLUMN}"], refused.get, pl.String())
    entries = (
        lines.drop("n")
        .with_columns(doubts.alias("doubt"), cell.is_not_null().alias("is_set"))
        .with_row_index("place")
        .join(noted, left_on=f"t_{SETS_COLUMN}", right_on="cell", how="left")
        .sort("place", "n")
        .with_columns(pl.col("n").fill_null(1))
    )
    return _with_listed_loads(entries).drop("place")


def _with_listed_loads(entries: pl.DataFrame) -> pl.DataFrame:
    """Entries with the load of each set, where the load's cell lists as many as there are sets."""
    parts = by_distinct(entries["t_load"], _parts_in_one, pl.String()).str.split(_PARTED)
    if not (parts.list.len() > 1).any():
        return entries
    own = pl.col("parts").list.get(pl.col("n") - 1, null_on_oob=True)
    is_own = (pl.col("parts").list.len() > 1) & (
        pl.col("parts").list.len() == pl.len().over("place")
    )
    told = pl.when(is_own).then(own).otherwise("t_load").alias("t_load")
    return entries.with_columns(parts.alias("parts")).with_columns(told).drop("parts")


def _parts_in_one(text: str) -> str:
    return _PARTED.join(load_parts(text))


def load_parts(text: str) -> list[str]:
    """The loads that a cell lists, as "80 / 80 / 75" or "80-80-75"; one load is a list of one."""
    if len(text) > CELL_MAX:
        return [text]
    return [each for each in _BETWEEN_LOADS.split(text.strip()) if each]


def reps_lists(cells: list[str]) -> dict[str, Reading]:
    """Cells that list reps alone, as "3x8" or "8, 8, 7", where another column holds the load."""
    read: dict[str, Reading] = {}
    for cell in cells:
        if _RANGE.fullmatch(cell.strip()):
            read[cell] = NotationError("it could be a range of repetitions or two sets")
            continue
        found = parse(f"{_BETWEEN_REPS.sub('/', cell.strip())} @1kg")
        if not isinstance(found, NotationError):
            found = tuple(replace(each, load=None, unit=None) for each in found)
        read[cell] = found
    return read

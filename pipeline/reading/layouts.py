"""From lines to entries, a row a set, in the four layouts: sets, wide, exercises and days."""

from __future__ import annotations

import re
from dataclasses import replace

import polars as pl

from pipeline.reading.cells import by_distinct, said, stripped, text_of, translated
from pipeline.reading.export import Export
from pipeline.reading.fields import is_given, key_of, shown_name
from pipeline.reading.noted_sets import SETS_MAX, NotationError, Reading
from pipeline.reading.reasons import Reason
from pipeline.reading.set_notation import parse, parse_column
from pipeline.reading.validation import Faults, Test, no_exercise
from pipeline.settings.mapping import EXERCISE_MARK, SETS_COLUMN, Mapping, is_numbered

_RANGE = re.compile(r"[0-9]+ ?[–-] ?[0-9]+")
_BETWEEN_REPS = re.compile(r"(?<=[0-9])\s*[\s,;|–-]\s*(?=[0-9])")

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


def entries_of(
    lines: pl.DataFrame, export: Export, mapping: Mapping, faults: Faults
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Weigh-ins of lines without a set, and a row for each set of the other lines."""
    if mapping.rows == "exercises":
        lines, weighed = _parted(lines, mapping, faults, text_of(SETS_COLUMN).is_null())
        return weighed, _noted_entries(lines, mapping, faults)
    if mapping.rows == "days":
        columns = _exercise_columns(export, mapping)
        has_none = _has_no_cell(export, columns)
        lines, weighed = _parted(lines, mapping, faults, has_none)
        return weighed, _noted_entries(
            _cells_of_days(lines, export, columns, mapping), mapping, faults
        )
    if mapping.rows == "wide":
        entries, filled = _wide_entries(lines, export, mapping)
        has_none = ~pl.col("line").is_in(filled["line"].implode())
        lines, weighed = _parted(lines, mapping, faults, has_none)
        entries = entries.join(lines.select("line"), on="line", how="semi", maintain_order="left")
        return weighed, faults.sift(entries, [no_exercise(mapping)])
    mapped = [name for name in ("load", "reps", "set_no", "rir", "rpe") if name in mapping.columns]
    empty = pl.all_horizontal(text_of(name).is_null() for name in mapped)
    lines, weighed = _parted(
        lines, mapping, faults, empty & text_of("exercise").is_null() if mapped else pl.lit(False)
    )
    lines = faults.sift(lines, [no_exercise(mapping)])
    return weighed, _counted_entries(lines, mapping, faults)


def _exercise_columns(export: Export, mapping: Mapping) -> dict[str, str]:
    """The exercises of the layout "days", each with its column."""
    named = (*mapping.columns.values(), *mapping.day_columns, *mapping.skip_columns)
    return export.others(
        mapping.columns[SETS_COLUMN], EXERCISE_MARK, key_of(mapping, SETS_COLUMN), named
    )


def _has_no_cell(export: Export, columns: dict[str, str]) -> pl.Expr:
    """Whether a line has nothing under any exercise."""
    filled = export.records.filter(
        pl.any_horizontal(stripped(each).is_not_null() for each in columns.values())
    )
    return ~pl.col("line").is_in(filled["source_line"].implode())


def _cells_of_days(
    lines: pl.DataFrame, export: Export, columns: dict[str, str], mapping: Mapping
) -> pl.DataFrame:
    """A row for each cell under an exercise, in the order of lines and columns."""
    cells = (
        export.records.select(
            pl.col("source_line").alias("line"),
            *(stripped(column).alias(exercise) for exercise, column in columns.items()),
        )
        .unpivot(index="line", variable_name="t_exercise", value_name=f"t_{SETS_COLUMN}")
        .with_row_index("place")
        .drop_nulls(f"t_{SETS_COLUMN}")
    )
    rows = lines.drop("t_exercise", f"t_{SETS_COLUMN}").join(cells, on="line", how="inner")
    rows = rows.sort("line", "place").drop("place").select(lines.columns)
    return translated(rows, mapping, ("exercise",))


def _counted_entries(lines: pl.DataFrame, mapping: Mapping, faults: Faults) -> pl.DataFrame:
    """A row for each of the alike sets that a line stands for; an empty count is one set."""
    if not is_given(mapping, "set_count"):
        return lines
    text = text_of("set_count")
    count = text.str.extract(r"^([0-9]{1,3})(?:[.,]0+)?$").cast(pl.Int32, strict=False)
    lines = faults.sift(
        lines,
        [
            Test(
                Reason.SET_COUNT_WRONG,
                text.is_not_null() & ~count.is_between(1, SETS_MAX).fill_null(False),
                said(
                    "'",
                    text,
                    f"' under {shown_name(mapping, 'set_count')} is not a whole number of sets, "
                    f"1 to {SETS_MAX}.",
                ),
            )
        ],
    )
    return lines.with_columns(
        pl.int_ranges(1, count.fill_null(1) + 1, dtype=pl.Int32).alias("n")
    ).explode("n")


def _parted(
    lines: pl.DataFrame, mapping: Mapping, faults: Faults, without_sets: pl.Expr
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Lines with sets, and the weigh-ins of those without; neither: set aside."""
    if mapping.rows != "sets":
        test = Test(
            Reason.NO_SETS,
            without_sets & pl.col("bodyweight_kg").is_null(),
            said("the line lists no set."),
        )
        lines = faults.sift(lines, [test])
    weighs = without_sets & pl.col("bodyweight_kg").is_not_null()
    return lines.filter(~weighs), weigh_ins(lines.filter(weighs))


def weigh_ins(frame: pl.DataFrame) -> pl.DataFrame:
    """The weigh-ins that lines carry: client_id, performed_on, bodyweight_kg, line."""
    return frame.filter(pl.col("bodyweight_kg").is_not_null()).select(
        "client_id", "performed_on", "bodyweight_kg", "line"
    )


def _wide_entries(
    lines: pl.DataFrame, export: Export, mapping: Mapping
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """A row for each group of numbered cells that is not empty; n counts them within the line."""
    numbered = {
        name: export.columns_of(column, key_of(mapping, name), mapping.side_words)
        for name, column in mapping.columns.items()
        if is_numbered(column)
    }
    records = export.records.join(
        lines.select(pl.col("line").alias("source_line")),
        on="source_line",
        how="semi",
        maintain_order="left",
    )
    counts = records.null_count().row(0, named=True)
    unfilled = {column for column, count in counts.items() if count == records.height}
    groups = [lines.clear()]
    marks = dict.fromkeys(each for found in numbered.values() for each in found)
    for place, number in enumerate(sorted(marks, key=_rank), start=1):
        cells = {name: found[number] for name, found in numbered.items() if number in found}
        if all(column in unfilled for column in cells.values()):
            continue
        texts = records.select(
            *(stripped(column).alias(f"t_{name}") for name, column in cells.items())
        )
        absent = [
            pl.lit(None, dtype=pl.String).alias(f"t_{name}")
            for name in numbered
            if name not in cells
        ]
        group = lines.with_columns(*texts.get_columns(), *absent).with_columns(
            pl.lit(place, dtype=pl.Int32).alias("n"),
            *([pl.lit(number).alias("t_side")] if isinstance(number, str) else []),
        )
        groups.append(
            group.filter(pl.any_horizontal(text_of(name).is_not_null() for name in cells))
        )
    entries = pl.concat(groups).sort("line", "n")
    entries = entries.with_columns(
        (pl.col("line").cum_count().over("line")).cast(pl.Int32).alias("n")
    )
    return entries, entries.select("line").unique()


def _rank(mark: int | str) -> int:
    """Numbers in their order; sides in the order of the file, which `sorted` keeps."""
    return mark if isinstance(mark, int) else 0


def _noted_entries(lines: pl.DataFrame, mapping: Mapping, faults: Faults) -> pl.DataFrame:
    """A row for each set that a cell lists."""
    lines = faults.sift(lines, [no_exercise(mapping)])
    cells = lines[f"t_{SETS_COLUMN}"].unique().to_list()
    read = reps_lists(cells) if is_given(mapping, "load") else parse_column(cells)
    refused = {
        cell: found.reason for cell, found in read.items() if isinstance(found, NotationError)
    }
    is_days = mapping.rows == "days"
    where = text_of("exercise") if is_days else pl.lit(shown_name(mapping, SETS_COLUMN))
    doubts = by_distinct(lines[f"t_{SETS_COLUMN}"], refused.get, pl.String())
    lines = faults.sift(
        lines.with_columns(doubts.alias("doubt")),
        [
            Test(
                Reason.SETS_UNREADABLE,
                pl.col("doubt").is_not_null(),
                pl.concat_str(
                    said("'", text_of(SETS_COLUMN), "' under ", where, ": "),
                    pl.col("doubt"),
                    pl.lit("."),
                ),
            )
        ],
    )
    noted = pl.DataFrame(
        [
            (
                cell,
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
            for cell, found in read.items()
            if not isinstance(found, NotationError)
            for n, each in enumerate(found, start=1)
        ],
        schema=_NOTED,
        orient="row",
    )
    entries = (
        lines.drop("n", "doubt")
        .with_row_index("place")
        .join(noted, left_on=f"t_{SETS_COLUMN}", right_on="cell", how="inner")
        .sort("place", "n")
        .drop("place")
    )
    if is_days:
        entries = entries.with_columns(
            pl.col("line").cum_count().over("line").cast(pl.Int32).alias("n")
        )
    return entries


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

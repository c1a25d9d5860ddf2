"""Effort and kinds of sets: RIR or RPE, warm-ups, work sets, drops, failure."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import polars as pl

from pipeline.drafting.cell_words import (
    failure_values,
    flag_values,
    kind_readings,
    kinds_of,
    labelled_sets,
    number_values,
)
from pipeline.drafting.column_profiles import Column
from pipeline.drafting.draft import FEW, GUESS_FROM, Draft, days_of, fits, numbers_of
from pipeline.drafting.header_words import EXACT


def find_effort(draft: Draft) -> None:
    for key in ("rir", "rpe"):
        found = draft.headed((key,), lambda each: fits(each, "effort"), 0.5)
        if found and key not in draft.taken.values():
            take_effort(draft, found[0], found[:1], named=key)
    if {"rir", "rpe"} & set(draft.taken.values()):
        return
    found = draft.headed(("effort",), lambda each: fits(each, "effort"), 0.5)
    if found:
        take_effort(draft, found[0], found[:1])
        return
    for each in draft.free_numbers():
        if each.within(0, 10) > 0.98 and len(each.values) > 2 and not draft.sniffed.has_header:
            take_effort(draft, each, [each])
            return


def take_effort(
    draft: Draft,
    column: Column,
    columns: list[Column],
    *,
    named: str | None = None,
    pattern: str | None = None,
) -> None:
    """RIR or RPE: by the header, checked by the values; else by the values, if they tell."""
    shown = _with_inner_numbers(column)
    low, middle, high = (shown.quantile(at) for at in (0.02, 0.5, 0.98))
    spread = f"values {low:g} to {high:g}, half of them at or below {middle:g}"
    reads_rir = high <= 5 and (low < 1 or middle <= 3)
    reads_rpe = low >= 5 and high <= 10 and middle >= 6
    name = pattern or column.name
    for key in ("rir", "rpe"):
        if column.share(lambda text, key=key: key in text.casefold()) > 0.5:  # type: ignore[misc]
            draft.take(key, column, 0.95, f"its cells say {key.upper()}", name)
            draft.translate(key, column)
            return
    if named == "rir" and not (reads_rpe and middle >= 7):
        key, confidence = "rir", 0.97
    elif named == "rpe" and not (reads_rir and low < 1):
        key, confidence = "rpe", 0.97
    elif named is None and reads_rir and low < 1:
        key, confidence = "rir", 0.85
    elif named is None and reads_rpe:
        key, confidence = "rpe", 0.85
    else:
        first, second = ("rpe", "rir") if reads_rpe or named == "rpe" else ("rir", "rpe")
        draft.ask(
            "columns",
            [(first, name), (second, name)],
            f"column '{column.name}' may be reps in reserve or perceived exertion ({spread})",
        )
        for each in columns:
            draft.taken[each.name] = first
        _translate_both(draft, column)
        return
    draft.take(key, column, confidence, spread, name)
    for each in columns:
        draft.taken[each.name] = key
    draft.translate(key, column)


def _with_inner_numbers(column: Column) -> Column:
    """The column with the number inside each cell such as "@8" in place of the cell."""
    inner = {text: told for text, (told, _) in number_values(column, "rpe").items() if told}
    counts: dict[str, int] = defaultdict(int)
    for text, times in column.counts.items():
        counts[inner.get(text, text)] += times
    return replace(column, counts=dict(counts))


def _translate_both(draft: Draft, column: Column) -> None:
    for key in ("rir", "rpe"):
        draft.translate(key, column)


def find_set_kinds(draft: Draft) -> None:
    if "set_kind" in draft.taken.values() or _takes_labels(draft):
        return
    meanings = ("warmup", "work", "extension", "failure")
    for key, flag in (("set_kind", None), ("warmup", "warmup"), ("extension", "extension")):
        for each in draft.headed((key,), lambda each: bool(each.counts), 1.0):
            if key == "set_kind" and each.number_share > 0.5:
                continue
            if flag and each.mark_share("true", "false") >= 0.8:
                draft.take("set_kind", each, 0.9, "a mark on the lines that are one")
                draft.translate_values("set_kind", flag_values(each, flag, draft.languages))
                return
            if _takes_kind(draft, each, each.mark_share(*meanings)):
                return
    for each in draft.free():
        is_silent = each.header.says_nothing and each.is_text and len(each.counts) <= 8
        is_marked = is_silent and each.mark_share(*meanings) >= 0.9
        if is_marked and each.mark_share("warmup", "extension"):
            _takes_kind(draft, each, 1.0)
            return


def _takes_labels(draft: Draft) -> bool:
    """A column of set numbers with marks among them, as W, W, 1, 2, 3."""
    for each in draft.headed(("set_no", "sets", "set_kind"), lambda each: each.filled_share, 0.5):
        numbers, kinds = labelled_sets(each, draft.languages)
        if not kinds or "set_no" in draft.taken.values():
            continue
        why = f"set numbers, and marks such as {next(iter(numbers))}"
        draft.take("set_no", each, 0.9, why)
        draft.translate_values("set_no", numbers)
        draft.guess("columns", "set_kind", each.name, 0.85, why)
        draft.translate_values("set_kind", kinds)
        return True
    return False


def _takes_kind(draft: Draft, column: Column, share: float) -> bool:
    tells = column.mark_share("warmup", "extension", "failure") > 0 and len(column.counts) > 1
    is_called = column.header.strength("set_kind") >= EXACT and len(column.counts) <= 8
    if share < 0.5 and not (is_called and tells):
        return False
    told, asked = kind_readings(column, draft.languages, _kinds_by_loads(draft, column))
    draft.take(
        "set_kind",
        column,
        max(0.6 + 0.35 * share, GUESS_FROM),
        f"{share:.0%} of its cells are marks of warm-ups, work sets or drops",
    )
    draft.translate_values("set_kind", told)
    for mark, kinds in asked.items():
        draft.ask(
            "values.set_kind",
            [(mark, kind) for kind in kinds],
            f"the mark '{mark}' of column '{column.name}' ({column.counts[mark]} cells) may "
            "mean more than one kind of set",
        )
    failures = failure_values(column, draft.languages)
    if failures and "to_failure" not in draft.taken.values():
        draft.guess(
            "columns",
            "to_failure",
            column.name,
            0.85,
            "some of its marks say that a set went to failure",
        )
        draft.translate_values("to_failure", failures)
    return True


def _kinds_by_loads(draft: Draft, column: Column) -> dict[str, str]:
    """Marks on the lighter, earlier sets of an exercise and on the heavier, later ones."""
    if draft.rows != "sets" or len(draft.loads) != 1 or not draft.day or not draft.exercise:
        return {}
    frame = pl.DataFrame(
        {
            "day": days_of(draft.day).forward_fill(),
            "lift": draft.exercise.texts.forward_fill(),
            "mark": column.texts.fill_null(""),
            "load": numbers_of(draft.loads[0]),
        }
    ).with_row_index("at")
    group = ["day", "lift"]
    backwards = _runs_backwards(draft)
    marks = (
        frame.drop_nulls("load")
        .group_by([*group, "mark"])
        .agg(pl.col("load").mean(), pl.col("at").mean())
        .with_columns(pl.when(backwards).then(-pl.col("at")).otherwise("at").alias("at"))
    )
    pairs = marks.join(marks, on=group, suffix="_other").filter(
        (pl.col("mark") != pl.col("mark_other"))
        & ((pl.col("load") - pl.col("load_other")).abs() > 0.1 * pl.col("load"))
    )
    extensions = [text for text in column.counts if _is_extension(draft, column, text)]
    pairs = pairs.filter(
        ~pl.col("mark").is_in(extensions) & ~pl.col("mark_other").is_in(extensions)
    )
    lighter = (pl.col("load") < pl.col("load_other")) & (pl.col("at") < pl.col("at_other"))
    heavier = (pl.col("load") > pl.col("load_other")) & (pl.col("at") > pl.col("at_other"))
    shares = pairs.group_by("mark").agg(
        lighter.mean().alias("lighter"), heavier.mean().alias("heavier"), pl.len()
    )
    found: dict[str, str] = {}
    for mark, light, heavy, times in shares.iter_rows():
        if times >= FEW and light >= 0.8:
            found[mark] = "warmup"
        elif times >= FEW and heavy >= 0.8:
            found[mark] = "work"
    return found


def _is_extension(draft: Draft, column: Column, text: str) -> bool:
    return kinds_of(column, text, draft.languages) == {"extension"}


def _runs_backwards(draft: Draft) -> bool:
    """Whether the file's last line is the oldest."""
    numbers = next((each for each in draft.columns if draft.taken.get(each.name) == "set_no"), None)
    if numbers is None or not draft.exercise:
        return False
    values = numbers_of(numbers)
    same = draft.exercise.texts == draft.exercise.texts.shift()
    steps = values.diff().filter(same.fill_null(False)).drop_nulls().sign()
    return float(steps.sum()) < 0

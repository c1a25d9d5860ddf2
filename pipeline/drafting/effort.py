"""Effort and kinds of sets: RIR or RPE, warm-ups, work sets, drops, failure."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import polars as pl

from pipeline.drafting.cell_words import (
    failure_values,
    flag_values,
    kind_readings,
    labelled_sets,
    number_values,
)
from pipeline.drafting.column_profiles import Profile
from pipeline.drafting.draft import FEW, Board, days_of, fits, numbers_of
from pipeline.drafting.guesses import GUESS_FROM
from pipeline.drafting.header_words import EXACT


def find_efforts(board: Board) -> None:
    for key in ("rir", "rpe"):
        found = board.headed((key,), lambda each: fits(each, "effort"), 0.5)
        if found and key not in board.taken.values():
            effort_reading(board, found[0], found[:1], named=key)
    if {"rir", "rpe"} & set(board.taken.values()):
        return
    found = board.headed(("effort",), lambda each: fits(each, "effort"), 0.5)
    if found:
        effort_reading(board, found[0], found[:1])
        return
    for each in board.numeric_free():
        if each.within(0, 10) > 0.98 and len(each.values) > 2 and not board.sniffed.has_header:
            effort_reading(board, each, [each])
            return


def effort_reading(
    board: Board,
    each: Profile,
    columns: list[Profile],
    *,
    named: str | None = None,
    pattern: str | None = None,
) -> None:
    """RIR or RPE: by the header, checked by the values; else by the values, if they tell."""
    shown = _with_inner_numbers(each)
    low, middle, high = (shown.quantile(at) for at in (0.02, 0.5, 0.98))
    spread = f"values {low:g} to {high:g}, half of them at or below {middle:g}"
    reads_rir = high <= 5 and (low < 1 or middle <= 3)
    reads_rpe = low >= 5 and high <= 10 and middle >= 6
    name = pattern or each.name
    for key in ("rir", "rpe"):
        if each.share(lambda text, key=key: key in text.casefold()) > 0.5:  # type: ignore[misc]
            board.take(key, each, 0.95, f"its cells say {key.upper()}", name)
            board.translate(key, each)
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
        board.ask(
            "columns",
            [(first, name), (second, name)],
            f"column '{each.name}' may be reps in reserve or perceived exertion ({spread})",
        )
        for column in columns:
            board.taken[column.name] = first
        _translate_both(board, each)
        return
    board.take(key, each, confidence, spread, name)
    for column in columns:
        board.taken[column.name] = key
    board.translate(key, each)


def _with_inner_numbers(each: Profile) -> Profile:
    """The column with the number inside each cell such as "@8" in place of the cell."""
    inner = {text: told for text, (told, _) in number_values(each, "rpe").items() if told}
    counts: dict[str, int] = defaultdict(int)
    for text, times in each.counts.items():
        counts[inner.get(text, text)] += times
    return replace(each, counts=dict(counts))


def _translate_both(board: Board, each: Profile) -> None:
    for key in ("rir", "rpe"):
        board.translate(key, each)


def find_kinds(board: Board) -> None:
    if "set_kind" in board.taken.values() or _takes_labels(board):
        return
    meanings = ("warmup", "work", "extension", "failure")
    for key, flag in (("set_kind", None), ("warmup", "warmup"), ("extension", "extension")):
        for each in board.headed((key,), lambda each: bool(each.counts), 1.0):
            if key == "set_kind" and each.number_share > 0.5:
                continue
            if flag and each.mark_share("true", "false") >= 0.8:
                board.take("set_kind", each, 0.9, "a mark on the lines that are one")
                board.values("set_kind", flag_values(each, flag, board.languages))
                return
            if _takes_kind(board, each, each.mark_share(*meanings)):
                return
    for each in board.free():
        is_silent = each.header.says_nothing and each.is_text and len(each.counts) <= 8
        is_marked = is_silent and each.mark_share(*meanings) >= 0.9
        if is_marked and each.mark_share("warmup", "extension"):
            _takes_kind(board, each, 1.0)
            return


def _takes_labels(board: Board) -> bool:
    """A column of set numbers with marks among them, as W, W, 1, 2, 3."""
    for each in board.headed(("set_no", "sets", "set_kind"), lambda each: each.filled_share, 0.5):
        numbers, kinds = labelled_sets(each, board.languages)
        if not kinds or "set_no" in board.taken.values():
            continue
        why = f"set numbers, and marks such as {next(iter(numbers))}"
        board.take("set_no", each, 0.9, why)
        board.values("set_no", numbers)
        board.guess("columns", "set_kind", each.name, 0.85, why)
        board.values("set_kind", kinds)
        return True
    return False


def _takes_kind(board: Board, each: Profile, share: float) -> bool:
    tells = each.mark_share("warmup", "extension", "failure") > 0 and len(each.counts) > 1
    is_called = each.header.strength("set_kind") >= EXACT and len(each.counts) <= 8
    if share < 0.5 and not (is_called and tells):
        return False
    told, asked = kind_readings(each, board.languages, _kinds_by_loads(board, each))
    board.take(
        "set_kind",
        each,
        max(0.6 + 0.35 * share, GUESS_FROM),
        f"{share:.0%} of its cells are marks of warm-ups, work sets or drops",
    )
    board.values("set_kind", told)
    for mark, kinds in asked.items():
        board.ask(
            "values.set_kind",
            [(mark, kind) for kind in kinds],
            f"the mark '{mark}' of column '{each.name}' ({each.counts[mark]} cells) may "
            "mean more than one kind of set",
        )
    failures = failure_values(each, board.languages)
    if failures and "to_failure" not in board.taken.values():
        board.guess(
            "columns",
            "to_failure",
            each.name,
            0.85,
            "some of its marks say that a set went to failure",
        )
        board.values("to_failure", failures)
    return True


def _kinds_by_loads(board: Board, each: Profile) -> dict[str, str]:
    """Marks on the lighter, earlier sets of an exercise and on the heavier, later ones."""
    if board.rows != "sets" or len(board.loads) != 1 or not board.day or not board.exercise:
        return {}
    frame = pl.DataFrame(
        {
            "day": days_of(board.day).forward_fill(),
            "lift": board.exercise.texts.forward_fill(),
            "mark": each.texts.fill_null(""),
            "load": numbers_of(board.loads[0]),
        }
    ).with_row_index("at")
    group = ["day", "lift"]
    backwards = _runs_backwards(board)
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
    extensions = [text for text in each.counts if _is_extension(board, each, text)]
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


def _is_extension(board: Board, each: Profile, text: str) -> bool:
    found = each.vocabulary.meanings(text, board.languages)
    return "extension" in found and not found & {"warmup", "work"}


def _runs_backwards(board: Board) -> bool:
    """Whether the file's last line is the oldest."""
    numbers = next(
        (each for each in board.profiles if board.taken.get(each.name) == "set_no"), None
    )
    if numbers is None or not board.exercise:
        return False
    values = numbers_of(numbers)
    same = board.exercise.texts == board.exercise.texts.shift()
    steps = values.diff().filter(same.fill_null(False)).drop_nulls().sign()
    return float(steps.sum()) < 0

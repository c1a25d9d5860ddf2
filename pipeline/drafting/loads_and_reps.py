"""Repetitions, loads and set numbers: by headers that cells allow, else by the cells alone."""

from __future__ import annotations

from itertools import permutations

import polars as pl

from pipeline.drafting.column_profiles import Column
from pipeline.drafting.draft import FEW, GUESS_FROM, REPS_MOST, Draft, days_of, fits, numbers_of
from pipeline.drafting.header_words import EXACT
from pipeline.errors import ExportError
from pipeline.reading.cells import shortened
from pipeline.units import KG_PER_LB

_ROUNDER = 0.2
_FACTORS = 6
"""Columns of numbers among which a volume is looked for."""


def take_load(draft: Draft) -> bool:
    """The load by its header; two columns of one load in two units count as one."""
    found = draft.headed(("load",), lambda each: fits(each, "load"), 0.5)
    if not found:
        return any(key == "load" for key in draft.taken.values())
    twins = [each for each in found[1:] if _converts(found[0], each)]
    rounder = max([found[0], *twins], key=_plate_share)
    if twins and _plate_share(rounder) > _plate_share(found[0]) + _ROUNDER:
        twins = [each for each in (found[0], *twins) if each is not rounder]
        found = [rounder, *(each for each in found if each not in (rounder, *twins))]
    for each in twins:
        draft.unread_because[each.name] = f"the load of '{found[0].name}' in another unit"
    best = draft.best_or_ask("load", [each for each in found if each not in twins])
    draft.loads = [best] if best is not None else found
    if best is not None:
        draft.take(
            "load",
            best,
            0.5 + 0.3 * best.header.strength("load") + 0.19,
            f"numbers from {best.quantile(0):g} to {best.quantile(1):g}",
        )
    for each in draft.loads:
        draft.translate("load", each)
    return True


def take_set_numbers(draft: Draft) -> None:
    """A column "sets": which set of the exercise it is, or how many alike sets."""
    found = draft.headed(
        ("set_no", "set_count", "sets"),
        lambda each: each.number_share >= 0.9 and each.within(0, 40, whole=True),
        0.95,
    )
    for each in found:
        _take_set_number(draft, each)


def _take_set_number(draft: Draft, column: Column) -> None:
    if any(key in ("set_no", "set_count") for key in draft.taken.values()):
        return
    counted, numbered = _set_number_votes(draft, column)
    if _multiplies(draft, column):
        counted, numbered = max(counted, 1), 0
    elif not counted and not numbered:
        counted += column.header.strength("set_count") >= EXACT
        numbered += not counted
    if counted and numbered and min(counted, numbered) > 0.15 * max(counted, numbered):
        draft.ask(
            "columns",
            [("set_no", column.name), ("set_count", column.name)],
            f"column '{column.name}' may count a line's sets or number them",
        )
        draft.taken[column.name] = "set_no"
    elif numbered >= counted:
        draft.take("set_no", column, 0.95, "it counts up within an exercise of a day")
    else:
        draft.take(
            "set_count",
            column,
            0.9,
            "a line stands for so many alike sets: it does not "
            "count up within an exercise of a day",
        )


def _multiplies(draft: Draft, column: Column) -> bool:
    """Whether some column is this one times two others: sets, repetitions and load in a volume."""
    numbers = [
        numbers_of(each)
        for each in draft.columns
        if each is not column and each.number_share >= 0.9 and each.days is None
    ][:_FACTORS]
    count = numbers_of(column)
    if (count > 1).sum() < FEW:
        return False

    def is_product(volume: pl.Series, one: pl.Series, other: pl.Series) -> bool:
        close = ((count * one * other - volume).abs() < 0.01 * volume).drop_nulls()
        return close.len() >= FEW and bool(close.mean() > 0.95)  # type: ignore[operator]

    return any(is_product(volume, one, other) for volume, one, other in permutations(numbers, 3))


def _set_number_votes(draft: Draft, column: Column) -> tuple[int, int]:
    """Groups of one day and exercise that speak for a count of sets, and for their numbers."""
    values = {"value": numbers_of(column)}
    for key, other in (("client", draft.client), ("lift", draft.exercise)):
        if other is not None:
            values[key] = other.texts.forward_fill()
    if draft.day is not None:
        values["day"] = days_of(draft.day).forward_fill()
    frame = pl.DataFrame(values)
    groups = (
        frame.drop_nulls("value")
        .group_by([name for name in frame.columns if name != "value"])
        .agg(
            pl.col("value").n_unique().alias("distinct"),
            (pl.col("value").max() - pl.col("value").min()).alias("span"),
            pl.col("value").min().alias("low"),
        )
    )
    several = pl.col("distinct") > 1
    runs = groups.filter(several & (pl.col("span") == pl.col("distinct") - 1)).height
    jumps = groups.filter(several & (pl.col("span") != pl.col("distinct") - 1)).height
    alike = groups.filter(~several & (pl.col("low") > 1)).height
    if column.header.strength("set_no") >= EXACT or column.within(0, 0):
        return 0, runs + jumps + alike
    return jumps + alike, runs


def take_reps_and_load_by_cells(draft: Draft) -> None:
    """Reps and load where no header names the reps."""
    for each in draft.free_numbers():
        counted, numbered = _set_number_votes(draft, each)
        is_number = each.within(1, 30, whole=True) > 0.98 and each.quantile(0) <= 1
        if is_number and numbered > FEW and numbered > 6 * counted:
            _take_set_number(draft, each)
            break
    take_load(draft)
    has_load = "load" in draft.taken.values()
    candidates = draft.free_numbers()
    weights = [each for each in candidates if _is_bodyweight(draft, each)]
    candidates = [each for each in candidates if each not in weights]
    reps = sorted((each for each in candidates if _reps_score(each) > 0.6), key=_reps_score)
    reps.reverse()
    if not reps:
        reps = [each for each in draft.free() if each.number_share and _reps_score(each) > 0.6]
        _ask_reps(draft, reps)
        return
    if not has_load and len(candidates) > 1:
        take_load_by_cells(draft, besides=reps[0], candidates=candidates)
        reps = [each for each in reps if each.name not in draft.taken]
    close = [each for each in reps[1:] if _reps_score(each) > _reps_score(reps[0]) - 0.12]
    if close and reps:
        _ask_reps(draft, [reps[0], *close])
    elif reps:
        draft.take("reps", reps[0], 0.82, "whole numbers as sets have repetitions")
    for each in weights:
        draft.take("bodyweight", each, GUESS_FROM, "one value a day that hardly changes")


def _ask_reps(draft: Draft, found: list[Column]) -> None:
    """Leaves the reps open; raises ExportError if no column may hold them."""
    options = found[:FEW]
    if not options:
        raise ExportError(
            f"{draft.shown}: no column holds repetitions (whole numbers up to 100) or lists of "
            f"sets; a mapping cannot be drafted.{_nearly_listed(draft)}"
        )
    listed = " or ".join(f"'{each.name}'" for each in options)
    draft.ask(
        "columns",
        [("reps", each.name) for each in options],
        f"{listed} may hold the repetitions, and no header says so",
    )
    for each in options:
        draft.taken[each.name] = "reps"


def _nearly_listed(draft: Draft) -> str:
    """A sentence on the column that looks like lists of sets; empty if there is none."""
    likely = max(draft.free(), key=lambda each: each.set_like_share, default=None)
    if likely is None or likely.set_like_share < 0.5 or not likely.unread_list:
        return ""
    cell, reason = likely.unread_list
    return (
        f" Column '{likely.name}' comes near, but '{shortened(cell)}' is not understood: {reason}."
    )


def take_load_by_cells(
    draft: Draft, besides: Column | None = None, candidates: list[Column] | None = None
) -> None:
    """The load among columns that no header names; left open where two are alike."""
    found = draft.free_numbers() if candidates is None else candidates
    found = [each for each in found if each is not besides]
    scored = sorted(
        ((_load_score(draft, each), -each.place, each) for each in found), key=lambda one: one[:2]
    )
    scored.reverse()
    scored = [each for each in scored if each[0] > 0.35]
    if not scored:
        return
    best = scored[0][2]
    close = [each for score, _, each in scored[1:] if score > scored[0][0] - 0.15]
    if close:
        options = [best, *close][:FEW]
        listed = ", ".join(f"'{each.name}'" for each in options)
        draft.ask(
            "columns",
            [("load", each.name) for each in options],
            f"the columns {listed} may all be the load",
        )
        for each in options:
            draft.taken[each.name] = "load"
        draft.loads = options
    else:
        draft.take("load", best, 0.82, "numbers that differ by exercise, in steps of plates")
        draft.loads = [best]
    for each in draft.loads:
        draft.translate("load", each)


def _load_score(draft: Draft, column: Column) -> float:
    """How much like loads the numbers are: 0 to 1."""
    if column.quantile(1) <= 12 or column.within(-200, 1200) < 0.98:
        return 0.0
    steps = sum(times for value, times in column.values.items() if value * 4 % 5 == 0) / max(
        sum(column.values.values()), 1
    )
    return (
        0.5 * draft.explained_by_exercise(column)
        + 0.3 * steps
        + 0.2 * min(len(column.values) / 8, 1)
    )


def _is_bodyweight(draft: Draft, column: Column) -> bool:
    """One value a day, of a human's weight, that hardly changes; over four days or more."""
    if (
        draft.day is None
        or column.within(35, 400) < 0.98
        or draft.explained_by_exercise(column) > 0.5
    ):
        return False
    days = pl.DataFrame({"day": days_of(draft.day), "text": column.texts}).drop_nulls()
    per_day = days.group_by("day").agg(pl.col("text").n_unique().alias("distinct"))
    low, high = column.quantile(0.02), column.quantile(0.98)
    is_steady = high <= 1.2 * low
    return per_day.height > FEW and is_steady and bool((per_day["distinct"] == 1).all())


def _plate_share(column: Column) -> float:
    """Share of the numbers that plates give; what was converted hardly ever is one."""
    whole = sum(times for value, times in column.values.items() if value * 4 % 1 == 0)
    return whole / max(sum(column.values.values()), 1)


def _converts(one: Column, other: Column) -> bool:
    """Whether two columns hold one load in two units, line by line."""
    frame = pl.DataFrame({"one": numbers_of(one), "other": numbers_of(other)}).drop_nulls()
    frame = frame.filter((pl.col("one") > 10) & (pl.col("other") > 10))
    if frame.height < FEW:
        return False
    ratio = frame.select((pl.col("one") / pl.col("other")).median()).item()
    return any(abs(ratio / each - 1) < 0.03 for each in (KG_PER_LB, 1 / KG_PER_LB))


def _reps_score(column: Column) -> float:
    """How much like repetitions the numbers are: 0 to 1."""
    if column.within(0, REPS_MOST, whole=True) < 0.97 or column.number_share < 0.8:
        return 0.0
    usual = column.within(3, 20)
    zeros = column.within(0, 0)
    return 0.7 * usual + 0.3 * min(len(column.values) / 5, 1) - zeros

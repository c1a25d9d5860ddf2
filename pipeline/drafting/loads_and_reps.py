"""Repetitions, loads and set numbers: by headers that cells allow, else by the cells alone."""

from __future__ import annotations

import polars as pl

from pipeline.drafting.column_profiles import Profile
from pipeline.drafting.draft import FEW, REPS_MOST, Board, days_of, fits, numbers_of
from pipeline.drafting.guesses import GUESS_FROM
from pipeline.drafting.header_words import EXACT
from pipeline.errors import ExportError
from pipeline.units import KG_PER_LB

_ROUNDER = 0.2


def load_column(board: Board) -> bool:
    """The load by its header; two columns of one load in two units count as one."""
    found = board.headed(("load",), lambda each: fits(each, "load"), 0.5)
    if not found:
        return any(key == "load" for key in board.taken.values())
    twins = [each for each in found[1:] if _converts(found[0], each)]
    rounder = max([found[0], *twins], key=_plate_share)
    if twins and _plate_share(rounder) > _plate_share(found[0]) + _ROUNDER:
        twins = [each for each in (found[0], *twins) if each is not rounder]
        found = [rounder, *(each for each in found if each not in (rounder, *twins))]
    for each in twins:
        board.said[each.name] = f"the load of '{found[0].name}' in another unit"
    best = board.only("load", [each for each in found if each not in twins])
    board.loads = [best] if best is not None else found
    if best is not None:
        board.take(
            "load",
            best,
            0.5 + 0.3 * best.header.strength("load") + 0.19,
            f"numbers from {best.quantile(0):g} to {best.quantile(1):g}",
        )
    for each in board.loads:
        board.translate("load", each)
    return True


def numberings(board: Board) -> None:
    """A column "sets": which set of the exercise it is, or how many alike sets."""
    found = board.headed(
        ("set_no", "set_count", "sets"),
        lambda each: each.number_share >= 0.9 and each.within(0, 40, whole=True),
        0.95,
    )
    for each in found:
        _numbering(board, each)


def _numbering(board: Board, each: Profile) -> None:
    if any(key in ("set_no", "set_count") for key in board.taken.values()):
        return
    counted, numbered = _numbering_votes(board, each)
    if not counted and not numbered:
        counted += each.header.strength("set_count") >= EXACT
        numbered += not counted
    if counted and numbered and min(counted, numbered) > 0.15 * max(counted, numbered):
        board.ask(
            "columns",
            [("set_no", each.name), ("set_count", each.name)],
            f"column '{each.name}' may count a line's sets or number them",
        )
        board.taken[each.name] = "set_no"
    elif numbered >= counted:
        board.take("set_no", each, 0.95, "it counts up within an exercise of a day")
    else:
        board.take(
            "set_count",
            each,
            0.9,
            "a line stands for so many alike sets: it does not "
            "count up within an exercise of a day",
        )


def _numbering_votes(board: Board, each: Profile) -> tuple[int, int]:
    """Groups of one day and exercise that speak for a count of sets, and for their numbers."""
    columns = {"value": numbers_of(each)}
    for key, column in (("client", board.client), ("lift", board.exercise)):
        if column is not None:
            columns[key] = column.texts.forward_fill()
    if board.day is not None:
        columns["day"] = days_of(board.day).forward_fill()
    frame = pl.DataFrame(columns)
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
    if each.header.strength("set_no") >= EXACT or each.within(0, 0):
        return 0, runs + jumps + alike
    return jumps + alike, runs


def by_cells(board: Board) -> None:
    """Reps and load where no header names the reps."""
    for each in board.numeric_free():
        counted, numbered = _numbering_votes(board, each)
        is_number = each.within(1, 30, whole=True) > 0.98 and each.quantile(0) <= 1
        if is_number and numbered > FEW and numbered > 6 * counted:
            _numbering(board, each)
            break
    load_column(board)
    has_load = "load" in board.taken.values()
    candidates = board.numeric_free()
    weights = [each for each in candidates if _is_bodyweight(board, each)]
    candidates = [each for each in candidates if each not in weights]
    reps = sorted((each for each in candidates if _reps_score(each) > 0.6), key=_reps_score)
    reps.reverse()
    if not reps:
        reps = [each for each in board.free() if each.number_share and _reps_score(each) > 0.6]
        _ask_reps(board, reps)
        return
    if not has_load and len(candidates) > 1:
        load_by_cells(board, besides=reps[0], candidates=candidates)
        reps = [each for each in reps if each.name not in board.taken]
    close = [each for each in reps[1:] if _reps_score(each) > _reps_score(reps[0]) - 0.12]
    if close and reps:
        _ask_reps(board, [reps[0], *close])
    elif reps:
        board.take("reps", reps[0], 0.82, "whole numbers as sets have repetitions")
    for each in weights:
        board.take("bodyweight", each, GUESS_FROM, "one value a day that hardly changes")


def _ask_reps(board: Board, found: list[Profile]) -> None:
    """Leaves the reps open; raises ExportError if no column may hold them."""
    options = found[:FEW]
    if not options:
        raise ExportError(
            f"{board.shown}: no column holds repetitions (whole numbers up to 100) or lists of "
            "sets; a mapping cannot be drafted."
        )
    listed = " or ".join(f"'{each.name}'" for each in options)
    board.ask(
        "columns",
        [("reps", each.name) for each in options],
        f"{listed} may hold the repetitions, and no header says so",
    )
    for each in options:
        board.taken[each.name] = "reps"


def load_by_cells(
    board: Board, besides: Profile | None = None, candidates: list[Profile] | None = None
) -> None:
    """The load among columns that no header names; left open where two are alike."""
    found = board.numeric_free() if candidates is None else candidates
    found = [each for each in found if each is not besides]
    scored = sorted(
        ((_load_score(board, each), -each.place, each) for each in found), key=lambda one: one[:2]
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
        board.ask(
            "columns",
            [("load", each.name) for each in options],
            f"the columns {listed} may all be the load",
        )
        for each in options:
            board.taken[each.name] = "load"
        board.loads = options
    else:
        board.take("load", best, 0.82, "numbers that differ by exercise, in steps of plates")
        board.loads = [best]
    for each in board.loads:
        board.translate("load", each)


def _load_score(board: Board, each: Profile) -> float:
    """How much like loads the numbers are: 0 to 1."""
    if each.quantile(1) <= 12 or each.within(-200, 1200) < 0.98:
        return 0.0
    steps = sum(times for value, times in each.values.items() if value * 4 % 5 == 0) / max(
        sum(each.values.values()), 1
    )
    return 0.5 * board.explained(each) + 0.3 * steps + 0.2 * min(len(each.values) / 8, 1)


def _is_bodyweight(board: Board, each: Profile) -> bool:
    """One value a day, of a human's weight, that hardly changes; over four days or more."""
    if board.day is None or each.within(35, 400) < 0.98 or board.explained(each) > 0.5:
        return False
    days = pl.DataFrame({"day": days_of(board.day), "text": each.texts}).drop_nulls()
    per_day = days.group_by("day").agg(pl.col("text").n_unique().alias("distinct"))
    low, high = each.quantile(0.02), each.quantile(0.98)
    is_steady = high <= 1.2 * low
    return per_day.height > FEW and is_steady and bool((per_day["distinct"] == 1).all())


def _plate_share(each: Profile) -> float:
    """Share of the numbers that plates give; what was converted hardly ever is one."""
    whole = sum(times for value, times in each.values.items() if value * 4 % 1 == 0)
    return whole / max(sum(each.values.values()), 1)


def _converts(one: Profile, other: Profile) -> bool:
    """Whether two columns hold one load in two units, line by line."""
    frame = pl.DataFrame({"one": numbers_of(one), "other": numbers_of(other)}).drop_nulls()
    frame = frame.filter((pl.col("one") > 10) & (pl.col("other") > 10))
    if frame.height < FEW:
        return False
    ratio = frame.select((pl.col("one") / pl.col("other")).median()).item()
    return any(abs(ratio / each - 1) < 0.03 for each in (KG_PER_LB, 1 / KG_PER_LB))


def _reps_score(each: Profile) -> float:
    """How much like repetitions the numbers are: 0 to 1."""
    if each.within(0, REPS_MOST, whole=True) < 0.97 or each.number_share < 0.8:
        return 0.0
    usual = each.within(3, 20)
    zeros = each.within(0, 0)
    return 0.7 * usual + 0.3 * min(len(each.values) / 5, 1) - zeros

"""In which layout an unknown export holds its sets, and by which columns."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace

import polars as pl

from pipeline.drafting.column_profiles import Profile
from pipeline.drafting.draft import REPS_MOST, Board, fits, numbers_of, reps_fit
from pipeline.drafting.effort import effort_reading
from pipeline.drafting.guesses import GUESS_FROM
from pipeline.drafting.header_words import SURE
from pipeline.drafting.loads_and_reps import by_cells, load_by_cells, load_column, numberings
from pipeline.reading.layouts import reps_lists
from pipeline.reading.noted_sets import NotationError
from pipeline.settings.mapping import SETS_COLUMN

_NUMBERED = (
    "reps",
    "load",
    "rir",
    "rpe",
    "effort",
    "partial_reps",
    "to_failure",
    "side",
    "load_unit",
    "set_kind",
    "warmup",
)


def takes_wide(board: Board) -> bool:
    """Numbered columns, if there are any that hold sets."""
    groups: dict[str, list[Profile]] = defaultdict(list)
    for each in board.free():
        if each.header.pattern is not None:
            groups[each.header.pattern].append(each)
    joined = {
        pattern: merged(pattern, found)
        for pattern, found in groups.items()
        if len({each.header.number for each in found}) > 1
    }
    lists = [pattern for pattern, each in joined.items() if each.notation_share >= 0.5]
    if lists:
        board.rows = "exercises"
        _take_numbered(board, lists[0], SETS_COLUMN, joined, groups, 0.9, "lists of sets")
        board.loads = [joined[lists[0]]]
        return True
    chosen: dict[str, str] = {}
    for pattern, each in joined.items():
        for name in _NUMBERED:
            is_named = each.header.strength(name) >= SURE and name not in chosen
            is_best = each.header.strength(name) >= each.header.strength(*each.header.strengths)
            if is_named and is_best and fits(each, name):
                chosen[name] = pattern
                break
    unknown = [
        pattern
        for pattern, each in joined.items()
        if pattern not in chosen.values()
        and (each.header.says_nothing or each.header.strength("sets", "set_no") >= SURE)
        and each.number_share >= 0.8
    ]
    wholes = [each for each in unknown if joined[each].within(1, REPS_MOST, whole=True) > 0.95]
    has_reps = bool(board.headed(("reps",), reps_fit, 0.6))
    if "reps" not in chosen and wholes and not has_reps:
        chosen["reps"] = wholes[0]
        unknown.remove(wholes[0])
    if "reps" not in chosen:
        return False
    if "load" not in chosen and unknown:
        chosen["load"] = unknown[0]
    board.rows = "wide"
    effort = chosen.pop("effort", None)
    for name, pattern in chosen.items():
        key = "set_kind" if name == "warmup" else name
        _take_numbered(board, pattern, key, joined, groups, 0.93, "numbered columns")
        if name == "load":
            board.loads = [joined[pattern]]
        board.translate(name, joined[pattern])
    if effort is not None:
        effort_reading(board, joined[effort], groups[effort], pattern=effort)
    if "load" not in chosen:
        load_column(board)
    return True


def _take_numbered(
    board: Board,
    pattern: str,
    key: str,
    joined: dict[str, Profile],
    groups: dict[str, list[Profile]],
    confidence: float,
    why: str,
) -> None:
    numbers = sorted(each.header.number or 0 for each in groups[pattern])
    board.take(key, joined[pattern], confidence, f"{why} {numbers[0]} to {numbers[-1]}", pattern)
    for each in board.profiles:
        if each.header.pattern == pattern:
            board.taken[each.name] = key


def takes_listed(board: Board) -> bool:
    """A cell that lists the sets, with or without loads in it."""
    noted = [
        each
        for each in board.free()
        if each.notation_share >= 0.5 and each.header.strength("notes") < SURE
    ]
    noted.sort(key=lambda each: (-each.header.strength("sets"), -each.notation_share))
    if noted:
        board.rows = "exercises"
        best = noted[0]
        board.take(
            SETS_COLUMN,
            best,
            0.75 + 0.2 * best.notation_share,
            f"{best.notation_share:.0%} of its cells list sets with loads",
        )
        board.loads = [best]
        return True
    lists = [
        each
        for each in board.free()
        if each.header.strength("reps", "sets", "set_no") >= SURE or each.header.says_nothing
    ]
    lists = [each for each in lists if _lists_reps(board, each)]
    lists.sort(key=lambda each: (-each.header.strength("reps", "sets"), -each.list_share))
    if not lists:
        return False
    board.rows = "exercises"
    best = lists[0]
    board.take(SETS_COLUMN, best, 0.85, f"{best.list_share:.0%} of its cells list repetitions")
    if not load_column(board):
        board.guess("constants", "load", "bw", GUESS_FROM, "no column holds loads")
    _check_counts(board, best)
    return True


def _check_counts(board: Board, lists: Profile) -> None:
    """Asks where a column of set counts says another number than the cells list."""
    for each in board.headed(("set_count", "sets"), lambda each: each.number_share, 0.9):
        listed = {
            text: len(found)
            for text, found in reps_lists(list(lists.counts)).items()
            if not isinstance(found, NotationError)
        }
        lengths = lists.texts.replace_strict(
            list(listed), list(listed.values()), default=None, return_dtype=pl.Float64
        )
        frame = pl.DataFrame({"lists": lengths, "counts": numbers_of(each)})
        differing = frame.filter(pl.col("lists") != pl.col("counts")).height
        if differing:
            board.guesses = [one for one in board.guesses if one.key != SETS_COLUMN]
            board.ask(
                "columns",
                [(SETS_COLUMN, lists.name)],
                f"in {differing} lines '{lists.name}' lists another number of sets than "
                f"'{each.name}' says; so they would load as listed",
            )
        board.said[each.name] = f"'{lists.name}' lists the sets"
        return


def _lists_reps(board: Board, each: Profile) -> bool:
    """Whether cells list reps; two numbers with a comma may be one number."""
    if each.list_share < 0.3 or each.list_share + each.within(1, 100, whole=True) < 0.8:
        return False
    plain = re.compile(r"[0-9]+[,.][0-9]+")
    return each.share(lambda text: bool(plain.fullmatch(text))) < 0.8 * each.list_share


def take_sets(board: Board) -> None:
    """A row is one set, or several alike."""
    numberings(board)
    reps = board.headed(("reps",), reps_fit, 0.6)
    if not reps:
        by_cells(board)
        return
    chosen = board.only("reps", reps)
    if chosen is not None:
        share = reps_fit(chosen)
        board.take(
            "reps",
            chosen,
            0.5 + 0.3 * chosen.header.strength("reps") + 0.19 * share,
            f"{share:.0%} of its cells are whole numbers up to 100",
        )
        board.translate("reps", chosen)
    if not load_column(board):
        load_by_cells(board)


def merged(pattern: str, columns: list[Profile]) -> Profile:
    """Numbered columns as one."""
    counts: dict[str, int] = defaultdict(int)
    for each in columns:
        for text, times in each.counts.items():
            counts[text] += times
    first = columns[0]
    return replace(
        first,
        name=pattern,
        texts=pl.concat([each.texts.rename("text") for each in columns]),
        counts=dict(sorted(counts.items(), key=lambda item: (-item[1], item[0]))),
    )

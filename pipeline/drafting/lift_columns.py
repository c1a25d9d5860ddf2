"""Exports whose columns are exercises, or the two sides of a set."""

from __future__ import annotations

import re
from collections import defaultdict

from pipeline.drafting.column_profiles import Profile
from pipeline.drafting.draft import Board, fits, reps_fit
from pipeline.drafting.header_words import SURE, header_reading
from pipeline.drafting.loads_and_reps import load_column
from pipeline.drafting.set_layouts import merged
from pipeline.errors import ExportError
from pipeline.settings.mapping import EXERCISE_MARK, SETS_COLUMN, SIDE_MARK

_WORD = re.compile(r"[^\W\d_]+")
_SIDED = ("reps", "load", "rir", "rpe")


def takes_days(board: Board) -> bool:
    """A row a day and a column an exercise, whose cells list the sets."""
    catalogue = board.profiles[0].catalogue
    named = [each for each in board.free() if catalogue.resolve(each.name).how != "unknown"]
    if len(named) < 2:
        return False
    listing = [each for each in board.free() if each.notation_share >= 0.5]
    exercises = [each for each in named if each in listing]
    if len(exercises) < 2:
        if any(each.known_share >= 0.3 for each in board.free()):
            return False
        listed = ", ".join(f"'{each.name}'" for each in named[:3])
        raise ExportError(
            f"{board.shown}: its columns are exercises ({listed}), but their cells do not list "
            "sets such as 80x8, 75x10; write one line a set with the exercise in a column."
        )
    board.rows = "days"
    share = sum(each.notation_share for each in listing) / len(listing)
    board.guess(
        "columns",
        SETS_COLUMN,
        EXERCISE_MARK,
        0.7 + 0.25 * share,
        f"{len(named)} of its columns are named as exercises, and their cells list sets",
    )
    for each in listing:
        board.taken[each.name] = SETS_COLUMN
    board.loads = [merged(f"{listing[0].name}, …", listing)]
    return True


def skip_others(board: Board) -> None:
    """In a file whose columns are exercises: those that are none, so that later ones are."""
    others = [each.name for each in board.profiles if each.name not in board.taken]
    if board.rows == "days" and others:
        board.guess("layout", "skip_columns", others, 0.85, "they list no sets")


def takes_sides(board: Board) -> bool:
    """Columns of the left and of the right side, such as "Reps left" and "Reps right"."""
    groups: dict[str, dict[str, Profile]] = defaultdict(dict)
    words: dict[str, str] = {}
    for each in board.free():
        for match in _WORD.finditer(each.name):
            sides = each.vocabulary.meanings(match[0]) & {"left", "right"}
            if len(sides) == 1:
                pattern = f"{each.name[: match.start()]}{SIDE_MARK}{each.name[match.end() :]}"
                groups[pattern].setdefault(match[0], each)
                words[match[0]] = sides.pop()
    pairs = {
        pattern: found
        for pattern, found in groups.items()
        if sorted(words[word] for word in found) == ["left", "right"]
    }
    chosen: dict[str, str] = {}
    for pattern, found in pairs.items():
        reading = header_reading(pattern.replace(SIDE_MARK, " ").strip(" ()[]"))
        for name in _SIDED:
            both = list(found.values())
            fitting = all(
                reps_fit(each) >= 0.6 if name == "reps" else fits(each, name) for each in both
            )
            if reading.strength(name) >= SURE and fitting and name not in chosen:
                chosen[name] = pattern
                break
    if "reps" not in chosen:
        return False
    board.rows = "wide"
    for name, pattern in chosen.items():
        found = pairs[pattern]
        both = list(found.values())
        one = merged(pattern, both)
        board.take(name, one, 0.9, f"a column for each side, {' and '.join(found)}", pattern)
        for each in both:
            board.taken[each.name] = name
        if name == "load":
            board.loads = [one]
        board.translate(name, one)
    for word in pairs[chosen["reps"]]:
        board.guess("values.side", word, words[word], 0.9, "its word in the ledger")
    if "load" not in chosen:
        load_column(board)
    return True

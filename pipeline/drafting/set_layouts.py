"""In which layout an unknown export holds its sets, and by which columns."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace

import polars as pl

from pipeline.drafting.column_profiles import Column
from pipeline.drafting.draft import GUESS_FROM, REPS_MOST, Draft, fits, numbers_of, reps_fit
from pipeline.drafting.effort import take_effort
from pipeline.drafting.header_words import LOOKED_AT, SURE, header_reading
from pipeline.drafting.loads_and_reps import (
    take_load,
    take_load_by_cells,
    take_reps_and_load_by_cells,
    take_set_numbers,
)
from pipeline.errors import ExportError
from pipeline.reading.layouts import load_parts, reps_lists
from pipeline.reading.noted_sets import NotationError
from pipeline.settings.mapping import EXERCISE_MARK, SETS_COLUMN, SIDE_MARK

_WORD = re.compile(r"[^\W\d_]+")
_SIDED = ("reps", "load", "rir", "rpe")
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


def takes_wide(draft: Draft) -> bool:
    """Numbered columns, if there are any that hold sets."""
    groups: dict[str, list[Column]] = defaultdict(list)
    for each in draft.free():
        if each.header.pattern is not None:
            groups[each.header.pattern].append(each)
    joined = {
        pattern: merged_columns(pattern, found)
        for pattern, found in groups.items()
        if len({each.header.number for each in found}) > 1
    }
    lists = [pattern for pattern, each in joined.items() if each.notation_share >= 0.5]
    if lists:
        draft.rows = "exercises"
        _take_numbered(draft, lists[0], SETS_COLUMN, joined, groups, 0.9, "lists of sets")
        draft.loads = [joined[lists[0]]]
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
    has_reps = bool(draft.headed(("reps",), reps_fit, 0.6))
    if "reps" not in chosen and wholes and not has_reps:
        chosen["reps"] = wholes[0]
        unknown.remove(wholes[0])
    if "reps" not in chosen:
        return False
    if "load" not in chosen and unknown:
        chosen["load"] = unknown[0]
    draft.rows = "wide"
    effort = chosen.pop("effort", None)
    for name, pattern in chosen.items():
        key = "set_kind" if name == "warmup" else name
        _take_numbered(draft, pattern, key, joined, groups, 0.93, "numbered columns")
        if name == "load":
            draft.loads = [joined[pattern]]
        draft.translate(name, joined[pattern])
    if effort is not None:
        take_effort(draft, joined[effort], groups[effort], pattern=effort)
    if "load" not in chosen:
        take_load(draft)
    return True


def _take_numbered(
    draft: Draft,
    pattern: str,
    key: str,
    joined: dict[str, Column],
    groups: dict[str, list[Column]],
    confidence: float,
    why: str,
) -> None:
    numbers = sorted(each.header.number or 0 for each in groups[pattern])
    draft.take(key, joined[pattern], confidence, f"{why} {numbers[0]} to {numbers[-1]}", pattern)
    for each in draft.columns:
        if each.header.pattern == pattern:
            draft.taken[each.name] = key


def takes_listed(draft: Draft) -> bool:
    """A cell that lists the sets, with or without loads in it."""
    noted = [
        each
        for each in draft.free()
        if each.notation_share >= _least_noted(each) and each.header.strength("notes") < SURE
    ]
    noted.sort(key=lambda each: (-each.header.strength("sets"), -each.notation_share))
    if noted:
        draft.rows = "exercises"
        best = noted[0]
        draft.take(
            SETS_COLUMN,
            best,
            0.75 + 0.2 * best.notation_share,
            f"{best.notation_share:.0%} of its cells list sets with loads",
        )
        draft.loads = [best]
        return True
    lists = [
        each
        for each in draft.free()
        if each.header.strength("reps", "sets", "set_no") >= SURE or each.header.says_nothing
    ]
    lists = [each for each in lists if _lists_reps(draft, each)]
    lists.sort(key=lambda each: (-each.header.strength("reps", "sets"), -each.list_share))
    if not lists:
        return False
    draft.rows = "exercises"
    best = lists[0]
    draft.take(SETS_COLUMN, best, 0.85, f"{best.list_share:.0%} of its cells list repetitions")
    if not (take_load(draft) or _takes_listed_loads(draft)):
        draft.guess("constants", "load", "bw", GUESS_FROM, "no column holds loads")
    _check_counts(draft, best)
    return True


def _least_noted(column: Column) -> float:
    """Share of the cells that must be read as sets: less where header and cells look like them."""
    is_called = column.header.strength("sets") >= SURE
    return 0.2 if is_called and column.set_like_share >= 0.5 else 0.5


def _takes_listed_loads(draft: Draft) -> bool:
    """A column that lists a load for each of the sets, as "80 / 80 / 75"."""
    for each in draft.headed(("load",), lambda each: 1.0 - each.number_share, 0.5):
        parts: dict[str, int] = defaultdict(int)
        for text, times in each.counts.items():
            for part in load_parts(text):
                parts[part] += times
        one = replace(each, counts=dict(parts))
        if one.number_share >= 0.9:
            draft.take("load", each, 0.85, "its cells list a load for each set")
            draft.loads = [one]
            draft.translate("load", one)
            return True
    return False


def _check_counts(draft: Draft, lists: Column) -> None:
    """Asks where a column of set counts says another number than the cells list."""
    for each in draft.headed(("set_count", "sets"), lambda each: each.number_share, 0.9):
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
            draft.guesses = [one for one in draft.guesses if one.key != SETS_COLUMN]
            draft.ask(
                "columns",
                [(SETS_COLUMN, lists.name)],
                f"in {differing} lines '{lists.name}' lists another number of sets than "
                f"'{each.name}' says; so they would load as listed",
            )
        draft.unread_because[each.name] = f"'{lists.name}' lists the sets"
        return


def _lists_reps(draft: Draft, column: Column) -> bool:
    """Whether cells list reps; two numbers with a comma may be one number."""
    if column.list_share < 0.3 or column.list_share + column.within(1, 100, whole=True) < 0.8:
        return False
    plain = re.compile(r"[0-9]+[,.][0-9]+")
    return column.share(lambda text: bool(plain.fullmatch(text))) < 0.8 * column.list_share


def take_sets(draft: Draft) -> None:
    """A row is one set, or several alike."""
    take_set_numbers(draft)
    reps = draft.headed(("reps",), reps_fit, 0.6)
    if not reps:
        take_reps_and_load_by_cells(draft)
        return
    chosen = draft.best_or_ask("reps", reps)
    if chosen is not None:
        share = reps_fit(chosen)
        draft.take(
            "reps",
            chosen,
            0.5 + 0.3 * chosen.header.strength("reps") + 0.19 * share,
            f"{share:.0%} of its cells are whole numbers up to 100",
        )
        draft.translate("reps", chosen)
    if not take_load(draft):
        take_load_by_cells(draft)


def merged_columns(pattern: str, columns: list[Column]) -> Column:
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


def takes_days(draft: Draft) -> bool:
    """A row a day and a column an exercise, whose cells list the sets."""
    catalogue = draft.columns[0].catalogue
    named = [each for each in draft.free() if catalogue.resolve(each.name).how != "unknown"]
    if len(named) < 2:
        return False
    listing = [each for each in draft.free() if each.notation_share >= 0.5]
    exercises = [each for each in named if each in listing]
    if len(exercises) < 2:
        if any(each.known_share >= 0.3 for each in draft.free()):
            return False
        listed = ", ".join(f"'{each.name}'" for each in named[:3])
        raise ExportError(
            f"{draft.shown}: its columns are exercises ({listed}), but their cells do not list "
            "sets such as 80x8, 75x10; write one line a set with the exercise in a column."
        )
    draft.rows = "days"
    share = sum(each.notation_share for each in listing) / len(listing)
    draft.guess(
        "columns",
        SETS_COLUMN,
        EXERCISE_MARK,
        0.7 + 0.25 * share,
        f"{len(named)} of its columns are named as exercises, and their cells list sets",
    )
    for each in listing:
        draft.taken[each.name] = SETS_COLUMN
    draft.loads = [merged_columns(f"{listing[0].name}, …", listing)]
    return True


def skip_others(draft: Draft) -> None:
    """In a file whose columns are exercises: those that are none, so that later ones are."""
    others = [each.name for each in draft.columns if each.name not in draft.taken]
    if draft.rows == "days" and others:
        draft.guess("layout", "skip_columns", others, 0.85, "they list no sets")


def takes_sides(draft: Draft) -> bool:
    """Columns of the left and of the right side, such as "Reps left" and "Reps right"."""
    groups: dict[str, dict[str, Column]] = defaultdict(dict)
    words: dict[str, str] = {}
    for each in draft.free():
        for match in _WORD.finditer(each.name[:LOOKED_AT]):
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
    draft.rows = "wide"
    for name, pattern in chosen.items():
        found = pairs[pattern]
        both = list(found.values())
        one = merged_columns(pattern, both)
        draft.take(name, one, 0.9, f"a column for each side, {' and '.join(found)}", pattern)
        for each in both:
            draft.taken[each.name] = name
        if name == "load":
            draft.loads = [one]
        draft.translate(name, one)
    for word in pairs[chosen["reps"]]:
        draft.guess("values.side", word, words[word], 0.9, "its word in the ledger")
    if "load" not in chosen:
        take_load(draft)
    return True

"""What stands beside the sets: clock times, sides, notes, bodyweight, units, decimal marks."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable

import polars as pl

from pipeline.drafting.cell_words import BASES
from pipeline.drafting.column_profiles import Column
from pipeline.drafting.draft import FEW, GUESS_FROM, Draft, days_of
from pipeline.drafting.header_words import OTHER, SURE
from pipeline.drafting.units import plausible_unit, told_unit
from pipeline.drafting.who_when_what import take_date_format
from pipeline.names.spelling import fold
from pipeline.reading.noted_sets import NotationError
from pipeline.reading.set_notation import parse_column
from pipeline.reading.word_lists import words
from pipeline.units import Unit

_EQUIPMENT = words("equipment")
_SESSION_WORDS = re.compile(rf"\b(?:{'|'.join(sorted(words('session')))})\b", re.IGNORECASE)


def find_other_fields(draft: Draft) -> None:
    _find_start(draft)
    _find_marked(draft, "side", ("left", "right", "both"), is_by_cells=True)
    _find_marked(draft, "load_unit", ("kg", "lb"), is_by_cells=True)
    _find_marked(draft, "load_basis", BASES, is_by_cells=False)
    if "to_failure" not in {each.key for each in draft.guesses if each.section == "columns"}:
        _find_marked(draft, "to_failure", ("true", "false"), is_by_cells=False)
    take_first(draft, "partial_reps", lambda each: each.number_share * each.within(0, 100), 0.7)
    take_first(draft, "bodyweight", lambda each: each.number_share * each.within(30, 400), 0.7)
    take_first(draft, "notes", lambda each: 1.0 - each.number_share, 0.5)
    _find_names(draft)


def take_first(draft: Draft, key: str, fits: Callable[[Column], float], least: float) -> None:
    found = draft.headed((key,), fits, least)
    if found and key not in draft.taken.values():
        draft.take(key, found[0], 0.6 + 0.35 * found[0].header.strength(key))
        if key == "bodyweight" and found[0].header.unit:
            unit = found[0].header.unit
            draft.guess("formats", "bodyweight_unit", unit, 0.98, "the header names it")


def _find_start(draft: Draft) -> None:
    if draft.day is not None and draft.day.days is not None and draft.day.days.has_clock:
        return
    found = draft.headed(
        ("started_at", "performed_on"),
        lambda each: max(
            each.clock_share * _waking_share(each),
            each.days.share if each.days and each.days.has_clock else 0.0,
        ),
        0.8,
    )
    if not found:
        found = [
            each
            for each in draft.free()
            if each.header.says_nothing and each.clock_share >= 0.9 and _waking_share(each) >= 0.95
        ]
    sessions = [each for each in found if _begins_sessions(draft, each)]
    for each in sessions:
        draft.unread_because[each.name] = (
            "one time a day, when the session began; as a start time it would make alike sets "
            "one line twice"
        )
    found = [each for each in found if each not in sessions]
    if found:
        draft.take("started_at", found[0], 0.9, "clock times")
        if found[0].days is not None and found[0].clock_share < 0.5:
            take_date_format(draft, found[0], "started_at")


def _begins_sessions(draft: Draft, column: Column) -> bool:
    """Whether the sets of a day mostly share their time: the session's, not their own."""
    if draft.day is None:
        return False
    frame = pl.DataFrame({"day": days_of(draft.day).forward_fill(), "time": column.texts})
    days = (
        frame.drop_nulls()
        .group_by("day")
        .agg(pl.len().alias("lines"), pl.col("time").n_unique().alias("times"))
        .filter(pl.col("lines") > 1)
    )
    return days.height > 0 and bool((days["times"] == 1).sum() > 0.5 * days.height)


def _find_marked(draft: Draft, key: str, meanings: tuple[str, ...], *, is_by_cells: bool) -> None:
    if key in draft.taken.values():
        return
    found = draft.headed((key,), lambda each: each.mark_share(*meanings), 0.7)
    if not found and is_by_cells:
        found = [
            each
            for each in draft.free()
            if each.header.says_nothing
            and each.is_text
            and each.mark_share(*meanings) >= 0.95
            and (key != "side" or (each.mark_share("left") and each.mark_share("right")))
        ]
    if found:
        draft.take(
            key,
            found[0],
            0.9,
            f"{found[0].mark_share(*meanings):.0%} of its cells are {' or '.join(meanings)}",
        )
        draft.translate(key, found[0])


def _find_names(draft: Draft) -> None:
    """A column "Name" beside the exercise, or nameless words: whose sets, or a session?"""
    if draft.client is not None or "client" in draft.taken.values():
        return
    for each in draft.free():
        is_called = each.header.strength("name") >= SURE
        is_silent = each.header.says_nothing and not draft.sniffed.has_header
        if not (is_called or is_silent) or not each.is_text or len(each.counts) < 2:
            continue
        if (
            each.filled_share > 0.9
            and each.share(lambda text: _is_person(draft, text)) > 0.9
            and len(each.counts) <= 60
        ):
            if is_called and _shares_days(draft, each):
                draft.client = each
                draft.take("client", each, 0.85, "several names on most days: no sessions")
                return
            draft.ask(
                "columns",
                [("client", each.name), ("notes", each.name)],
                f"column '{each.name}' may name whose sets these are, or a session",
            )
            draft.taken[each.name] = "client"
            return


def _shares_days(draft: Draft, column: Column) -> bool:
    """Whether most days have lines of several names: of people, as a day is hardly two sessions."""
    if draft.day is None or "performed_on" not in draft.taken.values():
        return False
    days = draft.day.texts.forward_fill()
    frame = pl.DataFrame({"day": days, "name": column.texts.forward_fill()}).drop_nulls()
    names = frame.group_by("day").agg(pl.col("name").n_unique())["name"]
    return names.len() >= FEW and bool((names > 1).mean() > 0.5)  # type: ignore[operator]


def _is_person(draft: Draft, text: str) -> bool:
    """Whether a text looks like a person's name: one to four capitalised words."""
    words = text.replace("-", " ").split()
    muscles = draft.columns[0].catalogue.muscles
    known = {fold(each.label) for each in muscles} | {each.body_part for each in muscles}
    return (
        1 <= len(words) <= 4
        and all(word[0].isupper() and word.rstrip(".").isalpha() for word in words)
        and not _SESSION_WORDS.search(text)
        and fold(text) not in known
    )


def find_load_unit(draft: Draft) -> None:
    _find_load_unit(draft)
    _find_bodyweight_unit(draft)


def _find_bodyweight_unit(draft: Draft) -> None:
    """The unit of bare bodyweights, where neither their header nor that of the loads tells it."""
    body = next(
        (each for each in draft.columns if draft.taken.get(each.name) == "bodyweight"), None
    )
    formats = {each.key for each in draft.guesses if each.section == "formats"}
    asked = {key for each in draft.opens for key, _ in each.readings}
    if body is None or {"load_unit", "bodyweight_unit"} & (formats | asked):
        return
    if all(number.unit for number in body.numbers.values()):
        return
    _, units, _ = _load_cells(draft)
    if len(units) == 1:
        unit = units.pop()
        draft.guess("formats", "bodyweight_unit", unit, 0.85, "the loads are in it")
    else:
        draft.ask(
            "formats",
            [("bodyweight_unit", "kg"), ("bodyweight_unit", "lb")],
            f"column '{body.name}' says neither kg nor lb",
        )


def _find_load_unit(draft: Draft) -> None:
    if not draft.loads or "load_unit" in draft.taken.values():
        return
    named = {each.header.unit for each in draft.loads} - {None}
    bare, units, values = _load_cells(draft)
    if len(named) == 1 and len(draft.loads) == 1:
        _unit(draft, named.pop(), 0.98, "the header names it")
    elif not bare:
        return
    elif len(units) == 1:
        _unit(draft, units.pop(), 0.85, "the cells that name a unit name this one")
    elif not units:
        _unit_elsewhere(draft, values)
    else:
        _ask_unit(draft, "its cells name both kg and lb, and some name none")


def _unit(draft: Draft, unit: Unit | None, confidence: float, reason: str) -> None:
    draft.guess("formats", "load_unit", unit or "kg", confidence, reason)


def _ask_unit(draft: Draft, reason: str, first: Unit = "kg") -> None:
    listed = " or ".join(f"'{each.name}'" for each in draft.loads)
    second: Unit = "lb" if first == "kg" else "kg"
    draft.ask(
        "formats", [("load_unit", first), ("load_unit", second)], f"column {listed}: {reason}"
    )


def _unit_elsewhere(draft: Draft, values: dict[float, int]) -> None:
    told = told_unit(draft.sniffed.preamble)
    others = {each.header.unit for each in draft.columns if each not in draft.loads} - {None}
    if told is not None:
        _unit(draft, told, 0.85, "a line above the header names it")
    elif len(others) == 1:
        _unit(draft, others.pop(), 0.85, "another column's header names it")
    else:
        has_comma = draft.decimal_marks.get(",", 0) > draft.decimal_marks.get(".", 0)
        unit, confidence, reason = plausible_unit(values, draft.languages, has_comma)
        if confidence >= GUESS_FROM:
            _unit(draft, unit, confidence, f"a guess: {reason}")
        else:
            _ask_unit(draft, f"it says neither kg nor lb; {reason}", unit)


def _load_cells(draft: Draft) -> tuple[bool, set[Unit], dict[float, int]]:
    """Whether some load names no unit, the units that cells name, and the bare loads."""
    units: set[Unit] = set()
    values: dict[float, int] = defaultdict(int)
    for each in draft.loads:
        if each.notation_share >= 0.5:
            for cell, found in parse_column(each.counts).items():
                for noted in () if isinstance(found, NotationError) else found:
                    if noted.unit:
                        units.add(noted.unit)
                    elif noted.load:
                        values[noted.load] += each.counts[cell]
            continue
        for text, number in each.numbers.items():
            if number.unit:
                units.add(number.unit)
            elif number.value:
                values[number.value] += each.counts[text]
    return bool(values), units, values


def find_decimal_mark(draft: Draft) -> None:
    marks = {mark: times for mark, times in draft.decimal_marks.items() if times}
    if (
        len(marks) == 1
        and draft.rows not in ("exercises", "days")
        and draft.sniffed.delimiter not in marks
    ):
        mark, times = next(iter(marks.items()))
        named = "comma" if mark == "," else "point"
        draft.guess("file", "decimal", mark, 0.97, f"{times} different numbers have a {named}")
        return
    grouped = re.compile(r"[1-9],[0-9]{3}")
    for each in draft.loads if not marks else ():
        shown = [text for text in each.counts if grouped.fullmatch(text)]
        if shown:
            draft.ask(
                "file",
                [("decimal", "."), ("decimal", ",")],
                f"column '{each.name}': '{shown[0]}' may be a thousand or a decimal",
            )
            return


def describe_file(draft: Draft) -> None:
    found = draft.sniffed
    draft.guess("file", "encoding", _lasting(found.encoding), 0.97, found.encoding_reason)
    draft.guess(
        "file",
        "delimiter",
        found.delimiter,
        0.8 + 0.19 * found.delimiter_share,
        f"{found.delimiter_share:.0%} of the lines have the same number of cells",
    )
    if found.quote != '"':
        draft.guess("file", "quote", found.quote, 0.9, "cells stand between such marks")


def why_unread(draft: Draft, column: Column) -> str:
    if not column.counts:
        return "it is empty"
    header = column.header
    if header.strength("load", "reps") >= SURE:
        return "another column fills the field"
    if set(re.findall(r"\w+", header.name.casefold())) & _EQUIPMENT:
        return (
            "names are not joined with it; if it tells a dumbbell from a barbell lift, say so "
            "under [values.exercise]"
        )
    if header.strength(OTHER) >= SURE:
        return "nothing that the ledger holds"
    if header.says_nothing:
        return "its header and its cells tell nothing that the ledger holds"
    return "its cells do not fit what its header says, or another column fills the field"


def _waking_share(column: Column) -> float:
    """Share of clock times between 4 and 24 o'clock: durations are mostly shorter."""
    return column.share(
        lambda text: (
            (match := re.match(r"\d{1,2}", text)) is not None
            and (int(match[0]) >= 4 or "p" in text.casefold())
        ),
        300,
    )


def _lasting(encoding: str) -> str:
    """The encoding for later exports too: a byte order mark is read past anyway."""
    return {"utf-8-sig": "utf-8", "iso8859-1": "latin-1"}.get(encoding, encoding)

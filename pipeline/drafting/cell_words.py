"""Cells that are words or unplain numbers, and what the ledger is to read for them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from pipeline.drafting.column_profiles import Column, inner_number, is_blank_mark
from pipeline.drafting.header_words import LANGUAGES, header_reading
from pipeline.names.spelling import fold
from pipeline.reading.notation_words import OWN_WEIGHT

Table = dict[str, tuple[str, str]]
"""Export value to ledger value and the reason."""

_MOST = 60
_MOST_ASKED = 8
_BLANKS_ARE_WORK = 0.98
_NUMBER_PART = re.compile(r"[0-9]+(?:[.,][0-9]+)?")
_OWN_WEIGHT = re.compile(OWN_WEIGHT)
_KINDS = ("warmup", "work", "extension")
_LABELS = 10
_SET_NUMBER = re.compile(r"(?:(?:set|satz|serie|s|nr|no) ?)?0*([1-9][0-9]?)")

BASES = ("total", "per_hand", "added", "assisted")
"""What a load may mean, as marks of a column say it."""


def number_values(column: Column, key: str) -> Table:
    """Texts of a number column that are no plain number: "RIR 2", "12 reps", "-", "PDC+10"."""
    odd = [
        text
        for text in column.counts
        if (text not in column.numbers or (key == "load" and _is_own_weight(text)))
        and not _is_open_ended(text)
    ]
    table: Table = {}
    for text in odd[: 4 * _MOST]:
        found = _number_value(column, key, text)
        if found is not None:
            table[text] = found
        if len(table) >= _MOST:
            break
    return table


def _is_own_weight(text: str) -> bool:
    """One's own weight in another word than the ledger's: read as it is, but shown to a person."""
    said = fold(text)
    return bool(_OWN_WEIGHT.match(said)) and not said.startswith(("bw", "body"))


def _is_open_ended(text: str) -> bool:
    """ "4+" is read as it stands."""
    return bool(re.fullmatch(r"[0-9]+\+", text))


def _number_value(column: Column, key: str, text: str) -> tuple[str, str] | None:
    if is_blank_mark(text):
        if key == "load":
            return "bw", "no load"
        return None if key == "reps" else ("", "an empty cell")
    if key == "load":
        return _load_value(column, text)
    words = _NUMBER_PART.sub(" ", text).strip(" @~:.=-–x×")
    number = inner_number(text)
    if key in ("rir", "rpe"):
        if "failure" in column.vocabulary.meanings(text):
            return ("0", "failure") if key == "rir" else ("10", "failure")
        is_ours = not words or header_reading(words).strength(key, "effort") > 0
        if number is not None and is_ours:
            return number, "the number in it"
        return None
    is_reps = not words or header_reading(words).strength("reps") > 0
    if number is not None and is_reps and len(_NUMBER_PART.findall(text)) == 1:
        return number, "the number in it"
    return None


def _load_value(column: Column, text: str) -> tuple[str, str] | None:
    meanings = column.vocabulary.meanings
    if "bw" in meanings(text):
        return "bw", "bodyweight alone"
    match = re.fullmatch(r"(?P<word>\D+?) ?(?P<sign>[+-]) ?(?P<rest>[0-9].*)", text)
    if match and "bw" in meanings(match["word"]):
        return f"bw{match['sign']}{match['rest']}", "beside bodyweight"
    match = re.fullmatch(r"(?P<number>[+-]?[0-9][0-9.,]*) ?(?P<word>[^\W\d_]+)\.?", text)
    if match:
        for unit in ("kg", "lb"):
            if unit in meanings(match["word"]):
                return f"{match['number']} {unit}", "its unit in the ledger's word"
    return None


def kind_readings(
    column: Column, languages: Sequence[str], by_loads: Mapping[str, str]
) -> tuple[Table, dict[str, list[str]]]:
    """Marks of the kind of a set with their meaning, and those that a person must settle.

    `by_loads` says which marks stand on the lighter sets before the others (warmup), and which
    on those others (work): that decides between two meanings of a letter.
    """
    read = {text: kinds_of(column, text, languages) for text in list(column.counts)[:_MOST]}
    clear = {next(iter(found)) for found in read.values() if len(found) == 1}
    if column.filled_share < _BLANKS_ARE_WORK:
        clear.add("work")
    told: Table = {}
    asked: dict[str, list[str]] = {}
    for text, found in read.items():
        shown = by_loads.get(text)
        left = found - (clear - {"extension"})
        if len(found) == 1:
            told[text] = (next(iter(found)), "a mark of it")
        elif is_blank_mark(text):
            told[text] = ("work", "no mark")
        elif shown in found:
            how = "lighter and before" if shown == "warmup" else "heavier and after"
            told[text] = (shown, f"its sets are {how} the others of their exercise")
        elif len(left) == 1 and shown is None:
            told[text] = (next(iter(left)), "the other marks leave this")
        elif len(asked) < _MOST_ASKED:
            asked[text] = sorted(found or _KINDS, key=lambda kind: kind != (shown or "work"))
    return told, asked


def kinds_of(column: Column, text: str, languages: Sequence[str]) -> set[str]:
    """What a mark may say of the kind of a set, in the file's languages or else in English."""
    found = column.vocabulary.meanings(text, languages or LANGUAGES)
    if not found & {*_KINDS, "failure"}:
        found = column.vocabulary.meanings(text, ("en",))
    kinds = found & set(_KINDS)
    return {"work"} if "failure" in found and not kinds else kinds


def failure_values(column: Column, languages: Sequence[str]) -> Table:
    """For a column of kinds some of which say "to failure": which marks do; empty if none does."""

    def says_failure(text: str) -> bool:
        found = column.vocabulary.meanings(text, (*languages, "en"))
        return "failure" in found and not found & set(_KINDS)

    if not any(says_failure(text) for text in column.counts):
        return {}
    return {
        text: ("true", "to failure") if says_failure(text) else ("false", "not said")
        for text in list(column.counts)[:_MOST]
    }


def flag_values(column: Column, kind: str, languages: Sequence[str]) -> Table:
    """For a column of yes and no: the kind of the lines that say yes, work for the others."""
    table: Table = {}
    for text in list(column.counts)[:_MOST]:
        found = column.vocabulary.meanings(text, (*languages, "en"))
        if "true" in found or kind in found:
            table[text] = (kind, "marked so")
        elif "false" in found or is_blank_mark(text):
            table[text] = ("work", "not marked")
    return table


def labelled_sets(column: Column, languages: Sequence[str]) -> tuple[Table, Table]:
    """A column of set numbers with marks such as W among them: set numbers, and kinds.

    Empty where some text is neither a number nor a mark of one kind.
    """
    numbers: Table = {}
    kinds: Table = {}
    for text in column.counts:
        number = _SET_NUMBER.fullmatch(fold(text))
        if number:
            kinds[text] = ("work", "a numbered set")
            if not text.isdecimal():
                numbers[text] = (number[1], "the number in it")
            continue
        found = kinds_of(column, text, languages)
        kind = found.pop() if len(found) == 1 else "warmup" if "warmup" in found else None
        if kind is None:
            return {}, {}
        numbers[text] = ("", "no number")
        kinds[text] = (kind, "a mark of it, among set numbers")
    counted = [text for text in kinds if _SET_NUMBER.fullmatch(fold(text))]
    if not counted or all(kind == "work" for kind, _ in kinds.values()):
        return {}, {}
    if not any(text.isdecimal() for text in kinds):
        return numbers, kinds
    for count in range(1, _LABELS + 1):
        kinds.setdefault(str(count), ("work", "a numbered set"))
    return numbers, kinds


def plain_values(column: Column, key: str, languages: Sequence[str]) -> Table:
    """Words of a side, unit or yes-and-no column in the ledger's own."""
    wanted = {"side": ("left", "right", "both"), "load_unit": ("kg", "lb"),
              "to_failure": ("true", "false"),
              "load_basis": BASES}[key]  # fmt: skip
    table: Table = {}
    for text in list(column.counts)[:_MOST]:
        for spoken in (languages, LANGUAGES):
            found = [mark for mark in wanted if mark in column.vocabulary.meanings(text, spoken)]
            if len(found) == 1:
                table[text] = (found[0], "its word in the ledger")
                break
    return table

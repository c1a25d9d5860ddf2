"""Words of sets written in a cell: own weight, kinds of sets, failure, repetitions.

They stand in sql/seeds/, in seven languages: value_words.csv, mark_words.csv, header_words.csv.
Texts are compared as `folded` leaves them: lower case, without accents.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from typing import cast

from pipeline.reading.noted_sets import Kind
from pipeline.resources import seed_rows

_TOO_SHORT = 2
"""A mark of fewer letters may mean several things; only those listed in _LETTERS count."""

_LETTERS = {"w", "f"}


def folded(text: str) -> str:
    """Lower case, without accents, signs in one form; spaces and line ends stay."""
    if text.isascii():
        return text.casefold()
    plain = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", text).casefold())
    return "".join(char for char in plain if not unicodedata.combining(char))


def _marks(*meanings: str) -> dict[str, set[str]]:
    """Each mark of some meanings with what it may mean."""
    found: dict[str, set[str]] = {}
    for row in seed_rows("mark_words.csv"):
        if row["mark"] in meanings:
            for each in row["words"].split("|"):
                found.setdefault(each, set()).add(row["mark"])
    return found


def _pattern(words: set[str]) -> str:
    """The words as one pattern: a word may end in a point, and points or signs may part words."""
    longest = sorted(words, key=lambda each: (-len(each), each))
    return "|".join(re.escape(each).replace(r"\ ", "[ .'’-]{1,2}") for each in longest)


def _own_weight() -> str:
    names = {row["words"] for row in seed_rows("value_words.csv") if row["means"] == "bw"}
    words = {each for listed in names for each in listed.split("|")}
    dotted = {r"\.".join(each) + r"\.?" for each in words if len(each) <= 3 and each != "kg"}
    # "kg" names one's own weight only where no number stands before it
    said = "|".join(filter(None, (_pattern(words - {"kg"}), *sorted(dotted))))
    return rf"(?:(?:{said})|(?<![0-9])(?<![0-9][ .,])kg)"


OWN_WEIGHT = _own_weight()
"""A pattern for one's own weight as the load."""

_KINDS = {
    mark: next(iter(means))
    for mark, means in _marks("warmup", "work", "extension", "failure").items()
    if len(means) == 1 and (len(mark) >= _TOO_SHORT or mark in _LETTERS)
} | {"w": "warmup"}
_FAILURES = {mark for mark, kind in _KINDS.items() if kind == "failure"} | {"amrap"}
_FAILURES -= {"fail", "failed"}  # of a repetition that was missed, perhaps
_COUNTED = {"set", "satz", "serie", "fail", "failed"}
"""Marks that in a cell may be followed by the number of a set."""

KIND_OF = {
    mark: cast("Kind", kind) for mark, kind in _KINDS.items() if mark not in _FAILURES | _COUNTED
}
"""Mark to the kind of set that it names and no other."""

KINDS = _pattern(set(KIND_OF))
FAILURES = _pattern(_FAILURES)
REPS = _pattern(
    {
        word
        for row in seed_rows("header_words.csv")
        if row["field"] == "reps"
        for word in row["words"].split("|")
        if " " not in word and len(word) > 1
    }
    - {"count", "times"}
)


def kind_of(mark: str) -> Kind:
    """The kind of set that a mark names, as the pattern KINDS found it."""
    return KIND_OF[" ".join(re.sub(r"[.'’-]", " ", mark).split())]


def with_own_words(cell: str, values: Mapping[str, Mapping[str, str]]) -> str:
    """A cell with the words of [values.load], .set_kind and .to_failure in those known here."""
    for word, means in _own_words(tuple((name, tuple(values[name].items())) for name in values)):
        cell = re.sub(word, means, cell, flags=re.IGNORECASE)
    return cell


@lru_cache(maxsize=64)
def _own_words(
    values: tuple[tuple[str, tuple[tuple[str, str], ...]], ...],
) -> tuple[tuple[str, str], ...]:
    """Patterns of words with what stands for them; the longest first."""
    told = {"warmup": "w ", "work": "work ", "extension": "drop "}
    found: dict[str, str] = {}
    for name, table in values:
        for word, means in table:
            shown = {
                "load": means,
                "set_kind": told.get(means, ""),
                "to_failure": "F" if means == "true" else "",
            }.get(name)
            if shown is not None and any(char.isalpha() for char in word):
                found[word] = shown
    longest = sorted(found, key=lambda each: (-len(each), each))
    return tuple(
        (rf"(?<![^\W\d_]){re.escape(word)}(?![^\W\d_])", found[word].replace("\\", r"\\"))
        for word in longest
    )

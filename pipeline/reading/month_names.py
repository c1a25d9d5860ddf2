"""Names of months and weekdays in seven languages, turned into the English that strptime reads.

They stand in sql/seeds/calendar_words.csv.
"""

from __future__ import annotations

import re
import unicodedata

from pipeline.resources import seed_rows

_ORDINAL = re.compile(r"\b([0-9]{1,2})(?:er|st|nd|rd|th|º|ª|°)(?=\W)")
_WORD = re.compile(r"[^\W\d_]+\.?")


def _names(part: str) -> dict[str, str]:
    return {
        word: row["name"]
        for row in seed_rows("calendar_words.csv")
        if row["part"] == part
        for word in row["words"].split("|")
    }


MONTHS = _names("month")
"""Folded month name or abbreviation to the English month."""

DAYS = _names("weekday")
"""Folded weekday name or abbreviation to the English weekday."""


def fold_name(word: str) -> str:
    """Lower case, without accents and without the point of an abbreviation."""
    plain = unicodedata.normalize("NFKD", word.casefold().rstrip("."))
    return "".join(letter for letter in plain if not unicodedata.combining(letter))


def in_english(text: str, pattern: str) -> str:
    """A text with the names that a pattern's %b, %B, %a and %A stand for in English.

    The word that is a weekday's name comes before the day or not at all, so the first word that
    can be one is taken for it if the pattern has a weekday.
    """
    wants_day = "%A" if "%A" in pattern else "%a" if "%a" in pattern else None
    wants_month = "%B" if "%B" in pattern else "%b" if "%b" in pattern else None

    def told(match: re.Match[str]) -> str:
        nonlocal wants_day, wants_month
        name = fold_name(match[0])
        if wants_day and name in DAYS:
            found = DAYS[name] if wants_day == "%A" else DAYS[name][:3]
            wants_day = None
            return found
        if wants_month and name in MONTHS:
            found = MONTHS[name] if wants_month == "%B" else MONTHS[name][:3]
            wants_month = None
            return found
        return match[0]

    return _WORD.sub(told, _ORDINAL.sub(r"\1", text))

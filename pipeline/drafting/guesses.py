"""What drafting found out, as frozen classes: guesses with reasons, and keys left open."""

from __future__ import annotations

from dataclasses import dataclass

Value = str | int | bool | list[str]

GUESS_FROM = 0.8
"""A reading of lower confidence is left for a person to choose."""


@dataclass(frozen=True)
class Guess:
    """A key of the mapping, how sure it is (0 to 1), and why."""

    section: str
    """Empty: a key before the first section."""
    key: str
    value: Value
    confidence: float
    reason: str


@dataclass(frozen=True)
class Open:
    """A key that a person must choose: readings that all fit."""

    section: str
    readings: tuple[tuple[str, Value], ...]
    """(key, value) of each reading, the likelier first."""
    reason: str
    """A phrase that names the column and what speaks for the readings."""


@dataclass(frozen=True)
class Unread:
    """A column that the mapping does not read, and why."""

    column: str
    reason: str

"""What header words and marks of unknown exports mean, in seven languages.

The words stand in sql/seeds/: header_words.csv, mark_words.csv and drafting_words.csv. Letters are
compared as `spelling.fold` leaves them: lower case, without accents and signs.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache, cached_property, lru_cache

from pipeline.names.spelling import fold
from pipeline.reading.word_lists import words
from pipeline.resources import seed_rows
from pipeline.units import Unit

LANGUAGES = {
    "en": "English",
    "de": "German",
    "fr": "French",
    "es": "Spanish",
    "pt": "Portuguese",
    "it": "Italian",
    "nl": "Dutch",
}

OTHER = "other"
"""Field of header words that name nothing the ledger holds: duration, weather, muscle group."""

EXACT, PART, LIKE = 1.0, 0.8, 0.7
"""Strength of a header that is a known word, contains one, or is spelled nearly like one."""

LOOKED_AT = 2_000
"""Letters of a header or a cell that drafting looks at; no log says with more what a column is."""

SURE = 0.6
"""From this strength on a header counts as naming a field."""

_UNITS: tuple[Unit, ...] = ("kg", "lb")
_UNIT_TOKENS = {token: unit for unit in _UNITS for token in words(unit)}
_FILLERS = words("filler")
_SET_TOKENS = words("set")
_CAMEL = re.compile(r"(?<=[a-zäöüß])(?=[A-Z])")
_BRACKETS = re.compile(r"[(\[{][^)\]}]*(?:[)\]}]|$)")
_ONE_RM = re.compile(r"\b[e]?\d+ ?(?:rm|wm)\b", re.IGNORECASE)
_WIDE_LETTERS = {
    letters: field for field in ("load", "reps") for letters in words(f"numbered {field}")
}
_SLIP_LENGTH = 5
_LONGEST = 60
_TAIL_LENGTH = 5


@dataclass(frozen=True)
class HeaderReading:
    """What one header says."""

    name: str
    strengths: dict[str, float] = field(default_factory=dict)
    """Field to strength, 0 to 1."""
    languages: frozenset[str] = frozenset()
    unit: Unit | None = None
    number: int | None = None
    """The number of a numbered column."""
    pattern: str | None = None
    """The header with "{n}" for its number."""

    def strength(self, *fields: str) -> float:
        """The highest strength among some fields."""
        return max((self.strengths.get(each, 0.0) for each in fields), default=0.0)

    @property
    def says_nothing(self) -> bool:
        """Whether no known word is in the header."""
        return not self.strengths


@dataclass(frozen=True)
class Vocabulary:
    """Folded words to what they mean, with the languages in which they do."""

    fields: dict[str, dict[str, frozenset[str]]]
    """Header word to field to languages."""
    marks: dict[str, dict[str, frozenset[str]]]
    """Mark to meaning to languages."""

    def header(self, name: str) -> HeaderReading:
        """What a header says: its field by words, its unit, its number."""
        number, pattern, bare = _numbered(name)
        reading = self._read(bare, is_numbered=number is not None)
        if number is not None and not reading.strengths:
            whole = self._read(name, is_numbered=False)
            if whole.strengths:
                reading = whole
        return HeaderReading(
            name, reading.strengths, reading.languages, reading.unit, number, pattern
        )

    def meanings(self, text: str, languages: Iterable[str] = LANGUAGES) -> set[str]:
        """What a mark may mean; a single letter only in one of the languages."""
        word = mark_word(text)
        bare = " ".join(each for each in word.split() if each not in _SET_TOKENS)
        found = self.marks.get(word) or self.marks.get(bare) or {}
        wanted = set(languages)
        return {
            meaning
            for meaning, where in found.items()
            if len(word) > 1 or not word.isalpha() or where & wanted
        }

    def _read(self, name: str, *, is_numbered: bool) -> HeaderReading:
        name = name[:LOOKED_AT]
        tokens = _tokens(name)
        units = {_UNIT_TOKENS[each] for each in tokens if each in _UNIT_TOKENS}
        unit = units.pop() if len(units) == 1 else None
        letters = [each for each in tokens if each in _WIDE_LETTERS]
        if is_numbered and len(tokens) <= 2 and letters:
            return HeaderReading(name, {_WIDE_LETTERS[letters[-1]]: LIKE}, unit=unit)
        for trial in self._trials(name, tokens, is_numbered):
            found = self.fields.get(" ".join(trial))
            if found:
                return self._reading(name, found, EXACT, unit)
        contained = self._contained([each for each in tokens if each not in _UNIT_TOKENS])
        if contained:
            return HeaderReading(name, contained[0], contained[1], unit)
        alike = self._alike(" ".join(each for each in tokens if each not in _UNIT_TOKENS))
        if alike:
            return self._reading(name, self.fields[alike], LIKE, unit)
        return HeaderReading(name, {"load": PART} if unit else {}, unit=unit)

    def _trials(self, name: str, tokens: list[str], is_numbered: bool) -> list[list[str]]:
        """Ways to read the header as one known word, the closest first."""
        bare = [each for each in tokens if each not in _UNIT_TOKENS]
        without = _tokens(_BRACKETS.sub(" ", name))
        plain = [each for each in without if each not in _UNIT_TOKENS]
        short = [each for each in plain if each not in _FILLERS]
        trials = [tokens, bare, without, plain, short]
        if is_numbered:
            rest = [each for each in tokens if each not in _SET_TOKENS]
            trials = [rest, [each for each in rest if each not in _UNIT_TOKENS], *trials]
        inside = _tokens(" ".join(_BRACKETS.findall(name)))
        trials.append([each for each in inside if each not in _UNIT_TOKENS])
        return [trial for trial in trials if trial]

    def _reading(
        self, name: str, found: dict[str, frozenset[str]], strength: float, unit: Unit | None
    ) -> HeaderReading:
        languages = frozenset(each for where in found.values() for each in where)
        return HeaderReading(name, dict.fromkeys(found, strength), languages, unit)

    def _contained(self, tokens: list[str]) -> tuple[dict[str, float], frozenset[str]] | None:
        """Fields of the known words in a longer header; a word of "other" outweighs the rest."""
        strengths: dict[str, float] = {}
        languages: set[str] = set()
        for length in range(min(4, len(tokens)), 0, -1):
            for start in range(len(tokens) - length + 1):
                phrase = " ".join(tokens[start : start + length])
                found = self.fields.get(phrase) if len(phrase) > 2 else None
                for each, where in (found or self._tail(phrase)).items():
                    share = length / len(tokens)
                    strengths[each] = max(strengths.get(each, 0.0), PART * (0.8 + 0.2 * share))
                    languages |= where
        if not strengths:
            return None
        if OTHER in strengths:
            strengths = {
                each: value if each in (OTHER, "performed_on", "notes") else value / 2
                for each, value in strengths.items()
            }
        return strengths, frozenset(languages)

    def _tail(self, word: str) -> dict[str, frozenset[str]]:
        """Fields of the known word with which a compound ends, as "Hantelgewicht" does."""
        for start in range(2, len(word) - _TAIL_LENGTH + 1):
            found = self.fields.get(word[start:])
            if found:
                german = {each: where & {"de", "nl"} for each, where in found.items()}
                return {each: where for each, where in german.items() if where}
        return {}

    def _alike(self, text: str) -> str | None:
        """The one known word that a slip of the finger turns into this one."""
        from rapidfuzz import process
        from rapidfuzz.distance import OSA

        if not _SLIP_LENGTH <= len(text) <= _LONGEST:
            return None
        most = 2 if len(text) >= 2 * _SLIP_LENGTH else 1
        near = process.extract(
            text, self._long_words, scorer=OSA.distance, score_cutoff=most, limit=None
        )
        best = min((distance for _, distance, _ in near), default=0)
        nearest = [word for word, distance, _ in near if distance == best]
        meant = {tuple(sorted(self.fields[word])) for word in nearest}
        return nearest[0] if len(meant) == 1 else None

    @cached_property
    def _long_words(self) -> list[str]:
        return [word for word in self.fields if len(word) >= _SLIP_LENGTH]


def mark_word(text: str) -> str:
    """A mark as the table lists it; a sign such as ✓ stays itself."""
    return fold(text) or text.strip()


def main_languages(readings: Iterable[HeaderReading]) -> tuple[str, ...]:
    """The languages that most headers speak; all that are equally common, none if none is."""
    counted = Counter(
        language for reading in readings for language in reading.languages if reading.strengths
    )
    most = max(counted.values(), default=0)
    return tuple(each for each in LANGUAGES if counted[each] == most and most)


@cache
def load_vocabulary() -> Vocabulary:
    """The words of the seed files."""
    return Vocabulary(_table("header_words.csv", "field"), _table("mark_words.csv", "mark"))


@lru_cache(maxsize=8192)
def header_reading(name: str) -> HeaderReading:
    """What a header says."""
    return load_vocabulary().header(name)


def _table(name: str, key: str) -> dict[str, dict[str, frozenset[str]]]:
    table: dict[str, dict[str, set[str]]] = {}
    for row in seed_rows(name):
        for word in row["words"].split("|"):
            table.setdefault(word, {}).setdefault(row[key], set()).add(row["language"])
    return {
        word: {each: frozenset(where) for each, where in found.items()}
        for word, found in table.items()
    }


def _tokens(name: str) -> list[str]:
    text = _CAMEL.sub(" ", name).replace("#", " no ").replace("%", " pct ").replace("_", " ")
    return fold(text).split()


def _numbered(name: str) -> tuple[int | None, str | None, str]:
    """The number in a header, the pattern without it, and the bare words; none in "1RM"."""
    runs = list(re.finditer(r"\d+", _ONE_RM.sub(lambda match: "#" * len(match[0]), name)))
    if len(runs) != 1 or len(runs[0][0]) > 2:
        return None, None, name
    run = runs[0]
    pattern = f"{name[: run.start()]}{{n}}{name[run.end() :]}"
    return int(run[0]), pattern, f"{name[: run.start()]} {name[run.end() :]}"

"""Spellings of exercise names brought to one set of words, whatever language or shorthand they use.

Two names with equal words are one exercise: "Bench Press (Barbell)", "BB bench press" and
"Langhantel-Bankdrücken" all read {barbell, bench, press}. Every distinguishing word stays, so
"front squat" never reads like "squat".
"""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

Words = frozenset[str]

_STOP_WORDS = frozenset(
    # articles and prepositions of the seven languages; "and" and "or" stay, they join two lifts
    word
    for line in (
        "with the a an on in of to using for at from",
        "mit am der die das im auf zum zur dem den",
        "au aux la le les de du des d sur avec en",
        "con el los las al del",
        "com no na os as da do dos das em ao",
        "alla alle ai agli ad su sul sulla sulle sui sugli il lo col per dalla dai nel nella",
        "met op aan het een van",
    )
    for word in line.split()
)

_SAYS_NOTHING = frozenset(
    # words that name the usual form of a lift
    {
        "alternating",
        "basic",
        "classic",
        "conventional",
        "exercise",
        "flat",
        "normal",
        "regular",
        "standard",
        "strict",
        "traditional",
    }
)

_IMPLEMENTS = frozenset(
    {
        "band",
        "barbell",
        "bodyweight",
        "cable",
        "dumbbell",
        "ezbar",
        "kettlebell",
        "landmine",
        "machine",
        "rope",
        "smith",
    }
)

_ADDED_BAND = "addedband"
"""How the vocabulary writes bands that are named beside a lift ("with bands")."""

_ANGLES = frozenset({"15", "20", "30", "45", "60", "75"})
"""Degrees of a bench: they say nothing where incline or decline is said."""

_LABEL = re.compile(
    # a place in the session: "A1 squat", "B2) squat", "C. squat", "(1a) squat", "#3 squat"
    r"""^(?:[^\w#]*                             # emoji, bullets and brackets before it
        (?: \#\d{1,2}\b[.):]?
          | (?:ex|exercise|nr)\b\.?[ ]?\d{1,2}\b[ ]?[.):-]?
          | \d\ufe0f?\u20e3 | [\u2460-\u2473]   # a digit in a key cap or circle
          | [a-h]\d{1,2}\b(?:[ ]?[.):\]\u2013-])?
          | \d{1,2}[a-h]?(?:[ ]?[.):\]]|[ ][-\u2013][ ])
          | [a-h](?:[ ]?[):\]]|\.(?=[ ])|[ ][-\u2013][ ])
        )(?:[ ]?(?=[^\W\d])|[ ](?=\d)))""",
    re.IGNORECASE | re.VERBOSE,
)
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")
_JOINTS = re.compile(r" ?(?:\+|/|\bsuperset(?:ted)?(?: with)?\b) ?", re.IGNORECASE)
_NO_WORD = re.compile(r"[^a-z0-9]+")
_SHORT_WORD = 4
_LONG_WORD = 6
_COMPOUND = 7
_LONGEST = 60


def fold(text: str) -> str:
    """Lower case, no accents, other signs as one space: "Pull-Up " → "pull up"."""
    if text.isascii():  # the same, ten times as fast
        return _NO_WORD.sub(" ", text.replace("&", " and ").lower()).strip()
    plain = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("&", " and "))
    kept = (char for char in plain.casefold() if not unicodedata.combining(char))
    return " ".join("".join(char if char.isalnum() else " " for char in kept).split())


def squeeze(text: str) -> str:
    """Lower case with single spaces: the name under which an unknown exercise is kept."""
    return _single_spaced(text.lower())


def _single_spaced(text: str) -> str:
    """With single spaces; before patterns that look for spaces, or many take them time."""
    return " ".join(text.split())


def joined_names(raw: str) -> list[str]:
    """The names in "curl + press" or "Bench press / Bankdrücken"; one name gives a list of one."""
    text = re.sub(r"\bw/\s*", "with ", _single_spaced(raw), flags=re.IGNORECASE)
    return [part for part in _JOINTS.split(text) if part.strip()]


def without_the_obvious(words: Words) -> Words:
    """The words without those that only say that a lift is done in its usual form."""
    angles = _ANGLES if words & {"incline", "decline"} else frozenset()
    return words - _SAYS_NOTHING - angles


def without_added_band(words: Words) -> Words:
    """The words without bands that are named beside a lift; as they are where none is."""
    return words - {_ADDED_BAND}


def implement_of(words: Words) -> Words:
    """The implements (barbell, cable, …) among the words."""
    return words & _IMPLEMENTS


def _singular(word: str) -> str:
    """A word without its plural ending; the same cut for every language, so both sides agree."""
    if len(word) < 3 or not word.endswith("s") or word.endswith("ss"):
        return word
    return word[:-2] if word.endswith(("sses", "ches", "shes", "xes")) else word[:-1]


def _split(text: str) -> tuple[str, ...]:
    """Singular words of a folded text, without articles and prepositions."""
    return tuple(_singular(word) for word in text.split() if word not in _STOP_WORDS)


def _preposition_decides(text: str) -> bool:
    """Whether a folded phrase begins or ends with a preposition or "no"."""
    words = text.split()
    return words[0] in _STOP_WORDS or words[-1] in _STOP_WORDS


@dataclass(frozen=True)
class Vocabulary:
    """Trade shorthand and foreign words with their plain English, from exercise_words.csv."""

    phrases: dict[tuple[str, ...], tuple[str, ...]]
    """Words as written to words as understood; longest match wins; empty: says nothing."""
    with_preposition: dict[str, str]
    """Folded text to meaning, longest first, where the preposition decides: "with belt" says
    nothing, and a belt squat is another lift."""
    known: frozenset[str]
    """Every word of a phrase or of the catalogue: such a word is never taken for a typo."""

    @classmethod
    def load(cls, path: Path, names: Iterable[str]) -> Vocabulary:
        """The vocabulary of a file (columns words, means, language) and of known names."""
        with path.open(encoding="utf-8", newline="") as file:
            rows = [(fold(row["words"]), fold(row["means"])) for row in csv.DictReader(file)]
        kept = {words: means for words, means in rows if _preposition_decides(words)}
        phrases = {_split(words): _split(means) for words, means in rows if words not in kept}
        known = {word for words in phrases for word in words}
        known.update(word for _, means in rows for word in _split(means))
        longest_first = dict(sorted(kept.items(), key=lambda pair: -len(pair[0])))
        return cls(phrases, longest_first, frozenset(known)).knowing(names)

    def knowing(self, names: Iterable[str]) -> Vocabulary:
        """This vocabulary with the words of more names."""
        more = {word for name in names for word in _split(fold(name))}
        return replace(self, known=self.known | more)

    def words(self, raw: str) -> Words:
        """The set of plain English words that a name stands for."""
        return frozenset(self._understood(self._parts(raw)))

    def without_typo(self, raw: str) -> tuple[Words, str] | None:
        """The words with one typing slip mended, and the mended text; None if that is not safe.

        Safe: exactly one word is unknown, it begins with the same letter and is two letters
        swapped, or else long and one edit, away from one known word, and from no other.
        """
        parts = self._parts(raw)
        strange = [index for index, part in enumerate(parts) if part not in self.known]
        if len(strange) != 1:
            return None
        word = parts[strange[0]]
        near = self._one_edit_away(word)
        near = [known for known in near if sorted(known) == sorted(word)] or near
        meanings = {self.phrases.get((known,), (known,)) for known in near}
        if len(meanings) != 1:
            return None
        mended = (*parts[: strange[0]], min(near), *parts[strange[0] + 1 :])
        return frozenset(self._understood(mended)), " ".join(mended)

    def _one_edit_away(self, word: str) -> list[str]:
        """Known words that one slip of the finger turns into this one."""
        from rapidfuzz.distance import OSA

        if len(word) < _SHORT_WORD:
            return []
        return [
            known
            for known in self.known
            if known[0] == word[0]
            and abs(len(known) - len(word)) <= 1
            and (len(word) >= _LONG_WORD or sorted(known) == sorted(word))
            and OSA.distance(known, word, score_cutoff=1) == 1
        ]

    def _parts(self, raw: str) -> tuple[str, ...]:
        """Singular words as written, compounds taken apart, in their order."""
        text = f" {fold(_CAMEL.sub(' ', _LABEL.sub('', _single_spaced(raw))))} "
        for written, means in self.with_preposition.items():
            text = text.replace(f" {written} ", f" {means} ")
        return tuple(part for word in _split(text) for part in self._known_parts(word))

    def _known_parts(self, word: str) -> tuple[str, ...]:
        """The word; written "ue" for "ü" and compounds ("kurzhantelrudern") come as known words."""
        if word in self.known:
            return (word,)
        plain = re.sub(r"(?<=[aou])e", "", word)
        if plain in self.known:
            return (plain,)
        return self._taken_apart(plain) or self._taken_apart(word) or (word,)

    def _taken_apart(self, word: str) -> tuple[str, ...] | None:
        """The fewest known words that make up a compound; None if it is none."""
        if not _COMPOUND <= len(word) <= _LONGEST:
            return None
        best: list[tuple[str, ...] | None] = [(), *[None] * len(word)]
        for start in range(len(word) - 2):
            head = best[start]
            if head is None:
                continue
            for end in range(start + 3, min(start + self._longest, len(word)) + 1):
                piece, found = word[start:end], best[end]
                is_better = found is None or len(head) + 1 < len(found)
                if is_better and piece in self.known:
                    best[end] = (*head, piece)
        return best[-1]

    @cached_property
    def _longest(self) -> int:
        """Letters of the longest known word."""
        return max(map(len, self.known), default=0)

    def _understood(self, parts: tuple[str, ...]) -> list[str]:
        """Plain English words, the longest phrase first from left to right."""
        words: list[str] = []
        start = 0
        while start < len(parts):
            length = next(
                (n for n in range(5, 0, -1) if parts[start : start + n] in self.phrases), 0
            )
            if length == 0:
                words.append(parts[start])
                start += 1
                continue
            piece = parts[start : start + length]
            words.extend(self.phrases[piece])
            start += len(piece)
        return words

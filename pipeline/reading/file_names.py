"""Whose log a file is by its name: what is left without dates, numbers and words for a log."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from pathlib import PurePosixPath

from pipeline.reading.month_names import MONTHS, fold_name
from pipeline.reading.word_lists import words

_LOG_WORDS = words("log file")
"""Folded words for a log, in seven languages."""

_VERSION_WORDS = words("file version")
"""Folded words for a version of a file or for the time it is of."""

_NUMBERED = re.compile(
    r"(?<![^\W\d_])(?:v|ver|rev|r|q|w|kw|wk|cw|nr|no|s)[. ]?[0-9]+", re.IGNORECASE
)
_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)*")
_POSSESSIVE = re.compile(r"['’]s$")
_PARTICLES = frozenset({"of", "von", "de", "du", "da", "di", "van"})
"""Parts of names too: dropped only beside another word that says nothing."""


def name_in(path: str, without: Sequence[str] = ()) -> str:
    """The name that a file's name leaves, as it is written there; empty if nothing is left.

    `without` are further words that say nothing.
    """
    stem = unicodedata.normalize("NFC", PurePosixPath(path).stem)
    dropped = {fold_name(each) for each in without}
    text = _NUMBERED.sub(lambda found: " " * len(found[0]), stem)
    words = list(_WORD.finditer(text))
    says = [_says_something(each[0], dropped) for each in words]
    kept = [
        place
        for place, word in enumerate(words)
        if says[place]
        or (
            fold_name(word[0]) in _PARTICLES
            and 0 < place < len(words) - 1
            and says[place - 1]
            and says[place + 1]
        )
    ]
    name = ""
    for place, at in enumerate(kept):
        if place:
            between = text[words[kept[place - 1]].end() : words[at].start()]
            name += "-" if between == "-" else " "
        name += words[at][0]
    return _POSSESSIVE.sub("", name)


def _says_something(word: str, dropped: set[str]) -> bool:
    folded = fold_name(word)
    return not (
        folded in MONTHS or folded in dropped or folded in _LOG_WORDS or folded in _VERSION_WORDS
    )


def is_of_a_time(word: str) -> bool:
    """Whether a word of a file's name is a month's or tells the time or version of the file."""
    folded = fold_name(word)
    return (folded in MONTHS or folded in _VERSION_WORDS) and folded not in _PARTICLES


def shared_words(paths: Iterable[str]) -> tuple[str, ...]:
    """Words that all of several names share and without which they still differ as before."""
    names = list(dict.fromkeys(name_in(path).casefold() for path in paths))
    if len(names) < 2:
        return ()
    words = [[each for each in re.split(r"[\s-]+", name) if each] for name in names]
    shared = [each for each in words[0] if all(each in others for others in words[1:])]
    left = {tuple(each for each in one if each not in shared) for one in words}
    return tuple(shared) if len(left) == len(names) and () not in left else ()

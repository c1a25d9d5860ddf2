"""Globs that cover a shape's files to come: what changes from month to month becomes a star."""

from __future__ import annotations

import glob
import re
from collections.abc import Iterable, Sequence
from fnmatch import fnmatchcase
from pathlib import PurePosixPath

from pipeline.reading.file_names import is_of_a_time

_TOKEN = re.compile(r"[^\W\d_]+|[0-9]+|[^0-9]")
_COMMON_LEAST = 3
"""Letters of a word that a glob for several names needs: less would fit too many files."""


def globs_for(files: Sequence[str], others: Iterable[str]) -> list[str]:
    """Globs that find these files and those to come, and none of the others.

    Where no glob fits these alone, their names stand in the list as they are.
    """
    names = {each: PurePosixPath(each) for each in files}
    apart = [PurePosixPath(each) for each in others if each not in names]
    starred = {each: _starred(path) for each, path in names.items()}
    folders = {path.parent for path in names.values()}
    if len(set(starred.values())) > 1 and len(folders) == 1:
        common = _common(list(starred.values()))
        if common and not _finds(next(iter(folders)), common, apart):
            return [_joined(next(iter(folders)), common)]
    found = [
        _joined(path.parent, tokens)
        if (tokens := starred[each]) and not _finds(path.parent, tokens, apart)
        else glob.escape(each)
        for each, path in names.items()
    ]
    return list(dict.fromkeys(found))


_Tokens = tuple[str, ...]
_STAR = "*"


def _starred(path: PurePosixPath) -> _Tokens:
    """A file's name with a star for dates, numbers and versions; empty if no word is left.

    Words and signs stand escaped; the ending is the last of them.
    """
    tokens: list[str] = []
    gap = ""
    for token in _TOKEN.findall(path.stem):
        if token.isdigit() or is_of_a_time(token):
            if tokens[-1:] == [_STAR]:
                gap = ""  # what parts the parts of a date goes with it
            else:
                tokens += [gap, _STAR] if gap else [_STAR]
                gap = ""
        elif token[0].isalpha():
            tokens += [*([gap] if gap else []), glob.escape(token)]
            gap = ""
        else:
            gap += glob.escape(token)
    tokens += [gap] if gap and tokens[-1:] != [_STAR] else []
    if not any(each[0].isalpha() for each in tokens):
        return ()
    return (*tokens, glob.escape(path.suffix))


def _common(names: Sequence[_Tokens]) -> _Tokens:
    """What all names begin and end with, around a star; empty if they share no word."""
    if not all(names):
        return ()
    shortest = min(len(each) for each in names)
    start = 0
    while start < shortest and len({each[start] for each in names}) == 1:
        start += 1
    end = 0
    while end < shortest - start and len({each[-1 - end] for each in names}) == 1:
        end += 1
    first = names[0]
    tokens = (*first[:start], _STAR, *first[len(first) - end :])
    words = [each for each in tokens[:-1] if each[0].isalpha()]
    return tokens if any(len(each) >= _COMMON_LEAST for each in words) else ()


def _finds(folder: PurePosixPath, tokens: _Tokens, paths: Iterable[PurePosixPath]) -> bool:
    pattern = _text(tokens)
    return any(path.parent == folder and fnmatchcase(path.name, pattern) for path in paths)


def _joined(folder: PurePosixPath, tokens: _Tokens) -> str:
    text = _text(tokens)
    return text if folder == PurePosixPath() else f"{glob.escape(str(folder))}/{text}"


def _text(tokens: _Tokens) -> str:
    return re.sub(r"\*{2,}", _STAR, "".join(tokens))


def common_words(files: Iterable[str]) -> list[str]:
    """Words that all these names share, but for those of a time, in the order of the first."""
    words = [
        [
            each
            for each in re.findall(r"[^\W\d_]+", PurePosixPath(path).stem)
            if not is_of_a_time(each)
        ]
        for path in files
    ]
    folded = [{each.casefold() for each in one} for one in words]
    return [each for each in words[0] if all(each.casefold() in one for one in folded)]

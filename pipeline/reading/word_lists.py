"""Word lists that drafting and files' names go by, in seven languages: drafting_words.csv."""

from __future__ import annotations

from functools import cache

from pipeline.resources import seed_rows


def words(use: str) -> frozenset[str]:
    """The words of one use in all languages. Raises KeyError if the table has no such use."""
    return _lists()[use]


@cache
def _lists() -> dict[str, frozenset[str]]:
    lists: dict[str, frozenset[str]] = {}
    for row in seed_rows("drafting_words.csv"):
        lists[row["use"]] = lists.get(row["use"], frozenset()) | set(row["words"].split("|"))
    return lists

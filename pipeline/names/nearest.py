"""The known name that was probably meant: hints in messages about unknown ones."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def nearest(
    wanted: str, known: Iterable[str], most: int = 1, *, likeness: float = 0.6
) -> list[str]:
    """Known names most like a written one, best first; none where none is like it.

    `likeness` is the least share of letters in common, 0 to 1. Case is of no account.
    """
    written = {name.casefold(): name for name in reversed(list(known))}
    found = difflib.get_close_matches(wanted.casefold(), written, n=most, cutoff=likeness)
    return [written[name] for name in found]


def did_you_mean(wanted: str, known: Iterable[str]) -> str:
    """How a message about an unknown name ends: with the nearest one, else with all there are."""
    known = list(known)
    near = nearest(wanted, known)
    return f"did you mean {near[0]}?" if near else f"there are {', '.join(known) or 'none'}."

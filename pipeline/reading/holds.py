"""Holds, carries and distances: 3x45s, 4 x 20m, 30 sec. They have no repetitions to count."""

from __future__ import annotations

import re
import unicodedata

_AMOUNT = (
    r"[0-9]{1,4}(?:[.,][0-9]{1,2})? ?"
    r"(?:s|secs?|seconds?|sek|sekunden?|segundos?|seg|secondes?|secondi|seconden|min|mins|minutes?|"
    r"minuten?|minutos?|minuti|m|met(?:er|re)s?|metros?|metri|km|yds?|yards?|ft|feet|laps?|\"|'|″|′)"
    r"\.?"
)
_CLOCK = r"[0-9]{1,2}:[0-9]{2}"
_LOAD = r"(?:bw|[+-]?[0-9]{1,4}(?:[.,][0-9]{1,2})? ?(?:kg|lbs?)?)"
_ONE = (
    rf"(?:[0-9]{{1,2}} ?x ?)?(?:{_AMOUNT}|{_CLOCK})(?: ?@ ?{_LOAD})?"
    rf"|{_LOAD} ?x ?(?:[0-9]{{1,2}} ?x ?)?(?:{_AMOUNT}|{_CLOCK})"
)
_HOLD = re.compile(rf"(?:{_ONE})(?: ?[,;/|\n+ ] ?(?:{_ONE}))*")


def is_hold(cell: str) -> bool:
    """Whether a cell tells times or distances and nothing else."""
    if len(cell) > 200:
        return False
    text = unicodedata.normalize("NFKC", cell).casefold().replace("×", "x").replace("*", "x")
    return _HOLD.fullmatch(" ".join(text.split())) is not None

"""Words that exports use for units, kinds of set, sides, the load's basis, yes and no."""

from __future__ import annotations

import csv
from typing import cast

from pipeline.resources import resource
from pipeline.units import Unit


def word(text: str) -> str:
    """A word as the tables below list it."""
    return " ".join(text.casefold().replace("_", " ").split())


def _words(field: str) -> dict[str, str]:
    """Word to what it means in a field of the ledger, from sql/seeds/value_words.csv."""
    path = resource("sql") / "seeds" / "value_words.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return {
            each: row["means"]
            for row in csv.DictReader(file)
            if row["field"] == field
            for each in row["words"].split("|")
        }


UNIT_WORDS = cast("dict[str, Unit]", _words("load_unit"))

KIND_WORDS = _words("set_kind")

SIDE_WORDS = {each: None if side == "both" else side for each, side in _words("side").items()}
"""None: both sides at once."""

BASIS_WORDS = _words("load_basis")

TRUTH_WORDS = {each: means == "true" for each, means in _words("to_failure").items()}

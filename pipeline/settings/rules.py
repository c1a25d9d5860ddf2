"""Every threshold of the review, from sql/seeds/rules.csv, and the values that a run goes by.

`[rules]` in setledger.toml overrules single values; a build stores them as the one row of
`review.rules`, and the SQL models read them there: no model carries a bare threshold.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cache

from pipeline.resources import seed_rows

_KINDS: dict[str, type[int] | type[float]] = {"integer": int, "double": float}

FIRST_DAY = date(1950, 1, 1)
"""An earlier day is taken for a slip; no key of [rules]."""

BODYWEIGHT_KG = (20.0, 400.0)
"""A bodyweight outside is taken for a slip; no key of [rules]."""


@dataclass(frozen=True)
class Rule:
    """One threshold: its default, and what that rests on."""

    name: str
    type: str
    """How review.rules stores it: integer or double."""
    default: float
    unit: str
    meaning: str
    basis: str

    @property
    def is_whole(self) -> bool:
        """Whether only whole numbers will do."""
        return self.type == "integer"


@cache
def all_rules() -> dict[str, Rule]:
    """Every rule by its name, in the order in which they are documented."""
    return {row["name"]: _rule(**row) for row in seed_rows("rules.csv")}


@cache
def retired_rules() -> dict[str, str]:
    """Rules of earlier versions that do nothing any more, and the one that is asked instead."""
    return {row["name"]: row["instead"] for row in seed_rows("retired_rules.csv")}


def _rule(name: str, type: str, default: str, unit: str, meaning: str, basis: str) -> Rule:
    return Rule(name, type, _KINDS[type](default), unit, meaning, basis)


class Rules:
    """A value for every rule, as an attribute: its default, or the one given."""

    # The few that Python reads itself; the SQL models read them all in review.rules.
    set_aside_share: float
    taken_away_share: float
    reps_max: int
    load_max_kg: float
    rir_max: float
    fresh_days: int
    waive_days_max: int

    def __init__(self, **given: float) -> None:
        values = {rule.name: rule.default for rule in all_rules().values()}
        if unknown := given.keys() - values.keys():
            raise TypeError(f"there are no rules {', '.join(sorted(unknown))}")
        vars(self).update(values | given)

    def values(self) -> tuple[float, ...]:
        """The values in the order of the rules."""
        return tuple(vars(self).values())

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"{name} cannot be set: rules are as the workspace says")

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Rules) and self.values() == other.values()

    def __hash__(self) -> int:
        return hash(self.values())

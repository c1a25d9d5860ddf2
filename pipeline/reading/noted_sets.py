"""The sets that one cell lists, and what else the same text could be."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from pipeline.units import Unit

Style = Literal["load", "sets"]
Kind = Literal["work", "warmup", "extension"]

SETS_MAX = 20
"""More than this left of an x is no number of sets."""

SMALL = 10
"""A whole number up to this left of an x may be sets; one up to this after an @ may be reserve."""


@dataclass(frozen=True)
class NotedSet:
    """One set of a cell. Loads as written, in `unit` (None: the cell does not say)."""

    load: float | None
    reps: int
    unit: Unit | None = None
    basis: Literal["added", "assisted"] | None = None
    partial_reps: int | None = None
    rir: float | None = None
    rpe: float | None = None
    to_failure: bool | None = None
    kind: Kind = "work"


@dataclass(frozen=True)
class NotationError:
    """A cell that was refused, and why in words."""

    reason: str


Reading = tuple[NotedSet, ...] | NotationError


def _number(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".")


@dataclass(frozen=True)
class Weight:
    value: float | None
    unit: Unit | None
    basis: Literal["added", "assisted"] | None
    is_whole: bool
    """A plain whole number: it could also be a number of sets."""


@dataclass(frozen=True)
class OpenItem:
    """One item: the sets as load × reps, and what else the same text could be."""

    sets: tuple[NotedSet, ...]
    count: int | None = None
    """What stands left of the x, if it may be a number of sets."""
    at: float | None = None
    """The bare number after the @."""
    at_unit: Unit | None = None

    @property
    def style(self) -> Style | None:
        """How the item is to be read, if it says so itself."""
        if self.at is not None and (self.at_unit or self.at > SMALL):
            return "sets"
        if self.count is None or self.count > SMALL:
            return "load"
        return None

    def read(self, settled: Style | None) -> Reading:
        """The sets, in the style that the item or else its surroundings settle."""
        style = self.style or settled
        if style == "load":
            if self.at is None:
                return self.sets
            return (*self.sets[:-1], replace(self.sets[-1], rir=self.at))
        first = self.sets[0]
        if style == "sets" and self.at is not None:
            if self.count is None or not 1 <= self.count <= SETS_MAX:
                return NotationError(
                    f"{_number(self.at)} after the @ is too much for reps in reserve, and what "
                    "stands before the x is no number of sets"
                )
            unit = self.at_unit
            return (replace(first, load=self.at, unit=unit),) * self.count
        left = f"{self.count}x{first.reps}"
        if self.at is None:
            return NotationError(
                f"{left} could be {self.count} as load or {self.count} sets; "
                f"write {self.count}kg x {first.reps}, or {left}@ and the load"
            )
        at = _number(self.at)
        return NotationError(
            f"{left}@{at} could be {self.count} sets at a load of {at}, or a load of {self.count} "
            f"with {at} in reserve; write {left}@{at}kg or {self.count}kg x {first.reps} @{at}"
        )


@dataclass(frozen=True)
class LoadItem:
    """reps, reps @ load: always a load, so always settled."""

    sets: tuple[NotedSet, ...]
    style: Style | None = None

    def read(self, settled: Style | None) -> Reading:
        """The sets."""
        return self.sets


Item = OpenItem | LoadItem


def styles_of(items: Iterable[Item]) -> set[Style]:
    """Styles that the items show by themselves; signs and "bw" show none."""
    return {
        item.style
        for item in items
        if item.style is not None and (item.style == "sets" or _is_plain_load(item.sets[0]))
    }


def _is_plain_load(each: NotedSet) -> bool:
    return each.load is not None and each.basis is None

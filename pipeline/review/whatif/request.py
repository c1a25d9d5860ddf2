"""What `whatif` is asked, from the command's words to names of tables; unclear words are refused.

A muscle may be written as its name or its label, an exercise in any spelling of an export.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from pipeline.errors import UsageError
from pipeline.names.nearest import nearest

if TYPE_CHECKING:
    from pipeline.names.catalogue import Catalogue
    from pipeline.settings.workspace import Client

SETS_MAX = 20
"""More sets to a week than this are taken for a slip of the finger."""

NEAR_SCORE = 40.0
"""From this score on an exercise is offered as the one that may have been meant."""

_SETS = re.compile(r"(?P<muscle>[^=]+)=\s*(?P<sign>[+\-−])\s*(?P<sets>\d{1,3})")


@dataclass(frozen=True)
class Wish:
    """What is to be changed, as the command was given."""

    client_id: str
    rest_days: int = 0
    sets: tuple[str, ...] = ()
    """MUSCLE=+N or MUSCLE=-N."""
    swaps: tuple[str, ...] = ()
    """OLD=NEW."""
    is_without_extensions: bool = False
    closer: tuple[str, ...] = ()
    """Muscles whose last sets go closer to failure."""
    sessions: int = 0
    """Sessions a week; 0: as now."""

    @property
    def is_empty(self) -> bool:
        """Whether nothing is to be changed."""
        return not (
            self.rest_days
            or self.sessions
            or self.sets
            or self.swaps
            or self.is_without_extensions
            or self.closer
        )


@dataclass(frozen=True)
class Asked:
    """What is to be changed, in the names of the tables."""

    client: Client
    rest_days: int
    sets: tuple[tuple[str, int], ...]
    """Muscle and sets a week."""
    swaps: tuple[tuple[str, str], ...]
    """Exercise and what takes its place."""
    is_without_extensions: bool
    closer: tuple[str, ...]
    """Muscles of whose exercises the last set goes closer to failure."""
    sessions: int
    """Sessions a week; 0: as now."""


def read_wish(wish: Wish, client: Client, catalogue: Catalogue) -> Asked:
    """The wish; names of exercises stay as written until it is known what is trained."""
    if wish.is_empty:
        raise UsageError(
            "Name at least one change: --rest-days 1, --sessions 3, --sets chest=+2, "
            '--closer chest, --drop-extensions or --swap "old exercise=new exercise".'
        )
    if wish.rest_days and wish.sessions:
        raise UsageError("--rest-days and --sessions both set the rhythm; give one of them.")
    return Asked(
        client,
        wish.rest_days,
        _sets(wish.sets, catalogue),
        _swaps(wish.swaps),
        wish.is_without_extensions,
        tuple(dict.fromkeys(_muscle(each.strip(), catalogue, "--closer") for each in wish.closer)),
        wish.sessions,
    )


def with_known_exercises(asked: Asked, names: Iterable[str], catalogue: Catalogue) -> Asked:
    """The swaps in the catalogue's names; the old exercise must be among `names`, those trained."""
    trained = {name.casefold(): name for name in names}
    swaps = tuple(
        (_trained(old, trained, catalogue), _known(new, catalogue)) for old, new in asked.swaps
    )
    olds = [old for old, _ in swaps]
    for old, new in swaps:
        if old == new:
            raise UsageError(f'--swap "{old}={new}": both names are the same exercise.')
        if olds.count(old) > 1:
            raise UsageError(f'--swap "{old}={new}": {old} is swapped twice; keep one of the two.')
    return replace(asked, swaps=swaps)


def _sets(given: Iterable[str], catalogue: Catalogue) -> tuple[tuple[str, int], ...]:
    found: dict[str, int] = {}
    for text in given:
        match = _SETS.fullmatch(text.strip())
        if match is None:
            raise UsageError(
                f'--sets "{text}": write the muscle and how many sets a week to add or to take '
                "away, as in --sets chest=+2 or --sets biceps=-1."
            )
        muscle = _muscle(match["muscle"].strip(), catalogue)
        if muscle in found:
            raise UsageError(f"--sets {text}: {muscle} is named twice; give it one number.")
        sets = int(match["sets"])
        if not 0 < sets <= SETS_MAX:
            raise UsageError(f"--sets {text}: give a number of sets from 1 to {SETS_MAX}.")
        found[muscle] = sets if match["sign"] == "+" else -sets
    return tuple(found.items())


def _muscle(written: str, catalogue: Catalogue, option: str = "--sets") -> str:
    wanted = re.sub(r"[\s_-]+", "_", written.lower())
    spellings = {each.label.lower().replace(" ", "_"): each.muscle for each in catalogue.muscles}
    spellings |= {each.muscle: each.muscle for each in catalogue.muscles}
    if wanted in spellings:
        return spellings[wanted]
    of_part = [each.muscle for each in catalogue.muscles if each.body_part == wanted]
    if of_part:
        raise UsageError(
            f"{option} {written}: this is a body part; name one of its muscles: "
            f"{', '.join(of_part)}."
        )
    near = nearest(wanted, spellings, 3)
    meant = list(dict.fromkeys(spellings[each] for each in near))
    known = ", ".join(each.muscle for each in catalogue.muscles)
    hint = f"did you mean {' or '.join(meant)}?" if meant else f"there are {known}."
    raise UsageError(f"{option} {written}: no such muscle; {hint}")


def _swaps(given: Iterable[str]) -> tuple[tuple[str, str], ...]:
    pairs = {}
    for text in given:
        old, _, new = (part.strip() for part in text.partition("="))
        if not (old and new) or "=" in new:
            raise UsageError(
                f'--swap "{text}": write the old exercise and the new one with = between, as in '
                '--swap "leg extension=split squat".'
            )
        if old in pairs:
            raise UsageError(f'--swap "{text}": {old} is swapped twice; keep one of the two.')
        pairs[old] = new
    return tuple(pairs.items())


def _trained(written: str, trained: dict[str, str], catalogue: Catalogue) -> str:
    name = catalogue.resolve(written).exercise
    for each in (name, written):
        if each.casefold() in trained:
            return trained[each.casefold()]
    instead = _trained_instead(written, name, sorted(trained.values()), catalogue)
    raise UsageError(f'--swap "{written}": no hard set of it in these four weeks; {instead}.')


def _trained_instead(written: str, name: str, trained: Sequence[str], catalogue: Catalogue) -> str:
    """Those for the same muscles where the name is known, else those spelt like it, else all."""
    known = catalogue.exercises
    if name in known:
        muscles = set(known[name].direct)
        alike = [each for each in trained if each in known and muscles & set(known[each].direct)]
        if alike:
            return f"trained for the same muscles: {', '.join(alike)}"
    near = [
        each
        for each, score in catalogue.nearest(written, n=40)
        if each in trained and score >= NEAR_SCORE
    ][:3]
    if near:
        return f"nearest among those trained: {', '.join(near)}"
    return f"trained were {', '.join(trained)}"


def _known(written: str, catalogue: Catalogue) -> str:
    found = catalogue.resolve(written)
    if found.how != "unknown":
        return found.exercise
    near = ", ".join(each for each, _ in catalogue.nearest(written, n=3))
    raise UsageError(
        f'--swap "{written}": no such exercise is known, so what it trains is not; the nearest '
        f"are {near}. A line in exercises.csv makes a new one known."
    )

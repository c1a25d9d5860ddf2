"""The exercise catalogue, and what each spelling in an export is taken for.

A name is resolved only where the trade would not argue: by the catalogue, by the workspace's
`exercises.csv`, by fixed rules of spelling, or by mending one typing slip. All else stays
unknown: its sets are kept, count for no muscle, and `check` names the nearest known exercises.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Any, Literal, get_args

from pipeline.names.spelling import (
    Vocabulary,
    Words,
    fold,
    implement_of,
    joined_names,
    squeeze,
    without_added_band,
    without_the_obvious,
)
from pipeline.resources import resource

How = Literal["catalogue", "workspace", "rule", "near", "unknown"]
Movement = Literal["compound", "isolation"]
LoadBasis = Literal["total", "per_hand", "added", "assisted", "none"]

_LONGEST = 200
"""Letters of a spelling that are compared with the known names."""


@dataclass(frozen=True)
class Muscle:
    """One of the 18 muscles; `low_end_group` shares one low end of the guide, or is None."""

    muscle: str
    body_part: str
    label: str
    position: int
    low_end_group: str | None


@dataclass(frozen=True)
class Exercise:
    """An exercise; no muscle stands in it twice. `bodyweight_share` is 0 to 1 of bodyweight."""

    exercise: str
    movement: Movement
    load_basis: LoadBasis
    bodyweight_share: float
    direct: tuple[str, ...]
    indirect: tuple[str, ...]


@dataclass(frozen=True)
class Resolution:
    """What a spelling is taken for; `score` (0 to 100) only where `how` is near."""

    exercise_raw: str
    exercise: str
    how: How
    score: float | None = None


@dataclass(frozen=True)
class Catalogue:
    """Known exercises and the spellings that lead to them."""

    exercises: dict[str, Exercise]
    muscles: tuple[Muscle, ...]
    _vocabulary: Vocabulary = field(repr=False)
    _workspace: dict[str, str] = field(repr=False)
    """Folded spelling of the workspace's file to exercise."""
    _names: dict[str, str] = field(repr=False)
    """Folded name or alias of the catalogue to exercise."""
    _by_words: dict[Words, str] = field(repr=False)

    def resolve(self, raw: str) -> Resolution:
        """What one spelling is taken for."""
        folded = fold(raw)
        if folded in self._workspace:
            return Resolution(raw, self._workspace[folded], "workspace")
        if folded in self._names:
            return Resolution(raw, self._names[folded], "catalogue")
        names = [name for name in joined_names(raw) if self._vocabulary.words(name)]
        by_rule = {self._by_rule(name) for name in names}
        if len(by_rule) == 1 and (exercise := by_rule.pop()) is not None:
            return Resolution(raw, exercise, "rule")
        if len(names) == 1 and (near := self._by_mending(raw, names[0])) is not None:
            return near
        return Resolution(raw, squeeze(raw), "unknown")

    def resolve_all(self, names: Iterable[str]) -> list[Resolution]:
        """A resolution for each distinct name, in the order of first sight."""
        return [self.resolve(name) for name in dict.fromkeys(names)]

    def nearest(self, raw: str, n: int = 3) -> list[tuple[str, float]]:
        """The known exercises most like a spelling, best first, with scores of 0 to 100.

        The score is mostly the share of words in common, so a word that tells lifts apart
        (incline, front, leg) weighs more than like-looking letters.
        """
        from rapidfuzz import fuzz, process

        words = self._vocabulary.words(raw[:_LONGEST])
        text = " ".join(sorted(words))
        close = process.extract(text, self._texts, scorer=fuzz.token_set_ratio, limit=80)
        best: dict[str, float] = {}
        for key_text, _, key in close:
            alike = fuzz.ratio(text, key_text) / 100
            score = round(100 * (0.85 * self._in_common(words, key) + 0.15 * alike), 1)
            exercise = self._by_words[key]
            best[exercise] = max(score, best.get(exercise, 0.0))
        return sorted(best.items(), key=lambda pair: (-pair[1], pair[0]))[:n]

    def muscle_of(self, written: str) -> str:
        """A muscle by name or label in any case ("Side delts"); as written if it is none."""
        plain = fold(written.replace("_", " "))
        names = {fold(each.muscle.replace("_", " ")): each.muscle for each in self.muscles}
        names |= {fold(each.label): each.muscle for each in self.muscles}
        return names.get(plain, written)

    @cached_property
    def _texts(self) -> dict[Words, str]:
        """The words of each known name as one text."""
        return {words: " ".join(sorted(words)) for words in self._by_words}

    def name_of(self, written: str) -> str:
        """The name as the catalogue has it, or as written; no rule of spelling is applied."""
        return self._names.get(fold(written), squeeze(written))

    def known_as(self, written: str) -> str | None:
        """The exercise that a name means by the rules of spelling; None if it means none."""
        return self._by_rule(written)

    def with_own(self, exercises: dict[str, Exercise], spellings: dict[str, str]) -> Catalogue:
        """The catalogue with other exercises, and folded spellings that go before its own."""
        vocabulary = self._vocabulary.knowing(spellings)
        by_words = {vocabulary.words(name): exercise for name, exercise in spellings.items()}
        return replace(
            self,
            exercises=exercises,
            _vocabulary=vocabulary,
            _workspace=spellings,
            _by_words={**self._by_words, **by_words},
        )

    def _by_rule(self, name: str) -> str | None:
        return self._by_meaning(self._vocabulary.words(name))

    def _by_meaning(self, words: Words) -> str | None:
        plain = without_the_obvious(words)
        rest = without_added_band(plain)
        if rest == plain:
            return self._by_words.get(words) or self._by_words.get(plain)
        # bands beside a barbell add to its load; elsewhere a band is the implement
        exercise = self._by_words.get(rest)
        if exercise is not None and self._by_words.get(rest | {"barbell"}) == exercise:
            return exercise
        return self._by_words.get(rest | {"band"})

    def _by_mending(self, raw: str, name: str) -> Resolution | None:
        mended = self._vocabulary.without_typo(name)
        if mended is None:
            return None
        words, text = mended
        exercise = self._by_meaning(words)
        if exercise is None:
            return None
        from rapidfuzz import fuzz

        return Resolution(raw, exercise, "near", round(fuzz.ratio(fold(raw), text), 1))

    def _in_common(self, words: Words, others: Words) -> float:
        """Dice's share of words in common; a mistyped word counts nearly whole."""
        from rapidfuzz.distance import OSA

        def is_slip(word: str, other: str) -> bool:
            edits = 2 if len(other) >= 8 else 1
            return len(other) >= 5 and OSA.distance(word, other, score_cutoff=edits) <= edits

        shared = words & others
        strange = words - shared - self._vocabulary.known
        slips = sum(any(is_slip(word, other) for other in others - shared) for word in strange)
        return 2 * (len(shared) + 0.97 * slips) / max(len(words) + len(others), 1)


@cache
def seed_catalogue() -> Catalogue:
    """The catalogue of sql/seeds; a run asks for it more than once."""
    seeds = resource("sql") / "seeds"
    exercises, spellings = _seed_exercises(seeds)
    names = {fold(spelling): exercise for spelling, exercise in spellings}
    vocabulary = Vocabulary.load(seeds / "exercise_words.csv", names)
    by_words = _index(spellings, vocabulary)
    return Catalogue(exercises, _muscles(seeds), vocabulary, {}, names, by_words)


def _seed_rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _muscles(seeds: Path) -> tuple[Muscle, ...]:
    rows = _seed_rows(seeds / "muscles.csv")
    return tuple(
        Muscle(
            muscle=row["muscle"],
            body_part=row["body_part"],
            label=row["label"],
            position=int(row["position"]),
            low_end_group=row["low_end_group"] or None,
        )
        for row in rows
    )


def _seed_exercises(seeds: Path) -> tuple[dict[str, Exercise], list[tuple[str, str]]]:
    """The seed exercises, and each of their names and aliases with the exercise it means."""
    roles: dict[tuple[str, str], list[str]] = {}
    for row in _seed_rows(seeds / "exercise_muscles.csv"):
        roles.setdefault((row["exercise"], row["role"]), []).append(row["muscle"])
    exercises = {}
    spellings = []
    for row in _seed_rows(seeds / "exercises.csv"):
        name = row["exercise"]
        exercises[name] = Exercise(
            exercise=name,
            movement=_one_of(Movement, row["movement"]),
            load_basis=_one_of(LoadBasis, row["load_basis"]),
            bodyweight_share=float(row["bodyweight_share"]),
            direct=tuple(roles.get((name, "direct"), ())),
            indirect=tuple(roles.get((name, "indirect"), ())),
        )
        spellings.append((name, name))
        spellings.extend((alias, name) for alias in row["aliases"].split("|") if alias)
    return exercises, spellings


def _one_of(choices: Any, text: str) -> Any:
    """The text, if it is one of a Literal's values."""
    if text not in get_args(choices):
        raise ValueError(f"{text!r} is none of {', '.join(get_args(choices))}")
    return text


def _index(spellings: Iterable[tuple[str, str]], vocabulary: Vocabulary) -> dict[Words, str]:
    """Words to exercise. A lift that one implement is usual for answers to all its names with it.

    Raises ValueError if two exercises of the seeds answer to the same words.
    """
    index: dict[Words, str] = {}
    keys: dict[str, list[Words]] = {}
    for spelling, exercise in spellings:
        words = vocabulary.words(spelling)
        if index.setdefault(words, exercise) != exercise:
            raise ValueError(f"{spelling!r} means both {index[words]!r} and {exercise!r}")
        keys.setdefault(exercise, []).append(words)
    derived: dict[Words, set[str]] = {}
    for exercise, words, implement in _with_usual_implement(keys):
        derived.setdefault(words | implement, set()).add(exercise)
    unclaimed = {
        words: min(meant)
        for words, meant in derived.items()
        if len(meant) == 1 and words not in index
    }
    return {**index, **unclaimed}


def _with_usual_implement(keys: dict[str, list[Words]]) -> Iterator[tuple[str, Words, Words]]:
    """(exercise, words of a name without implement, usual implement)."""
    for exercise, (name, *aliases) in keys.items():
        bare = [words for words in (name, *aliases) if not implement_of(words)]
        for alias in aliases:
            implement = implement_of(alias)
            if len(implement) == 1 and alias == name | implement and implement.isdisjoint(name):
                yield from ((exercise, words, implement) for words in bare)

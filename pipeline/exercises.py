"""The exercise catalogue, and what each spelling in an export is taken for.

A name is resolved only where the trade would not argue: by the catalogue, by the workspace's
`exercises.csv`, by fixed rules of spelling, or by mending one typing slip. All else stays
unknown: its sets are kept, count for no muscle, and `check` names the nearest known exercises.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args

from pipeline.errors import ConfigError
from pipeline.spelling import (
    Vocabulary,
    Words,
    fold,
    implement_of,
    joined_names,
    squeeze,
    without_added_band,
    without_the_obvious,
)

How = Literal["catalogue", "workspace", "rule", "near", "unknown"]
Movement = Literal["compound", "isolation"]
LoadBasis = Literal["total", "per_hand", "added", "assisted", "none"]

WORKSPACE_COLUMNS = (
    "name",
    "exercise",
    "movement",
    "load_basis",
    "bodyweight_share",
    "direct",
    "indirect",
)
"""Columns of the workspace's exercises.csv; all but the first two may be left out."""

SURE_SCORE = 92.0
"""From this score on `check --write` proposes a line: typing slips only, by construction."""

NO_MUSCLE = "none"
"""Written in `direct` for what trains no muscle that is counted (running, neck work)."""


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

    @classmethod
    def load(cls, seeds: Path, workspace_file: Path | None = None) -> Catalogue:
        """The catalogue of the seed folder, changed and widened by the workspace's exercises.csv.

        Raises ConfigError, with file and line, for a line of that file that cannot be used.
        """
        plain = _seed_catalogue(seeds)
        if workspace_file is None or not workspace_file.exists():
            return plain
        return _WorkspaceFile(workspace_file, plain).apply()

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

        words = self._vocabulary.words(raw)
        text = " ".join(sorted(words))
        texts = {key: " ".join(sorted(key)) for key in self._by_words}
        close = process.extract(text, texts, scorer=fuzz.token_set_ratio, limit=80)
        best: dict[str, float] = {}
        for key_text, _, key in close:
            alike = fuzz.ratio(text, key_text) / 100
            score = round(100 * (0.85 * self._in_common(words, key) + 0.15 * alike), 1)
            exercise = self._by_words[key]
            best[exercise] = max(score, best.get(exercise, 0.0))
        return sorted(best.items(), key=lambda pair: (-pair[1], pair[0]))[:n]

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
def _seed_catalogue(seeds: Path) -> Catalogue:
    """The catalogue without a workspace's changes; a run asks for it more than once."""
    exercises, spellings = _seed_exercises(seeds)
    names = {fold(spelling): exercise for spelling, exercise in spellings}
    vocabulary = Vocabulary.load(seeds / "exercise_words.csv", names)
    by_words = _index(spellings, vocabulary)
    return Catalogue(exercises, _muscles(seeds), vocabulary, {}, names, by_words)


def suggested_mappings(names: Iterable[str], catalogue: Catalogue) -> list[tuple[str, str]]:
    """(spelling, exercise) for unknown names whose nearest known exercise is all but certain."""
    pairs = []
    for name in dict.fromkeys(names):
        if catalogue.resolve(name).how != "unknown":
            continue
        nearest = catalogue.nearest(name, n=1)
        if nearest and nearest[0][1] >= SURE_SCORE:
            pairs.append((name, nearest[0][0]))
    return pairs


def mapping_lines(
    pairs: Iterable[tuple[str, str]],
    columns: Iterable[str] = WORKSPACE_COLUMNS,
    delimiter: str = ",",
) -> list[str]:
    """CSV lines of exercises.csv that map each spelling to a known exercise."""
    columns = tuple(columns)
    lines = []
    for name, exercise in pairs:
        cells = {"name": name, "exercise": exercise}
        buffer = io.StringIO()
        csv.writer(buffer, delimiter=delimiter, lineterminator="").writerow(
            [cells.get(column, "") for column in columns]
        )
        lines.append(buffer.getvalue())
    return lines


def append_mappings(path: Path, pairs: Iterable[tuple[str, str]]) -> list[str]:
    """Adds the lines to the workspace's exercises.csv, made if absent; gives the lines added.

    Nothing in the file is changed, and a spelling that it already holds is passed over.
    """
    table = _Table.read(path) if path.exists() else None
    held = set() if table is None else {fold(row["name"]) for _, row in table.rows}
    new = [(name, exercise) for name, exercise in pairs if fold(name) not in held]
    if not new:
        return []
    if table is None or not table.columns:
        lines = mapping_lines(new)
        text = "\n".join([",".join(WORKSPACE_COLUMNS), *lines])
    else:
        lines = mapping_lines(new, table.columns, table.delimiter)
        text = "\n".join(lines)
    before = path.read_bytes() if path.exists() else b""
    gap = "" if not before or before.endswith(b"\n") else "\n"
    with path.open("a", encoding="utf-8", newline="") as file:
        file.write(f"{gap}{text}\n")
    return lines


def counted_once(
    primary: Iterable[str], secondary: Iterable[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Direct and indirect muscles, each named once: a muscle listed in both is direct."""
    direct = tuple(dict.fromkeys(primary))
    return direct, tuple(muscle for muscle in dict.fromkeys(secondary) if muscle not in direct)


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


@dataclass(frozen=True)
class _Table:
    """A CSV file of the user: header, and rows with the line on which each starts."""

    columns: tuple[str, ...]
    delimiter: str
    rows: tuple[tuple[int, dict[str, str]], ...]

    @classmethod
    def read(cls, path: Path) -> _Table:
        """The file; lines that start with # are notes. Cells and column names are stripped."""
        try:
            text = path.read_text(encoding="utf-8-sig")
        except (OSError, UnicodeDecodeError) as error:
            raise ConfigError(f"{path.name}: cannot be read as UTF-8 text ({error}).") from error
        header = next((line for line in text.splitlines() if line and line[0] != "#"), "")
        delimiter = ";" if "," not in header and ";" in header else ","
        columns: tuple[str, ...] = ()
        rows = []
        for line, cells in _records(text, delimiter, path.name):
            if not columns:
                columns = _checked_columns(cells, f"{path.name}:{line}")
                continue
            if any(cells[len(columns) :]):
                raise ConfigError(
                    f"{path.name}:{line}: this line has more cells than the header; put cells "
                    f'that hold "{delimiter}" in quotes.'
                )
            padded = [*cells, *[""] * (len(columns) - len(cells))]
            rows.append((line, dict(zip(columns, padded, strict=False))))
        return cls(columns, delimiter, tuple(rows))


def _records(text: str, delimiter: str, shown: str) -> Iterator[tuple[int, list[str]]]:
    """(line on which the record starts, stripped cells), without blanks and notes."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    start = 1
    try:
        for record in reader:
            cells = [cell.strip() for cell in record]
            if any(cells) and not cells[0].startswith("#"):
                yield start, cells
            start = reader.line_num + 1
    except csv.Error as error:
        raise ConfigError(f"{shown}:{start}: not valid CSV ({error}); mend the quotes.") from error


def _checked_columns(cells: list[str], where: str) -> tuple[str, ...]:
    columns = tuple(cell.lower() for cell in cells)
    for column in columns:
        if column not in WORKSPACE_COLUMNS:
            raise ConfigError(
                f'{where}: unknown column "{column}"{_nearest_hint(column, WORKSPACE_COLUMNS)}; '
                f"the columns are {', '.join(WORKSPACE_COLUMNS)}."
            )
        if columns.count(column) > 1:
            raise ConfigError(f'{where}: column "{column}" stands twice; keep one of them.')
    for column in WORKSPACE_COLUMNS[:2]:
        if column not in columns:
            raise ConfigError(
                f'{where}: column "{column}" is missing; the first line names the columns '
                f"{', '.join(WORKSPACE_COLUMNS)}."
            )
    return columns


def _nearest_hint(word: str, known: Iterable[str]) -> str:
    """' (nearest: "quads")', or nothing where none is near."""
    from rapidfuzz import fuzz, process

    found = process.extractOne(word, list(known), scorer=fuzz.WRatio, score_cutoff=60)
    return f' (nearest: "{found[0]}")' if found else ""


class _WorkspaceFile:
    """The workspace's exercises.csv, laid over the catalogue of the seeds."""

    def __init__(self, path: Path, catalogue: Catalogue) -> None:
        self._name = path.name
        self._catalogue = catalogue
        self._rows = _Table.read(path).rows
        self._defined: dict[str, int] = {}
        """Exercise to the line that defines it."""
        self._muscles = {fold(muscle.muscle): muscle.muscle for muscle in catalogue.muscles}
        self._muscles |= {fold(muscle.label): muscle.muscle for muscle in catalogue.muscles}

    def apply(self) -> Catalogue:
        """The catalogue with the file's definitions, then its spellings."""
        exercises = dict(self._catalogue.exercises)
        for line, row in self._rows:
            if self._defines(row):
                name = self._name_of(row)
                if name in self._defined:
                    raise self._error(
                        line,
                        f'"{name}" is already defined on line {self._defined[name]}; keep one.',
                    )
                self._defined[name] = line
                exercises[name] = self._definition(line, row, name)
        spellings = self._spellings(exercises)
        vocabulary = self._catalogue._vocabulary.knowing(spellings)
        by_words = {vocabulary.words(name): exercise for name, exercise in spellings.items()}
        return replace(
            self._catalogue,
            exercises=exercises,
            _vocabulary=vocabulary,
            _workspace=spellings,
            _by_words={**self._catalogue._by_words, **by_words},
        )

    def _spellings(self, exercises: dict[str, Exercise]) -> dict[str, str]:
        """Folded spelling to exercise, for every line."""
        spellings: dict[str, str] = {}
        lines: dict[str, int] = {}
        for line, row in self._rows:
            exercise = self._target(row)
            if exercise not in exercises:
                raise self._unknown_exercise(line, row, exercises)
            for spelling in {fold(row["name"] or exercise), fold(exercise)}:
                if spelling in spellings and spellings[spelling] != exercise:
                    raise self._error(
                        line,
                        f'"{row["name"]}" is already mapped to "{spellings[spelling]}" on line '
                        f"{lines[spelling]}; keep one of the two lines.",
                    )
                if spelling == fold(row["name"]) or self._defines(row):
                    spellings[spelling] = exercise
                    lines[spelling] = line
        return spellings

    def _defines(self, row: dict[str, str]) -> bool:
        return any(row.get(column) for column in WORKSPACE_COLUMNS[2:])

    def _target(self, row: dict[str, str]) -> str:
        """The exercise that a line speaks of, by its name in the catalogue if it is known there."""
        exercise = self._name_of(row)
        if exercise in self._defined or not row["exercise"]:
            return exercise
        return self._catalogue._by_rule(row["exercise"]) or exercise

    def _name_of(self, row: dict[str, str]) -> str:
        """The name as the catalogue has it, or as written; no rule of spelling is applied."""
        written = row["exercise"] or row["name"]
        return self._catalogue._names.get(fold(written), squeeze(written))

    def _definition(self, line: int, row: dict[str, str], name: str) -> Exercise:
        """The exercise that a line defines; blank cells keep what the catalogue says."""
        known = self._catalogue.exercises.get(name)
        movement = self._choice(line, row, "movement", Movement, known.movement if known else None)
        basis = self._choice(
            line, row, "load_basis", LoadBasis, known.load_basis if known else "total"
        )
        share = self._share(line, row, basis, known)
        if row.get("direct") or row.get("indirect"):
            direct, indirect = self._roles(line, row)
        elif known is not None:
            direct, indirect = known.direct, known.indirect
        else:
            raise self._error(
                line,
                f'new exercise "{name}" has no muscle in "direct"; name them with ; between, '
                f'or write "{NO_MUSCLE}" for work that no muscle is counted for.',
            )
        return Exercise(name, movement, basis, share, direct, indirect)

    def _choice(
        self, line: int, row: dict[str, str], column: str, choices: Any, default: str | None
    ) -> Any:
        text = row.get(column, "").lower() or default
        if text in get_args(choices):
            return text
        found = f'"{text}" is not' if text else "a new exercise needs"
        raise self._error(line, f"{column}: {found} one of {', '.join(get_args(choices))}.")

    def _share(self, line: int, row: dict[str, str], basis: str, known: Exercise | None) -> float:
        text = row.get("bodyweight_share", "")
        if not text:
            if known is not None:
                return known.bodyweight_share
            if basis in ("added", "assisted"):
                raise self._error(
                    line,
                    f'bodyweight_share: needed with load_basis "{basis}"; the share of bodyweight '
                    "that is lifted, from 0 to 1 (pull-up: 1).",
                )
            return 0.0
        try:
            share = float(text.replace(",", "."))
        except ValueError:
            share = -1.0
        if not 0 <= share <= 1:
            raise self._error(
                line, f'bodyweight_share: "{text}" is not a share from 0 to 1 (64 % is 0.64).'
            )
        return share

    def _roles(self, line: int, row: dict[str, str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
        direct = self._muscle_list(line, row, "direct")
        indirect = self._muscle_list(line, row, "indirect")
        if not direct and fold(row.get("direct", "")) != NO_MUSCLE:
            raise self._error(
                line, "direct: is empty; an exercise trains at least one muscle directly."
            )
        return counted_once(direct, indirect)

    def _muscle_list(self, line: int, row: dict[str, str], column: str) -> list[str]:
        text = row.get(column, "")
        if fold(text) == NO_MUSCLE:
            return []
        found = []
        for written in filter(None, (part.strip() for part in text.replace("|", ";").split(";"))):
            if fold(written) not in self._muscles:
                hint = _nearest_hint(written.lower(), (m.muscle for m in self._catalogue.muscles))
                raise self._error(
                    line,
                    f'{column}: unknown muscle "{written}"{hint}; the muscles are '
                    f"{', '.join(muscle.muscle for muscle in self._catalogue.muscles)}.",
                )
            found.append(self._muscles[fold(written)])
        return found

    def _unknown_exercise(
        self, line: int, row: dict[str, str], exercises: dict[str, Exercise]
    ) -> ConfigError:
        if not row["exercise"]:
            return self._error(
                line,
                f'"{row["name"]}" is mapped to nothing; name a known exercise in "exercise", or '
                'define a new one with "movement" and "direct".',
            )
        hint = _nearest_hint(row["exercise"].lower(), exercises)
        return self._error(
            line,
            f'unknown exercise "{row["exercise"]}"{hint}; use a known name, or define it with '
            '"movement" and "direct".',
        )

    def _error(self, line: int, message: str) -> ConfigError:
        return ConfigError(f"{self._name}:{line}: {message}")

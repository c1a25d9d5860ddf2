"""The workspace's exercises.csv: laid over the catalogue, and added to where a name is sure."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path
from typing import Any, get_args

from pipeline.errors import ConfigError
from pipeline.names.catalogue import Catalogue, Exercise, LoadBasis, Movement, seed_catalogue
from pipeline.names.spelling import fold
from pipeline.names.workspace_csv import Table, nearest_hint, read_table

COLUMNS = (
    "name",
    "exercise",
    "movement",
    "load_basis",
    "bodyweight_share",
    "direct",
    "indirect",
)
"""Columns of the workspace's exercises.csv; all but the first two may be left out."""

NO_MUSCLE = "none"
"""Written in `direct` for what trains no muscle that is counted (running, neck work)."""

SURE_SCORE = 92.0
"""From this score on `check --write` proposes a line: typing slips only, by construction."""

_HINT_SCORE = 50.0
"""From this score on a known exercise is named beside one that is not known."""


def load_catalogue(own: Path | None = None) -> Catalogue:
    """The catalogue, changed and widened by a workspace's exercises.csv where there is one.

    Raises ConfigError, with file and line, for a line of that file that cannot be used.
    """
    plain = seed_catalogue()
    return _WorkspaceFile(own, plain).apply() if own is not None and own.exists() else plain


def suggested_mappings(names: Iterable[str], catalogue: Catalogue) -> list[tuple[str, str]]:
    """(spelling, exercise) for unknown names whose nearest known exercise is all but certain."""
    pairs = []
    for name in dict.fromkeys(names):
        if catalogue.resolve(name).how != "unknown":
            continue
        pairs += [(name, best) for best, score in catalogue.nearest(name, 1) if score >= SURE_SCORE]
    return pairs


def _mapping_lines(
    pairs: Iterable[tuple[str, str]],
    columns: Iterable[str] = COLUMNS,
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
    table = _read(path) if path.exists() else None
    held = set() if table is None else {fold(row["name"]) for _, row in table.rows}
    new = [(name, exercise) for name, exercise in pairs if fold(name) not in held]
    if not new:
        return []
    if table is None or not table.columns:
        lines = _mapping_lines(new)
        text = "\n".join([",".join(COLUMNS), *lines])
    else:
        lines = _mapping_lines(new, table.columns, table.delimiter)
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


def _read(path: Path) -> Table:
    return read_table(path, COLUMNS[:2], COLUMNS)


class _WorkspaceFile:
    """The workspace's exercises.csv, laid over the catalogue of the seeds."""

    def __init__(self, path: Path, catalogue: Catalogue) -> None:
        self._name = path.name
        self._catalogue = catalogue
        self._rows = _read(path).rows
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
        return self._catalogue.with_own(exercises, self._spellings(exercises))

    def _spellings(self, exercises: dict[str, Exercise]) -> dict[str, str]:
        """Folded spelling to exercise, for every line."""
        spellings: dict[str, str] = {}
        lines: dict[str, int] = {}
        for line, row in self._rows:
            exercise = self._target(row)
            if exercise not in exercises:
                raise self._unknown_exercise(line, row)
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
        return any(row.get(column) for column in COLUMNS[2:])

    def _target(self, row: dict[str, str]) -> str:
        """The exercise that a line speaks of, by its name in the catalogue if it is known there."""
        exercise = self._name_of(row)
        if exercise in self._defined or not row["exercise"]:
            return exercise
        return self._catalogue.known_as(row["exercise"]) or exercise

    def _name_of(self, row: dict[str, str]) -> str:
        return self._catalogue.name_of(row["exercise"] or row["name"])

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
                hint = nearest_hint(written, (each.muscle for each in self._catalogue.muscles))
                raise self._error(
                    line,
                    f'{column}: unknown muscle "{written}"{hint}; the muscles are '
                    f"{', '.join(muscle.muscle for muscle in self._catalogue.muscles)}.",
                )
            found.append(self._muscles[fold(written)])
        return found

    def _unknown_exercise(self, line: int, row: dict[str, str]) -> ConfigError:
        written = row["exercise"]
        if not written:
            return self._error(
                line,
                f'"{row["name"]}" is mapped to nothing; name a known exercise in "exercise", or '
                'define a new one with "movement" and "direct".',
            )
        alike = [name for name, score in self._catalogue.nearest(written) if score >= _HINT_SCORE]
        hint = nearest_hint(written, self._defined) or (
            f' (nearest: "{alike[0]}")' if alike else ""
        )
        return self._error(
            line,
            f'unknown exercise "{written}"{hint}; use a known name, or define it with '
            '"movement" and "direct".',
        )

    def _error(self, line: int, message: str) -> ConfigError:
        return ConfigError(f"{self._name}:{line}: {message}")

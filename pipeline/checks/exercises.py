"""Remarks on names of exercises, and the lines of exercises.csv that --write begins for them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb

from pipeline import formats
from pipeline.checks.remarks import Remark
from pipeline.errors import ConfigError
from pipeline.files import lines_of
from pipeline.ledger.connection import opened
from pipeline.names.catalogue import Catalogue, Resolution
from pipeline.names.exercises_file import append_mappings, load_catalogue, suggested_mappings
from pipeline.names.spelling import fold
from pipeline.resources import sql
from pipeline.settings.workspace import Workspace, catalogue_of

EXERCISES = "exercises.csv"
NEAREST = 3
"""Known exercises that a hint names."""
SOUGHT_MOST = 200
"""Unknown names, the most frequent first, for which the nearest known ones are sought."""

UNKNOWN = (
    f"{EXERCISES}: {{}} names are no known exercises, so their sets count for no muscle; map or "
    "define them there, `setledger check --write` begins the lines"
)
SLIPS = f"{EXERCISES}: {{}} names are taken for a known one by a slip; map what is something else"


def own_catalogue(workspace: Workspace) -> tuple[Catalogue, list[Remark]]:
    """The catalogue with the workspace's exercises.csv, or without it and what is wrong in it."""
    try:
        return catalogue_of(workspace), []
    except ConfigError as error:
        return load_catalogue(), [Remark.of(error, "names")]


def nearest_words(near: list[tuple[str, float]]) -> str:
    """How a remark on an unknown exercise ends: with the nearest known ones and their scores."""
    if not near:
        return f"nothing known is near; define it in {EXERCISES}."
    listed = ", ".join(f"{exercise} ({score:.0f})" for exercise, score in near)
    return f"nearest are {listed}."


def names(con: duckdb.DuckDBPyConnection, catalogue: Catalogue) -> Iterator[Remark]:
    """Spellings that are no known exercise, and those that are taken for one by a slip."""
    spellings = _spellings(con, catalogue)
    unknown = [(name, sets) for name, sets, resolved in spellings if resolved.how == "unknown"]
    for place, (name, sets) in enumerate(unknown):
        is_sought = place < SOUGHT_MOST
        near = catalogue.nearest(name, NEAREST) if is_sought else []
        hint = f"; {nearest_words(near)}" if is_sought else "."
        named = f"'{name}' ({formats.count(sets, 'set')})"
        yield Remark(
            "open",
            "names",
            EXERCISES,
            f"{named} is no known exercise, so it counts for no muscle{hint} Map or define it "
            "there; `setledger check --write` begins the line.",
            {"name": name, "sets": sets, "nearest": near},
            group=UNKNOWN,
            item=f"{named}{hint}",
        )
    for name, _, resolved in sorted(spellings, key=lambda spelling: spelling[0]):
        if resolved.how == "near":
            yield Remark(
                "note",
                "names",
                EXERCISES,
                f"'{name}' is taken for '{resolved.exercise}' ({resolved.score:.0f} of 100 "
                "alike); map it there if it is something else.",
                {"name": name, "exercise": resolved.exercise, "score": resolved.score},
                group=SLIPS,
                item=f"'{name}' for '{resolved.exercise}'",
            )


def logged(con: duckdb.DuckDBPyConnection, catalogue: Catalogue) -> dict[str, set[str]]:
    """Client to exercises of the sets that count, known or not, as the models name them."""
    found: dict[str, set[str]] = {}
    exercises = {name: resolved.exercise for name, _, resolved in _spellings(con, catalogue)}
    for client_id, name in con.execute(sql("checks/client_spellings")).fetchall():
        found.setdefault(client_id, set()).add(exercises[name])
    return found


def _spellings(
    con: duckdb.DuckDBPyConnection, catalogue: Catalogue
) -> list[tuple[str, int, Resolution]]:
    """Spellings of the sets that count: (name, sets, what the catalogue makes of it)."""
    found = con.execute(sql("checks/spellings")).fetchall()
    return [(name, sets, catalogue.resolve(name)) for name, sets in found]


@dataclass(frozen=True)
class Written:
    """Lines that --write added to exercises.csv."""

    mapped: tuple[str, ...]
    """Lines that count: the spelling differs from a known exercise by a slip."""
    proposed: tuple[str, ...]
    """Lines that begin with # until a person has looked at them."""


def write_names(workspace: Workspace) -> Written:
    """Append a line for each unknown name; what is not all but certain stays a comment."""
    if not workspace.database.exists():
        return Written((), ())
    catalogue = catalogue_of(workspace)
    with opened(workspace.database) as con:
        unknown = [
            name for name, _, resolved in _spellings(con, catalogue) if resolved.how == "unknown"
        ]
    sure = suggested_mappings(unknown, catalogue)
    own = workspace.root / EXERCISES
    mapped = append_mappings(own, sure)
    doubtful = [name for name in unknown if name not in dict(sure)]
    return Written(tuple(mapped), tuple(_append_proposals(own, doubtful, catalogue)))


def _append_proposals(path: Path, names: Sequence[str], catalogue: Catalogue) -> list[str]:
    """Lines "# name,nearest exercise": take the # away, or name another exercise."""
    if not names:
        return []
    if not path.exists():
        path.write_text("name,exercise\n", encoding="utf-8")
    text = path.read_text(encoding="utf-8-sig")
    header = next((line for line in lines_of(text) if line and line[0] != "#"), "")
    delimiter = ";" if "," not in header and ";" in header else ","
    held = {
        fold(line[1:].split(delimiter)[0].strip(' "'))
        for line in lines_of(text)
        if line.startswith("#")
    }
    lines = []
    for place, name in enumerate(names):
        if fold(name) in held or any(mark in name for mark in "\r\n"):
            continue
        near = catalogue.nearest(name, 1) if place < SOUGHT_MOST else []
        quoted = f'"{name}"' if delimiter in name or '"' in name else name
        lines.append(f"# {quoted}{delimiter}{near[0][0] if near else ''}")
    if lines:
        gap = "" if not text or text.endswith("\n") else "\n"
        with path.open("a", encoding="utf-8", newline="") as file:
            file.write(gap + "\n".join(lines) + "\n")
    return lines

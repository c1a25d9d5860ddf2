"""The arithmetic of a change before it is made: weekly sets of each muscle, now and after it.

Reads the published review; sql/whatif/ computes, sql/macros/ holds what it shares with findings.
An answer is an estimate: it takes the last four weeks as usual and changes nothing else.
"""

from __future__ import annotations

import difflib
import re
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.errors import UsageError
from pipeline.exercises import Catalogue
from pipeline.macros import macros
from pipeline.resources import resource
from pipeline.rows import Row, fetch

if TYPE_CHECKING:
    import duckdb

    from pipeline.workspace import Client, Workspace

VIEWS = (
    "whatif_span",
    "whatif_sessions",
    "whatif_hits",
    "whatif_added",
    "whatif_groups",
    "whatif_muscles",
    "whatif_week",
)
"""Files of sql/whatif/, each after those it reads."""

ASKED = {
    "asked_change": "client_id varchar, rest_days integer, is_without_extensions boolean",
    "asked_sets": "muscle varchar, sets integer",
    "asked_swaps": "exercise varchar, new_exercise varchar",
}
"""Temporary tables that say what was asked, with their columns."""

SETS_MAX = 20
"""More sets to a session than this are taken for a slip of the finger."""

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


@dataclass(frozen=True)
class Asked:
    """What is to be changed, in the names of the tables."""

    client: Client
    rest_days: int
    sets: tuple[tuple[str, int], ...]
    swaps: tuple[tuple[str, str], ...]
    is_without_extensions: bool


@dataclass(frozen=True)
class Answer:
    """Rows of sql/whatif/ for one change."""

    asked: Asked
    span: Row
    week: Row
    muscles: tuple[Row, ...]
    added: tuple[Row, ...]
    labels: dict[str, str]
    """Muscle to its label."""
    rules: Row

    @property
    def is_led(self) -> bool:
        """Whether a pause or care holds: figures only."""
        return self.span["led_kind"] is not None


def answer(workspace: Workspace, wish: Wish, as_of: date | None = None) -> Answer:
    """What the change would make of the client's week; UsageError names what cannot be done."""
    if not (wish.rest_days or wish.sets or wish.swaps or wish.is_without_extensions):
        raise UsageError(
            "Name at least one change: --rest-days 1, --sets chest=+2, --drop-extensions or "
            '--swap "old exercise=new exercise".'
        )
    with _review_of(workspace, wish.client_id, as_of) as con, macros(con):
        client = _client(workspace, con, wish.client_id)
        labels = {
            row["muscle"]: row["label"]
            for row in fetch(con, "select muscle, label from review.muscles order by position")
        }
        parts = fetch(con, "select body_part, muscle from review.muscles order by position")
        asked = Asked(
            client,
            wish.rest_days,
            _sets(wish.sets, labels, parts),
            _pairs(wish.swaps),
            wish.is_without_extensions,
        )
        _write_asked(con, asked)
        _make_views(con, VIEWS[:2])
        _refuse_empty(con, asked)
        if asked.swaps:
            asked = _with_known_exercises(workspace, con, asked)
            _write_asked(con, asked)
        _make_views(con, VIEWS[2:])
        return _read(con, asked, labels)


def _read(con: duckdb.DuckDBPyConnection, asked: Asked, labels: dict[str, str]) -> Answer:
    return Answer(
        asked,
        fetch(con, "from whatif_span")[0],
        fetch(con, "from whatif_week")[0],
        tuple(fetch(con, "from whatif_muscles")),
        tuple(fetch(con, "from whatif_added order by muscle, sets_a_week desc, exercise")),
        labels,
        fetch(con, "from review.rules")[0],
    )


# Names


def _client(workspace: Workspace, con: duckdb.DuckDBPyConnection, client_id: str) -> Client:
    rows = fetch(con, "select distinct client_id from review.muscle_status order by client_id")
    known = [row["client_id"] for row in rows]
    if client_id not in known and client_id in {client.id for client in workspace.clients}:
        day = fetch(con, "select as_of from review.run")[0]["as_of"]
        raise UsageError(f"--client {client_id}: nothing is logged up to {day}.")
    if client_id not in known:
        near = difflib.get_close_matches(client_id, known, n=1)
        hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(known) or 'none'}."
        raise UsageError(f"--client {client_id}: no such client in the review; {hint}")
    return workspace.client(client_id)


def _sets(
    given: Iterable[str], labels: dict[str, str], parts: Sequence[Row]
) -> tuple[tuple[str, int], ...]:
    found: dict[str, int] = {}
    for text in given:
        match = _SETS.fullmatch(text.strip())
        if match is None:
            raise UsageError(
                f'--sets "{text}": write the muscle and how many sets a session to add or to take '
                "away, as in --sets chest=+2 or --sets biceps=-1."
            )
        muscle = _muscle(match["muscle"], labels, parts)
        if muscle in found:
            raise UsageError(f"--sets {text}: {muscle} is named twice; give it one number.")
        sets = int(match["sets"])
        if not 0 < sets <= SETS_MAX:
            raise UsageError(f"--sets {text}: give a number of sets from 1 to {SETS_MAX}.")
        found[muscle] = sets if match["sign"] == "+" else -sets
    return tuple(found.items())


def _muscle(written: str, labels: dict[str, str], parts: Sequence[Row]) -> str:
    wanted = re.sub(r"[\s_-]+", "_", written.strip().lower())
    spellings = {muscle: muscle for muscle in labels}
    spellings |= {label.lower().replace(" ", "_"): muscle for muscle, label in labels.items()}
    if wanted in spellings:
        return spellings[wanted]
    of_part = [row["muscle"] for row in parts if row["body_part"] == wanted]
    if of_part:
        raise UsageError(
            f"--sets {written.strip()}: this is a body part; name one of its muscles: "
            f"{', '.join(of_part)}."
        )
    near = difflib.get_close_matches(wanted, spellings, n=3)
    muscles = list(dict.fromkeys(spellings[each] for each in near))
    hint = f"did you mean {' or '.join(muscles)}?" if near else f"there are {', '.join(labels)}."
    raise UsageError(f"--sets {written.strip()}: no such muscle; {hint}")


def _pairs(given: Iterable[str]) -> tuple[tuple[str, str], ...]:
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


def _with_known_exercises(
    workspace: Workspace, con: duckdb.DuckDBPyConnection, asked: Asked
) -> Asked:
    """The swaps in the catalogue's names; the old exercise must have been trained in the span."""
    own = workspace.root / "exercises.csv"
    catalogue = Catalogue.load(resource("sql") / "seeds", own if own.exists() else None)
    rows = fetch(
        con, "select distinct exercise from whatif_sessions where version = 'before' order by all"
    )
    trained = {row["exercise"].casefold(): row["exercise"] for row in rows}
    swaps = tuple(
        (_trained(old, trained, catalogue), _known(new, catalogue)) for old, new in asked.swaps
    )
    olds = [old for old, _ in swaps]
    for old, new in swaps:
        if old == new:
            raise UsageError(f'--swap "{old}={new}": both names are the same exercise.')
        if olds.count(old) > 1:
            raise UsageError(f'--swap "{old}={new}": {old} is swapped twice; keep one of the two.')
    return Asked(asked.client, asked.rest_days, asked.sets, swaps, asked.is_without_extensions)


def _trained(written: str, trained: dict[str, str], catalogue: Catalogue) -> str:
    name = catalogue.resolve(written).exercise
    for each in (name, written):
        if each.casefold() in trained:
            return trained[each.casefold()]
    raise UsageError(
        f'--swap "{written}": no hard set of it in these four weeks; '
        f"{_trained_instead(written, name, sorted(trained.values()), catalogue)}."
    )


def _trained_instead(written: str, name: str, trained: list[str], catalogue: Catalogue) -> str:
    """Those for the same muscles where the name is known, else those spelt like it, else all."""
    meant = catalogue.exercises.get(name)
    if meant is not None:
        alike = [
            each
            for each in trained
            if each in catalogue.exercises
            and set(meant.direct) & set(catalogue.exercises[each].direct)
        ]
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


# The database


def _refuse_empty(con: duckdb.DuckDBPyConnection, asked: Asked) -> None:
    span = fetch(con, "from whatif_span")[0]
    if span["weeks"] is None:
        raise UsageError(
            f"{asked.client.id}: the four weeks to {span['to_on']} are all deload days; there is "
            "no usual week to reckon with."
        )
    if not fetch(con, "from whatif_sessions limit 1"):
        raise UsageError(
            f"{asked.client.id}: no hard set in the four weeks to {span['to_on']}; there is "
            "nothing to reckon with."
        )


def _write_asked(con: duckdb.DuckDBPyConnection, asked: Asked) -> None:
    rows: dict[str, list[tuple[Any, ...]]] = {
        "asked_change": [(asked.client.id, asked.rest_days, asked.is_without_extensions)],
        "asked_sets": list(asked.sets),
        "asked_swaps": list(asked.swaps),
    }
    for table, columns in ASKED.items():
        con.execute(f"create temp table if not exists {table} ({columns})")
        con.execute(f"delete from {table}")
        if rows[table]:
            marks = ", ".join("?" * len(rows[table][0]))
            con.executemany(f"insert into {table} values ({marks})", rows[table])


def _make_views(con: duckdb.DuckDBPyConnection, names: Iterable[str]) -> None:
    import duckdb

    for name in names:
        sql = (resource("sql") / "whatif" / f"{name}.sql").read_text(encoding="utf-8")
        try:
            con.execute(f"create temp view {name} as {sql}")
        except (duckdb.CatalogException, duckdb.BinderException) as error:
            raise UsageError(
                "The review was built by another version of setledger; `setledger run` builds it "
                "anew."
            ) from error


@contextmanager
def _review_of(
    workspace: Workspace, client_id: str, as_of: date | None
) -> Iterator[duckdb.DuckDBPyConnection]:
    """The published review, read-only; for another day a copy with this client built anew."""
    from pipeline.query import opened

    with opened(workspace.database) as con:
        tables = fetch(
            con, "select 1 from information_schema.tables where table_name = 'muscle_status'"
        )
        built_on = fetch(con, "select as_of from review.run")[0]["as_of"] if tables else None
        if built_on is None:
            raise UsageError(f"{workspace.root}: no review is built yet; `setledger run` does it.")
        if as_of in (None, built_on):
            yield con
            return
    with tempfile.TemporaryDirectory(prefix="setledger-") as folder:
        path = Path(folder) / workspace.database.name
        shutil.copyfile(workspace.database, path)
        assert as_of is not None
        _build_for(workspace, path, client_id, as_of)
        with opened(path) as con:
            yield con


def _build_for(workspace: Workspace, path: Path, client_id: str, as_of: date) -> None:
    import duckdb

    from pipeline import models
    from pipeline.building import build_inputs, resolve_names

    copy = duckdb.connect(str(path))
    try:
        inputs = build_inputs(workspace, as_of)
        resolve_names(copy, inputs)
        models.build(copy, inputs, scope=[client_id])
    finally:
        copy.close()

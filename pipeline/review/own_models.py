"""The user's own models: each models/*.sql becomes a table of schema own, after the review.

They only read the database: the connection gives up files, extensions and the network first. A
model that fails is named with its line and leaves no table, so that nothing old looks fresh.
"""

from __future__ import annotations

import hashlib
import re
import threading
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import duckdb

from pipeline.errors import ModelError
from pipeline.files import is_within, read_text, what_is_odd
from pipeline.ledger.sql_headers import comment_on, read_header
from pipeline.outcome import Timing
from pipeline.review.model_files import tables_read

if TYPE_CHECKING:
    from pipeline.settings.workspace import Workspace

FOLDER = "models"
SCHEMA = "own"
SECONDS_MAX = 300.0
"""A model that takes longer is stopped, so that a slip of the pen holds no run up for ever."""

SEAL = (
    "set python_enable_replacements = false",
    "set enable_external_access = false",
    "set lock_configuration = true",
)
"""No way out of the database, for as long as the connection stands."""

_NAME = re.compile(r"[a-z][a-z0-9_]*")
_LINE = re.compile(r"^LINE (\d+):", re.MULTILINE)


@dataclass(frozen=True)
class OwnFiles:
    """What lies in models/: the text of each file by its name, and what cannot be read."""

    texts: dict[str, str] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)

    @property
    def digest(self) -> str:
        """Digest of names and texts; empty where there are none."""
        if not (self.texts or self.faults):
            return ""
        return hashlib.sha256(repr((self.texts, self.faults)).encode()).hexdigest()


@dataclass(frozen=True)
class OwnModel:
    """One file that is one SELECT."""

    name: str
    sql: str = field(repr=False)
    reads: frozenset[str]
    """Tables that it reads, in lower case: "own.other", "review.muscle_day"."""

    @property
    def table(self) -> str:
        """The name under which SQL refers to it, quoted: it may be a word of SQL."""
        return f'{SCHEMA}."{self.name}"'

    @property
    def start(self) -> int:
        """The line on which the SELECT begins."""
        lines = self.sql.splitlines()
        return next((n for n, line in enumerate(lines, 1) if line[:2] not in ("--", "")), 1)


class _Fault(Exception):
    """Why one model is not built, in a sentence; the others go on."""


def read_files(workspace: Workspace) -> OwnFiles:
    """The files of models/, none from outside the workspace."""
    found = OwnFiles()
    root = workspace.root.resolve()
    for path in sorted((workspace.root / FOLDER).glob("[!.]*.sql")):
        if not is_within(path, root):
            odd: str | None = "leads out of the workspace; copy the file instead of linking it"
        elif not _NAME.fullmatch(path.stem):
            odd = "a table's name is a-z, 0-9 and _, beginning with a letter; rename the file"
        else:
            odd = what_is_odd(path, is_folder=False)
        try:
            if odd is None:
                found.texts[path.stem] = read_text(path)
        except UnicodeDecodeError:
            odd = "this is not UTF-8; save it as UTF-8"
        except OSError as error:
            odd = f"cannot be read ({error.strerror})"
        if odd is not None:
            found.faults.append(_sentence(path.stem, 1, odd))
    return found


def build_own(con: duckdb.DuckDBPyConnection, files: OwnFiles) -> tuple[list[Timing], list[str]]:
    """Make schema own anew; gives how long each model took, and a sentence for each that failed.

    Afterwards the connection reads and writes its database only. ModelError where a model brings
    the database itself down.
    """
    con.execute(f"drop schema if exists {SCHEMA} cascade")
    faults = list(files.faults)
    if not files.texts:
        return [], faults
    con.execute(f"create schema {SCHEMA}")
    for setting in SEAL:
        con.execute(setting)
    waiting: dict[str, OwnModel] = {}
    for name, sql in files.texts.items():
        try:
            waiting[name] = _read(con, name, sql)
        except _Fault as fault:
            faults.append(str(fault))
    timings, built = [], set[str]()
    while ready := [each for each in waiting.values() if _reads_only(each, built, files.texts)]:
        for model in ready:
            del waiting[model.name]
            started = time.perf_counter()
            try:
                _build_one(con, model)
                built.add(model.name)
            except _Fault as fault:
                faults.append(str(fault))
            timings.append(Timing(f"{SCHEMA}.{model.name}", time.perf_counter() - started))
    for model in waiting.values():
        missing = ", ".join(sorted(_own_reads(model, files.texts) - built))
        why = f"it reads {missing}, which is not built, or reads this model in turn"
        faults.append(_sentence(model.name, model.start, why))
    return timings, faults


def _own_reads(model: OwnModel, texts: dict[str, str]) -> set[str]:
    return {name for name in texts if f"{SCHEMA}.{name}" in model.reads}


def _reads_only(model: OwnModel, built: set[str], texts: dict[str, str]) -> bool:
    return _own_reads(model, texts) <= built


def _read(con: duckdb.DuckDBPyConnection, name: str, sql: str) -> OwnModel:
    """A file as a model, if it is one SELECT; else a fault."""
    try:
        statements = con.extract_statements(sql)
    except duckdb.Error as error:
        raise _Fault(_sentence(name, _line_of(error, 0) or 1, _told(error))) from error
    if not statements:
        raise _Fault(_sentence(name, 1, "there is no SELECT in it"))
    if len(statements) > 1:
        line = _line_after(sql, statements[0].query)
        raise _Fault(_sentence(name, line, "a second statement begins; a model is one SELECT"))
    model = OwnModel(name, sql.rstrip().rstrip(";"), frozenset())
    kind = statements[0].type.name
    if kind != "SELECT":
        what = "PIVOT without its values (IN ...)" if kind == "MULTI" else kind
        raise _Fault(_sentence(name, model.start, f"this is {what}; a model is one SELECT"))
    try:
        reads = tables_read(model.sql, con)
    except ModelError as error:
        raise _Fault(_sentence(name, model.start, str(error))) from error
    return OwnModel(name, model.sql, frozenset(each.lower() for each in reads))


def _build_one(con: duckdb.DuckDBPyConnection, model: OwnModel) -> None:
    clock = threading.Timer(SECONDS_MAX, con.interrupt)
    clock.daemon = True
    clock.start()
    try:
        con.execute(f"create table {model.table} as\n{model.sql}")
    except (duckdb.InternalException, duckdb.FatalException) as error:
        raise ModelError(
            f"{FOLDER}/{model.name}.sql: DuckDB itself fails on it ({_told(error)}); take the file "
            "away. The last good database stays in place."
        ) from error
    except duckdb.InterruptException as error:
        why = f"it took longer than {SECONDS_MAX:g} seconds and was stopped"
        raise _Fault(_sentence(model.name, model.start, why)) from error
    except duckdb.Error as error:
        line = _line_of(error, 1) or model.start
        raise _Fault(_sentence(model.name, line, _told(error))) from error
    finally:
        clock.cancel()
    _comment(con, model)


def _comment(con: duckdb.DuckDBPyConnection, model: OwnModel) -> None:
    """The header becomes comments; a column that it names and the table lacks is a fault."""
    meaning, keyed = read_header(model.sql)
    grain = keyed.pop("grain", "")
    if keyed.get("kind") == "view":  # written for our own files; here all are tables
        del keyed["kind"]
    given = [row[0] for row in con.execute(f"describe {model.table}").fetchall()]
    known = {each.lower() for each in given}
    for column in (*filter(None, re.split(r",\s*", grain)), *keyed):
        if column.lower() not in known:
            con.execute(f"drop table {model.table}")
            lines = model.sql.splitlines()
            line = next((n for n, each in enumerate(lines, 1) if column in each), 1)
            why = f"its header names {column}; the columns are {', '.join(given)}"
            raise _Fault(_sentence(model.name, line, why))
    comment_on(con, model.table, meaning, keyed)


def _line_of(error: duckdb.Error, before: int) -> int | None:
    """The line of the file that DuckDB names; `before` lines of ours stand above it."""
    found = _LINE.search(str(error))
    return max(int(found[1]) - before, 1) if found else None


def _line_after(sql: str, statement: str) -> int:
    """The line on which the text after a first statement begins."""
    rest = sql[len(statement) :]
    return sql[: len(sql) - len(rest.lstrip())].count("\n") + 1


def _told(error: Exception) -> str:
    """What DuckDB says, without the excerpt of the SQL, in one line."""
    text = re.split(r"\n+LINE \d+:", str(error))[0]
    return " ".join(text.split()).rstrip(".")


def _sentence(name: str, line: int, why: str) -> str:
    return (
        f"{FOLDER}/{name}.sql:{line}: {why}. Until this is mended there is no table "
        f"{SCHEMA}.{name}; all else goes on."
    )

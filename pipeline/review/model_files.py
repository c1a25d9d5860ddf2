"""The SQL models as files: found, read, and put in order by what DuckDB says they read.

A model is one SELECT in one file; its folder says where it lives. `staging`, `intermediate` and
`findings` become temporary tables, `review` becomes schema review. The first comment of a file is
its documentation: it reaches the database as comments.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import duckdb

from pipeline.errors import ModelError
from pipeline.ledger.sql_headers import read_header
from pipeline.resources import resource
from pipeline.review.macros import macros_text

FOLDERS = ("staging", "intermediate", "findings", "review")


@dataclass(frozen=True)
class Model:
    """One SQL file: its name, its place, what it reads and what its header says."""

    name: str
    folder: str
    is_view: bool
    meaning: str
    grain: tuple[str, ...]
    columns: dict[str, str]
    """Column to meaning, in the order of the final select."""
    sql: str = field(repr=False)
    reads: frozenset[str] = frozenset()
    """Other models that it reads."""

    @property
    def is_review(self) -> bool:
        """Whether it is part of the interface (schema review), not temporary."""
        return self.folder == "review"

    @property
    def table(self) -> str:
        """The name under which SQL refers to it."""
        return f"review.{self.name}" if self.is_review else self.name


def tables_read(sql: str, con: duckdb.DuckDBPyConnection) -> frozenset[str]:
    """Tables that a SELECT reads, as "name" or "schema.name", by DuckDB's own parser."""
    row = con.execute("select json_serialize_sql(?)", [sql]).fetchone()
    tree = json.loads(row[0]) if row else {"error": True}
    if tree.get("error"):
        raise ModelError(f"does not parse as one SELECT: {tree.get('error_message', 'no text')}")
    tables: set[str] = set()
    ctes: set[str] = set()
    for node in _nodes(tree):
        if node.get("type") == "BASE_TABLE":
            schema = node.get("schema_name")
            tables.add(f"{schema}.{node['table_name']}" if schema else node["table_name"])
        for entry in node.get("cte_map", {}).get("map", ()) if "cte_map" in node else ():
            ctes.add(entry["key"])
    return frozenset(tables - ctes)


def _nodes(tree: Any) -> Iterator[dict[str, Any]]:
    stack = [tree]
    while stack:
        node = stack.pop()
        if isinstance(node, dict):
            yield node
            stack.extend(node.values())
        elif isinstance(node, list):
            stack.extend(node)


def find_models(folder: Path | None = None) -> tuple[Model, ...]:
    """All models below sql/, each after those it reads."""
    root = folder or resource("sql")
    con = duckdb.connect()
    models = {}
    for place in FOLDERS:
        for path in _files(root / place):
            sql = path.read_text(encoding="utf-8").strip().rstrip(";")
            meaning, keyed = read_header(sql)
            try:
                reads = tables_read(sql, con)
            except ModelError as error:
                raise ModelError(f"sql/{place}/{path.name} {error}") from error
            is_view = keyed.get("kind") == "view"
            if is_view:  # else it is the meaning of a column of that name
                del keyed["kind"]
            model = Model(
                name=path.stem,
                folder=place,
                is_view=is_view,
                meaning=meaning,
                grain=tuple(re.split(r",\s*", keyed.pop("grain", ""))),
                columns=keyed,
                sql=sql,
                reads=reads,
            )
            models[model.table] = model
    con.close()
    graph = {name: model.reads for name, model in models.items()}
    return tuple(models[name] for name in in_order(graph))


def in_order(reads: dict[str, frozenset[str]]) -> list[str]:
    """Names, each after those of them that it reads; by name, so that every machine agrees.

    Raises ModelError where they read each other in a circle.
    """
    done: dict[str, None] = {}

    def visit(name: str, path: tuple[str, ...]) -> None:
        if name in done:
            return
        if name in path:
            raise ModelError(f"models read each other in a circle: {' → '.join(path)}")
        for other in sorted(reads[name] & reads.keys()):
            visit(other, (*path, name))
        done[name] = None

    for name in sorted(reads):
        visit(name, ())
    return list(done)


def models_digest() -> str:
    """Digest of the files of all models, and of the macros they share."""
    files = ((place, path) for place in FOLDERS for path in _files(resource("sql") / place))
    said = (f"{place}/{path.stem}\n{path.read_text(encoding='utf-8')}" for place, path in files)
    return hashlib.sha256("\n".join([macros_text(), *said]).encode()).hexdigest()


def _files(folder: Path) -> list[Path]:
    return sorted(folder.rglob("*.sql"))

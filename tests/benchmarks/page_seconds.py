"""What a client's three pages cost, by part: processor milliseconds a client.

    python tests/benchmarks/page_seconds.py WORKSPACE [--clients 20]

Reads a built workspace (`setledger demo DIR` makes one) and renders in memory; nothing is written.
"""

from __future__ import annotations

import argparse
import functools
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import duckdb

from pipeline.pages import client_page, evidence_page, render, years_page
from pipeline.pages.client_data import data_of
from pipeline.settings.workspace import Workspace
from pipeline.settings.workspace_file import find_workspace

PARTS = (
    "read_page",
    "read_loads",
    "read_set_aside",
    "read_muscles",
    "read_lifts",
    "muscles_section",
    "rhythm_section",
    "effort_section",
    "lifts_section",
    "inside_section",
    "changes_section",
    "days_strip",
    "lead",
    "month_table",
)
"""Functions of client_page: the first calls the others, in their order."""


def timed(name: str, spent: Counter[str], part: Callable[..., Any]) -> Callable[..., Any]:
    """The same, with its time added up."""

    @functools.wraps(part)
    def run(*given: Any, **named: Any) -> Any:
        started = time.process_time()
        try:
            return part(*given, **named)
        finally:
            spent[name] += time.process_time() - started

    return run


def main() -> None:
    """Render pages one after the other and print what each part took."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("workspace", type=Path)
    parser.add_argument("--clients", type=int, default=20)
    arguments = parser.parse_args()
    workspace = find_workspace(arguments.workspace)
    con = duckdb.connect(str(workspace.database), read_only=True)
    names = [
        name
        for (name,) in con.execute(
            "select distinct client_id from ledger.sets order by client_id limit ?",
            [arguments.clients],
        ).fetchall()
    ]
    # the first loads libraries and compiles charts
    written(con, workspace, names[0])
    spent: Counter[str] = Counter()
    for module, parts in (
        (client_page, PARTS),
        (evidence_page, ("read_evidence",)),
        (years_page, ("read_years",)),
        (render, ("render_client", "render_side")),
    ):
        for name in parts:
            setattr(module, name, timed(name, spent, getattr(module, name)))
    started, wall = time.process_time(), time.perf_counter()
    sizes = [max(map(len, written(con, workspace, name))) for name in names]
    whole, wall = time.process_time() - started, time.perf_counter() - wall
    for name, seconds in spent.most_common():
        print(f"{1000 * seconds / len(names):8.1f} ms  {name}")  # noqa: T201
    print(f"{1000 * whole / len(names):8.1f} ms  a client")  # noqa: T201
    print(f"{1000 * wall / len(names):8.1f} ms  by the clock; largest {max(sizes)} bytes")  # noqa: T201


def written(con: duckdb.DuckDBPyConnection, workspace: Workspace, client_id: str) -> list[bytes]:
    """The three pages of one client."""
    data = data_of(con, workspace, client_id)
    page = client_page.read_page(data, workspace)
    sides = (evidence_page.read_evidence(data, page), years_page.read_years(data, page))
    return [
        render.render_client(page).encode(),
        *(render.render_side(side).encode() for side in sides),
    ]


if __name__ == "__main__":
    main()

"""What a client's page costs, by section: processor milliseconds a page.

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

from pipeline.pages import pages, render
from pipeline.settings.workspace_file import find_workspace

PARTS = (
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
    "data_section",
    "lead",
    "month_table",
)
"""What pages.read_client calls, in its order."""


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
    render.render_client(pages.read_client(con, workspace, names[0]))  # the first loads libraries
    spent: Counter[str] = Counter()
    for name in PARTS:
        setattr(pages, name, timed(name, spent, getattr(pages, name)))
    write = timed("templates", spent, render.render_client)
    started, wall = time.process_time(), time.perf_counter()
    sizes = [len(write(pages.read_client(con, workspace, name)).encode()) for name in names]
    whole, wall = time.process_time() - started, time.perf_counter() - wall
    pages_made = len(names)
    for name, seconds in spent.most_common():
        print(f"{1000 * seconds / pages_made:8.1f} ms  {name}")  # noqa: T201
    print(f"{1000 * whole / pages_made:8.1f} ms  a page")  # noqa: T201
    print(f"{1000 * wall / pages_made:8.1f} ms  by the clock; largest {max(sizes)} bytes")  # noqa: T201


if __name__ == "__main__":
    main()

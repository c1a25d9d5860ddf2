"""References for a change that must change nothing: the demo's pages and tables of two commits.

    python tests/golden/freeze.py freeze COMMIT DIR    # make the references of a commit
    python tests/golden/freeze.py compare COMMIT DIR   # compare another commit with them

`COMMIT` may be `.`, the tree as it stands. Pages are compared byte for byte; of every table each
cell, the comments, and nothing but what names the moment or the code itself (`VOLATILE`). The exit
code is 1 where anything differs.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

import duckdb

ROOT = Path(__file__).resolve().parents[2]
VOLATILE = {
    ("ledger", "loads"): ("loaded_at",),
    ("review", "run"): ("models_digest", "inputs_digest", "tool_version"),
    ("ledger", "meta"): ("inputs_digest", "tool_version", "journal_digest"),
}
COMMENTS = """
    select schema_name, table_name, '' as column_name, comment from duckdb_tables()
    union all
    select schema_name, view_name, '', comment from duckdb_views() where not internal
    union all
    select schema_name, table_name, column_name, comment from duckdb_columns() where not internal
    order by all
"""


@contextmanager
def tree_of(commit: str) -> Iterator[Path]:
    """The files of a commit in a folder of their own; `.` is the tree as it stands."""
    if commit == ".":
        yield ROOT
        return
    packed = subprocess.run(
        ["git", "archive", commit], cwd=ROOT, check=True, capture_output=True
    ).stdout
    with tempfile.TemporaryDirectory() as folder:
        with tarfile.open(fileobj=BytesIO(packed)) as archive:
            archive.extractall(folder, filter="data")
        yield Path(folder)


def freeze(commit: str, into: Path) -> None:
    """The demo's pages below `into`/out and its tables as `into`/<schema>.<table>.parquet."""
    shutil.rmtree(into, ignore_errors=True)
    into.mkdir(parents=True)
    with tree_of(commit) as tree, tempfile.TemporaryDirectory() as folder:
        workspace = Path(folder) / "demo"
        subprocess.run(
            [sys.executable, "-m", "pipeline.cli", "demo", str(workspace)],
            cwd=folder,
            env=os.environ | {"PYTHONPATH": str(tree)},
            check=True,
            capture_output=True,
        )
        shutil.copytree(workspace / "out", into / "out")
        with duckdb.connect(str(workspace / "setledger.duckdb"), read_only=True) as con:
            for schema, table in con.execute(
                "select table_schema, table_name from information_schema.tables"
                " where table_schema in ('ledger', 'review') order by all"
            ).fetchall():
                left_out = ", ".join(VOLATILE.get((schema, table), ()))
                columns = f"* exclude ({left_out})" if left_out else "*"
                con.execute(
                    f"copy (select {columns} from {schema}.{table} order by all)"
                    f" to '{into / f'{schema}.{table}.parquet'}'"
                )
            con.execute(f"copy ({COMMENTS}) to '{into / 'comments.parquet'}'")


def differences(old: Path, new: Path) -> list[str]:
    """What differs between two sets of references, a line each; empty: nothing."""
    found = []
    names = [
        {path.relative_to(side) for path in side.rglob("*") if path.is_file()}
        for side in (old, new)
    ]
    found += [f"{name}: only in the references" for name in sorted(names[0] - names[1])]
    found += [f"{name}: new" for name in sorted(names[1] - names[0])]
    for name in sorted(names[0] & names[1]):
        if name.suffix != ".parquet":
            if (old / name).read_bytes() != (new / name).read_bytes():
                found.append(f"{name}: other bytes")
            continue
        sides = [f"from '{side / name}'" for side in (old, new)]
        shapes = [duckdb.sql(f"describe {side}").fetchall() for side in sides]
        if shapes[0] != shapes[1]:
            found.append(f"{name}: other columns")
            continue
        gone, came = (
            duckdb.sql(f"select count(*) from ({a} except all {b})").fetchall()[0][0]
            for a, b in (sides, sides[::-1])
        )
        if gone or came:
            found.append(f"{name}: {gone} rows gone, {came} new")
    return found


def main() -> int:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("does", choices=["freeze", "compare"])
    parser.add_argument("commit")
    parser.add_argument("folder", type=Path)
    asked = parser.parse_args()
    if asked.does == "freeze":
        freeze(asked.commit, asked.folder.resolve())
        return 0
    with tempfile.TemporaryDirectory() as folder:
        new = Path(folder) / "new"
        freeze(asked.commit, new)
        found = differences(asked.folder.resolve(), new)
    sys.stdout.write("\n".join(found or ["equal"]) + "\n")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())

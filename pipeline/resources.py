"""Where sql/, reports/ and sample_exports/ stand: inside the wheel, or beside the package."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files
from pathlib import Path


def resource(name: str) -> Path:
    """The folder `name`, as the installed wheel carries it or as the checkout holds it."""
    package = Path(str(files("pipeline")))
    inside = package / name
    return inside if inside.is_dir() else package.parent / name


@cache
def sql(name: str) -> str:
    """One statement: the file `name` below sql/, without its ending."""
    return (resource("sql") / f"{name}.sql").read_text(encoding="utf-8")


def seed_rows(name: str) -> list[dict[str, str]]:
    """The rows of a table of sql/seeds/."""
    with (resource("sql") / "seeds" / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))

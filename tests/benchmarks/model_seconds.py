"""Build all models over a generated ledger and print how long each took.

python tests/benchmarks/model_seconds.py --sets 3000000
"""

from __future__ import annotations

import argparse
import tempfile
from datetime import date
from pathlib import Path

import duckdb
from generate_ledger import fill

from pipeline.names.exercises_file import load_catalogue
from pipeline.review.build import build_models
from pipeline.review.inputs import BuildInputs
from pipeline.settings.rules import Rules

AS_OF = date(2024, 8, 5)
"""Last day of the generated ledger."""


def main() -> None:
    """Print seconds per model, slowest first, and their sum."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--sets", type=int, default=1_000_000)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        con = duckdb.connect(Path(folder) / "generated.duckdb")
        fill(con, arguments.sets)
        inputs = BuildInputs(
            as_of=AS_OF,
            rules=Rules(),
            clients=(),
            catalogue=load_catalogue(),
            tool_version="benchmark",
        )
        timings = build_models(con, inputs)
        con.close()
    for timing in sorted(timings, key=lambda each: -each.seconds):
        print(f"{timing.seconds:8.2f}  {timing.model}")  # noqa: T201
    print(f"{sum(each.seconds for each in timings):8.2f}  together")  # noqa: T201


if __name__ == "__main__":
    main()

"""How often own rules, charset-normalizer and DuckDB's sniffer tell how a file is written.

Run by hand: `python tests/benchmarks/sniffing_rates.py`. The figures stand in tests/README.md.
Counted on the files of tests/data/drafting and on random shapes (tests/unit/shapes.py).
"""

from __future__ import annotations

import csv
import io
import random
import sys
import tempfile
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import charset_normalizer
import duckdb

sys.path.insert(0, str(Path(__file__).parent.parent / "unit"))
import shapes

from pipeline.drafting.sniffer import sniff

CORPUS = Path(__file__).parent.parent / "data" / "drafting"
SHAPES = 500


def files() -> Iterator[tuple[bytes, str, str, bool]]:
    """Content, encoding, delimiter and whether there is a header."""
    expected = tomllib.loads((CORPUS / "expected.toml").read_text(encoding="utf-8"))
    for name, each in expected.items():
        data = (CORPUS / f"{name}.csv").read_bytes()
        yield (
            data,
            each.get("encoding", "utf-8"),
            each.get("delimiter", ","),
            each.get("header", True),
        )
    for seed in range(SHAPES):
        generator = random.Random(seed)
        log = shapes.rendered(lambda options, draw=generator: draw.choice(list(options)))
        shape = log.shape
        encoding = "utf-8-sig" if log.data.startswith(b"\xef\xbb\xbf") else shape["encoding"]
        yield log.data, encoding, shape["delimiter"], shape["header"] != "none"


def by_duckdb(text: str) -> tuple[str, bool] | None:
    """Delimiter and header of a file already turned into UTF-8; None if it gives up."""
    with tempfile.NamedTemporaryFile("w", suffix=".csv", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        try:
            rows = duckdb.execute(
                "select Delimiter, HasHeader from sniff_csv(?)", [file.name]
            ).fetchall()
        except duckdb.Error:
            return None
    return (rows[0][0], rows[0][1]) if rows else None


def by_csv_module(text: str) -> str | None:
    """Delimiter by the standard library's sniffer."""
    try:
        return csv.Sniffer().sniff(io.StringIO(text).read(4096), ",;\t|").delimiter
    except csv.Error:
        return None


def main() -> None:
    """Prints how many files each tells rightly."""
    right: Counter[str] = Counter()
    total = 0
    for data, encoding, delimiter, has_header in files():
        total += 1
        truth = data.decode(encoding).removeprefix("\ufeff")
        found = sniff(data, "file")
        own = data.decode(found.encoding).removeprefix("\ufeff")
        right["encoding, own rules"] += own == truth
        best = charset_normalizer.from_bytes(data).best()
        right["encoding, charset-normalizer"] += (
            best is not None and str(best).removeprefix("\ufeff") == truth
        )
        right["delimiter, own rules"] += found.delimiter == delimiter
        right["header or none, own rules"] += found.has_header == has_header
        sniffed = by_duckdb(truth)
        right["delimiter, DuckDB"] += sniffed is not None and sniffed[0] == delimiter
        right["header or none, DuckDB"] += sniffed is not None and sniffed[1] == has_header
        right["delimiter, csv module"] += by_csv_module(truth) == delimiter
    for name, count in sorted(right.items()):
        print(f"{name:32} {count:4} of {total}  {count / total:.1%}")  # noqa: T201


if __name__ == "__main__":
    main()

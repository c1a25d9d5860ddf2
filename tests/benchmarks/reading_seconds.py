"""How long reading and normalising take: 3 million lines in the shapes that exports have.

    python tests/benchmarks/reading_seconds.py [LINES]

Prints wall and processor seconds a shape, best of two; nothing is asserted, as machines differ.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from datetime import date, timedelta

from pipeline.names.clients import ClientIndex
from pipeline.reading.export import read_export
from pipeline.reading.normalise import normalise
from pipeline.settings.mapping_file import parse_mapping
from pipeline.settings.rules import Rules

MAPPING = parse_mapping(
    'name = "log"\n[columns]\nperformed_on = "day"\nexercise = "lift"\nload = "kg"\n'
    'reps = "reps"\nrir = "rir"\nset_kind = "kind"\nset_no = "nth"\nclient = "who"\n'
    '[formats]\nload_unit = "kg"\n',
    "log.toml",
)
HEADER = b"day,lift,kg,reps,rir,kind,nth,who\n"


def lines(count: int) -> Iterator[bytes]:
    """Sets of clients with 10,000 each, 20 a day, every third day."""
    first = date(2010, 1, 1)
    for n in range(count):
        client, place = divmod(n, 10_000)
        day = first + timedelta(days=place // 20 * 3)
        load, kind = 40 + n * 7 % 97 / 2, ("work", "", "warmup")[n % 3]
        yield (
            f"{day},Bench Press {place % 20 // 4 + client % 10},{load:g},{n % 12 + 1},{n % 4},"
            f"{kind},{place % 4 + 1},client-{client}\n"
        ).encode()


def shapes(count: int) -> Iterator[tuple[str, Callable[[], bytes]]]:
    """Files of one content, written in different ways."""
    body = b"".join(lines(count))
    yield "plain", lambda: HEADER + body
    yield "CRLF", lambda: HEADER + body.replace(b"\n", b"\r\n")
    yield "one surplus cell", lambda: HEADER + body + b"2020-01-01,x,1,1,1,work,1,a,b\n"
    yield (
        "all cells quoted",
        lambda: HEADER + b'"' + body[:-1].replace(b",", b'","').replace(b"\n", b'"\n"') + b'"\n',
    )
    yield (
        "records over two lines",
        lambda: HEADER + body.replace(b"Bench Press 7", b'"Bench\nPress 7"'),
    )


def main(count: int) -> None:
    """Time each shape."""
    for name, make in shapes(count):
        data = make()
        best: list[tuple[float, float, float, float]] = []
        for _ in range(2):
            marks = [(time.perf_counter(), time.process_time())]
            export = read_export(data, MAPPING.file, "log.csv", tuple(MAPPING.columns.values()))
            marks.append((time.perf_counter(), time.process_time()))
            normalise(export, MAPPING, 1, ClientIndex(), date(2100, 1, 1), Rules())
            marks.append((time.perf_counter(), time.process_time()))
            (start, used), (read, read_used), (end, end_used) = marks
            best.append((read - start, read_used - used, end - read, end_used - read_used))
        wall, processor, more, more_processor = min(best)
        print(  # noqa: T201 - this script's answer
            f"{name:24} {len(data) / 1e6:6.0f} MB  read {wall:5.2f} s ({processor:5.2f})"
            f"  normalise {more:5.2f} s ({more_processor:5.2f})"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3_000_000)

"""What a load, a build, a month end and the pages cost, as multiples of DuckDB's bare CSV read.

    python tests/benchmarks/ratios.py [--clients 200] [--years 3.6] [--pages 200]

Invents a log, runs the command line as a user would, each step a whole process on the same
machine, and prints seconds, the multiple of the bare read, and the peak of memory. Ratios can be
compared between machines; seconds can't. Needs about 3 GB of disk and an otherwise idle machine.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import duckdb

from pipeline.resources import resource

FIRST = date(2022, 1, 3)
_ROWS = """
select
    strftime(day, '%Y-%m-%d') as day,
    format('client-{:03d}', client_no) as who,
    exercise as lift,
    round(
        (40 + exercise_no % 60)
        * (1 + 0.0004 * least(session_no, 200)
            + ((hash(client_no, session_no, slot) % 41)::integer - 20) / 1000
            + ((hash(client_no, session_no) % 21)::integer - 10) / 1000),
        1) as kg,
    (6 + exercise_no % 5 + (hash(client_no, session_no, slot, nth) % 3)::integer - nth // 2)
        ::integer as reps,
    case when client_no % 2 = 0 then hash(nth, session_no, slot, client_no) % 5 end as rir,
    nth + 1 as nth,
from (
    select *,
        hash((client_no * 24 + session_no % 4 * 6 + slot)::bigint) % exercise_count::ubigint
            as exercise_no,
        getvariable('first_day')
        + (session_no // 4 * 7 + [0, 1, 3, 5][session_no % 4 + 1])::integer as day,
    from range(getvariable('clients')) as clients (client_no)
    cross join range(getvariable('sessions')) as sessions (session_no)
    cross join range(6) as slots (slot)
    cross join range(4) as sets (nth)
    cross join (select count(*) as exercise_count from names)
)
inner join names using (exercise_no)
where day between $since and $until
order by day, who, slot, nth
"""
"""Four sessions in turn of six exercises, four sets each. Every value comes from a hash of its
place, so two runs give the same files."""

_MAPPING = """name = "log"
[columns]
performed_on = "day"
client = "who"
exercise = "lift"
load = "kg"
reps = "reps"
rir = "rir"
set_no = "nth"
[formats]
date = "%Y-%m-%d"
load_unit = "kg"
"""


@dataclass(frozen=True)
class Step:
    """One process: what it did, its time by the clock and of processors, its peak of memory."""

    name: str
    seconds: float
    processor: float
    peak_gb: float


class Room:
    """A workspace with invented clients, and the commands run in it."""

    def __init__(self, folder: Path, clients: int, years: float) -> None:
        self.folder = folder
        self.until = FIRST + timedelta(days=round(years * 365.25))
        self.steps: list[Step] = []
        self._con = duckdb.connect()
        self._con.execute("set variable first_day = ?", [FIRST])
        self._con.execute("set variable clients = ?", [clients])
        self._con.execute("set variable sessions = ?", [round(years * 52.2 + 10) * 4])
        self._con.execute(
            "create table names as select exercise, row_number() over (order by exercise) - 1"
            " as exercise_no from read_csv(?) where load_basis in ('total', 'per_hand')",
            [str(resource("sql") / "seeds/exercises.csv")],
        )
        for name in ("exports", "mappings"):
            (folder / name).mkdir(parents=True)
        (folder / "mappings/log.toml").write_text(_MAPPING, encoding="utf-8")
        (folder / "setledger.toml").write_text(
            '[[sources]]\nfiles = "exports/*.csv"\nmapping = "mappings/log.toml"\n',
            encoding="utf-8",
        )

    def write(self, name: str, since: date, until: date) -> int:
        """An export of these days; gives its number of sets."""
        path = self.folder / "exports" / name
        self._con.execute(f"copy ({_ROWS}) to '{path}' (header)", {"since": since, "until": until})
        with path.open("rb") as file:
            return sum(1 for _ in file) - 1

    def bare_read(self, name: str) -> None:
        """DuckDB's own reading of the file into a table of a file, and its checkpoint."""
        path, target = self.folder / "exports" / name, self.folder / "bare.duckdb"
        code = (
            f"import duckdb; con = duckdb.connect({str(target)!r});"
            f'con.execute("create table log as from read_csv({str(path)!r})");'
            "con.execute('checkpoint'); con.close()"
        )
        self._step("bare read", [sys.executable, "-c", code])
        target.unlink()

    def run(self, name: str, *command: str) -> None:
        """A command of ours, with the room's last day as as-of day where it takes one."""
        self._step(name, [sys.executable, "-m", "pipeline.cli", "-w", str(self.folder), *command])

    def _step(self, name: str, command: Sequence[str]) -> None:
        before = time.perf_counter()
        process = subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
            env=os.environ | {"GX_ANALYTICS_ENABLED": "false"},
        )  # fmt: skip
        said = process.stderr.read() if process.stderr else b""
        _, status, usage = os.wait4(process.pid, 0)
        seconds = time.perf_counter() - before
        if os.waitstatus_to_exitcode(status) not in (0, 1):
            sys.exit(f"{name}: exit {os.waitstatus_to_exitcode(status)}\n{said.decode()[-2000:]}")
        processor = usage.ru_utime + usage.ru_stime
        self.steps.append(Step(name, seconds, processor, usage.ru_maxrss / 1e6))
        print(f"{name:34} {seconds:8.2f} s {processor:8.2f}", file=sys.stderr, flush=True)  # noqa: T201


def steps(room: Room, pages: int) -> Iterator[str]:
    """All that is timed, in order; gives lines about sizes as it goes."""
    last = room.until - timedelta(days=28)
    as_of, later = ("--as-of", str(last)), ("--as-of", str(room.until))
    yield f"{room.write('log-1.csv', FIRST, last):,} sets"
    room.bare_read("log-1.csv")
    room.run("load", "load")
    room.run("build", "build", *as_of)
    yield f"month: {room.write('log-2.csv', last + timedelta(days=1), room.until):,} sets"
    room.run("month more: load", "load")
    room.run("month more: build", "build", *later)
    room.run("nothing new: build", "build", *later)
    room.run("nothing new: check", "check")
    some = [f"--client=client-{n:03d}" for n in range(pages)]
    room.run(f"{pages} clients' pages", "report", *some, *later)
    room.run("the same pages again", "report", *some, *later)
    room.run("run with nothing new", "run", *later)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--clients", type=int, default=200)
    parser.add_argument("--years", type=float, default=3.6)
    parser.add_argument("--pages", type=int, default=0, help="how many clients' pages to make")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        room = Room(Path(folder) / "room", arguments.clients, arguments.years)
        for line in steps(room, arguments.pages or arguments.clients):
            print(line)  # noqa: T201
        bare = room.steps[0]
        print("| step | seconds | bare reads | processor s | bare reads | peak GB |")  # noqa: T201
        print("| --- | ---: | ---: | ---: | ---: | ---: |")  # noqa: T201
        for step in room.steps:
            print(  # noqa: T201
                f"| {step.name} | {step.seconds:.1f} | {step.seconds / bare.seconds:.1f} |"
                f" {step.processor:.1f} | {step.processor / bare.processor:.1f} |"
                f" {step.peak_gb:.1f} |"
            )


if __name__ == "__main__":
    main()

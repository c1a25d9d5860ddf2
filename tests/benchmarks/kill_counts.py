"""kill -9 at every durable step of every command that writes, and at random moments; with counts.

    python tests/benchmarks/kill_counts.py [--minutes 30] [--seed 1] [--only forget]

A durable step is a file opened for writing, renamed, removed or flushed to the disk inside the
workspace, as Python's audit hooks see them; what DuckDB writes by itself is met at random moments.
Steps first, in random order over all commands, then random moments until the time is over. After
each kill the database must open and hold the tables of before or after, and each page be one of
before or after; then the same command, and `setledger run`, must come to the tables and pages of an
undisturbed workspace, and no mail may have come twice or be lost without a word.

Prints a table for tests/README.md, and each fault with the command and step that show it again
(`--only "forget ines --yes" --step 12`). Exits 1 if there was one.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import duckdb
from aiosmtpd.controller import Controller

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))
from tests.commands import run_setledger  # noqa: E402

NOW = "1788220800"
"""SOURCE_DATE_EPOCH: the first of September 2026."""
FEW = ("ines", "kofi", "matthis")
MANY = (*FEW, "odalys", "petra", "sunniva", "wren")
"""Enough of them that pages are made in processes."""

LAUNCH = """
import atexit, os, signal, sys
root, limit = os.environ["KILL_ROOT"] + os.sep, int(os.environ.pop("KILL_AT"))
told, steps = os.environ.pop("KILL_TOLD"), 0
def step():
    global steps
    steps += 1
    if steps == limit:
        os.killpg(0, signal.SIGKILL)
def inside(path):
    return isinstance(path, (str, bytes)) and os.path.abspath(os.fsdecode(path)).startswith(root)
def seen(event, given):
    if event == "open":
        path, mode, flags = given
        if inside(path) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
            step()
    elif event in ("os.rename", "os.remove", "os.rmdir", "os.mkdir", "os.truncate", "os.chmod"):
        if inside(given[0]):
            step()
sound = os.fsync
def fsync(handle):
    step()
    sound(handle)
    step()
os.fsync = fsync
me = os.getpid()
def tell():
    if os.getpid() == me:
        with open(told, "w") as file:
            file.write(str(steps))
atexit.register(tell)
sys.addaudithook(seen)
from pipeline.cli import main
main()
"""

CONFIG = """
[workspace]
name = "Night Shift"
[[sources]]
files = "exports/*.csv"
mapping = "mappings/log.toml"
[mail]
host = "127.0.0.1"
port = {port}
security = "none"
from = "room@example.org"
"""
MAPPING = """
name = "log"
[columns]
client = "who"
performed_on = "day"
exercise = "lift"
load = "kg"
reps = "reps"
[formats]
load_unit = "kg"
"""


class _Controller(Controller):
    """A server on any free port; the library tries out only the port that was asked for."""

    def _trigger_server(self) -> None:
        server: Any = self.server
        socket.create_connection(server.sockets[0].getsockname()).close()


class Post:
    """A mail server that takes everything and counts."""

    def __init__(self) -> None:
        self.recipients: Counter[str] = Counter()
        self.controller = _Controller(self, hostname="127.0.0.1", port=0)

    def start(self) -> int:
        self.controller.start()
        server: Any = self.controller.server
        return int(server.sockets[0].getsockname()[1])

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:
        self.recipients.update(envelope.rcpt_tos)
        return "250 taken"


def write_log(folder: Path, days: int, changed: int = 0) -> None:
    """An export of all clients, in which the first days may be changed."""
    lines = ["who,day,lift,kg,reps"]
    for who in names_of(folder):
        for day in range(1, days + 1):
            load = 60 + day + (5 if day <= changed else 0)
            lines += [f"{who},2026-08-{day:02},{lift},{load},8" for lift in ("squat", "row")]
    (folder / "exports/log.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def names_of(folder: Path) -> list[str]:
    """Ids of a workspace's clients."""
    return re.findall(r'^id = "(.+)"$', (folder / "setledger.toml").read_text("utf-8"), re.M)


def make_room(folder: Path, port: int, names: tuple[str, ...]) -> None:
    """A workspace, loaded, built and reported."""
    for name in ("exports", "mappings"):
        (folder / name).mkdir(parents=True)
    clients = "".join(
        f'[[clients]]\nid = "{name}"\nname = "{name.title()}"\nemail = "{name}@example.org"\n'
        for name in names
    )
    (folder / "setledger.toml").write_text(CONFIG.format(port=port) + clients, encoding="utf-8")
    (folder / "mappings/log.toml").write_text(MAPPING, encoding="utf-8")
    write_log(folder, 20)
    finished(folder, "run")


# Commands


@dataclass(frozen=True)
class Command:
    """A command, and the workspace in which it has something to do."""

    words: tuple[str, ...]
    prepare: Callable[[Path], object]
    mails: bool = False
    names: tuple[str, ...] = FEW

    @property
    def name(self) -> str:
        return " ".join(self.words)


def _longer(folder: Path) -> None:
    write_log(folder, 22, changed=2)


def _shorter(folder: Path) -> None:
    """An export that would take most sets away is held."""
    lines = (folder / "exports/log.csv").read_text(encoding="utf-8").splitlines()
    kept = [lines[0], *(line for line in lines[1:] if re.search("-(01|02|19|20),", line))]
    (folder / "exports/log.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    ended(folder, "load")


def _longer_and_loaded(folder: Path) -> None:
    _longer(folder)
    finished(folder, "load")


def _without_pages(folder: Path) -> None:
    _longer(folder)
    for name in ("load", "build"):
        finished(folder, name)


def _forgotten(folder: Path) -> None:
    finished(folder, "forget", "ines", "--yes")


def _altered(folder: Path) -> None:
    """One bit of the journal's last line is turned."""
    _longer_and_loaded(folder)
    path = folder / ".setledger/loads.jsonl"
    content = bytearray(path.read_bytes())
    content[content[:-1].rindex(b"\n") + 20] ^= 4
    path.write_bytes(content)


def _nothing(_folder: Path) -> None:
    pass


COMMANDS = (
    Command(("load",), _longer),
    Command(("load", "--accept", "exports/log.csv"), _shorter),
    Command(("unload", "1"), _nothing),
    Command(("build",), _longer_and_loaded),
    Command(("report",), _without_pages, names=MANY),
    Command(("report", "--month", "2026-08"), _without_pages),
    Command(("run",), _longer, names=MANY),
    Command(("run", "--send"), _longer, mails=True),
    Command(("send",), _nothing, mails=True),
    Command(("check",), _longer_and_loaded),
    Command(("rebuild",), _longer_and_loaded),
    Command(("rebuild", "--salvage"), _altered),
    Command(("forget", "ines", "--yes"), _nothing),
    Command(("forget", "ines", "--readmit"), _forgotten),
)


def started(folder: Path, *words: str, kill_at: int = 0) -> subprocess.Popen[str]:
    """A command in a process group of its own; it kills that at its nth durable step."""
    environment = {
        "PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "PYTHONPATH": str(ROOT),
        "SOURCE_DATE_EPOCH": NOW, "KILL_ROOT": str(folder), "KILL_AT": str(kill_at),
        "KILL_TOLD": str(folder.with_name(folder.name + ".steps")),
    }  # fmt: skip
    return subprocess.Popen(
        [sys.executable, "-c", LAUNCH, *words, "-w", str(folder)],
        cwd=folder, env=environment, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip


def ended(folder: Path, *words: str) -> tuple[int, str]:
    """Exit code of a command that nobody kills, and what it said; in this process, to be quick."""
    done = run_setledger(*words, "-w", str(folder), cwd=folder, SOURCE_DATE_EPOCH=NOW)
    return done.returncode, done.stderr


def finished(folder: Path, *words: str) -> None:
    code, said = ended(folder, *words)
    if code:
        raise SystemExit(f"{' '.join(words)}: exit code {code}: {said}")


# What is looked at


Tables = dict[str, list[str]]


def tables(folder: Path) -> Tables | None:
    """Every row of the published database; None where it cannot be read."""
    try:
        with duckdb.connect(str(folder / "setledger.duckdb"), read_only=True) as con:
            names = con.execute(
                "select table_schema || '.' || table_name from information_schema.tables"
                " where table_schema in ('ledger', 'review') order by all"
            ).fetchall()
            return {
                name: sorted(map(repr, con.execute(f"from {name}").fetchall())) for (name,) in names
            }
    except duckdb.Error:
        return None


def pages(folder: Path) -> dict[str, bytes]:
    """Every page."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in (folder / "out").rglob("*.html")
    }


def leftovers(folder: Path) -> list[str]:
    """What a finished run must not leave."""
    names = [path.name for path in (folder / ".setledger").iterdir()]
    found = [name for name in names if name in ("work", "outbox", "other-day")]
    return found + [str(path.relative_to(folder)) for path in folder.rglob(".*.new")]


@dataclass
class Calm:
    """A command that nobody disturbed: where it began, what it left, and what a run then left."""

    template: Path
    steps: int
    seconds: float
    before: tuple[Tables | None, dict[str, bytes]]
    after: tuple[Tables | None, dict[str, bytes]]
    final: tuple[Tables | None, dict[str, bytes]]
    final_code: int


def calm(command: Command, room: Path, folder: Path) -> Calm:
    """Do it once without a kill."""
    template = folder / "template"
    shutil.copytree(room, template)
    command.prepare(template)
    quiet = folder / "quiet"
    shutil.copytree(template, quiet)
    start = time.monotonic()
    process = started(quiet, *command.words)
    said = process.communicate()[1]
    seconds = time.monotonic() - start
    if process.returncode not in (0, 1):
        raise SystemExit(f"{command.name}: exit code {process.returncode}: {said}")
    steps = int(quiet.with_name("quiet.steps").read_text(encoding="ascii"))
    after = tables(quiet), pages(quiet)
    final_code, _ = ended(quiet, "run")
    final = tables(quiet), pages(quiet)
    return Calm(template, steps, seconds, (tables(template), pages(template)), after, final,
                final_code)  # fmt: skip


@dataclass
class Counts:
    """What came of the kills of one command."""

    steps: int = 0
    at_steps: int = 0
    at_random: int = 0
    missed: int = 0
    """The command had ended before."""
    doubts: int = 0
    """Mails left to a person, each said."""
    faults: list[str] = field(default_factory=list)


def kill_once(
    command: Command, quiet: Calm, counts: Counts, room: Path, post: Post, at: int | float
) -> None:
    """One kill at a step (a whole number) or after so many seconds, and what is left of it."""
    shutil.rmtree(room, ignore_errors=True)
    shutil.copytree(quiet.template, room)
    post.recipients.clear()
    if isinstance(at, int):
        process = started(room, *command.words, kill_at=at)
        process.communicate()
        counts.at_steps += process.returncode < 0
        counts.missed += process.returncode >= 0
        moment = f"--step {at}"
    else:
        process = started(room, *command.words)
        try:
            process.wait(at)
            counts.missed += 1
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            counts.at_random += 1
        process.communicate()
        moment = f"after {at:.2f} s"
    counts.faults += [f"{command.name}, {moment}: {fault}" for fault in
                      _faults(command, quiet, counts, room, post)]  # fmt: skip


def _faults(command: Command, quiet: Calm, counts: Counts, room: Path, post: Post) -> Iterator[str]:
    left = tables(room)
    if left is None:
        yield "no readable database after the kill"
    else:
        differences = [_differ(left, each[0], command) for each in (quiet.before, quiet.after)]
        if all(differences):
            told = " and ".join(", ".join(names) for names in differences)
            yield f"the database is neither that of before nor that of after ({told} differ)"
    for name, content in pages(room).items():
        if content not in (quiet.before[1].get(name), quiet.after[1].get(name)):
            yield f"{name} is neither the page of before nor that of after"
    code, said = ended(room, *command.words)
    if code not in (0, 1, 2) or "unexpected" in said:
        yield f"the same command again: exit code {code}: {said.strip()}"
    told = said
    code, said = ended(room, "run")
    if code != quiet.final_code or "unexpected" in said:
        yield f"`run` afterwards: exit code {code}: {said.strip()}"
    if names := _differ(tables(room), quiet.final[0], command):
        yield f"tables are not those of an undisturbed workspace ({', '.join(names)})"
    if pages(room) != quiet.final[1]:
        yield "the pages are not those of an undisturbed workspace"
    for name in leftovers(room):
        yield f"{name} was left behind"
    if command.mails:
        for name in command.names:
            amount = post.recipients[f"{name}@example.org"]
            is_doubt = f"{name}: the mail" in told
            counts.doubts += is_doubt
            if amount > 1:
                yield f"{name} got {amount} mails"
            if amount == 0 and not is_doubt:
                yield f"{name} got no mail, and nobody was told"


def _differ(one: Tables | None, other: Tables | None, command: Command) -> list[str]:
    """Names of tables that are not equal; which mails are in doubt is another matter."""
    if one is None or other is None:
        return [] if one is other else ["the whole database"]
    # how often the journal was written anew is no promise, and its digests hold a random salt
    apart = {"ledger.meta", *(["ledger.mails"] if command.mails else [])}
    names = sorted({*one, *other} - apart)
    return [name for name in names if one.get(name) != other.get(name)]


def main() -> None:
    """Kill, look, count, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=30.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", help="A command, or the first word of several.")
    parser.add_argument("--step", type=int, help="Only this step.")
    asked = parser.parse_args()
    until = time.monotonic() + 60 * asked.minutes
    chance = random.Random(asked.seed)
    post = Post()
    port = post.start()
    chosen = [each for each in COMMANDS if asked.only in (None, each.words[0], each.name)]
    with tempfile.TemporaryDirectory(prefix="kill-counts-") as name:
        folder = Path(name)
        rooms = {names: folder / f"room-{len(names)}" for names in (FEW, MANY)}
        for names, room in rooms.items():
            make_room(room, port, names)
        quiets, counts = {}, {}
        for place, command in enumerate(chosen):
            (folder / str(place)).mkdir()
            quiets[command] = calm(command, rooms[command.names], folder / str(place))
            counts[command] = Counts(quiets[command].steps)
        waiting: list[tuple[Command, int | float]] = [
            (command, step) for command in chosen for step in range(1, counts[command].steps + 1)
            if asked.step in (None, step)
        ]  # fmt: skip
        chance.shuffle(waiting)
        while time.monotonic() < until:
            if waiting:
                command, at = waiting.pop()
            elif asked.step is None:
                command = chance.choice(chosen)
                at = chance.uniform(0.0, quiets[command].seconds)
            else:
                break
            told = len(counts[command].faults)
            kill_once(command, quiets[command], counts[command], folder / "killed", post, at)
            for fault in counts[command].faults[told:]:
                sys.stderr.write(f"{fault}\n")
    post.controller.stop(no_assert=True)
    sys.stdout.write(_table(counts))
    if any(each.faults for each in counts.values()):
        raise SystemExit(1)


def _table(counts: dict[Command, Counts]) -> str:
    lines = [
        "| command | durable steps | killed at | at random moments | mails in doubt | faults |",
        "| --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    rows = [(f"`{command.name}`", each, command.mails) for command, each in counts.items()]
    every = Counts(
        *(sum(getattr(each, name) for each in counts.values())
          for name in ("steps", "at_steps", "at_random", "missed", "doubts")),
        [fault for each in counts.values() for fault in each.faults],
    )  # fmt: skip
    for name, each, mails in (*rows, ("all", every, True)):
        doubts = str(each.doubts) if mails else ""
        lines.append(f"| {name} | {each.steps} | {each.at_steps} | {each.at_random} | {doubts} "
                     f"| {len(each.faults)} |")  # fmt: skip
    return "\n".join([*lines, "", f"{every.missed} commands had ended before their kill.", ""])


if __name__ == "__main__":
    main()

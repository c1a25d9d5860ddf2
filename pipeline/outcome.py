"""What a run did: loads, pages, mails, what needs a person, and how long each step took."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

Progress = Callable[[str], None]
"""Called with a client's id when that client is done."""

Tell = Callable[[str], None]
"""Called with a sentence for somebody who waits at a terminal."""


def silent(_text: str) -> None:
    """Progress that nobody watches, a sentence that nobody reads."""


@dataclass(frozen=True)
class LoadResult:
    """What became of one export version."""

    load_id: int
    source: str
    path: str
    state: str
    sets_loaded: int
    lines_set_aside: int
    share_set_aside: float
    days_added: int
    days_replaced: int
    sets_taken_away: int
    held_because: str | None = None


@dataclass(frozen=True)
class Timing:
    """How long one model took [s]."""

    model: str
    seconds: float


@dataclass
class ClientOutcome:
    """What became of one client in a run."""

    pages: int = 0
    seconds: float = 0.0
    failure: str | None = None
    """Why the page could not be made."""
    mail: str | None = None
    """sent, refused, in doubt, not sent, written (a dry run) or a reason for having none."""


@dataclass
class Outcome:
    """What a run did, and what in it needs a person."""

    loads: list[LoadResult] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    """Sentences for stderr; any makes the exit code 1."""
    timings: list[Timing] = field(default_factory=list)
    pages: list[Path] = field(default_factory=list)
    clients: dict[str, ClientOutcome] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    """Sentences for a terminal: good to know, nothing to do."""
    seconds: dict[str, float] = field(default_factory=dict)

    @property
    def failures(self) -> dict[str, str]:
        """Client id to the reason for which its page could not be made."""
        return {name: each.failure for name, each in self.clients.items() if each.failure}

    @property
    def exit_code(self) -> int:
        """0 when all is well, 1 when something needs a person."""
        return 1 if self.problems or self.failures else 0

    def as_json(self) -> dict[str, Any]:
        """The same for a machine."""
        return {
            "exit_code": self.exit_code,
            "problems": self.problems,
            "notes": self.notes,
            "loads": [asdict(each) for each in self.loads],
            "pages": [str(path) for path in self.pages],
            "clients": {name: asdict(each) for name, each in self.clients.items()},
            "seconds": self.seconds,
        }

    def client(self, client_id: str) -> ClientOutcome:
        """The entry of one client, made where there is none."""
        return self.clients.setdefault(client_id, ClientOutcome())

    @contextlib.contextmanager
    def timed(self, step: str) -> Iterator[None]:
        """Adds the seconds that the block takes to the step."""
        started = time.perf_counter()
        yield
        taken = time.perf_counter() - started
        self.seconds[step] = round(self.seconds.get(step, 0.0) + taken, 3)

"""run-log.jsonl: a line a run and a line a client, so that nights nobody watched can be read."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from pipeline.ledger import store

if TYPE_CHECKING:
    from pathlib import Path

    from pipeline.outcome import ClientOutcome, Outcome
    from pipeline.settings.workspace import Workspace

LOG_BYTES = 5_000_000
"""Size at which run-log.jsonl is set aside as run-log.1.jsonl, in place of the one before."""


def paths(workspace: Workspace) -> tuple[Path, Path]:
    """The log, and the one set aside."""
    path = workspace.root / "run-log.jsonl"
    return path, path.with_name("run-log.1.jsonl")


def append(
    workspace: Workspace, outcome: Outcome, started: str, error: BaseException | None = None
) -> None:
    """The lines of one run; `error` is what ended it before its time."""
    lines = [_run_line(outcome, started, error)]
    lines += [_client_line(name, each, started) for name, each in sorted(outcome.clients.items())]
    path, aside = paths(workspace)
    if path.exists() and path.stat().st_size > LOG_BYTES:
        path.replace(aside)
    with path.open("a", encoding="utf-8") as handle:
        handle.write("".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines))
    path.chmod(0o600)


def rewrite(path: Path, lines: Iterable[dict[str, Any]]) -> None:
    """Put other lines in the place of all that a log holds, in one step."""
    text = "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines)
    store.write_whole(path, text.encode())


def _run_line(outcome: Outcome, started: str, error: BaseException | None) -> dict[str, Any]:
    return {
        "kind": "run",
        "started_at": started,
        "exit_code": outcome.exit_code if error is None else getattr(error, "exit_code", 2),
        "error": None if error is None else str(error) or type(error).__name__,
        "seconds": outcome.seconds,
        "loads": [
            {
                "load_id": each.load_id,
                "path": each.path,
                "state": each.state,
                "sets": each.sets_loaded,
                "set_aside": each.lines_set_aside,
            }
            for each in outcome.loads
        ],
        "clients": len(outcome.clients),
        "pages": len(outcome.pages),
        "mails": dict(Counter(each.mail for each in outcome.clients.values() if each.mail)),
        "failures": outcome.failures,
        "problems": outcome.problems,
    }


def _client_line(name: str, each: ClientOutcome, started: str) -> dict[str, Any]:
    return {
        "kind": "client",
        "started_at": started,
        "client": name,
        "outcome": "failed" if each.failure else "ok",
        "failure": each.failure,
        "seconds": each.seconds,
        "pages": each.pages,
        "mail": each.mail,
    }

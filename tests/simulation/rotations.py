"""Count how often a planted rotation is found as it is, and print the table of tests/README.md.

    python tests/simulation/rotations.py

About a minute. `--logs` changes how many are simulated in a cell.
"""

from __future__ import annotations

import argparse
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from ledgers import build_tables, share_error
from splits import KINDS, PLANS, Plan, Planted, last_day, planted, random_log, shuffled_log

SEED = 20260601
SHARES = (0.05, 0.10, 0.15)
DAYS_OFF = 0.25
"""A length is right within so many days, and the sessions of a round within half a session."""
REST_OFF = 0.5
"""Rest days of a round are right within so many days of those really taken."""


@dataclass(frozen=True)
class Found:
    """What the table says of the logs of one cell."""

    logs: int
    found: int
    right_length: int
    right_rest: int

    def share(self, count: int) -> float:
        """Of all logs."""
        return count / self.logs


def judged(
    logs: list[tuple[pl.DataFrame, Planted]], **changed: Any
) -> list[tuple[bool, bool] | None]:
    """Per log: right length, right rest days; none where no rotation is found."""
    con = build_tables(
        pl.concat([sets for sets, _ in logs]), last_day(), "review.rotation", **changed
    )
    rows = con.sql("select client_id, sessions, days, rest_days from review.rotation").fetchall()
    con.close()
    by_client = {row[0]: row[1:] for row in rows}
    return [_verdict(truth, *by_client[truth.client_id]) for _, truth in logs]


def _verdict(
    truth: Planted, sessions: float | None, days: float | None, rest_days: float | None
) -> tuple[bool, bool] | None:
    if days is None or sessions is None or rest_days is None:
        return None
    is_length = any(
        abs(days - true_days) <= DAYS_OFF and sessions <= true_sessions + 0.5
        for true_sessions, true_days in truth.rounds
    )
    true_rest = days * (1 - truth.training_share)
    return is_length, is_length and abs(rest_days - true_rest) <= REST_OFF


def logs_of(
    plan: Plan | None, kind: str, share: float, count: int, seed: int
) -> list[tuple[pl.DataFrame, Planted]]:
    """`count` logs of a plan; without one, of a lifter who changed to another eight weeks ago."""
    cell = f"{plan.name if plan else 'changed'} {kind} {share}"
    rng = np.random.default_rng([seed, zlib.crc32(cell.encode())])
    made = []
    for number in range(count):
        before = None
        now = plan
        if now is None:
            first, second = rng.choice(len(PLANS), 2, replace=False)
            before, now = PLANS[int(first)], PLANS[int(second)]
        made.append(planted(now, kind, share, f"{cell}-{number}", rng, before))
    return made


def without_rotation(count: int, seed: int) -> tuple[list[Any], list[Any]]:
    """Random training, and the same sessions in an order drawn anew each week."""
    rng = np.random.default_rng(seed)
    return (
        [random_log(f"random-{number}", rng) for number in range(count)],
        [shuffled_log(f"shuffled-{number}", rng) for number in range(count)],
    )


def counted(rows: list[tuple[bool, bool] | None]) -> Found:
    """Counts of one cell."""
    kept = [row for row in rows if row is not None]
    return Found(len(rows), len(kept), sum(row[0] for row in kept), sum(row[1] for row in kept))


def table(count: int, seed: int, **changed: Any) -> Iterator[str]:
    """Lines of the table."""
    cells: dict[tuple[str, str, float], list[Any]] = {}
    for plan in (*PLANS, None):
        name = plan.name if plan else "changed to another eight weeks ago"
        cells[name, "as planned", 0.0] = logs_of(plan, "none", 0.0, count, seed)
        for kind in KINDS:
            for share in SHARES:
                cells[name, kind, share] = logs_of(plan, kind, share, count, seed)
    verdicts = iter(judged([log for logs in cells.values() for log in logs], **changed))
    counts = {key: counted([next(verdicts) for _ in logs]) for key, logs in cells.items()}
    yield "| rotation | sessions | none | 5 % | 10 % | 15 % | rest days right | wrong found |"
    yield "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: |"
    for name in dict.fromkeys(key[0] for key in counts):
        for kind in KINDS:
            row = [counts[name, "as planned", 0.0]] + [counts[name, kind, each] for each in SHARES]
            disturbed = row[1:]
            logs = sum(each.logs for each in disturbed)
            lengths = sum(each.right_length for each in disturbed)
            shown = [f"{100 * each.share(each.right_length):.0f} %" for each in row]
            rest = sum(each.right_rest for each in disturbed) / max(lengths, 1)
            wrong = sum(each.found - each.right_length for each in disturbed) / logs
            yield (
                f"| {name} | {kind} | "
                + " | ".join(shown)
                + f" | {100 * rest:.0f} %"
                + f" | {100 * wrong:.1f} ± {100 * share_error(wrong, logs):.1f} % |"
            )
    right = sum(each.right_length for each in counts.values())
    all_found = sum(each.found for each in counts.values())
    precision = right / all_found
    yield ""
    yield (
        f"Of {all_found} rotations found in {sum(each.logs for each in counts.values())} logs,"
        f" {100 * precision:.1f} ± {100 * share_error(precision, all_found):.1f} % have the right"
        " length."
    )
    for name, logs in zip(
        ("random training", "the same sessions, order and days drawn anew each week"),
        without_rotation(10 * count, seed),
        strict=True,
    ):
        false = sum(row is not None for row in judged(logs, **changed)) / len(logs)
        yield (
            f"Called a rotation: {name}, {len(logs)} logs:"
            f" {100 * false:.1f} ± {100 * share_error(false, len(logs)):.1f} %."
        )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--logs", type=int, default=40)
    arguments = parser.parse_args()
    for line in table(arguments.logs, SEED):
        print(line, flush=True)  # noqa: T201


if __name__ == "__main__":
    main()

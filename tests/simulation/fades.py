"""Count how often the interval of session fade holds the true loss; prints tests/README.md's table.

    python tests/simulation/fades.py

A minute or two. `--lifters` changes how many are simulated in a row.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ledgers import build_tables, share_error
from tired import SETS, Tiring, last_day, sets_of, true_output

SEED = 20260601
ACROSS: dict[str, Any] = {"is_across": True}
SCENARIOS = (
    Tiring("within: no loss"),
    Tiring("within: no loss, reserve off by one", reserve_off=True),
    Tiring("within: no loss, three exercises", exercises=3),
    Tiring("within: 1 % a set", loss=0.01),
    Tiring("within: 3 % a set", loss=0.03),
    Tiring("within: 3 % a set, three exercises", loss=0.03, exercises=3),
    Tiring("within: 3 % a set, cost varies", loss=0.03, loss_spread=0.015, exercises=3),
    Tiring("within: 3 % a set, own curve by Brzycki", loss=0.03, is_brzycki=True),
    Tiring("across: no loss", **ACROSS),
    Tiring("across: no loss, seldom first", first_share=0.25, **ACROSS),
    Tiring("across: no loss, mostly first", first_share=0.75, **ACROSS),
    Tiring("across: no loss, once a week", per_week=1, **ACROSS),
    Tiring("across: 1 % a set", loss=0.01, **ACROSS),
    Tiring("across: 3 % a set", loss=0.03, **ACROSS),
    Tiring("across: 3 % a set, seldom first", loss=0.03, first_share=0.25, **ACROSS),
)


@dataclass(frozen=True)
class Fade:
    """What review.session_fade says of one place, over many lifters."""

    nth: int
    true_output: float
    lifters: int
    mean_output: float
    covered: float
    """Share of intervals that hold the truth."""
    called_loss: float
    """Share of intervals that lie below 1."""
    called_gain: float


def measured(tiring: Tiring, lifters: int, seed: int, **changed: Any) -> list[Fade]:
    """One row a place: the sets of an exercise, or the exercise after four sets of another."""
    con = build_tables(sets_of(tiring, lifters, seed), last_day(), "review.session_fade", **changed)
    rows = con.execute(
        "select client_id, nth, relative_output, low, high from review.session_fade"
        " where muscle = 'chest' and kind = ? order by client_id, nth",
        ["across" if tiring.is_across else "within"],
    ).fetchall()
    con.close()
    return [
        _counted(tiring, nth, [row[2:] for row in rows if row[1] == nth])
        for nth in ([SETS + 1] if tiring.is_across else range(2, SETS + 1))
    ]


def _counted(tiring: Tiring, nth: int, rows: list[tuple[float, float, float]]) -> Fade:
    truth = true_output(tiring, nth)
    count = len(rows)
    return Fade(
        nth,
        truth,
        count,
        sum(output for output, _, _ in rows) / count,
        sum(low <= truth <= high for _, low, high in rows) / count,
        sum(high < 1 for _, _, high in rows) / count,
        sum(low > 1 for _, low, _ in rows) / count,
    )


def table(lifters: int, seed: int) -> Iterator[str]:
    """Lines of the table."""
    yield "| lifters | set | true output | found | interval holds it | called a loss | a gain |"
    yield "| --- | ---: | ---: | ---: | ---: | ---: | ---: |"
    for tiring in SCENARIOS:
        for each in measured(tiring, lifters, seed):
            error = share_error(each.covered, each.lifters)
            yield (
                f"| {tiring.name} | {each.nth} | {each.true_output:.3f} | {each.mean_output:.3f}"
                f" | {100 * each.covered:.1f} ± {100 * error:.1f} %"
                f" | {100 * each.called_loss:.1f} % | {100 * each.called_gain:.1f} % |"
            )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--lifters", type=int, default=600)
    arguments = parser.parse_args()
    for line in table(arguments.lifters, SEED):
        print(line, flush=True)  # noqa: T201


if __name__ == "__main__":
    main()

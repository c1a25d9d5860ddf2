"""The arithmetic of a change before it is made: weekly sets of each muscle, now and after it.

Reads the published review; sql/whatif/ computes, sql/macros/ holds what it shares with findings.
An answer is an estimate: it takes the last four weeks as usual and changes nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from pipeline.errors import UsageError
from pipeline.ledger.connection import Row, fetch
from pipeline.review.asked import client_of, make_views, review_of, write_rows
from pipeline.review.whatif.request import Asked, Wish, read_wish, with_known_exercises
from pipeline.settings.workspace import catalogue_of

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Workspace

ASKED = {
    "asked_change": (
        "client_id varchar, rest_days integer, sessions_a_week integer, "
        "is_without_extensions boolean"
    ),
    "asked_sets": "muscle varchar, sets integer",
    "asked_swaps": "exercise varchar, new_exercise varchar",
    "asked_closer": "muscle varchar",
}
"""Temporary tables that say what was asked, with their columns."""


GAINED = """
select coalesce(
    sum(case version when 'after' then hard_sets else -hard_sets end) / any_value(span.weeks), 0
) as sets
from whatif_sessions
cross join whatif_span as span
"""
"""Hard sets a week that sets taken closer to failure give; swaps change none."""


@dataclass(frozen=True)
class Answer:
    """Rows of sql/whatif/ for one change."""

    asked: Asked
    span: Row
    week: Row
    muscles: tuple[Row, ...]
    added: tuple[Row, ...]
    labels: dict[str, str]
    """Muscle to its label."""
    rules: Row
    sets_gained: float
    """Last sets that go closer to failure and were not hard ones [sets a week]."""

    @property
    def is_led(self) -> bool:
        """Whether a pause or care holds: figures only."""
        return self.span["led_kind"] is not None


def answer(workspace: Workspace, wish: Wish, as_of: date | None = None) -> Answer:
    """What the change would make of the client's week; UsageError names what cannot be done."""
    catalogue = catalogue_of(workspace)
    with review_of(workspace, wish.client_id, as_of) as con:
        asked = read_wish(wish, client_of(workspace, con, wish.client_id), catalogue)
        _write_asked(con, asked)
        make_views(con, "whatif")
        _refuse_empty(con, asked)
        if asked.swaps:
            asked = with_known_exercises(asked, _trained(con), catalogue)
            _write_asked(con, asked)
        return _read(con, asked, {each.muscle: each.label for each in catalogue.muscles})


def _read(con: duckdb.DuckDBPyConnection, asked: Asked, labels: dict[str, str]) -> Answer:
    return Answer(
        asked,
        fetch(con, "from whatif_span")[0],
        fetch(con, "from whatif_week")[0],
        tuple(fetch(con, "from whatif_muscles")),
        tuple(fetch(con, "from whatif_added order by muscle, sets_a_week desc, exercise")),
        labels,
        fetch(con, "from review.rules")[0],
        fetch(con, GAINED)[0]["sets"],
    )


def _trained(con: duckdb.DuckDBPyConnection) -> list[str]:
    rows = fetch(
        con, "select distinct exercise from whatif_sessions where version = 'before' order by all"
    )
    return [row["exercise"] for row in rows]


# The database


def _refuse_empty(con: duckdb.DuckDBPyConnection, asked: Asked) -> None:
    span = fetch(con, "from whatif_span")[0]
    if span["weeks"] is None:
        raise UsageError(
            f"{asked.client.id}: the four weeks to {span['to_on']} are all deload days; there is "
            "no usual week to reckon with."
        )
    if not fetch(con, "from whatif_sessions where version = 'before' limit 1"):
        raise UsageError(
            f"{asked.client.id}: no hard set in the four weeks to {span['to_on']}; there is "
            "nothing to reckon with."
        )


def _write_asked(con: duckdb.DuckDBPyConnection, asked: Asked) -> None:
    write_rows(
        con,
        ASKED,
        {
            "asked_change": [
                (
                    asked.client.id,
                    asked.rest_days,
                    asked.sessions or None,
                    asked.is_without_extensions,
                )
            ],
            "asked_sets": list(asked.sets),
            "asked_swaps": list(asked.swaps),
            "asked_closer": [(muscle,) for muscle in asked.closer],
        },
    )

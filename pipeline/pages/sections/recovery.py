"""Days in a row: whether this client is weaker, or stronger, further into a run of training days.

Only where the log says so; for most clients it cannot be told, and then nothing is said.
"""

from __future__ import annotations

from pipeline.formats import number, signed
from pipeline.ledger.connection import Row
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Column, Figure, Passage, Section, Table, trace_command


def recovery_section(data: ClientData) -> Section | None:
    """The section, or None where the log does not tell."""
    rows = data.of_client("recovery", "place")
    told = [row for row in rows if row["is_told"]]
    if not told:
        return None
    columns = (
        Column("Day of the run", is_number=False),
        Column("Strength", "against the first day after a day off, all lifts together"),
        Column("95% interval"),
        Column("Days"),
    )
    last = data.rules["recovery_places"]
    trace = trace_command("recovery.difference_pct", data.client_id)
    cells = tuple(
        (
            Figure(f"{row['place']}{' or later' * (row['place'] == last)}"),
            Figure(f"{signed(row['difference_pct'])}%", trace),
            Figure(f"{number(row['low'])} to {number(row['high'])}%"),
            Figure(number(row["later_days"], 0)),
        )
        for row in rows
        if row["place"]
    )
    return Section("recovery", TITLE, (Passage(reading(told[0])), Table(CAPTION, columns, cells)))


# What it says

TITLE = "Days in a row"
CAPTION = "Strength by day of a run without a day off"


def reading(row: Row) -> str:
    """How strength goes with the days of a run."""
    word = "weaker" if row["difference_pct"] < 0 else "stronger"
    low, high = sorted((abs(row["low"]), abs(row["high"])))
    return (
        f"In this log the lifts are {word} with each training day in a row: by "
        f"{number(abs(row['difference_pct']))}% a day ({number(low)} to {number(high)}%), all "
        f"lifts together, {row['first_days']} first days against {row['later_days']} later ones. "
        "It shows what goes together, not why."
    )

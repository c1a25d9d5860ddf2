"""Bodyweight, where it is logged, beside how strong all lifts together are."""

from __future__ import annotations

from pipeline.formats import NOTHING, count, day_short, load_with_unit, number, signed
from pipeline.ledger.connection import Row
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Column, Figure, Passage, Section, Table, trace_command


def bodyweight_section(data: ClientData) -> Section | None:
    """The section, or None where too few weigh-ins give no trend."""
    rows = data.of_client("bodyweight_trend", "client_id")
    if not rows:
        return None
    row = rows[0]
    figures = (
        (
            BODYWEIGHT,
            *(row[each] for each in ("change_pct_per_week", "change_low", "change_high")),
            trace_command("bodyweight_trend.change_pct_per_week", data.client_id),
        ),
        (LIFTS, *_lifts(data), trace_command("client_trend.change_pct_per_week", data.client_id)),
    )
    cells = tuple(
        (Figure(name), Figure(signed(rate, 2), trace), Figure(_interval(low, high)))
        for name, rate, low, high, trace in figures
        if rate is not None
    )
    columns = (
        Column("", is_number=False),
        Column("% a week"),
        Column("95% interval"),
    )
    blocks = (
        Passage(reading(row, load_with_unit(row["bodyweight_kg"], data.units))),
        Table(CAPTION, columns, cells, is_folded=True),
    )
    return Section("bodyweight", TITLE, blocks)


def _lifts(data: ClientData) -> tuple[float | None, float | None, float | None]:
    rows = data.of_client("client_trend", "client_id")
    if not rows:
        return None, None, None
    return rows[0]["change_pct_per_week"], rows[0]["change_low"], rows[0]["change_high"]


def _interval(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return NOTHING
    return f"{number(low, 2)} to {number(high, 2)}"


# What it says

TITLE = "Bodyweight"
CAPTION = "Bodyweight and strength, change a week"
BODYWEIGHT = "Bodyweight"
LIFTS = "All lifts together"
VERDICTS = {
    "holds": "strength holds",
    "falls": "strength falls",
    "unclear": "whether strength holds cannot be told yet",
}


def reading(row: Row, usual: str) -> str:
    """What bodyweight does, and in a cut what strength does meanwhile."""
    rate = f"{signed(row['change_pct_per_week'])}% bodyweight a week"
    rests = (
        f"by {count(row['weigh_ins'], 'weigh-in')} from {day_short(row['first_on'])} to "
        f"{day_short(row['last_on'])}, lately {usual}"
    )
    if row["is_cutting"] and row["strength"]:
        verdict = VERDICTS[row["strength"]]
        return f"In a cut: {verdict} at {rate} ({rests})."
    is_level = row["change_low"] <= 0 <= row["change_high"]
    told = "no clear change of bodyweight" if is_level else rate
    return f"{told[0].upper()}{told[1:]} ({rests})."

"""Effort: recorded sets by repetitions in reserve, week by week; what goes on after failure."""

from __future__ import annotations

from datetime import timedelta

from pipeline.formats import count, day, number, percent
from pipeline.ledger.connection import Row
from pipeline.pages.charts.dots import EffortDot, effort_dots
from pipeline.pages.charts.svg import STRIP_WEEKS, named
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import (
    Block,
    Column,
    Figure,
    Panel,
    Panels,
    Passage,
    Section,
    Table,
    trace_command,
)

RESERVES = {
    "rir_0": "0",
    "rir_1": "1",
    "rir_2": "2",
    "rir_3": "3",
    "rir_4": "4",
    "rir_5_up": "5 or more",
}
"""Columns of review.effort_week by repetitions in reserve, and their labels."""
RECENT_WEEKS = 4


def effort_section(data: ClientData) -> Section | None:
    """The section, or None where no work set falls into the 26 weeks."""
    since = data.covered_on - timedelta(weeks=STRIP_WEEKS)
    rows = [row for row in data.of_client("effort_week", "week, movement") if row["week"] > since]
    if not rows:
        return None
    recorded = [row for row in rows if row["recorded_sets"]]
    blocks: list[Block] = [Passage(INTRO)]
    recent = [row for row in rows if row["week"] > data.covered_on - timedelta(weeks=RECENT_WEEKS)]
    if recorded:
        blocks.append(_panels(data, recorded, _totals(recent)))
        blocks.append(Passage(KEY, is_small=True))
        blocks.append(_numbers(data, rows))
    else:
        blocks.append(Passage(NOTHING_RECORDED))
    return Section("effort", TITLE, tuple(blocks))


def _panels(data: ClientData, recorded: list[Row], totals: dict[str, dict[str, float]]) -> Panels:
    dots = [
        EffortDot(row["week"], row["movement"], reserve, row[column])
        for row in recorded
        if row["movement"] in MOVEMENTS
        for reserve, column in enumerate(RESERVES)
        if row[column]
    ]
    panels = []
    for movement, svg in effort_dots(dots, data.covered_on).items():
        reading = effort_reading(totals.get(movement, {}))
        title = f"{MOVEMENTS[movement]}: {DOTS_TITLE}"
        panels.append(
            Panel(
                MOVEMENTS[movement],
                UNIT,
                named(svg, f"effort-{movement}", title, reading),
                reading,
            )
        )
    return Panels(tuple(panels), (), "", size="wide")


def _totals(rows: list[Row]) -> dict[str, dict[str, float]]:
    """Sums of the last weeks for each movement."""
    totals: dict[str, dict[str, float]] = {}
    for row in rows:
        of_movement = totals.setdefault(row["movement"], {})
        for column in ("work_sets", "recorded_sets", "extended_sets", *RESERVES):
            of_movement[column] = of_movement.get(column, 0) + (row[column] or 0)
    return totals


def _numbers(data: ClientData, rows: list[Row]) -> Table:
    columns = (
        Column("Week from", is_number=False),
        Column("Movement", is_number=False),
        Column("Work sets"),
        Column("Recorded", "share of work sets whose effort was logged"),
        *(Column(label, "repetitions left in reserve") for label in RESERVES.values()),
        Column("Extended", "sets that went on after failure, as a drop or with partials"),
    )

    def cells(row: Row) -> tuple[Figure, ...]:
        def figure(column: str) -> Figure:
            return Figure(
                number(row[column], 0),
                trace_command(
                    f"effort_week.{column}",
                    data.client_id,
                    movement=row["movement"],
                    on=row["week"],
                ),
            )

        return (
            Figure(day(row["week"])),
            Figure(row["movement"]),
            figure("work_sets"),
            Figure(
                percent(row["recorded_share"]),
                trace_command(
                    "effort_week.recorded_share",
                    data.client_id,
                    movement=row["movement"],
                    on=row["week"],
                ),
            ),
            *(figure(column) for column in RESERVES),
            figure("extended_sets"),
        )

    return Table(
        NUMBERS_CAPTION, columns, tuple(cells(row) for row in reversed(rows)), is_folded=True
    )


# What it says

TITLE = "Effort"
INTRO = (
    "How close to failure sets were taken, as logged: repetitions in reserve (RIR) are those that "
    "were left before failure. Only recorded sets are shown; estimates never enter here. Light "
    "sets under 60% of the day’s top load are left out of the shares."
)
DOTS_TITLE = "recorded sets by repetitions in reserve, 26 weeks"
UNIT = "RIR"
MOVEMENTS = {"compound": "Compound", "isolation": "Isolation"}
KEY = "A dot is a week; its area is the number of recorded sets."
NUMBERS_CAPTION = "Work sets and recorded effort by week"
NOTHING_RECORDED = (
    "No effort was recorded in the last 26 weeks, so nothing is said about it. One number a set "
    "(repetitions left, or RPE) is enough."
)


def effort_reading(sums: dict[str, float]) -> str:
    """What was recorded in the last four weeks of one movement."""
    recorded = sums.get("recorded_sets", 0)
    if not recorded:
        return "Nothing was recorded in the last four weeks."
    return (
        f"Last four weeks: {percent(sums['rir_0'] / recorded)} at 0 RIR, "
        f"{percent((sums['rir_4'] + sums['rir_5_up']) / recorded)} at 4 or more, "
        f"{percent(sums['extended_sets'] / recorded)} extended; effort is recorded for "
        f"{percent(recorded / sums['work_sets'])} of {count(sums['work_sets'], 'set')}."
    )

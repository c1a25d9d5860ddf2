"""Effort: recorded sets by repetitions in reserve, week by week; what goes on after failure."""

from __future__ import annotations

from datetime import timedelta

from pipeline import formats
from pipeline.ledger.connection import Row
from pipeline.pages import charts, texts
from pipeline.pages.charts import EffortDot
from pipeline.pages.client_data import Desk
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

RESERVES = ("rir_0", "rir_1", "rir_2", "rir_3", "rir_4", "rir_5_up")
RECENT_WEEKS = 4


def effort_section(desk: Desk) -> Section | None:
    """The section, or None where no work set falls into the 26 weeks."""
    since = desk.as_of - timedelta(weeks=charts.STRIP_WEEKS)
    rows = [row for row in desk.of_client("effort_week", "week, movement") if row["week"] > since]
    if not rows:
        return None
    recorded = [row for row in rows if row["recorded_sets"]]
    blocks: list[Block] = [Passage(texts.EFFORT_INTRO)]
    recent = [row for row in rows if row["week"] > desk.as_of - timedelta(weeks=RECENT_WEEKS)]
    if recorded:
        blocks.append(_panels(desk, recorded, _totals(recent)))
        blocks.append(Passage(texts.EFFORT_KEY, is_small=True))
        blocks.append(_numbers(desk, rows))
    else:
        blocks.append(Passage(texts.NOTHING_RECORDED))
    return Section("effort", texts.SECTIONS["effort"], tuple(blocks))


def _panels(desk: Desk, recorded: list[Row], totals: dict[str, dict[str, float]]) -> Panels:
    dots = [
        EffortDot(row["week"], row["movement"], reserve, row[column])
        for row in recorded
        if row["movement"] in texts.MOVEMENTS
        for reserve, column in enumerate(RESERVES)
        if row[column]
    ]
    panels = []
    for movement, svg in charts.effort_dots(dots, desk.as_of).items():
        reading = texts.effort_reading(totals.get(movement, {}))
        title = f"{texts.MOVEMENTS[movement]}: {texts.EFFORT_TITLE}"
        panels.append(
            Panel(
                texts.MOVEMENTS[movement],
                texts.EFFORT_UNIT,
                charts.named(svg, f"effort-{movement}", title, reading),
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


def _numbers(desk: Desk, rows: list[Row]) -> Table:
    columns = (
        Column("Week from", is_number=False),
        Column("Movement", is_number=False),
        Column("Work sets"),
        Column("Recorded", "share of work sets whose effort was logged"),
        *(Column(label, "repetitions left in reserve") for label in texts.RESERVE_LABELS),
        Column("Extended", "sets that went on after failure, as a drop or with partials"),
    )

    def cells(row: Row) -> tuple[Figure, ...]:
        def figure(column: str) -> Figure:
            return Figure(
                formats.number(row[column], 0),
                trace_command(
                    f"effort_week.{column}",
                    desk.client_id,
                    movement=row["movement"],
                    on=row["week"],
                ),
            )

        return (
            Figure(formats.day(row["week"])),
            Figure(row["movement"]),
            figure("work_sets"),
            Figure(
                formats.percent(row["recorded_share"]),
                trace_command(
                    "effort_week.recorded_share",
                    desk.client_id,
                    movement=row["movement"],
                    on=row["week"],
                ),
            ),
            *(figure(column) for column in RESERVES),
            figure("extended_sets"),
        )

    return Table(
        texts.EFFORT_NUMBERS, columns, tuple(cells(row) for row in reversed(rows)), is_folded=True
    )

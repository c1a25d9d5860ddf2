"""Inside the session: whether later sets hold up; and whether exercises stay long enough."""

from __future__ import annotations

from pipeline import formats
from pipeline.ledger.connection import Row
from pipeline.pages import charts, texts
from pipeline.pages.charts import FadeDot
from pipeline.pages.client_data import Desk
from pipeline.pages.page_data import (
    Block,
    Column,
    Figure,
    Heading,
    Panel,
    Panels,
    Passage,
    Section,
    Table,
    trace_command,
)

TURNOVER_WEEKS = 12


def inside_section(desk: Desk) -> Section | None:
    """The section, or None where neither fade nor turnover can be told."""
    blocks = [*_fade_blocks(desk), *_turnover_blocks(desk)]
    return Section("inside", texts.SECTIONS["inside"], tuple(blocks)) if blocks else None


def _fade_blocks(desk: Desk) -> list[Block]:
    rows = [
        row
        for row in desk.of_client("session_fade", "kind desc, muscle, nth")
        if row["relative_output"] is not None
    ]
    if not rows:
        return []
    place = {muscle: number for number, muscle in enumerate(desk.labels)}
    rows.sort(key=lambda row: (row["kind"] != "within", place.get(row["muscle"], 99), row["nth"]))
    within = [row for row in rows if row["kind"] == "within"]
    blocks: list[Block] = [Passage(texts.FADE_INTRO)]
    if within:
        blocks.append(_fade_panels(desk, within))
        blocks.append(Passage(texts.FADE_KEY, is_small=True))
    blocks.append(_fade_table(desk, rows))
    return blocks


def _fade_panels(desk: Desk, within: list[Row]) -> Panels:
    dots = [
        FadeDot(
            desk.label(row["muscle"]), row["nth"], row["relative_output"], row["low"], row["high"]
        )
        for row in within
        if row["nth"] <= charts.FADE_SETS_MOST
    ]
    panels = []
    for place, (muscle, svg) in enumerate(charts.fade_panels(dots).items()):
        last = [dot for dot in dots if dot.muscle == muscle][-1]
        reading = texts.fade_reading(last.nth, last.output, last.low, last.high)
        title = f"{muscle}: {texts.FADE_TITLE}"
        panels.append(
            Panel(muscle, "", charts.named(svg, f"fade-{place}", title, reading), reading)
        )
    return Panels(tuple(panels), (), "", size="tight")


def _fade_table(desk: Desk, rows: list[Row]) -> Table:
    columns = (
        Column("Muscle", is_number=False),
        Column("Compared", is_number=False),
        Column("Set"),
        Column("Output", "strength index against the first, in per cent"),
        Column("95% interval"),
        Column("Sets"),
    )

    def cells(row: Row) -> tuple[Figure, ...]:
        def trace(column: str) -> str:
            return trace_command(
                f"session_fade.{column}",
                desk.client_id,
                muscle=row["muscle"],
                kind=row["kind"],
                nth=row["nth"],
            )

        return (
            Figure(desk.label(row["muscle"])),
            Figure(texts.fade_kind(row["kind"])),
            Figure(formats.number(row["nth"], 0)),
            Figure(
                formats.percent(row["relative_output"], 1),
                trace("relative_output"),
                note=texts.LOWER_BOUND if row.get("is_lower_bound") else "",
            ),
            Figure(texts.interval_share(row["low"], row["high"])),
            Figure(formats.number(row["sets"], 0), trace("sets")),
        )

    return Table(texts.FADE_TABLE, columns, tuple(cells(row) for row in rows), is_folded=True)


def _turnover_blocks(desk: Desk) -> list[Block]:
    rows = desk.of_client("exercise_turnover", "week desc")[:TURNOVER_WEEKS]
    if not rows:
        return []
    columns = (
        Column("Week from", is_number=False),
        Column("Exercises"),
        Column("Kept", "exercises of the 14 days before that were done again"),
        Column("Trackable", "hard sets on lifts trained at least 4 times in 8 weeks"),
    )

    def cells(row: Row) -> tuple[Figure, ...]:
        def trace(column: str) -> str:
            return trace_command(f"exercise_turnover.{column}", desk.client_id, on=row["week"])

        return (
            Figure(formats.day(row["week"])),
            Figure(formats.number(row["exercises"], 0), trace("exercises")),
            Figure(formats.percent(row["kept_share"]), trace("kept_share")),
            Figure(formats.percent(row["trackable_share"]), trace("trackable_share")),
        )

    latest = rows[0]
    return [
        Heading(texts.TURNOVER_HEADING),
        Passage(texts.turnover_reading(latest["kept_share"], latest["trackable_share"])),
        Table(texts.TURNOVER_TABLE, columns, tuple(cells(row) for row in rows), is_folded=True),
    ]

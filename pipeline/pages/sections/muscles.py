"""Sets per muscle: the strips of 26 weeks beside the table of today's figures."""

from __future__ import annotations

from collections import defaultdict
from datetime import timedelta

from pipeline import formats
from pipeline.ledger.connection import Row
from pipeline.pages import charts, texts
from pipeline.pages.charts import MuscleStrip
from pipeline.pages.client_data import Desk
from pipeline.pages.page_data import (
    Beside,
    Block,
    Chart,
    Column,
    Figure,
    Passage,
    Section,
    Table,
    trace_command,
)

COLUMNS = (
    Column("Muscle", is_number=False),
    Column("7 days", "hard sets of the as-of day and the six before"),
    Column("Weekly rate", "hard sets of the last 28 days, a week"),
    Column("4 weeks before", "the weekly rate of the 28 days before those"),
    Column("Guide", "hard sets a week, as common practice or as set for this client"),
    Column("Standing", "weekly rate against the guide", is_number=False),
    Column("Direct", "hard sets of the last 7 days that train it directly"),
    Column("Hits", "days of the last 7 with a direct hard set"),
    Column("Gap", "median days from one hit to the next, over 56 days"),
    Column("Sets per hit", "median direct hard sets of a hit, over 56 days"),
)


def read_muscles(desk: Desk) -> list[Row]:
    """Rows of muscle_status in the order of tables, with the weeks and hits of the strip."""
    rows = desk.of_client("muscle_status", "muscle")
    place = {muscle: number for number, muscle in enumerate(desk.labels)}
    rows.sort(key=lambda row: (place.get(row["muscle"], len(place)), row["muscle"]))
    weeks, hits = _read_weeks(desk)
    for row in rows:
        row["weekly"] = weeks.get(row["muscle"], [])
        row["hits_7d"] = hits.get(row["muscle"])
    return rows


def _read_weeks(desk: Desk) -> tuple[dict[str, list[Row]], dict[str, int]]:
    if "rolling_week" not in desk.tables:
        return {}, {}
    days = [desk.as_of - timedelta(weeks=back) for back in reversed(range(charts.STRIP_WEEKS))]
    rows = desk.rows(
        "select muscle, day, fractional_sets_7d, hits_7d from review.rolling_week"
        " where client_id = ? and day in (select unnest(?::date[])) order by muscle, day",
        desk.client_id,
        days,
    )
    weeks: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        weeks[row["muscle"]].append(row)
    hits = {row["muscle"]: row["hits_7d"] for row in rows if row["day"] == desk.as_of}
    return weeks, hits


def muscles_section(desk: Desk, rows: list[Row]) -> Section | None:
    """The section, or None where no hard set was ever counted."""
    shown = [row for row in rows if _is_shown(row)]
    if not shown:
        return None
    idle = [desk.spoken(row["muscle"]) for row in rows if not _is_shown(row)]
    strips = [_strip(desk, row) for row in shown]
    chart = Chart(
        svg=charts.named(
            charts.muscle_strips(strips, desk.as_of),
            "strips",
            texts.MUSCLES_TITLE,
            _reading(desk, shown),
        ),
        reading=_reading(desk, shown),
        numbers=_numbers(desk, shown),
        key=texts.muscles_key(charts.strip_scale(strips)),
    )
    table = Table(texts.MUSCLES_TABLE, COLUMNS, tuple(_cells(desk, row) for row in shown))
    blocks: list[Block] = [Passage(texts.MUSCLES_INTRO), Beside(chart, table)]
    if idle:
        blocks.append(Passage(texts.untouched(idle), is_small=True))
    return Section("muscles", texts.SECTIONS["muscles"], tuple(blocks))


def _is_shown(row: Row) -> bool:
    """Whether there is anything to see: a set in the 26 weeks, or a low end that is missed."""
    has_sets = any(week["fractional_sets_7d"] for week in row["weekly"])
    return has_sets or bool(row["weekly_rate_28d"]) or row["standing"] == "below"


def _strip(desk: Desk, row: Row) -> MuscleStrip:
    return MuscleStrip(
        label=desk.label(row["muscle"]),
        weekly=tuple(week["fractional_sets_7d"] for week in row["weekly"]),
        rate=row["weekly_rate_28d"] or 0.0,
        rate_text=formats.number(row["weekly_rate_28d"]),
        low=row["guide_low"],
        high=row["guide_high"],
        standing=row["standing"],
    )


def _reading(desk: Desk, rows: list[Row]) -> str:
    by_standing: dict[str | None, list[str]] = defaultdict(list)
    for row in rows:
        by_standing[row["standing"]].append(desk.spoken(row["muscle"]))
    return texts.muscles_reading(
        by_standing["below"],
        by_standing["above"],
        len(by_standing["within"]),
        len(by_standing[None]),
    )


def _cells(desk: Desk, row: Row) -> tuple[Figure, ...]:
    def figure(column: str, digits: int = 1) -> Figure:
        trace = _trace(desk, f"muscle_status.{column}", row["muscle"])
        return Figure(formats.number(row[column], digits), trace)

    standing = row["standing"]
    is_outside = standing in ("below", "above")
    guide = formats.guide(row["guide_low"], row["guide_high"])
    return (
        Figure(desk.label(row["muscle"])),
        figure("fractional_sets_7d"),
        figure("weekly_rate_28d"),
        figure("weekly_rate_prev_28d"),
        Figure(guide, _trace(desk, "muscle_status.guide_high", row["muscle"])),
        Figure(
            texts.STANDINGS.get(standing or "", formats.NOT_JUDGED),
            _trace(desk, "muscle_status.standing", row["muscle"]),
            mark="look" if is_outside else "" if standing else "quiet",
        ),
        figure("direct_sets_7d", 0),
        Figure(
            formats.number(row["hits_7d"], 0),
            _trace(desk, "rolling_week.hits_7d", row["muscle"]),
        ),
        figure("median_gap_days"),
        figure("median_sets_per_hit"),
    )


def _trace(desk: Desk, column: str, muscle: str) -> str:
    return trace_command(column, desk.client_id, muscle=muscle, on=desk.as_of)


def _numbers(desk: Desk, rows: list[Row]) -> Table | None:
    """The strips' points: a row a week, a column a muscle."""
    days = sorted({week["day"] for row in rows for week in row["weekly"]})
    if not days:
        return None
    values = {
        (row["muscle"], week["day"]): week["fractional_sets_7d"]
        for row in rows
        for week in row["weekly"]
    }
    return Table(
        texts.MUSCLES_NUMBERS,
        (
            Column("7 days to", is_number=False),
            *(Column(desk.label(row["muscle"])) for row in rows),
        ),
        tuple(
            (
                Figure(formats.day(day)),
                *(
                    Figure(
                        formats.number(values.get((row["muscle"], day))),
                        trace_command(
                            "rolling_week.fractional_sets_7d",
                            desk.client_id,
                            muscle=row["muscle"],
                            on=day,
                        ),
                    )
                    for row in rows
                ),
            )
            for day in reversed(days)
        ),
        is_folded=True,
    )

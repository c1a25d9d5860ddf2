"""What was done in all years: sessions by month, sets per muscle by quarter, year against year."""

from __future__ import annotations

from datetime import date
from itertools import groupby

from pipeline.formats import load, month, month_short, number, sentence
from pipeline.ledger.connection import Row
from pipeline.pages.charts.lifts import BROAD, LiftPanel, LiftPoint, lift_panels
from pipeline.pages.charts.muscles import MuscleStrip, muscle_strips, strip_scale
from pipeline.pages.charts.svg import named, time_ticks
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Chart, Column, Figure, Section, Table, trace_command


def sessions_section(data: ClientData, months: list[Row]) -> Section | None:
    """Sessions a week, month by month."""
    if len(months) < 2:
        return None
    points = tuple(LiftPoint(row["month"], row["weekly_sessions"]) for row in months)
    marked = tuple(change.changed_on for change in data.client.changes)
    panel = LiftPanel(points, is_from_zero=True, marked_on=marked)
    svg = lift_panels([panel], data.covered_on, BROAD)[0]
    most = max(months, key=lambda row: row["weekly_sessions"])
    least = min(months, key=lambda row: row["weekly_sessions"])
    reading = sessions_reading(most, least)
    columns = (
        Column("Month", is_number=False),
        Column("Sessions a week"),
        Column("Hard sets a week"),
    )

    def traced(column: str, row: Row) -> Figure:
        return Figure(
            number(row[column]),
            trace_command(f"training_month.{column}", data.client_id, on=row["month"]),
        )

    numbers = Table(
        SESSIONS_CAPTION,
        columns,
        tuple(
            (
                Figure(month(row["month"])),
                traced("weekly_sessions", row),
                traced("weekly_hard_sets", row),
            )
            for row in reversed(months)
        ),
        is_folded=True,
    )
    chart = Chart(named(svg, "years-sessions", SESSIONS_TITLE, reading), reading, numbers)
    return Section("sessions", SESSIONS_TITLE, (chart,))


def year_muscles_section(data: ClientData) -> Section | None:
    """A row a muscle, its hard sets by quarter."""
    rows = data.answer("years_muscles")
    quarters = sorted({row["quarter"] for row in rows})
    if len(quarters) < 2:
        return None
    by_muscle = [
        (muscle, [row["weekly_sets"] for row in of_muscle])
        for muscle, of_muscle in groupby(rows, lambda row: row["muscle"])
    ]
    strips = [
        MuscleStrip(data.label(muscle), tuple(values), values[-1], number(values[-1]), None, None,
                    None)
        for muscle, values in by_muscle
    ]  # fmt: skip
    days = (quarters[-1] - quarters[0]).days
    ticks = [
        {"x": (tick - quarters[-1]).days / days, "text": text}
        for tick, text in time_ticks(quarters[-1], days, 220)
    ]
    reading = muscles_reading(strip_scale(strips))
    numbers = Table(
        MUSCLES_CAPTION,
        (Column("Quarter", is_number=False), *(Column(each.label) for each in strips)),
        tuple(
            (
                Figure(quarter_text(quarter)),
                *(Figure(number(values[place])) for _, values in by_muscle),
            )
            for place, quarter in reversed(list(enumerate(quarters)))
        ),
        is_folded=True,
    )
    svg = muscle_strips(strips, data.covered_on, ticks)
    chart = Chart(named(svg, "years-muscles", MUSCLES_TITLE, reading), reading, numbers)
    return Section("muscles", MUSCLES_TITLE, (chart,))


def year_table_section(data: ClientData) -> Section | None:
    """A row a year, the latest first."""
    rows = data.answer("years_table")
    if not rows:
        return None
    columns = [
        Column("Year", is_number=False),
        Column("Sessions"),
        Column("Sessions a week"),
        Column("Hard sets a week"),
        Column("Rest days a week"),
        Column("New bests", "lifts with a new best e1RM, month by month"),
    ]
    is_weighed = any(row["bodyweight_kg"] for row in rows)
    if is_weighed:
        columns.append(Column(f"Bodyweight ({data.units})", "median of the weigh-ins"))
    cells = tuple(
        (
            Figure(str(row["year"]), note=part_of_year(row["days"])),
            Figure(number(row["sessions"], 0)),
            Figure(number(row["weekly_sessions"])),
            Figure(number(row["weekly_hard_sets"])),
            Figure(number(row["weekly_rest_days"])),
            Figure(number(row["new_bests"], 0)),
            *([Figure(load(row["bodyweight_kg"], data.units))] if is_weighed else []),
        )
        for row in rows
    )
    return Section("years", YEARS_TITLE, (Table(YEARS_CAPTION, tuple(columns), cells),))


# What it says

SESSIONS_TITLE = "Sessions a week by month"
SESSIONS_CAPTION = "Sessions and hard sets a week, the latest month first"


def sessions_reading(most: Row, least: Row) -> str:
    """The fullest and the emptiest month."""
    return sentence(
        f"most in {month(most['month'])}, {number(most['weekly_sessions'])} a week; fewest in "
        f"{month(least['month'])}, {number(least['weekly_sessions'])}"
    )


MUSCLES_TITLE = "Hard sets a week per muscle, by quarter"
MUSCLES_CAPTION = "Hard sets a week, the latest quarter first"


def muscles_reading(row_sets: float) -> str:
    """How to read the strips."""
    return f"At the right the latest quarter. Every row is {number(row_sets, 0)} sets high."


def quarter_text(first_on: date) -> str:
    """The months of a quarter: Jan to Mar 2024."""
    last = first_on.replace(month=first_on.month + 2)
    return f"{month_short(first_on).split()[0]} to {month_short(last)}"


YEARS_TITLE = "Year against year"
YEARS_CAPTION = "Calendar years, the latest first"


def part_of_year(days: int) -> str:
    """Said below a year that the log covers in part."""
    return f"{days} days" if days < 365 else ""

"""Sets per muscle: the strips of 26 weeks beside the table of today's figures."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from pipeline.formats import NOT_JUDGED, count, counted, day, guide, listing, number, sentence
from pipeline.ledger.connection import Row
from pipeline.pages.charts.muscles import MuscleStrip, muscle_strips, strip_scale
from pipeline.pages.charts.svg import STRIP_WEEKS, named
from pipeline.pages.client_data import ClientData
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
    Column("7 days", "hard sets of the last covered day and the six before"),
    Column("Weekly rate", "hard sets a week over whole rounds of the rotation, about 28 days"),
    Column("Before", "the weekly rate of as many days before those"),
    Column("Guide", "hard sets a week, as common practice or as set for this client"),
    Column("Standing", "weekly rate against the guide", is_number=False),
    Column("Direct", "hard sets of the last 7 days that train it directly"),
    Column("Hits", "days of the last 7 with a direct hard set"),
    Column("Gap", "median days from one hit to the next, over 56 days"),
    Column("Sets per hit", "median direct hard sets of a hit, over 56 days"),
)


def read_muscles(data: ClientData) -> list[Row]:
    """Rows of muscle_status in the order of tables, with the weeks and hits of the strip."""
    rows = data.of_client("muscle_status", "muscle")
    place = {muscle: rank for rank, muscle in enumerate(data.labels)}
    rows.sort(key=lambda row: (place.get(row["muscle"], len(place)), row["muscle"]))
    weeks, hits = _read_weeks(data)
    for row in rows:
        row["weekly"] = weeks.get(row["muscle"], [])
        row["hits_7d"] = hits.get(row["muscle"])
    return rows


def _read_weeks(data: ClientData) -> tuple[dict[str, list[Row]], dict[str, int]]:
    rows = data.answer("muscle_weeks", last_on=data.covered_on, weeks=STRIP_WEEKS)
    weeks: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        weeks[row["muscle"]].append(row)
    hits = {row["muscle"]: row["hits_7d"] for row in rows if row["day"] == data.covered_on}
    return weeks, hits


def muscles_section(data: ClientData, rows: list[Row]) -> Section | None:
    """The section, or None where no hard set was ever counted."""
    shown = [row for row in rows if _is_shown(row)]
    if not shown:
        return None
    idle = [data.spoken(row["muscle"]) for row in rows if not _is_shown(row)]
    strips = [_strip(data, row) for row in shown]
    chart = Chart(
        svg=named(
            muscle_strips(strips, data.covered_on),
            "strips",
            STRIPS_TITLE,
            _reading(data, shown),
        ),
        reading=_reading(data, shown),
        numbers=_numbers(data, shown),
        key=strips_key(strip_scale(strips)),
    )
    table = Table(TABLE_CAPTION, COLUMNS, tuple(_cells(data, row) for row in shown))
    blocks: list[Block] = [Passage(INTRO), Beside(chart, table)]
    if idle:
        blocks.append(Passage(untouched(idle), is_small=True))
    return Section("muscles", TITLE, tuple(blocks))


def _is_shown(row: Row) -> bool:
    """Whether there is anything to see: a set in the 26 weeks, or a low end that is missed."""
    has_sets = any(week["fractional_sets_7d"] for week in row["weekly"])
    return has_sets or bool(row["weekly_rate"]) or row["standing"] == "below"


def _strip(data: ClientData, row: Row) -> MuscleStrip:
    return MuscleStrip(
        label=data.label(row["muscle"]),
        weekly=tuple(week["fractional_sets_7d"] for week in row["weekly"]),
        rate=row["weekly_rate"] or 0.0,
        rate_text=number(row["weekly_rate"]),
        low=row["guide_low"],
        high=row["guide_high"],
        standing=row["standing"],
    )


def _reading(data: ClientData, rows: list[Row]) -> str:
    by_standing: dict[str | None, list[str]] = defaultdict(list)
    for row in rows:
        by_standing[row["standing"]].append(data.spoken(row["muscle"]))
    return muscles_reading(
        by_standing["below"],
        by_standing["above"],
        len(by_standing["within"]),
        len(by_standing[None]),
    )


def _cells(data: ClientData, row: Row) -> tuple[Figure, ...]:
    def figure(column: str, digits: int = 1) -> Figure:
        trace = _trace(data, f"muscle_status.{column}", row["muscle"])
        return Figure(number(row[column], digits), trace)

    standing = row["standing"]
    is_outside = standing in ("below", "above")
    return (
        Figure(data.label(row["muscle"])),
        figure("fractional_sets_7d"),
        figure("weekly_rate"),
        figure("weekly_rate_before"),
        Figure(
            guide(row["guide_low"], row["guide_high"]),
            _trace(data, "muscle_status.guide_high", row["muscle"]),
        ),
        Figure(
            STANDINGS.get(standing or "", NOT_JUDGED),
            _trace(data, "muscle_status.standing", row["muscle"]),
            mark="look" if is_outside else "" if standing else "quiet",
        ),
        figure("direct_sets_7d", 0),
        Figure(
            number(row["hits_7d"], 0),
            _trace(data, "rolling_week.hits_7d", row["muscle"]),
        ),
        figure("median_gap_days"),
        figure("median_sets_per_hit"),
    )


def _trace(data: ClientData, column: str, muscle: str) -> str:
    return trace_command(column, data.client_id, muscle=muscle, on=data.covered_on)


def _numbers(data: ClientData, rows: list[Row]) -> Table | None:
    """The strips' points: a row a week, a column a muscle."""
    ends = sorted({week["day"] for row in rows for week in row["weekly"]})
    if not ends:
        return None
    values = {
        (row["muscle"], week["day"]): week["fractional_sets_7d"]
        for row in rows
        for week in row["weekly"]
    }
    return Table(
        NUMBERS_CAPTION,
        (
            Column("7 days to", is_number=False),
            *(Column(data.label(row["muscle"])) for row in rows),
        ),
        tuple(
            (
                Figure(day(end)),
                *(
                    Figure(
                        number(values.get((row["muscle"], end))),
                        trace_command(
                            "rolling_week.fractional_sets_7d",
                            data.client_id,
                            muscle=row["muscle"],
                            on=end,
                        ),
                    )
                    for row in rows
                ),
            )
            for end in reversed(ends)
        ),
        is_folded=True,
    )


# What it says

TITLE = "Sets per muscle"
STANDINGS = {"below": "▼ below", "above": "▲ above", "within": "within"}


def _is_or_are(labels: Sequence[str]) -> str:
    """The verb; muscles' names are plural but for a few."""
    is_one = len(labels) == 1 and not labels[0].endswith("s")
    return "is" if is_one else "are"


def muscles_reading(
    below: Sequence[str], above: Sequence[str], within: int, not_judged: int
) -> str:
    """What the figure of sets per muscle shows."""
    parts = []
    if below:
        parts.append(f"{listing(below)} {_is_or_are(below)} below the guide")
    if above:
        guide_word = "it" if below else "the guide"
        parts.append(f"{listing(above)} {_is_or_are(above)} above {guide_word}")
    if within:
        rest = "the other " if parts else ""
        parts.append(f"{rest}{counted(within, 'muscle')} {'is' if within == 1 else 'are'} within")
    if not parts:
        return "No muscle is judged against the guide at this day; the strips show what was done."
    text = f"At today’s weekly rate, {'; '.join(parts)}"
    if not_judged:
        text += f" ({counted(not_judged, 'muscle')} not judged)"
    return sentence(text)


INTRO = (
    "Hard sets (sets to within about three repetitions of failure) that each muscle got. A set "
    "counts 1 for a muscle that it trains directly and ½ for one that it trains indirectly. The "
    "strip is the running 7-day count over 26 weeks; the mark at its end is today’s weekly rate, "
    "over whole rounds of the rotation, about 28 days."
)
STRIPS_TITLE = "Hard sets per muscle, 26 weeks"


def strips_key(row_sets: float) -> str:
    """How to read the strips."""
    return (
        "Shaded: the guide. Mark: ● within, ▼ below, ▲ above, ○ not judged. Every row is "
        f"{count(round(row_sets), 'set')} high."
    )


TABLE_CAPTION = "Hard sets per muscle at the last covered day"
NUMBERS_CAPTION = "Running 7-day count of hard sets at the end of each week"


def untouched(labels: Sequence[str]) -> str:
    """Muscles without a hard set in the 26 weeks."""
    return sentence(f"no hard set in 26 weeks: {listing(labels)}")

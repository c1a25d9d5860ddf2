"""The whole log of one client at a look: in which spans the lifts moved, then the years drawn."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from itertools import groupby

from pipeline.formats import (
    NOTHING,
    count,
    day,
    heading,
    load,
    month_short,
    number,
    sentence,
    signed,
)
from pipeline.ledger.connection import Row
from pipeline.pages.charts.lifts import YEARS, LiftPanel, LiftPoint, lift_panels
from pipeline.pages.charts.svg import named
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import (
    Block,
    ClientPage,
    Column,
    Figure,
    Panel,
    Panels,
    Passage,
    Section,
    SidePage,
    Table,
    trace_command,
)
from pipeline.pages.sections.lifts import axis_of, drawn_value
from pipeline.pages.sections.years import (
    sessions_section,
    year_muscles_section,
    year_table_section,
)
from pipeline.units import from_kg

MAIN_LIFTS = 8
WEEKLY_DAYS = 400
"""A log of so many days is drawn by weeks; a longer one by months, so that it costs no more."""


def read_years(data: ClientData, page: ClientPage) -> SidePage:
    """All years of the client of a page; sections without rows are left out."""
    spans = data.answer("years_spans")
    sections: list[Section | None] = []
    intro = NOTHING_LOGGED
    if spans:
        first_on = min(row["span_from"] for row in spans if row["span_from"])
        bucket = "week" if (data.covered_on - first_on).days <= WEEKLY_DAYS else "month"
        lifts = _read_lifts(data, bucket)
        names = [name for name, _ in lifts]
        months = [row for row in data.of_client("training_month", "month") if row["days"]]
        intro = years_intro(first_on, data.covered_on)
        sections = [
            _spans_section(data, spans, names),
            _lifts_section(data, lifts, bucket),
            _bests_section(data, names),
            sessions_section(data, months),
            year_muscles_section(data),
            year_table_section(data),
        ]
    return SidePage(
        name=page.name,
        workspace_name=page.workspace_name,
        title=TITLE,
        intro=intro,
        sections=tuple(section for section in sections if section is not None),
        foot=page.foot,
        is_coachs=False,
    )


def _read_lifts(data: ClientData, bucket: str) -> list[tuple[str, list[Row]]]:
    rows = data.answer("years_lifts", bucket=bucket, most=MAIN_LIFTS)
    return [(name, list(of_lift)) for name, of_lift in groupby(rows, lambda row: row["exercise"])]


# Spans


def _spans_section(data: ClientData, rows: list[Row], names: list[str]) -> Section:
    spans = [row for row in rows if row["span_from"]]
    sums = {row["moved"]: row for row in rows if not row["span_from"]}
    is_weighed = any(row["bodyweight_from_kg"] for row in spans)
    units = data.units
    columns = [
        Column("Span", is_number=False),
        Column("The lifts", is_number=False),
        Column("A week", "median rate of the lifts"),
        Column("Sessions a week"),
        Column("Hard sets a week"),
    ]
    if is_weighed:
        columns.append(Column(f"Bodyweight ({units})", "first and last quarter with a weigh-in"))
    cells = []
    for row in reversed(spans):
        rate = row["rate_pct"] if row["moved"] != "untold" else None
        cell = [
            Figure(span_text(row["span_from"], row["span_to"])),
            Figure(MOVED[row["moved"]], mark="look" if row["moved"] == "fell" else ""),
            Figure(NOTHING if rate is None else f"{signed(rate, 2)}%"),
            Figure(number(row["weekly_sessions"])),
            Figure(number(row["weekly_hard_sets"])),
        ]
        if is_weighed:
            ends = [row["bodyweight_from_kg"], row["bodyweight_to_kg"]]
            cell.append(Figure(bodyweight_text([load(each, units) for each in ends])))
        cells.append(tuple(cell))
    blocks: list[Block] = [
        Passage(spans_reading(spans, sums)),
        Table(SPANS_CAPTION, tuple(columns), tuple(cells)),
    ]
    best = data.answer("years_best", exercises=names)
    if best:
        blocks.append(_best_table(data, best))
    blocks.append(Passage(SPANS_NOTE, is_small=True))
    return Section("moved", "When the lifts moved", tuple(blocks))


def _best_table(data: ClientData, rows: list[Row]) -> Table:
    columns = (
        Column("Lift", is_number=False),
        Column("Best year", is_number=False),
        Column(f"Best e1RM ({data.units})", "mean of Epley and Brzycki"),
        Column("Best on", is_number=False),
        Column("Rose most in", is_number=False),
        Column("By", "best of the year against the best of the year before"),
    )
    return Table(
        BEST_CAPTION,
        columns,
        tuple(
            (
                Figure(heading(row["exercise"])),
                Figure(str(row["best_year"])),
                Figure(
                    load(row["best_e1rm"], data.units),
                    trace_command(
                        "lift_session.e1rm",
                        data.client_id,
                        exercise=row["exercise"],
                        on=row["best_on"],
                    ),
                ),
                Figure(day(row["best_on"])),
                Figure(str(row["gain_year"]) if (row["gain_pct"] or 0) > 0 else NOTHING),
                Figure(f"{signed(row['gain_pct'])}%" if (row["gain_pct"] or 0) > 0 else NOTHING),
            )
            for row in rows
        ),
    )


# Lifts


def _lifts_section(
    data: ClientData, lifts: list[tuple[str, list[Row]]], bucket: str
) -> Section | None:
    """The main lifts from first to last day; layoffs break the thread, changes stand upright."""
    drawn = []
    for name, rows in lifts:
        value = drawn_value(data, rows)
        points = [LiftPoint(row["day"], shown) for row in rows if (shown := value(row)) is not None]
        if len(points) > 1:
            drawn.append((name, axis_of(data, {"sessions_of": rows}), points))
    if not drawn:
        return None
    marked = tuple(change.changed_on for change in data.client.changes)
    first_on = min(points[0].day for _, _, points in drawn)
    # a month without a session lies between points that are more than two months apart
    layoff_days = 62 if bucket == "month" else data.rules["not_trained_days"]
    drawings = lift_panels(
        [
            LiftPanel(tuple(points), None, layoff_days, marked_on=marked, first_on=first_on)
            for _, _, points in drawn
        ],
        data.covered_on,
        YEARS,
    )
    panels = []
    for place, ((name, axis, points), svg) in enumerate(zip(drawn, drawings, strict=True)):
        best = max(points, key=lambda point: point.value)
        reading = lift_reading(points[0], best, points[-1])
        title = f"{heading(name)}, {axis}"
        panels.append(
            Panel(heading(name), axis, named(svg, f"years-lift-{place}", title, reading), reading)
        )
    return Section(
        "lifts",
        "Lifts",
        (Passage(lifts_intro(bucket, bool(marked))), Panels(tuple(panels), (), "", size="years")),
    )


def _bests_section(data: ClientData, names: list[str]) -> Section | None:
    """Heaviest loads by year: a thread a number of repetitions, and the table of all."""
    rows = data.answer("years_bests", exercises=names)
    by_lift: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        by_lift[row["exercise"]].append(row)
    # a lift without added load has no loads to tell apart
    drawn = {
        name: of_lift
        for name, of_lift in by_lift.items()
        if len({row["year"] for row in of_lift}) > 1 and any(row["load_kg"] for row in of_lift)
    }
    if not drawn:
        return None
    drawings = lift_panels(
        [_bests_panel(data, of_lift) for of_lift in drawn.values()], data.covered_on, YEARS
    )
    panels = []
    for place, ((name, of_lift), svg) in enumerate(zip(drawn.items(), drawings, strict=True)):
        reading = bests_reading(of_lift, data)
        title = f"{heading(name)}: {BESTS_TITLE}"
        panels.append(
            Panel(
                heading(name),
                data.units,
                named(svg, f"bests-{place}", title, reading),
                reading,
            )
        )
    numbers = tuple(_bests_numbers(data, name, of_lift) for name, of_lift in drawn.items())
    blocks = (
        Passage(BESTS_INTRO),
        Panels(tuple(panels), numbers, BESTS_NUMBERS, size="years"),
    )
    return Section("bests", BESTS_TITLE, blocks)


def _bests_panel(data: ClientData, rows: list[Row]) -> LiftPanel:
    threads = [
        (
            f"{reps}×",
            tuple(LiftPoint(row["day"], from_kg(row["load_kg"], data.units)) for row in of_reps),
        )
        for reps, of_reps in groupby(rows, lambda row: row["reps"])
    ]
    # equal threads are one line: the word of the most repetitions stands for those below
    kept = [each for nth, each in enumerate(threads)
            if not any(each[1] == other[1] for other in threads[nth + 1 :])]  # fmt: skip
    return LiftPanel((), threads=tuple(kept))


def _bests_numbers(data: ClientData, name: str, rows: list[Row]) -> Table:
    loads = {(row["year"], row["reps"]): row["load_kg"] for row in rows}
    reps = sorted({row["reps"] for row in rows})
    years = sorted({row["year"] for row in rows}, reverse=True)
    return Table(
        f"{heading(name)} ({data.units})",
        (Column("Year", is_number=False), *(Column(f"{each} reps") for each in reps)),
        tuple(
            (
                Figure(str(year)),
                *(Figure(load(loads.get((year, each)), data.units)) for each in reps),
            )
            for year in years
        ),
    )


# What it says

TITLE = "All years"
NOTHING_LOGGED = "Nothing has been logged yet."


def years_intro(first_on: date, last_on: date) -> str:
    """What the page covers."""
    return f"The whole log, from {day(first_on)} to {day(last_on)}."


MOVED = {
    "rose": "rose",
    "held": "did not move",
    "fell": "fell",
    "untold": "unclear",
}
SPANS_CAPTION = "How the lifts moved, quarters alike taken together, the latest first"
SPANS_NOTE = (
    "Each lift’s change a week is taken from its sessions of a quarter; what is told is the middle "
    "one of all lifts, and it is called a rise or a fall only where they agree well enough. What "
    "was done in that time need not be the reason."
)
BEST_CAPTION = "Best years by lift"


def spans_reading(spans: list[Row], sums: dict[str, Row]) -> str:
    """For how long the lifts moved and for how long not, and what was done meanwhile."""
    parts = []
    for moved, verb in (("rose", "rose"), ("held", "did not move"), ("fell", "fell")):
        found = [row for row in spans if row["moved"] == moved]
        if not found:
            continue
        longest = max(found, key=lambda row: row["weeks"])
        told = span_text(longest["span_from"], longest["span_to"])
        if len(found) == 1:
            parts.append(f"The lifts {verb} from {told}.")
        else:
            whole = duration(sums[moved]["weeks"])
            parts.append(f"The lifts {verb} for {whole} of the log, longest from {told}.")
    if not parts:
        return "No quarter tells yet whether the lifts moved."
    rose, still = sums.get("rose"), sums.get("held") or sums.get("fell")
    if rose and still:
        word = MOVED[still["moved"]]
        parts.append(
            f"While they rose: {number(rose['weekly_sessions'])} sessions and "
            f"{number(rose['weekly_hard_sets'], 0)} hard sets a week; while they {word}: "
            f"{number(still['weekly_sessions'])} and {number(still['weekly_hard_sets'], 0)}."
        )
    return " ".join(parts)


def duration(weeks: float) -> str:
    """A span in years or months."""
    return (
        count(round(weeks / 52.18, 1), "year")
        if weeks >= 78
        else count(round(weeks / 4.348), "month")
    )


def span_text(first_on: date, last_on: date) -> str:
    """Months from the first to the last: Oct 2023 to Sept 2024."""
    first, last = (month_short(each) for each in (first_on, last_on))
    return first if first == last else f"{first} to {last}"


def bodyweight_text(ends: list[str]) -> str:
    """First and last bodyweight of a span."""
    first, last = ends
    return first if first == last else f"{first} → {last}"


def lifts_intro(bucket: str, has_changes: bool) -> str:
    """How the lifts are drawn, and that points are thinned."""
    text = (
        f"The best session of each {bucket}, for a log of years: an estimated one-repetition "
        "maximum where sets allow one. A break in the thread is a layoff."
    )
    return f"{text} Upright lines are noted changes." if has_changes else text


def lift_reading(first: LiftPoint, best: LiftPoint, last: LiftPoint) -> str:
    """Where a lift began, its best, and where it is."""
    return sentence(
        f"{number(first.value)} in {month_short(first.day)}, best {number(best.value)} in "
        f"{month_short(best.day)}, {number(last.value)} in {month_short(last.day)}"
    )


BESTS_TITLE = "Bests by year"
BESTS_INTRO = (
    "The heaviest load of each year for at least 1, 3, 5, 8 and 10 repetitions; equal lines are "
    "one. Lifts with bodyweight go by added load."
)
BESTS_NUMBERS = "Heaviest loads of each year"


def bests_reading(rows: list[Row], data: ClientData) -> str:
    """The heaviest loads at the fewest and the most repetitions."""
    few, many = (
        max((row for row in rows if row["reps"] == reps), key=lambda row: float(row["load_kg"]))
        for reps in (min(row["reps"] for row in rows), max(row["reps"] for row in rows))
    )
    if few["load_kg"] == many["load_kg"]:
        return sentence(f"{load(many['load_kg'], data.units)} × {many['reps']} in {many['year']}")
    return sentence(
        f"{load(few['load_kg'], data.units)} × {few['reps']} in {few['year']}, "
        f"{load(many['load_kg'], data.units)} × {many['reps']} in {many['year']}"
    )

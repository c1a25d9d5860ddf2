"""Inside the session: whether later sets hold up; and whether exercises stay long enough."""

from __future__ import annotations

from pipeline.formats import NOTHING, day, number, percent, sentence
from pipeline.ledger.connection import Row
from pipeline.pages.charts.dots import FADE_SETS_MOST, FadeDot, fade_panels
from pipeline.pages.charts.svg import named
from pipeline.pages.client_data import ClientData
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


def inside_section(data: ClientData) -> Section | None:
    """The section, or None where neither fade nor turnover can be told."""
    blocks = [*_fade_blocks(data), *_turnover_blocks(data)]
    return Section("inside", TITLE, tuple(blocks)) if blocks else None


def _fade_blocks(data: ClientData) -> list[Block]:
    rows = [
        row
        for row in data.of_client("session_fade", "kind desc, muscle, nth")
        if row["relative_output"] is not None
    ]
    if not rows:
        return []
    place = {muscle: rank for rank, muscle in enumerate(data.labels)}
    rows.sort(key=lambda row: (row["kind"] != "within", place.get(row["muscle"], 99), row["nth"]))
    within = [row for row in rows if row["kind"] == "within"]
    blocks: list[Block] = [Passage(FADE_INTRO)]
    if within:
        blocks.append(_fade_panels(data, within))
        blocks.append(Passage(FADE_KEY, is_small=True))
    blocks.append(_fade_table(data, rows))
    return blocks


def _fade_panels(data: ClientData, within: list[Row]) -> Panels:
    dots = [
        FadeDot(
            data.label(row["muscle"]), row["nth"], row["relative_output"], row["low"], row["high"]
        )
        for row in within
        if row["nth"] <= FADE_SETS_MOST
    ]
    panels = []
    for place, (muscle, svg) in enumerate(fade_panels(dots).items()):
        last = [dot for dot in dots if dot.muscle == muscle][-1]
        reading = fade_reading(last.nth, last.output, last.low, last.high)
        title = f"{muscle}: {FADE_TITLE}"
        panels.append(Panel(muscle, "", named(svg, f"fade-{place}", title, reading), reading))
    return Panels(tuple(panels), (), "", size="tight")


def _fade_table(data: ClientData, rows: list[Row]) -> Table:
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
                data.client_id,
                muscle=row["muscle"],
                kind=row["kind"],
                nth=row["nth"],
            )

        return (
            Figure(data.label(row["muscle"])),
            Figure(fade_kind(row["kind"])),
            Figure(number(row["nth"], 0)),
            Figure(
                percent(row["relative_output"], 1),
                trace("relative_output"),
                note=LOWER_BOUND if row.get("is_lower_bound") else "",
            ),
            Figure(interval_share(row["low"], row["high"])),
            Figure(number(row["sets"], 0), trace("sets")),
        )

    return Table(FADE_CAPTION, columns, tuple(cells(row) for row in rows), is_folded=True)


def _turnover_blocks(data: ClientData) -> list[Block]:
    rows = data.of_client("exercise_turnover", "week desc")[:TURNOVER_WEEKS]
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
            return trace_command(f"exercise_turnover.{column}", data.client_id, on=row["week"])

        return (
            Figure(day(row["week"])),
            Figure(number(row["exercises"], 0), trace("exercises")),
            Figure(percent(row["kept_share"]), trace("kept_share")),
            Figure(percent(row["trackable_share"]), trace("trackable_share")),
        )

    latest = rows[0]
    return [
        Heading(TURNOVER_HEADING),
        Passage(turnover_reading(latest["kept_share"], latest["trackable_share"])),
        Table(TURNOVER_CAPTION, columns, tuple(cells(row) for row in rows), is_folded=True),
    ]


# What it says

TITLE = "Inside the session"
FADE_INTRO = (
    "How much of the first set’s strength is left in the nth set of an exercise that day, by sets "
    "with loads within 10%. It shows whether the last sets are worth their place."
)
FADE_TITLE = "output of the nth set against the first"
FADE_KEY = "Across: nth set. Dot: output in per cent of the first set. Line: its 95% interval."
FADE_CAPTION = "Output of later sets"
FADE_KINDS = {"within": "nth set of an exercise", "across": "exercise done later in the session"}


def fade_kind(code: str) -> str:
    """What is compared."""
    return FADE_KINDS.get(code, code)


LOWER_BOUND = "at least this: effort not recorded"


def fade_reading(nth: int, share: float, low: float | None, high: float | None) -> str:
    """The last set that is compared."""
    span = "" if low is None or high is None else f" ({percent(low)} to {percent(high)})"
    return f"Set {nth}: {percent(share)}{span}."


def interval_share(low: float | None, high: float | None) -> str:
    """A range of shares."""
    if low is None or high is None:
        return NOTHING
    return f"{percent(low, 1)} to {percent(high, 1)}"


TURNOVER_HEADING = "Consistency"
TURNOVER_CAPTION = "Exercises kept and trackable sets by week"


def turnover_reading(kept: float | None, trackable: float | None) -> str:
    """The latest week."""
    parts = []
    if kept is not None:
        parts.append(f"{percent(kept)} of the exercises of the two weeks before were kept")
    if trackable is not None:
        parts.append(
            f"{percent(trackable)} of hard sets are on lifts trained often enough to follow"
        )
    return sentence("; ".join(parts) or "there is not enough history yet to judge turnover")

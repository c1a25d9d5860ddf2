"""Before and after: the same measures four weeks before and four weeks after a noted change."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from itertools import groupby
from typing import Any

from pipeline.formats import (
    NOTHING,
    capital,
    counted,
    day,
    listing,
    number,
    percent,
    plain,
    sentence,
    short,
    signed,
)
from pipeline.ledger.connection import Row
from pipeline.pages import follow_text
from pipeline.pages.charts.dumbbells import USUAL_MOST, Dumbbell, dumbbells
from pipeline.pages.charts.svg import named
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import (
    Block,
    Chart,
    Column,
    Figure,
    Heading,
    Passage,
    Section,
    Table,
    trace_command,
)
from pipeline.pages.sections import loop

CHANGES_MOST = 2
"""Changes that the page draws, the latest first."""
COLUMNS = (
    Column("Measure", is_number=False),
    Column("Before", "the four weeks before"),
    Column("After", "the four weeks from the change on"),
    Column("Difference"),
    Column(
        "Against the usual",
        "whether four weeks usually differ as much, and the largest difference that is usual",
        is_number=False,
        is_long=True,
    ),
)


def changes_section(data: ClientData) -> Section | None:
    """The section, or None where no change was noted."""
    rows = data.of_client("before_after", "changed_on desc, measure")
    if not rows:
        return None
    groups = [
        (changed_on, sorted(of_change, key=_place))
        for changed_on, of_change in groupby(rows, key=lambda row: row["changed_on"])
    ]
    blocks: list[Block] = [Passage(changes_intro(data.rules), is_small=True)]
    followed = loop.verdicts(data)
    for changed_on, of_change in groups[:CHANGES_MOST]:
        told = [follow_text.became(row) for row in followed.get(changed_on, ())]
        blocks += _blocks(data, changed_on, of_change, told)
    if len(groups) > CHANGES_MOST:
        blocks.append(Passage(earlier_changes(len(groups) - CHANGES_MOST), is_small=True))
    return Section("changes", TITLE, tuple(blocks))


def _place(row: Row) -> tuple[int, str]:
    """Place of a measure on the page; one without a place stands last."""
    order = list(MEASURES)
    code = row["measure"]
    return (order.index(code) if code in order else len(order), code)


def _blocks(
    data: ClientData, changed_on: date, rows: Sequence[Row], told: Sequence[str]
) -> Iterator[Block]:
    """One change: its note, what became of it, and the measures side by side."""
    # several changes of one day share their figures
    notes = [change.note for change in data.client.changes if change.changed_on == changed_on]
    yield Heading(change_heading(changed_on, "; ".join(notes)))
    judged = [row for row in rows if row["is_usual_variation"] is not None]
    unusual = [measure(row["measure"])[0] for row in judged if not row["is_usual_variation"]]
    first = rows[0]
    yield from (Passage(text) for text in told)
    sentences = [
        change_reading(len(rows), unusual, len(judged)),
        change_span(first["days_before"], first["days_after"], data.rules["change_days"]),
        other_changes(first["other_changes"]) if first["other_changes"] else "",
    ]
    cells = tuple(_cells(data, row) for row in rows)
    caption = change_caption(changed_on)
    svg = dumbbells([_dumbbell(row) for row in rows])
    reading = " ".join(filter(None, sentences))
    yield Chart(
        named(svg, f"change-{changed_on}", caption, reading),
        reading,
        Table(caption, COLUMNS, cells, is_folded=True),
    )


def _dumbbell(row: Row) -> Dumbbell:
    """A measure as it is drawn; one that is not held against the usual has no line."""
    name, value, _ = measure(row["measure"])
    usual_most, difference = row["usual_difference"], row["difference"]
    parts = None
    if row["is_usual_variation"] is not None and difference is not None:
        # what never differed before has no usual difference: any is beyond it
        beyond = math.copysign(math.inf, difference) if difference else 0.0
        parts = float(difference / usual_most) if usual_most else beyond
    return Dumbbell(
        name,
        f"{value(row['before'])} → {value(row['after'])}",
        parts,
    )


def _cells(data: ClientData, row: Row) -> tuple[Figure, ...]:
    name, value, difference = measure(row["measure"])

    def traced(column: str, text: str) -> Figure:
        grain = {"on": row["changed_on"], "measure": row["measure"]}
        return Figure(text, trace_command(f"before_after.{column}", data.client_id, **grain))

    return (
        Figure(name),
        traced("before", value(row["before"])),
        traced("after", value(row["after"])),
        traced("difference", difference(row["difference"])),
        Figure(
            usual(row["is_usual_variation"]),
            note=reach(difference(row["usual_difference"])),
        ),
    )


# What it says

TITLE = "Before and after"


def changes_intro(rules: dict[str, Any]) -> str:
    """What before and after can tell, and how the drawing is read."""
    spread = short(rules["change_spread"])
    return (
        "The four weeks before a change (○) and the four after it (●). Shaded: how far four weeks "
        f"usually differ from the four before ({spread} times the typical difference over half a "
        f"year); each line ends at {USUAL_MOST:g} times that. What comes after a change need not "
        "come from it, and among so many measures one may stand out by chance."
    )


def earlier_changes(amount: int) -> str:
    """When there are more changes than are shown."""
    verb = "is" if amount == 1 else "are"
    return sentence(f"{counted(amount, 'earlier change')} {verb} not drawn")


MEASURES = {
    "weekly_sessions": "Sessions a week",
    "weekly_rest_days": "Rest days a week",
    "weekly_hard_sets": "Hard sets a week",
    "hard_sets_per_session": "Hard sets a session",
    "weekly_sets_legs": "Direct leg sets a week",
    "weekly_sets_chest": "Direct chest sets a week",
    "weekly_sets_back": "Direct back sets a week",
    "weekly_sets_shoulders": "Direct shoulder sets a week",
    "weekly_sets_arms": "Direct arm sets a week",
    "weekly_sets_trunk": "Direct trunk sets a week",
    "failure_share": "Recorded sets at 0 RIR",
    "easy_share": "Recorded sets at 4 RIR or more",
    "extended_share": "Hard sets extended past failure",
    "lift_level": "Level of the lifts, before = 100",
    "recorded_share": "Sets with recorded effort",
}
"""Measures of before and after, in the order of the page."""


def change_heading(changed_on: date, note: str) -> str:
    """What was changed, and when."""
    return f"{day(changed_on)}: {note}" if note else day(changed_on)


def change_caption(changed_on: date) -> str:
    """Over the measures of one change."""
    return f"Four weeks before and after {day(changed_on)}"


def change_reading(measures: int, unusual: Sequence[str], judged: int) -> str:
    """How many measures moved by more than they usually do, and which."""
    if not judged:
        return sentence(
            f"none of the {counted(measures, 'measure')} is held against usual variation: that "
            "needs whole weeks on both sides, no pause or care among them, and about 15 weeks of "
            "history before"
        )
    if not unusual:
        return sentence(
            f"none of the {counted(judged, 'measure')} that can be judged changed by more than "
            "is usual for this client"
        )
    names = listing(_first_few([name[0].lower() + name[1:] for name in unusual]))
    return sentence(
        f"{counted(len(unusual), 'measure')} of {judged} changed by more than is usual for this "
        f"client: {names}"
    )


def _first_few(names: list[str], most: int = 5) -> list[str]:
    """As many as a sentence carries, and how many more there are."""
    if len(names) <= most:
        return names
    return [*names[: most - 1], f"{counted(len(names) - most + 1, 'other')}"]


def change_span(days_before: int, days_after: int, days: int) -> str:
    """Said where a span holds fewer days than it should; empty where both are whole."""
    short_ones = [
        f"the four weeks {side} the change hold {held} of {days} days"
        for side, held in (("before", days_before), ("after", days_after))
        if held < days
    ]
    if not short_ones:
        return ""
    return sentence(f"{listing(short_ones)}: days not logged, or a deload, are left out")


def other_changes(others: int) -> str:
    """Said where the weeks of two changes overlap."""
    verb = "falls" if others == 1 else "fall"
    return sentence(
        f"{counted(others, 'other change')} {verb} into these weeks; the figures cannot tell them "
        "apart"
    )


def measure(
    code: str,
) -> tuple[str, Callable[[float | None], str], Callable[[float | None], str]]:
    """A measure's name, and how its value and its difference are written."""
    name = MEASURES.get(code, capital(plain(code)))
    if code.endswith("_share"):
        return (
            name,
            percent,
            lambda value: NOTHING if value is None else f"{signed(100 * value, 0)} points",
        )
    return name, number, _small_signed


def _small_signed(value: float | None) -> str:
    """A difference; a small one with two digits, so that it can be held against the usual one."""
    return signed(value, 1 if value is None or value == 0 or abs(value) >= 1 else 2)


def reach(written: str) -> str:
    """The largest usual difference, to both sides: usual up to ±5.7."""
    return "" if written == NOTHING else f"up to ±{written.lstrip('+')} is usual"


def usual(is_usual: bool | None) -> str:
    """Whether a difference is one that four weeks usually show."""
    if is_usual is None:
        return "cannot tell"
    return "usual variation" if is_usual else "more than usual"

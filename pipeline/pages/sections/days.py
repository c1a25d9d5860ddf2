"""Days: when the client trained in the last twelve weeks, as one strip of time."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

from pipeline.formats import count, day, day_near, number, sentence
from pipeline.ledger.connection import Row
from pipeline.pages.charts.days import Stretch, TrainedDay, day_strip
from pipeline.pages.charts.svg import named
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Chart, Column, Figure, Table, trace_command

WEEKS = 12
LAYOFF_DAYS = 7
"""Days without a session that are told as a break."""


def days_strip(data: ClientData) -> Chart | None:
    """The strip, or None where nothing was trained in the twelve weeks."""
    days = 7 * WEEKS
    first_on = data.covered_on - timedelta(days=days - 1)
    rows = data.answer("days", first_on=first_on, last_on=data.covered_on)
    if not rows:
        return None
    phases = [
        Stretch(each.from_on, min(each.to_on or data.covered_on, data.covered_on), each.kind)
        for each in data.client.phases
        if each.from_on <= data.covered_on and (each.to_on is None or each.to_on >= first_on)
    ]
    breaks = _breaks(rows, data.covered_on)
    changes = [
        each for each in data.client.changes if first_on <= each.changed_on <= data.covered_on
    ]
    letters = {each.changed_on: chr(97 + nth) for nth, each in enumerate(changes)}
    svg = day_strip(
        [TrainedDay(row["day"], row["hard_sets"]) for row in rows],
        phases,
        breaks,
        list(letters.items()),
        data.covered_on,
        days,
    )
    reading = days_reading(
        len(rows), max(row["hard_sets"] for row in rows), breaks, data.covered_on
    )
    notes = [
        change_note(letters[each.changed_on], each.changed_on, each.note, data.covered_on)
        for each in changes
    ]
    key = " ".join([KEY, *notes, *(phase_note(each, data.covered_on) for each in phases)])
    return Chart(named(svg, "days", TITLE, reading), reading, _numbers(data, rows), key)


def _breaks(rows: Sequence[Row], last_on: date) -> list[Stretch]:
    """Stretches of a week or more without a session, also the one that goes on."""
    trained = [row["day"] for row in rows] + [last_on + timedelta(days=1)]
    return [
        Stretch(before + timedelta(days=1), after - timedelta(days=1), days_away(away))
        for before, after in pairwise(trained)
        if (away := (after - before).days) > LAYOFF_DAYS
    ]


def _numbers(data: ClientData, rows: Sequence[Row]) -> Table:
    columns = (Column("Day", is_number=False), Column("Hard sets"))
    return Table(
        NUMBERS_CAPTION,
        columns,
        tuple(
            (
                Figure(day(row["day"])),
                Figure(
                    number(row["hard_sets"], 0),
                    trace_command("rhythm.hard_sets", data.client_id, on=row["day"]),
                ),
            )
            for row in reversed(rows)
        ),
        is_folded=True,
    )


# What it says

TITLE = "Sessions of the last twelve weeks"
KEY = "A mark is a session, as high as its hard sets."
NUMBERS_CAPTION = "Sessions and their hard sets"


def days_away(days: int) -> str:
    """A break, inside the strip; counted from session to session, as findings count it."""
    return f"{days} days away"


def days_reading(sessions: int, most: int, breaks: Sequence[Stretch], today: date) -> str:
    """What the strip shows."""
    text = f"{count(sessions, 'session')} in twelve weeks"
    if most:
        text += f", the largest with {count(most, 'hard set')}"
    if not breaks:
        return sentence(f"{text}; never a week without one")
    told = []
    for each in breaks:
        last, back = each.first_on - timedelta(days=1), each.last_on + timedelta(days=1)
        since = f"{each.word}, last seen {day_near(last, today)}"
        told.append(since if back > today else f"{since} and back {day_near(back, today)}")
    return sentence(f"{text}; {'; '.join(told)}")


def change_note(letter: str, changed_on: date, note: str, today: date) -> str:
    """What the letter over the strip stands for."""
    return sentence(f"{letter}: {day_near(changed_on, today)}, {note}")


def phase_note(phase: Stretch, today: date) -> str:
    """What the shaded days are."""
    return f"Shaded: {phase.word}, from {day_near(phase.first_on, today)}."

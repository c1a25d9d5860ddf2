"""The sheet for a client's next session: what the page and its CSV say of it."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import TextIO

from pipeline import formats
from pipeline.ledger.connection import Row
from pipeline.review.export import defused
from pipeline.review.next_session import NextSession
from pipeline.units import Unit, from_kg
from pipeline.visible import visible

COLUMNS = ("exercise", "sets", "last_sets", "best", "line_to_beat")
OF_ALL = ("care", "pause", "cut", "deload", "strength_drop", "return", "away", "failure")
"""Reasons that hold for the whole session: said once above the list."""


@dataclass(frozen=True)
class SheetLine:
    """One exercise of the printed list."""

    exercise: str
    note: str
    sets: str
    last_sets: str
    last_on: str
    best: str
    best_on: str
    line: str
    line_note: str


@dataclass(frozen=True)
class NextSheet:
    """The printed list for one session."""

    name: str
    workspace_name: str
    title: str
    rests_on: str
    unit: Unit
    notices: tuple[str, ...]
    lines: tuple[SheetLine, ...]
    key: tuple[str, ...]
    foot: str


def next_sheet(found: NextSession, workspace_name: str) -> NextSheet:
    """What the page shows."""
    units = found.client.units
    return NextSheet(
        name=found.client.name,
        workspace_name=workspace_name,
        title=title(found.session["parts"]),
        rests_on=rests_on(found.session),
        unit=units,
        notices=notices(found),
        lines=tuple(_line(row, units, found.session["last_on"]) for row in found.exercises),
        key=KEY,
        foot=f"As of {formats.day(found.as_of)}.",
    )


def write_csv(found: NextSession, to: TextIO) -> None:
    """The sheet as CSV; no cell is a formula."""
    writer = csv.writer(to, lineterminator="\n")
    writer.writerow(COLUMNS)
    units = found.client.units
    for row in found.exercises:
        cells = (
            row["exercise"],
            row["sets"],
            ", ".join(_sets(row, units, "x")),
            _best(row, units, "x"),
            _lines(row, units, "x"),
        )
        writer.writerow([visible(defused(cell)) if isinstance(cell, str) else cell
                         for cell in cells])  # fmt: skip


def notices(found: NextSession) -> tuple[str, ...]:
    """Why there is no line to beat, once each; and the change in force."""
    reasons = dict.fromkeys(row["reason"] for row in found.exercises if row["reason"])
    lines = [REASONS[reason] for reason in reasons if reason in OF_ALL]
    if found.change:
        lines.append(change_in_force(found.change, found.labels))
    return tuple(lines)


def _line(row: Row, units: Unit, session_on: date) -> SheetLine:
    reason = row["reason"]
    return SheetLine(
        exercise=formats.heading(row["exercise"]),
        note=BASES.get(row["load_basis"], ""),
        sets=str(row["sets"]),
        last_sets="; ".join(_grouped(row, units)),
        last_on=formats.day_near(row["last_on"], session_on),
        best=_best(row, units, " × "),
        best_on=formats.day_near(row["best_on"], session_on) if row["best_on"] else "",
        line=_lines(row, units, " × ") or formats.NOTHING,
        line_note=REASONS[reason] if reason and reason not in OF_ALL else _goal(row, units),
    )


def _sets(row: Row, units: Unit, times: str) -> Iterator[str]:
    for load_kg, reps in zip(row["loads_kg"], row["reps"], strict=True):
        yield _set(load_kg, reps, row["load_basis"], units, times)


def _grouped(row: Row, units: Unit) -> Iterator[str]:
    """Sets in order, those of one load together: 60 × 8, 8, 7; 55 × 9."""
    pairs = zip(row["loads_kg"], row["reps"], strict=True)
    for load_kg, sets in groupby(pairs, key=lambda pair: pair[0]):
        reps = ", ".join(str(each) for _, each in sets)
        yield f"{_load(load_kg, row['load_basis'], units)} × {reps}"


def _best(row: Row, units: Unit, times: str) -> str:
    if row["best_load_kg"] is None:
        return ""
    return _set(row["best_load_kg"], row["best_reps"], row["load_basis"], units, times)


def _lines(row: Row, units: Unit, times: str) -> str:
    """The line to beat, and on the way to a target the line after it."""
    lines = [row["line"], row["line_after"]]
    told = [_set(line["load_kg"], line["reps"], row["load_basis"], units, times)
            for line in lines if line]  # fmt: skip
    return ", then ".join(told)


def _goal(row: Row, units: Unit) -> str:
    if row["goal_reps"] is None:
        return ""
    goal = _set(row["goal_load_kg"], row["goal_reps"], row["load_basis"], units, " × ")
    return f"on the way to {goal}"


def _set(load_kg: float | None, reps: int, basis: str, units: Unit, times: str) -> str:
    return f"{_load(load_kg, basis, units)}{times}{reps}"


def _load(load_kg: float | None, basis: str, units: Unit) -> str:
    """60; bw, bw+20 and bw−15 for what goes with or against bodyweight."""
    told = f"{round(from_kg(abs(load_kg or 0), units), 2):g}"
    if basis in ("total", "per_hand") and load_kg is not None:
        return told
    if not load_kg:
        return "bw"
    return f"bw{'+' if load_kg > 0 else '-'}{told}"


# What it says

BASES = {"per_hand": "each hand"}
KEY = (
    "To beat: for the first set, within your usual repetitions; do the other sets as they come.",
    "Only with good form and no pain. Sets near the limit need a spotter, or safeties set at the "
    "right height.",
)
REASONS = {
    "care": formats.PHASES["care"],
    "pause": formats.PHASES["pause"],
    "cut": "In a cut: holding these sets is success, so there is no line to beat.",
    "deload": "In a deload: lighter and fewer on purpose, so there is no line to beat.",
    "strength_drop": (
        "Several lifts are below their level, so there is no line to beat: first tell how sleep, "
        "food and health are."
    ),
    "return": (
        "Back after a layoff: fewer and lighter sets, rebuilt over weeks, so there is no line to "
        "beat."
    ),
    "away": (
        "The last logged session is three weeks or more ago: begin with about half of this, "
        "lighter, so there is no line to beat."
    ),
    "failure": (
        "First stop one repetition short of failure with these sets, so there is no line to beat."
    ),
    "pain_note": "no line: pain was noted; leave out or lighten what hurts",
    "regressing": "no line: this lift is falling; repeat the last sets first",
    "rusty": "no line: not done for three weeks; find the loads again first",
}


def title(parts: str | None) -> str:
    """The session by its body parts."""
    if not parts:
        return "Next session"
    return f"Next session: {formats.listing(parts.split(', '))}"


def rests_on(session: Row) -> str:
    """What says that this session is next."""
    last = formats.day(session["session_on"])
    weekday = formats.weekday(session["session_on"])
    if session["rests_on"] == "kinds":
        return (
            "No rotation and no fixed weekdays are found in the log: this is the kind of session "
            f"that was trained longest ago, last on {last}."
        )
    share = f"{session['trained_rounds']} of the last {session['rounds']}"
    if session["rests_on"] == "weekdays":
        return (
            f"No fixed rotation is found; by the weekdays, a {weekday} is next (a session on "
            f"{share}). Like that of {last}."
        )
    days = formats.count(round(session["round_days"], 1), "day")
    if session["trained_rounds"] is None:
        sessions = formats.count(session["round_sessions"], "session")
        return f"By the rotation: {sessions} in {days}. Like the session of {last}."
    return (
        f"By a rotation of {days}: {share} rounds had a session on this day. Like that of "
        f"{weekday}, {last}."
    )


def change_in_force(change: Row, labels: dict[str, str]) -> str:
    """The change that was adopted last."""
    subject = change["subject"] or ""
    told = labels[subject].lower() if subject in labels else formats.plain(subject)
    what = STEPS.get(change["code"], formats.plain(change["code"]))
    return f"Change since {formats.day(change['changed_on'])}: {what}{f' ({told})' * bool(told)}."


STEPS = {
    "extension": "no drop sets and nothing else past failure",
    "failure": "stop one repetition short of failure",
    "effort": "closer to failure, within about three repetitions",
    "volume": "the number of sets",
    "rest": "one rest day more",
    "session_size": "the work spread over two days",
}

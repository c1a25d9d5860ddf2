"""Rhythm: the sessions and their round in a coach's words; rounds that differ, listed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta

from pipeline.formats import (
    SMALL,
    WEEKDAYS,
    capital,
    counted,
    day,
    listing,
    number,
    plain,
    sentence,
    short,
)
from pipeline.ledger.connection import Row
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Block, Column, Figure, Passage, Section, Table, trace_command

WEEKS = 12
FIXED_SHARE = 0.75
"""A weekday is a training day if so much of its weeks hold a session, and a day off if as few."""
LISTED_MOST = 6


def rhythm_section(data: ClientData) -> Section | None:
    """The section, or None where nothing was trained in the twelve weeks."""
    first_on = data.covered_on - timedelta(days=7 * WEEKS - 1)
    days = data.answer("rhythm", first_on=first_on, last_on=data.covered_on)
    if not any(row["trained"] for row in days):
        return None
    rotation = next(iter(data.of_client("rotation", "client_id")), None)
    rounds = _rounds(data, rotation)
    fixed = weekdays([row["day"] for row in days if row["trained"]], [row["day"] for row in days])
    if rounds and fixed and len(fixed) % len(rounds) and len(rounds) % len(fixed):
        fixed = ()  # seven days a week, by a round of six: the round is the rhythm
    is_by_weeks = bool(fixed) or not rounds
    lines = [
        line
        for line in rotation_lines(days, rotation, is_by_weeks)
        # a week that the twelve weeks cut is left out
        if len(line) == 7 or not is_by_weeks
    ]
    orders = [tuple(data.in_order(parts) for row in line if (parts := _parts(row)) is not None)
              for line in lines]  # fmt: skip
    usual, alike = Counter(orders).most_common(1)[0] if orders else ((), 0)
    differing = [
        line
        for line, order in zip(lines, orders, strict=True)
        if order and (order != usual or alike == 1)
    ]
    texts = [
        rhythm_reading(rounds, rotation, fixed),
        alike_reading(alike, len(lines), "week" if is_by_weeks else "round"),
        rest_reading([row["rest_days_7d"] for row in days[-28:]]),
    ]
    blocks: list[Block] = [Passage(" ".join(filter(None, texts)))]
    if differing:
        shown = differing[::-1][:LISTED_MOST]
        rows = tuple(_cells(data, line) for line in shown)
        caption = differing_caption(len(shown), len(differing), alike > 1)
        blocks.append(Table(caption, COLUMNS, rows))
    return Section("rhythm", TITLE, tuple(blocks))


COLUMNS = (
    Column("From", is_number=False),
    Column("Sessions in order", is_number=False, is_long=True),
    Column("Sessions", "days with any set logged"),
    Column("Light days", "days with sets, but fewer than four hard ones"),
    Column("Days off", "days without a set"),
)


def weekdays(trained: Sequence[date], days: Sequence[date]) -> tuple[int, ...]:
    """Weekdays of the sessions, where each weekday is clearly one of training or one off."""
    sessions = Counter(each.weekday() for each in trained)
    shares = [sessions[each] / weeks if weeks else 0.0
              for each, weeks in ((each, sum(day.weekday() == each for day in days))
                                  for each in range(7))]  # fmt: skip
    if any(1 - FIXED_SHARE < share < FIXED_SHARE for share in shares):
        return ()
    return tuple(each for each, share in enumerate(shares) if share >= FIXED_SHARE)


def rotation_lines(days: list[Row], rotation: Row | None, is_by_weeks: bool) -> list[list[Row]]:
    """The days cut into rotations, counted back from the last day; else into calendar weeks.

    A rotation of a whole number of days goes by days, another one by its sessions.
    """
    length = None if is_by_weeks else (rotation or {}).get("days")
    sessions = None if is_by_weeks else (rotation or {}).get("sessions")
    if length and float(length).is_integer():
        return _by_days(days, int(length))
    if sessions and float(sessions).is_integer():
        return _by_sessions(days, int(sessions))
    lines: list[list[Row]] = []
    for row in days:
        if not lines or row["day"].weekday() == 0:
            lines.append([])
        lines[-1].append(row)
    return lines


def _by_days(days: list[Row], length: int) -> list[list[Row]]:
    first = len(days) % length
    starts = range(first, len(days), length)
    return [days[start : start + length] for start in starts]


def _by_sessions(days: list[Row], sessions: int) -> list[list[Row]]:
    """A line ends before the session that begins the next round; counted back from the last."""
    lines: list[list[Row]] = [[]]
    trained = 0
    for row in reversed(days):
        lines[-1].append(row)
        trained += bool(row["trained"])
        if row["trained"] and trained % sessions == 0:
            lines.append([])
    # what is left before the first whole round is part of one
    return [line[::-1] for line in reversed(lines[:-1])]


def _cells(data: ClientData, line: list[Row]) -> tuple[Figure, ...]:
    trained = [row for row in line if row["trained"]]
    light = [row for row in trained if row["hard_sets"] < data.rules["rest_day_sets"]]
    trace = trace_command("rhythm.body_parts", data.client_id, on=line[0]["day"])
    orders = [None if (parts := _parts(row)) is None else data.in_order(parts) for row in line]
    return (
        Figure(day(line[0]["day"])),
        Figure(days_in_order(orders), trace),
        Figure(number(len(trained), 0)),
        Figure(number(len(light), 0)),
        Figure(number(len(line) - len(trained), 0)),
    )


def _parts(row: Row) -> tuple[str, ...] | None:
    """Body parts of a trained day; None for a day without training."""
    return tuple(filter(None, (row["body_parts"] or "").split(", "))) if row["trained"] else None


def _rounds(data: ClientData, rotation: Row | None) -> list[tuple[str, ...]]:
    """Body parts of each session of the rotation found, equal halves once; empty without one."""
    if rotation is None or rotation.get("days") is None:
        return []
    rounds = [
        data.in_order(tuple(part.strip().split(", "))) for part in rotation["parts"].split("|")
    ]
    halves = range(1, len(rounds) + 1)
    return rounds[
        : next(each for each in halves if rounds == rounds[:each] * (len(rounds) // each))
    ]


# What it says

TITLE = "Rhythm"


def rhythm_reading(
    rounds: Sequence[tuple[str, ...]], rotation: Row | None, fixed: tuple[int, ...]
) -> str:
    """The round of sessions, as a coach would tell it."""
    on = f"{listing([f'{WEEKDAYS[each]}s' for each in fixed])}" if fixed else ""
    if not rounds or rotation is None:
        return sentence(f"no fixed round of sessions, but fixed days: {on}" if on else NO_ROUND)
    kinds = list(dict.fromkeys(rounds))
    told = [parts_in_words(parts) for parts in kinds]
    if len(kinds) == 1:
        text = "the same session each time"
    elif len(kinds) == len(rounds) == 2:
        text = "two sessions in turn"
    else:
        text = f"a round of {_amount(len(rounds))} sessions"
    if on:
        text += f", on {on}"
    elif len(kinds) == 1:
        text += f", about every {short(rotation['days'])} days"
    else:
        text += f" in about {_amount(round(rotation['days']))} days"
        text += ", no fixed day off" if (rotation["rest_days"] or 0) < 1 else ""
    if len(kinds) == len(rounds):
        return sentence(f"{text}: {'; '.join(told)}")
    numbered = [f"({nth}) {parts_in_words(parts)}" for nth, parts in enumerate(rounds, start=1)]
    return sentence(f"{text}: {', '.join(numbered)}")


def _amount(amount: int) -> str:
    return SMALL[amount] if amount < len(SMALL) else str(amount)


def parts_in_words(parts: Sequence[str]) -> str:
    """Body parts of one session."""
    return listing([plain(part) for part in parts]) or "light work"


def alike_reading(alike: int, lines: int, what: str) -> str:
    """How many of the rounds, or weeks, were the same."""
    if lines < 2:
        return ""
    if alike == lines:
        return f"The last {counted(lines, what)} were alike."
    if alike < 2:
        return f"No two of the last {counted(lines, what)} were alike."
    return f"{capital(_amount(alike))} of the last {counted(lines, what)} were alike."


def rest_reading(rest_days: Sequence[int | None]) -> str:
    """Rest days of the last 28 seven-day spans."""
    known = [rests for rests in rest_days if rests is not None]
    if not known:
        return ""
    least, most = min(known), max(known)
    text = "Any seven days of the last four weeks held"
    if least == most:
        return f"{text} {counted(most, 'rest day')}."
    if least:
        return f"{text} {_amount(least)} to {counted(most, 'rest day')}."
    without = sum(not rests for rests in known)
    spans = f"{without} of the {len(known)} spans held none"
    return f"{text} at most {counted(most, 'rest day')}; {spans}."


NO_ROUND = "no fixed round of sessions and no fixed days in the last eight weeks"


def differing_caption(shown: int, differing: int, is_any_alike: bool) -> str:
    """Over the rounds that differ from the usual one."""
    what = "Those that differ" if is_any_alike else "Week by week"
    return what if shown == differing else f"{what}, the latest {_amount(shown)} of {differing}"


def days_in_order(days: Sequence[Sequence[str] | None]) -> str:
    """Body parts of each session; days without training in a row are one word."""
    words: list[str] = []
    off = 0
    for parts in (*days, ()):
        if parts is None:
            off += 1
            continue
        if off:
            words.append("off" if off == 1 else f"{off} days off")
            off = 0
        words.append(" + ".join(plain(part) for part in parts) or "light day")
    return "  ·  ".join(words[:-1])

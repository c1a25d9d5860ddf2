"""What `whatif` says: the sentences around its figures, the printed table, and JSON."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pipeline import formats
from pipeline.ledger.connection import Row
from pipeline.review.whatif.answer import Answer

ARROW = " → "
COLUMNS = ("Muscle", "Sets a week", "Days between hits", "Sets a hit")
JUDGED_COLUMNS = ("Guide", "Standing")
MOVES = {
    "within": "come within the guide",
    "below": "fall below the guide",
    "above": "rise above the guide",
}
"""What a muscle would do that comes to stand so."""


def as_lines(answer: Answer) -> list[str]:
    """The sentences that stand above the table, the client's whole week among them."""
    asked, span, week = answer.asked, answer.span, answer.week
    deload = formats.count(span["deload_days"], "deload day")
    without = f", {deload} left out" if span["deload_days"] else ""
    lines = [
        f"{asked.client.name}: {formats.listing(_wishes(answer))}.",
        f"Based on the days from {formats.day(span['from_on'])} to "
        f"{formats.day(span['to_on'])}{without}; all else stays as it was then.",
        f"A week: {_pair(week, 'sessions')} sessions, {_pair(week, 'hard_sets')} hard sets.",
    ]
    if asked.sessions:
        lines.insert(2, _sessions(span))
    elif span["rest_days"]:
        lines.insert(2, _round(span))
    return lines


def notes(answer: Answer) -> list[str]:
    """What has to be known to read the figures right, most important first."""
    return [
        *_judging(answer),
        *_phase(answer),
        *_moves(answer),
        *_swaps(answer),
        *_extensions(answer),
        *_closer(answer),
        *_sets(answer),
        *_long_hits(answer),
        "This is an estimate: sums of what would be counted, not a forecast of what it does to a "
        "lifter. Change one thing at a time and look again after four weeks.",
    ]


def table(answer: Answer) -> tuple[list[str], list[tuple[str, ...]]]:
    """Headings and rows: each muscle that is trained now or would be after the change."""
    headings = list(COLUMNS)
    if answer.asked.is_without_extensions:
        headings.append("Extended")
    if not answer.is_led:
        headings += JUDGED_COLUMNS
    rows = [
        _cells(answer, row)
        for row in answer.muscles
        if row["weekly_rate_before"] or row["weekly_rate_after"]
    ]
    return headings, rows


def as_json(answer: Answer) -> dict[str, Any]:
    """Everything, for a machine; figures as the tables hold them."""
    asked, span = answer.asked, answer.span
    judged = {"guide_low", "guide_high", "session_high", "standing_before", "standing_after"}
    muscles = [
        {key: value for key, value in row.items() if not answer.is_led or key not in judged}
        for row in answer.muscles
    ]
    return {
        "client_id": asked.client.id,
        "as_of": span["as_of"],
        "is_estimate": True,
        "asked": {
            "rest_days": asked.rest_days,
            "sessions": asked.sessions or None,
            "sets": dict(asked.sets),
            "swaps": dict(asked.swaps),
            "drop_extensions": asked.is_without_extensions,
            "closer": list(asked.closer),
        },
        "rests_on": {
            key: span[key]
            for key in ("from_on", "to_on", "weeks", "is_fixed", "round_days", "round_days_after",
                        "round_sessions")
        },
        "week": answer.week,
        "muscles": muscles,
        "added": list(answer.added),
        "notes": notes(answer),
    }  # fmt: skip


# Cells


def _cells(answer: Answer, row: Row) -> tuple[str, ...]:
    cells = [
        answer.labels[row["muscle"]],
        _pair(row, "weekly_rate"),
        _pair(row, "days_between"),
        _pair(row, "sets_per_hit"),
    ]
    if answer.asked.is_without_extensions:
        cells.append(_pair(row, "extended_share", formats.percent))
    if not answer.is_led:
        cells += [formats.guide(row["guide_low"], row["guide_high"]), _pair(row, "standing", _word)]
    return tuple(cells)


def _pair(row: Row, name: str, write: Callable[[Any], str] = formats.number) -> str:
    """Before and after; once where they read the same."""
    before, after = write(row[f"{name}_before"]), write(row[f"{name}_after"])
    return before if before == after else f"{before}{ARROW}{after}"


def _word(standing: str | None) -> str:
    return standing or formats.NOT_JUDGED


def _label(answer: Answer, muscle: str) -> str:
    return answer.labels[muscle].lower()


# Sentences


def _wishes(answer: Answer) -> list[str]:
    asked = answer.asked
    wishes = []
    if asked.rest_days:
        into = "each round of the rotation" if answer.span["is_fixed"] else "every seven days"
        wishes.append(f"{formats.count(asked.rest_days, 'rest day')} more in {into}")
    if asked.sessions:
        wishes.append(f"{formats.count(asked.sessions, 'session')} a week")
    for muscle, sets in asked.sets:
        more = "more" if sets > 0 else "fewer"
        wishes.append(
            f"{formats.count(abs(sets), 'set')} a week {more} for {_label(answer, muscle)}"
        )
    if asked.is_without_extensions:
        wishes.append("no set extended past failure")
    if asked.closer:
        labels = formats.listing([_label(answer, muscle) for muscle in asked.closer])
        wishes.append(f"the last set of each exercise for {labels} closer to failure")
    wishes += [
        f"{formats.exercise(new)} in place of {formats.exercise(old)}" for old, new in asked.swaps
    ]
    return wishes


def _sessions(span: Row) -> str:
    """How the sessions of now fall on as many days as are asked for."""
    before, after = span["round_days"], span["round_days_after"]
    return (
        "The sessions stay whole and go on in turn, on the weekdays that are left: what takes "
        f"{formats.short(before)} days now takes {formats.short(after)}. Whoever leaves one "
        "session out for good loses its muscles' sets instead."
    )


def _round(span: Row) -> str:
    before, after = span["round_days"], span["round_days_after"]
    if not span["is_fixed"]:
        return (
            "No fixed rotation is found, so a week of seven days is taken as one round: with the "
            f"rest put in, what was done in 7 days takes {formats.short(after)} days."
        )
    without = after - span["round_sessions"]
    text = (
        f"The rotation of {formats.short(before, 2)} days with "
        f"{formats.short(span['round_sessions'], 2)} "
        f"{'session' if span['round_sessions'] == 1 else 'sessions'} becomes one of "
        f"{formats.short(after, 2)} days, {formats.short(without, 2)} of them without a session."
    )
    if abs(before - 7) < 0.05:
        text += " It is a calendar week now; its sessions would move on through the weekdays."
    return text


def _judging(answer: Answer) -> list[str]:
    if answer.is_led:
        return [formats.PHASES[answer.span["led_kind"]]]
    if answer.span["is_judged"]:
        return []
    silent = (answer.span["as_of"] - answer.span["to_on"]).days
    if silent > answer.rules["standing_silent_days"]:
        return [
            f"The last logged session was {formats.count(silent, 'day')} before the as-of day, so "
            "nothing is judged against the guide."
        ]
    if answer.span["first_on"] > answer.span["from_on"]:
        return [
            f"The log begins on {formats.day(answer.span['first_on'])}, within these days: "
            "weekly figures read too low, and nothing is judged against the guide."
        ]
    return ["Nothing is judged against the guide yet."]


def _moves(answer: Answer) -> list[str]:
    """Muscles that would stand otherwise to the guide than they do."""
    if answer.is_led:
        return []
    parts = []
    for standing, verb in MOVES.items():
        labels = [
            _label(answer, row["muscle"])
            for row in answer.muscles
            if row["standing_after"] == standing and row["standing_before"] not in (None, standing)
        ]
        if labels:
            parts.append(f"{formats.listing(labels)} would {verb}")
    return [formats.sentence("; ".join(parts))] if parts else []


def _phase(answer: Answer) -> list[str]:
    is_more = any(sets > 0 for _, sets in answer.asked.sets)
    return [formats.PHASES["cut"]] if answer.span["is_cutting"] and is_more else []


def _swaps(answer: Answer) -> list[str]:
    if not answer.asked.swaps:
        return []
    return [
        "A swapped exercise is taken for as many hard sets on the same days; its loads have to be "
        "found anew, and its lift's trend begins again."
    ]


def _extensions(answer: Answer) -> list[str]:
    if not answer.asked.is_without_extensions:
        return []
    before = answer.week["extended_sets_before"]
    if not before:
        return ["No set was extended in these days, so there is nothing to drop."]
    return [
        "An extension is no set of its own: the weekly sets stay as they are, and "
        f"{formats.short(before)} of {formats.short(answer.week['hard_sets_before'])} hard sets a "
        "week would end at or before failure instead of going on after it."
    ]


def _closer(answer: Answer) -> list[str]:
    if not answer.asked.closer:
        return []
    if not answer.sets_gained:
        return ["Every last set of these exercises was a hard one already."]
    limit = formats.short(answer.rules["hard_rir"])
    return [
        "The last set of an exercise is taken as a hard one, within about "
        f"{limit} repetitions of failure, wherever it was none: "
        f"{formats.short(answer.sets_gained)} hard "
        f"{'set' if answer.sets_gained == 1 else 'sets'} a week more, also for the other "
        "muscles that these exercises train."
    ]


def _sets(answer: Answer) -> list[str]:
    lines = []
    hits = {row["muscle"]: row["days_between_before"] for row in answer.muscles}
    for muscle, sets in answer.asked.sets:
        of_muscle = [row for row in answer.added if row["muscle"] == muscle]
        label = formats.capital(_label(answer, muscle))
        given = sum(row["sets_a_week"] for row in of_muscle)
        exercises = [formats.exercise(row["exercise"]) for row in of_muscle if row["exercise"]]
        if not exercises and sets > 0:
            lines.append(
                f"{label}: not trained directly in these days; reckoned as one session in each "
                "round, with work for this muscle alone."
            )
        elif not exercises:
            lines.append(f"{label}: not trained directly in these days; nothing to take away.")
        else:
            which = "added sets are" if sets > 0 else "sets taken away are"
            several = len(exercises) > 1
            lines.append(
                f"{label}: the {which} taken to be of {formats.listing(exercises)}"
                f"{' in the proportion of now' if several else ''}, and count for every muscle "
                f"that {'these train' if several else 'it trains'}."
            )
        if exercises and given > sets + 1e-9:
            lines.append(
                f"{label}: there are only {formats.short(-given)} sets a week to take away."
            )
        elif hits[muscle] is None and exercises:
            lines.append(f"{label}: trained directly only after the swap.")
    return lines


def _long_hits(answer: Answer) -> list[str]:
    """Sessions that would hold more for a muscle than the guide's high end a session."""
    if answer.is_led or not answer.span["is_judged"]:
        return []
    lines = []
    for row in answer.muscles:
        before, after = row["sets_per_hit_before"] or 0, row["sets_per_hit_after"] or 0
        if after > max(row["session_high"], before + 0.05):
            lines.append(
                f"{formats.capital(_label(answer, row['muscle']))}: {formats.short(after)} sets a "
                f"hit are more than the {formats.short(row['session_high'])} of the guide a "
                "session; another day for part of them is the usual way."
            )
    return lines

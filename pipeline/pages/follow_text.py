"""What is said of a change: its name, whether it was done, whether it worked, what to do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from pipeline.formats import day, listing, percent, plain, sentence, short, signed
from pipeline.ledger.connection import Row

ASKED = {
    "attendance": "come as often as before",
    "extension": "leave out what goes on after failure",
    "failure": "stop short of failure on compound lifts",
    "rest": "one more rest day",
    "take_back": "go back to what it was before",
    "session_size": "smaller sessions for {subject}",
    "effort": "go nearer to failure with {subject}",
    "volume": "other weekly sets for {subject}",
    "priority": "fewer sets for {subject}",
    "overlap": "fewer raises for front delts",
    "turnover": "keep the exercises",
    "stall": "move {subject} on",
    "jump": "stay at the sets for {subject}",
    "absent": "train {subject} again",
    "return": "rebuild step by step",
    "log": "keep the log whole",
    "unclear effort": "note how hard sets were",
    "unclear attendance": "come as planned",
    "unclear": "keep going",
    "strength_drop": "ask about sleep, food, illness and pain",
    "pain_note": "talk about what hurts first",
    "care": "led by a licensed professional",
}
"""What a first change asks for, in a few words; by code, and by code and subject."""

AIMS = {
    "attendance": ("back to {sessions_before} sessions in four weeks, from {sessions}",),
    "extension": ("from {extended_share} of the hard sets, compound sets counted double, to "
                  "{extension_share} or less",),
    "failure": ("from {failed_share} of the compound sets to {failure_share} or less",),
    "rest": ("a day off in every seven; the longest run without one was {longest_run_days} days",),
    "session_size": ("from {sets_per_session} sets a session to {guide_session_high_sets} or "
                     "fewer",),
    "effort": ("from {easy_share} of the sets far from failure to {easy_share_max} or less",),
    "volume": ("from {weekly_rate_sets} to {weekly_rate_after} sets a week",),
    "priority": ("from {held_back_weekly_sets} sets a week to {held_back_after}",),
    "turnover": ("from {trackable_share} of the sets on lifts that can be followed to "
                 "{trackable_share_min} or more",),
    "unclear": ("from {recorded_share} of the sets noted to {noted_share_min} or more",),
    "take_back": ("from {hard_sets_now} hard sets a week back to {hard_sets_before}",),
}  # fmt: skip
"""By how much, by code: used where the finding has every figure that it names."""

MEASURES = {
    "weekly_hard_sets": "hard sets a week",
    "weekly_sessions": "sessions a week",
    "weekly_rest_days": "rest days a week",
    "failure_share": "of the compound sets to failure",
    "extended_share": "of the hard sets extended past failure",
    "recorded_share": "of the sets noted",
    "kept_share": "of the exercises kept",
    "weekly_sets": "sets a week",
    "sets_per_session": "sets a session",
    "easy_share": "of the sets far from failure",
}
"""By what a change was done."""

NOTHING_SENT = "Last month: nothing was to be changed."
NOTHING_FOLLOWED = (
    "No change is noted yet: once one is agreed on, what became of it stands here each month."
)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")

VERDICTS = {
    "worked": "worked",
    "made_worse": "made it worse",
    "no_difference": "no difference",
    "too_early": "can’t tell yet",
    "not_done": "not done",
}
"""In a cell of the roster."""


def asked(code: str, subject: str) -> str:
    """What a finding asks for, in a few words; `subject` as spoken inside a sentence."""
    known = ASKED.get(f"{code} {subject}") or ASKED.get(code) or plain(code)
    return known.format(subject=subject or "the lifts")


def in_short(row: Row) -> str:
    """The roster's word on a change."""
    verdict = row["verdict"]
    if verdict == "too_early" and row["is_done"]:
        return f"done, {VERDICTS[verdict]}"
    return VERDICTS.get(verdict, "not judged in pause or care")


def last_change(row: Row, what: str, as_of: date) -> str:
    """What became of the last change: done, how the lifts moved, and what follows."""
    is_new = as_of - row["changed_on"] <= timedelta(days=45)
    when = (
        "Last month" if is_new and row["origin"] != "noted" else f"Since {day(row['changed_on'])}"
    )
    return " ".join(filter(None, (sentence(f"{when}: {what}"), became(row))))


def became(row: Row) -> str:
    """The verdict on a change, with its figures."""
    return " ".join(filter(None, (_done(row), _rates(row), _what_now(row))))


def _done(row: Row) -> str:
    before, since = row["measure_before"], row["measure_since"]
    if row["done_by"] is None or before is None or since is None:
        return ""
    head = {True: "Done", False: "Not done", None: "Too early to say whether it is done"}
    return (
        f"{head[row['is_done']]}: {amount(row['done_by'], before)} → "
        f"{amount(row['done_by'], since)} {MEASURES[row['done_by']]}."
    )


def amount(measure: str, value: float) -> str:
    """A measure's value."""
    return percent(value) if measure.endswith("_share") else short(value)


def _rates(row: Row) -> str:
    if row["rate_since"] is None or row["verdict"] == "not_done":
        return ""
    return (
        f"Lifts {rate(row['rate_since'])}% a week ({rate(row['since_low'])} to "
        f"{rate(row['since_high'])}), {rate(row['rate_before'])} before."
    )


def rate(value: float) -> str:
    """A rate a week; small ones with the digit that they need."""
    return signed(value, 1 if abs(value) >= 0.1 else 2)


def _what_now(row: Row) -> str:
    verdict = row["verdict"]
    if verdict == "worked":
        holds = row["difference_low"] is not None and row["difference_low"] <= 0
        return "Strength holds in the cut: keep it." if holds else "It worked: keep it."
    if verdict == "made_worse":
        return "The lifts did worse with it: undo it."
    if verdict == "no_difference":
        return "It made no difference: keep it if you like it."
    if verdict == "not_done":
        return "Whether it helps can only be told once it is done."
    if verdict is None:
        return "It is not judged during a pause or while in care."
    if row["look_again_on"] is not None:
        return f"Whether it worked can’t be told yet: look again on {day(row['look_again_on'])}."
    if row["difference_high"] is not None and row["difference_high"] < 0:
        return (
            "The lifts still gain, if more slowly, as gains do by themselves: whether it helped "
            "can’t be told."
        )
    return "Whether it worked can’t be told any more."


def aim(code: str, evidence: Mapping[str, Any], rules: Mapping[str, Any]) -> str:
    """By how much a first change is to be made; empty where no figure says so."""
    figures = {**rules, **{name: value for name, value in evidence.items() if value is not None}}
    figures["easy_share_max"] = rules["easy_share"]
    step = rules["volume_step"]
    if "weekly_rate_sets" in figures:
        sign = 1 if evidence.get("standing") == "below" else -1
        figures["weekly_rate_after"] = figures["weekly_rate_sets"] + sign * step
    if "held_back_weekly_sets" in figures:
        figures["held_back_after"] = figures["held_back_weekly_sets"] - step
    if code == "take_back":
        figures |= {
            name: round(figures[name])
            for name in ("hard_sets_now", "hard_sets_before")
            if name in figures
        }
    told = {
        name: percent(value) if "share" in name else short(float(value))
        for name, value in figures.items()
        if isinstance(value, (int, float)) and not isinstance(value, bool)
    }
    for text in AIMS.get(code, ()):
        try:
            return text.format(**told)
        except KeyError:
            return ""
    return ""


def sessions_line(rows: Sequence[Row]) -> str:
    """In which sessions: the weekdays, where the sessions concerned keep to them."""
    total = sum(row["sessions"] for row in rows)
    concerned = sum(row["concerned_sessions"] for row in rows)
    if not total or not concerned:
        return "In every session."
    days = [row for row in rows if row["concerned_sessions"]]
    keeps = all(row["concerned_sessions"] >= 3 for row in days)
    if keeps and len(days) <= 4:
        return f"On {listing([WEEKDAYS[row['weekday'] - 1] + 's' for row in days])}."
    if concerned == total:
        return "In every session."
    return f"In sessions like the {concerned} of {total} of the last four weeks that held it."


def success(rate_now: float | None, look_on: date, useful: float, *, is_cutting: bool) -> str:
    """Until when, and what success would be."""
    if is_cutting:
        return f"Until {day(look_on)}: it works if strength holds."
    now = f" ({rate(rate_now)} now)" if rate_now is not None else ""
    more = max(useful, (rate_now or 0.0) + useful)
    return (
        f"Until {day(look_on)}: it works if it is done and all lifts together gain "
        f"{rate(more)}% a week or more{now}."
    )

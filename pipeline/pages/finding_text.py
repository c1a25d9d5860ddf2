"""What a finding says to a person: headline and evidence by its code, and nothing to change.

A sentence of evidence is used if the finding has every figure that it names; where none fits, the
figures are listed under their names.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from pipeline.formats import (
    capital,
    count,
    counted,
    day,
    listing,
    load_with_unit,
    percent,
    plain,
    sentence,
    short,
    signed,
)
from pipeline.units import Unit

ARITHMETIC = "arithmetic"
"""Key of the evidence that holds the arithmetic of the step, in words."""

HEADLINES = {
    "care": "Led by a licensed professional",
    "strength_drop": "Several lifts dropped: ask about sleep, illness and pain",
    "pain_note": "Your notes speak of pain or injury: let us talk about it first",
    "return": "Back from a layoff: rebuild step by step",
    "log": "The log has gaps: mend it before judging anything",
    "attendance": "Fewer sessions than before: ask why",
    "take_back": "The lifts have done worse since the change of {since_on}: undo it first",
    "take_back step": "The lifts have done worse since about {since_on}: undo what changed then",
    "extension": "Many sets go on after failure",
    "failure": "Most compound sets go to failure",
    "rest": "Too few rest days",
    "session_size": "Too many sets for {subject} in one session",
    "effort": "Most sets for {subject} stop far from failure",
    "volume": "Sets for {subject} are outside the guide",
    "volume below": "Too few hard sets for {subject}",
    "volume above": "More hard sets for {subject} than the guide",
    "priority": "A held-back muscle, {subject}, sits higher than a favoured one",
    "overlap": "Front delts get enough from pressing",
    "turnover": "Exercises change too often to follow",
    "stall": "{subject} has stalled",
    "stall regressing": "{subject} is losing strength",
    "jump": "Sets for {subject} jumped against the month before",
    "absent": "{subject} had no hard set in four weeks: is that intended?",
    "unclear": "The log cannot tell yet: keep going",
    "unclear effort": "The log cannot tell yet: note how hard sets were",
    "unclear attendance": "The log cannot tell yet: come as planned",
}
"""By code, and by code and standing or status where that is another matter."""

EVIDENCE: dict[str, tuple[str, ...]] = {
    "care": ("in a phase of {phase} since {since_on}",),
    "strength_drop": (
        "{lifts} are {mean_drop_pct} off their level on average, for two sessions each",
        "they belong to {body_parts}",
        "all together, {sliding_lifts|lift} move {change_a_week_pct} a week over "
        "{over_weeks|week}; {regressing_lifts} of them regress",
    ),
    "pain_note": ("{notes|note} on {days|day} of the last four weeks, the last on {last_on}",),
    "return": (
        "{layoff_days|day} away; back since {back_since_on}, with {sessions_since|session} so far",
        "{weekly_sets_since|hard set} a week since then, {weekly_sets_before} before",
    ),
    "log": (
        "no set for {days_without_sets|day}; the last on {last_on}",
        "for {assumed_sets} of {work_sets|work set} neither effort nor load tells how hard they "
        "were ({assumed_share})",
    ),
    "attendance": (
        "{sessions|session} in the last four weeks, {sessions_before} in the four before: "
        "{fall_share} fewer",
        "{sessions|session} in the last four weeks, {sessions_usual} are usual in half a year: "
        "{fall_share} fewer",
    ),
    "take_back": (
        "all {lifts_judged|lift} together: {rate_since_pct} a week since then ({rate_low_pct} to "
        "{rate_high_pct}), {rate_before_pct} before",
        "{hard_sets_now|hard set} a week, {hard_sets_before} before",
        "{sessions_now|session} a week, {sessions_before} before",
        "{failure_now_share} of the compound sets to failure, {failure_before_share} before",
        "{extended_now_share} of the hard sets extended past failure, {extended_before_share} "
        "before",
    ),
    "extension": (
        "{extended_sets} of {hard_sets|hard set} went on after failure, as drops, after a short "
        "rest or in partial repetitions; {extended_compound_sets} of them were on compound lifts",
        "the muscles are hit again after {usual_gap_days|day}",
    ),
    "failure": (
        "{failed_sets} of {recorded_sets|compound set} with recorded effort went to failure "
        "({failed_share})",
        "effort is recorded for {recorded_share} of the compound sets",
    ),
    "rest": (
        "{days_ending_a_week_without_rest} of the last 28 days end seven days without a rest day",
        "the longest run of days without one was {longest_run_days|day}",
        "{weekly_hard_sets|hard set} a week in all",
    ),
    "session_size": (
        "{sessions_above_guide} of {sessions|session} held more than {guide_session_high_sets} "
        "direct hard sets; {sets_per_session} are usual",
        "the muscle is hit every {usual_gap_days|day}",
        "beyond {guide_session_high_sets|set}, {late_output_share} of the first set’s strength is "
        "left",
    ),
    "effort": (
        "{easy_sets} of {recorded_sets|recorded set} stopped with four or more repetitions in "
        "reserve ({easy_share})",
        "{work_sets_per_session|work set} a session; effort is recorded for {recorded_share}",
    ),
    "volume": (
        "{weekly_rate_sets|hard set} a week over the last {over_days|day}; the guide is "
        "{guide_low_sets}–{guide_high_sets}",
        "{weekly_rate_sets|hard set} a week over the last {over_days|day}; the guide ends at "
        "{guide_high_sets}",
    ),
    "priority": (
        "it gets {held_back_weekly_sets|hard set} a week and should stay behind; {favoured}, which "
        "should come up, gets {favoured_weekly_sets}",
        "from the low (0%) to the high end (100%) of their guides they sit at "
        "{held_back_place_share} and {favoured_place_share}",
    ),
    "overlap": (
        "front delts get {front_delts_weekly_sets|hard set} a week, indirect ones counted as half; "
        "the guide ends at {guide_high_sets}",
        "{isolation_weekly_sets} of them are isolation sets, while {low_muscle} get "
        "{low_weekly_sets}",
    ),
    "turnover": (
        "{trackable_share} of hard sets are on lifts trained often enough to follow",
        "{kept_share} of the exercises of the two weeks before were kept",
    ),
    "stall": (
        "{change_a_week_pct} a week, where {expected_a_week_pct} was to be expected; the best was "
        "{weeks_since_best|week} ago",
        "{weeks_without_progress|week} without progress",
        "other lifts for the same muscle: {other_lifts}",
        "flagged: {flagged_lifts} of {judged_lifts|judged lift}; chance alone would flag about "
        "{flags_by_chance}",
    ),
    "jump": (
        "{weekly_rate_sets|hard set} a week over about four weeks, {month_before_sets} over as "
        "many before",
    ),
    "absent": ("the last hard set was on {last_on}, {days_without_a_hard_set|day} ago",),
    "unclear": (
        "{rising_lifts} of {judged_lifts|judged lift} clearly progress; of the others neither "
        "progress nor a stall can be shown",
        "effort is noted for {recorded_sets} of {work_sets|work set} ({recorded_share})",
        "up to {longest_gap_days|day} lay between two sessions",
        "look again on {look_again_on}",
    ),
}
"""Sentences by code. `{name}` is a figure as its suffix says, `{name|noun}` an amount of things."""

FIRST_FITS = frozenset({"volume"})
"""Codes whose sentences say the same of more or fewer figures: the first that fits will do."""

STAYED = (
    "this was last the case on {last_true_on}; advice stays for two weeks, so that it does not "
    "change from day to day"
)
"""Of a first change that stays though it is not true at the last look."""

_FIGURE = re.compile(r"\{(\w+)(?:\|([^}]+))?\}")


@dataclass(frozen=True)
class FindingText:
    """A finding in words."""

    headline: str
    evidence: tuple[str, ...]
    arithmetic: str = ""
    """The arithmetic of the step."""


def evidence_of(row: Mapping[str, Any]) -> dict[str, Any]:
    """The figures behind a row of review.findings, by name."""
    evidence = row["evidence"]
    return json.loads(evidence) if isinstance(evidence, str) else evidence or {}


def finding(code: str, subject: str, evidence: Mapping[str, Any], units: Unit) -> FindingText:
    """A finding in words; `subject` as spoken inside a sentence."""
    kind = next(filter(None, map(evidence.get, ("standing", "status", "asks_for", "kind"))), None)
    headline = HEADLINES.get(f"{code} {kind}") or HEADLINES.get(code) or capital(plain(code))
    arithmetic = evidence.get(ARITHMETIC)
    since_on = _shown("since_on", evidence.get("since_on") or "0001-01-01", units)
    return FindingText(
        sentence(headline.format(subject=subject or "a muscle", since_on=since_on)).rstrip("."),
        _sentences(code, evidence, units) or _listed(evidence, units),
        sentence(str(arithmetic)).replace(" %", "%") if arithmetic else "",
    )


def stalls(
    names: Sequence[str], evidence: Mapping[str, Any], units: Unit, are_named: bool = True
) -> FindingText:
    """Several lifts in one breath; many are named in a table instead."""
    chance = _sentences("stall", {name: evidence.get(name) for name in _CHANCE}, units)
    named = (capital(listing(names)),) if are_named else ()
    return FindingText(
        f"{capital(counted(len(names), 'lift'))} stall or lose strength", (*named, *chance)
    )


JUMPS = "Sets rose fast against the month before"


def jump(muscle: str, evidence: Mapping[str, Any]) -> str:
    """One of several muscles whose sets rose fast."""
    now, before = evidence["weekly_rate_sets"], evidence["month_before_sets"]
    return f"{capital(muscle)}: {count(now, 'hard set')} a week, {short(before)} before"


_CHANCE = ("flagged_lifts", "judged_lifts", "flags_by_chance")


def _sentences(code: str, evidence: Mapping[str, Any], units: Unit) -> tuple[str, ...]:
    fitting = tuple(
        capital(_FIGURE.sub(lambda found: _figure(found, evidence, units), text))
        for text in (*EVIDENCE.get(code, ()), STAYED)
        if all(evidence.get(name) is not None for name, _ in _FIGURE.findall(text))
    )
    return fitting[:1] if code in FIRST_FITS else fitting


def _figure(found: re.Match[str], evidence: Mapping[str, Any], units: Unit) -> str:
    name, noun = found[1], found[2]
    value = evidence[name]
    return count(float(value), noun) if noun else _shown(name, value, units)


def _shown(name: str, value: Any, units: Unit) -> str:
    """A figure as the suffix of its name says."""
    if isinstance(value, list):
        return listing([plain(str(item)) for item in value])
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name.endswith("_on"):
        return day(date.fromisoformat(str(value)))
    if not isinstance(value, (int, float)):
        return plain(str(value))
    if name.endswith("share"):
        return percent(value)
    if name.endswith("_kg"):
        return load_with_unit(value, units)
    if name.endswith("_pct"):
        return f"{signed(value, 2)}%"
    return short(float(value))


def _listed(evidence: Mapping[str, Any], units: Unit) -> tuple[str, ...]:
    return tuple(
        f"{capital(plain(re.sub('_(kg|pct)$', '', name)))}: {_shown(name, value, units)}"
        for name, value in evidence.items()
        if name != ARITHMETIC and value is not None and not isinstance(value, dict)
    )


def nothing_to_change(statuses: Sequence[str | None]) -> tuple[str, tuple[()], str]:
    """When no lever applies: headline, evidence, step."""
    counts = {
        word: sum(status == word for status in statuses)
        for word in ("progressing", "slowing", "unclear", "stalled", "regressing")
    }
    total = sum(counts.values())
    if not total:
        step = "There is not enough history yet to ask for a change. Keep going and keep logging."
    elif counts["progressing"] == total:
        whole = "The only judged lift" if total == 1 else f"All {counted(total, 'judged lift')}"
        step = f"{whole} {'progresses' if total == 1 else 'progress'}. Keep going as it is."
    else:
        verbs = {"slowing": ("gains more slowly", "gain more slowly"),
                 "unclear": ("is unclear", "are unclear"), "stalled": ("stalls", "stall"),
                 "regressing": ("regresses", "regress")}  # fmt: skip
        parts = [counted(counts["progressing"], "progresses", "progress")]
        parts += [counted(counts[word], *verb) for word, verb in verbs.items() if counts[word]]
        step = f"Of {counted(total, 'judged lift')} {listing(parts)}. Keep going as it is."
    return "Nothing to change", (), step

"""Every sentence and label of the pages: the code that chooses them is elsewhere.

Written for a lifter and a coach: plain words of the trade, one meaning each, singular and plural
right, units named. Nothing here computes a figure; values arrive as the tables hold them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from typing import Any

from pipeline.units import Unit, from_kg

NOTHING = "–"
"""What a cell without a figure shows."""

MINUS = "−"
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec")
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
         "eleven", "twelve")  # fmt: skip


# Numbers, days, units


def number(value: float | None, digits: int = 1) -> str:
    """A number with a true minus sign and thousands apart; nothing for null."""
    if value is None:
        return NOTHING
    text = f"{value:,.{digits}f}".replace(",", "\u202f")
    if text.strip("-0.\u202f") == "":
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def short(value: float | None, digits: int = 1) -> str:
    """A number inside a sentence: no zeros after the point."""
    text = number(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def signed(value: float | None, digits: int = 1) -> str:
    """A difference, with its sign; zero carries none."""
    text = number(value, digits)
    is_plus = value is not None and not text.startswith(MINUS) and text.strip("0.") != ""
    return f"+{text}" if is_plus else text


def percent(share: float | None, digits: int = 0) -> str:
    """A share of 1 as per cent; what is not all and not nothing is never shown as such."""
    if share is None:
        return NOTHING
    text = number(share * 100, digits)
    least = 10.0**-digits
    if share > 0 and float(text.replace("\u202f", "").replace(MINUS, "-")) == 0:
        return f"<{least:g}%"
    if share < 1 and text == number(100.0, digits):
        return f">{number(100 - least, digits)}%"
    return f"{text}%"


def count(amount: float, one: str, many: str = "") -> str:
    """An amount with its noun: 1 set, 2 sets, 2.5 sets."""
    noun = one if amount == 1 else many or f"{one}s"
    return f"{short(float(amount))} {noun}"


def counted(amount: int, one: str, many: str = "") -> str:
    """An amount in words up to twelve, with its noun: two lifts."""
    noun = one if amount == 1 else many or f"{one}s"
    return f"{SMALL[amount] if amount < len(SMALL) else amount} {noun}"


def load(load_kg: float | None, units: Unit, digits: int = 1) -> str:
    """A load in the client's unit, without its name: for columns that name it."""
    return number(None if load_kg is None else from_kg(load_kg, units), digits)


def load_with_unit(load_kg: float | None, units: Unit) -> str:
    """A load in the client's unit, with its name: for sentences."""
    return NOTHING if load_kg is None else f"{short(from_kg(load_kg, units))} {units}"


def day(value: date | None) -> str:
    """30 Aug 2026."""
    return NOTHING if value is None else f"{value.day} {MONTHS[value.month - 1]} {value.year}"


def day_short(value: date) -> str:
    """30 Aug."""
    return f"{value.day} {MONTHS[value.month - 1]}"


def day_near(value: date, today: date) -> str:
    """A day without its year, where that is plain: 30 Aug; else 30 Aug 2024."""
    return day_short(value) if timedelta(0) <= today - value < timedelta(300) else day(value)


def weekday(value: date) -> str:
    """Sunday."""
    return WEEKDAYS[value.weekday()]


def listing(items: Sequence[str], last: str = "and") -> str:
    """a, b and c."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def sentence(text: str) -> str:
    """With a capital first letter and a full stop."""
    return capital(text) + ("" if text.endswith((".", "?", "!")) else ".")


def capital(text: str) -> str:
    """With a capital first letter."""
    return text[:1].upper() + text[1:]


_PROPER = re.compile(
    r"\b(arnold|bulgarian|copenhagen|larsen|meadows|nordic|pallof|pendlay|romanian|smith|turkish"
    r"|zercher|ez|t-bar|l-sit)\b"
)


def exercise(name: str) -> str:
    """An exercise inside a sentence: people and places with their capitals."""
    return _PROPER.sub(lambda word: word[0].upper() if word[0] == "ez" else capital(word[0]), name)


def heading(name: str) -> str:
    """An exercise as a heading."""
    return capital(exercise(name))


def plain(code: str) -> str:
    """A code of the tables as words."""
    return code.replace("_", " ")


SECTIONS = {
    "muscles": "Sets per muscle",
    "rhythm": "Rhythm",
    "effort": "Effort",
    "lifts": "Lifts",
    "inside": "Inside the session",
    "changes": "Before and after",
    "data": "Data",
}


# Head


def period(first_on: date, last_on: date, as_of: date) -> str:
    """The logged days, and the day that the review speaks of."""
    return f"Logged from {day(first_on)} to {day(last_on)}. As of {weekday(as_of)}, {day(as_of)}."


def rests_on(
    work_sets: int, sessions: int, exports: int, set_aside: int, effort: dict[str, int]
) -> str:
    """One line on what the figures rest on."""
    known = sum(effort.values())
    line = (
        f"Rests on {count(work_sets, 'work set')} in {count(sessions, 'session')}, read from "
        f"{count(exports, 'export')}; {counted(set_aside, 'line')} set aside."
    )
    if known:
        parts = [
            f"{EFFORT_BASES[basis]} {percent(amount / known)}"
            for basis, amount in effort.items()
            if amount
        ]
        line += f" How close to failure sets were: {listing(parts)}."
    return line


EFFORT_BASES = {
    "recorded": "recorded for",
    "estimated": "estimated from the load for",
    "assumed": "assumed for",
}


def silent_since(last_on: date, as_of: date) -> str:
    """For a client who has not trained for a while."""
    return (
        f"The last logged session was {count((as_of - last_on).days, 'day')} before this review. "
        "Nothing is judged beyond it; the figures below describe the time until then."
    )


PHASES = {
    "cut": "In a cut: holding strength is success here, and nothing is added.",
    "gain": "In a gaining phase.",
    "deload": "In a deload: these days stay out of rates and trends.",
    "pause": (
        "In a pause: figures only, no status, no standing and no suggestion; led by the client’s "
        "licensed professional."
    ),
    "care": (
        "In care: figures only, no status, no standing and no suggestion; led by the client’s "
        "licensed professional."
    ),
}


def phase(kind: str, from_on: date, to_on: date | None) -> str:
    """A phase that covers the as-of day."""
    end = f" to {day(to_on)}" if to_on else ""
    return f"{PHASES[kind]} (Since {day(from_on)}{end}.)"


def as_of(value: date) -> str:
    """The day that a review speaks of."""
    return f"As of {weekday(value)}, {day(value)}."


def foot(tool_version: str, schema_version: int) -> str:
    """What made the page."""
    return f"setledger {tool_version}, tables version {schema_version}"


NOTHING_LOGGED = (
    "No set of this client is in the ledger yet. Put an export into the workspace and run "
    "`setledger run`; `setledger check` names the spellings of clients it has found."
)


# Sets per muscle

STANDINGS = {"below": "▼ below", "above": "▲ above", "within": "within"}
NOT_JUDGED = "not judged"


def guide(low: float | None, high: float | None) -> str:
    """8–16, to 16, from 8."""
    if low is not None and high is not None:
        return f"{short(low)}–{short(high)}"
    if high is not None:
        return f"to {short(high)}"
    return NOTHING if low is None else f"from {short(low)}"


def outside(label: str, rate: float | None, low: float | None, high: float | None) -> str:
    """A muscle outside its guide, for the first screen."""
    return f"{label} {number(rate)} (guide {guide(low, high)})"


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
    text = f"At the weekly rate of the last 28 days, {'; '.join(parts)}"
    if not_judged:
        text += f" ({counted(not_judged, 'muscle')} not judged)"
    return sentence(text)


MUSCLES_INTRO = (
    "Hard sets (sets to within about three repetitions of failure) that each muscle got. A set "
    "counts 1 for a muscle that it trains directly and ½ for one that it trains indirectly. The "
    "strip is the running 7-day count over 26 weeks; the mark at its end is today’s weekly rate, "
    "the last 28 days divided by four."
)
MUSCLES_TITLE = "Hard sets per muscle, 26 weeks"


def muscles_key(row_sets: float) -> str:
    """How to read the strips."""
    return (
        "Shaded: the guide. Mark: ● within, ▼ below, ▲ above, ○ not judged. Every row is "
        f"{count(row_sets, 'set')} high."
    )


MUSCLES_TABLE = "Hard sets per muscle at the as-of day"
MUSCLES_NUMBERS = "Running 7-day count of hard sets at the end of each week"


def untouched(labels: Sequence[str]) -> str:
    """Muscles without a hard set in the 26 weeks."""
    return sentence(f"no hard set in 26 weeks: {listing(labels)}")


# Lifts

STATUSES = {
    "progressing": "progressing",
    "slowing": "slowing",
    "stalled": "stalled",
    "regressing": "regressing",
    "unclear": "unclear",
    "too_little_data": "too little data",
}
STATUS_ORDER = (
    "regressing",
    "stalled",
    "unclear",
    "slowing",
    "progressing",
    "too_little_data",
)

LIFTS_INTRO = (
    "Each dot is a session’s estimated one-repetition maximum (e1RM): what the best set suggests "
    "could be lifted once, the mean of the Epley and Brzycki formulas. The line is the trend with "
    "the range of its 95% interval. A ring marks a session that still holds a record, a tick at "
    "the foot a light session; a layoff breaks the thread. Where no set allows such an estimate, "
    "the dots are a strength index in per cent of its best."
)
LIFTS_TABLE = "Lifts, those that need a look first"
LIFT_NUMBERS = "Sessions of the last 52 weeks"
INDEX_AXIS = "% of best"
REPS_AXIS = "repetitions"
TARGETS_TABLE = "Targets"


def lift_title(name: str, axis: str) -> str:
    """Alternative text of a panel."""
    return f"{heading(name)}, sessions of 52 weeks, {axis}"


def times(value: float | None, reps: int | None) -> str:
    """A set: 82.5 × 8."""
    if reps is None:
        return NOTHING
    return count(reps, "rep") if value is None else f"{short(value)} × {reps}"


def change_pct(value: float | None) -> str:
    """A change a week in per cent."""
    return NOTHING if value is None else f"{signed(value, 2)}%"


def interval_pct(low: float | None, high: float | None) -> str:
    """The range of a change."""
    return "" if low is None or high is None else f"{signed(low, 2)} to {signed(high, 2)}"


def target(name: str, load_kg: float, reps: int, units: Unit) -> str:
    """A target: Bench press 100 kg × 8."""
    return f"{heading(name)} {load_with_unit(load_kg, units)} × {reps}"


def gap_pct(value: float | None) -> str:
    """What is missing to a target."""
    if value is None:
        return NOTHING
    return "reached" if value <= 0 else f"{number(value)}%"


def weeks_range(low: float | None, high: float | None, why: str | None) -> str:
    """Weeks to a target as a range, or why nothing can be told."""
    if low is None and high is None:
        return reason(why) or NOTHING
    if low is not None and high is not None:
        return count(low, "week") if low == high else f"{short(low, 0)} to {short(high, 0)}"
    return f"{short(low, 0)} or more" if low is not None else f"up to {short(high, 0)}"


def e1rm_axis(units: Unit) -> str:
    """The unit on a panel's axis."""
    return units


CAUSES = {
    "regaining": "regaining after a break or a change of level, still under the best before it",
    "not_attempted": (
        "not attempted: no session tried more load or more repetitions than before; the step is "
        "one more repetition"
    ),
    "flattening": (
        "may have flattened: it rises over the whole span, but perhaps not in the latest weeks"
    ),
    "no_progress": "no progress, whatever it did before",
    "new_record": "a new record in the last four weeks speaks against a standstill",
    "cut": "in a cut, holding strength is success",
    "led": "led by the licensed professional",
}
_ISO_DAY = re.compile(r"\b\d{4}-\d\d-\d\d\b")


def reason(text: str | None) -> str:
    """A reason as the tables word it, with days and per cent as pages write them."""
    if not text:
        return ""
    text = _ISO_DAY.sub(lambda found: day(date.fromisoformat(found[0])), text)
    return text.replace(" %", "%")


def status_word(status: str | None) -> str:
    """A status as the first word of a caption."""
    word = STATUSES.get(status or "", "")
    return word[:1].upper() + word[1:]


def lift_note(status: str | None, cause: str | None, why: str | None, last_on: date | None) -> str:
    """The reason below a status in the table, where numbers beside it do not tell it."""
    if cause == "not_trained" and last_on is not None:
        return f"not trained since {day(last_on)}"
    if cause in CAUSES:
        return CAUSES[cause].split(",")[0].split(":")[0]
    return reason(why) if status == "too_little_data" else ""


def lift_why(
    *,
    status: str | None,
    cause: str | None,
    reason: str | None,
    change: tuple[float | None, float | None, float | None],
    expected: float | None,
    window_days: int | None,
    weeks_until_clear: float | None,
    last_on: date | None,
) -> str:
    """Why a lift has its status: the cause in words, then the trend in numbers."""
    if status in (None, "too_little_data"):
        return lift_note(status, cause, reason, last_on) or CAUSES.get(cause or "", "")
    parts = [CAUSES[cause]] if cause in CAUSES else []
    middle, low, high = change
    if middle is not None:
        span = "" if low is None or high is None else f" ({interval_pct(low, high)})"
        over = f" over {count(round(window_days / 7), 'week')}" if window_days else ""
        parts.append(f"{signed(middle, 2)}% a week{span}{over}")
    if status in ("slowing", "stalled", "unclear") and expected is not None:
        parts.append(f"{signed(expected, 2)}% was to be expected")
    if status == "unclear" and weeks_until_clear is not None:
        parts.append(f"about {count(round(weeks_until_clear), 'more week')} would tell")
    return "; ".join(parts)


def best_ago(weeks: float | None) -> str:
    """How long ago the best was."""
    if weeks is None:
        return ""
    return "best this week" if weeks < 1 else f"best {count(round(weeks), 'week')} ago"


def not_drawn(amount: int) -> str:
    """When there are more lifts than panels."""
    return f"{capital(counted(amount, 'more lift'))} in the table below, not drawn."


# First screen

GLANCE_WORDS = {
    "below": "▼ Below, sets a week",
    "above": "▲ Above, sets a week",
    "regressing": "Regressing",
    "stalled": "Stalled",
}
ALL_WITHIN = "None: each muscle that is judged is within its guide."
NONE_JUDGED = "Not judged at this day."
NO_STALL = "None stalls or regresses."
NO_STATUS = "No lift has enough data for a status yet."


def glance_lift(name: str, weeks_since_best: float | None) -> str:
    """A lift that stalls or regresses, for the first screen."""
    ago_text = best_ago(weeks_since_best)
    return f"{exercise(name)} ({ago_text})" if ago_text else exercise(name)


# Data

DATA_INTRO = (
    "Every line of an export is either loaded or set aside with a reason. Any figure on this page "
    "leads back to its lines: point at it to see the command."
)
SUSPECT_INTRO = (
    "Loads far above the lift’s recent best. They count as sets but not in references, trends and "
    "records. The commonest slips: pounds for kilograms, one dumbbell for two, a digit."
)
UNKNOWN_INTRO = (
    "Exercises that are not in the catalogue: their sets are kept but count for no muscle. Name "
    "them in the workspace’s exercises.csv."
)
NO_NEAREST = "nothing near"
COUNTED = "How each figure is counted"
SOURCES_HEADING = "Sources"
LOADS_TABLE = "Exports read"
STATES = {
    "loaded": "loaded",
    "held": "held: waits for `load --accept`",
    "replaced": "replaced by a later version",
    "unloaded": "unloaded",
}


def state(code: str) -> str:
    """What became of a version of an export."""
    return STATES.get(code, code)


UNKNOWN_HEADING = "Unknown exercises"
UNKNOWN_TABLE = "Exercises that count for no muscle"
NEAR_TABLE = "Spellings taken for a near name"
SUSPECT_HEADING = "Suspect sets"
SUSPECT_TABLE = "Sets with an unlikely load"
DISAGREEMENTS_HEADING = "Effort logged twice, and differently"
DISAGREEMENTS_INTRO = (
    "Reserve, exertion and failure of one set that contradict each other. Repetitions in reserve "
    "count first, then 10 less the exertion, then failure as none in reserve."
)
CONTRACT_HEADING = "Data contract"
CONTRACT_INTRO = (
    "After each run the ledger is asked whether it can be true at all. This does not hold; "
    "`setledger check` says how to mend it."
)
CONTRACT_TABLE = "Expectations that the data break"
WHOLE_LEDGER = "the whole ledger"
CORRECTIONS_HEADING = "Corrections"
CORRECTIONS_TABLE = "Logged values overruled by corrections.csv"


def span(first_on: date | None, last_on: date | None) -> str:
    """Two days."""
    return NOTHING if first_on is None else f"{day(first_on)} to {day(last_on)}"


def place(path: str | None, line: int | None) -> str:
    """A line of a file."""
    return f"{path or 'unknown file'}:{line}"


def set_aside_caption(amount: int) -> str:
    """Over the lines set aside."""
    return f"{capital(counted(amount, 'line'))} set aside: read, but not counted"


def alternatives(names: Sequence[str]) -> str:
    """Nearest known exercises."""
    return listing(names, "or") or NO_NEAREST


def corrected(field: str, value: str) -> str:
    """A value that overrules a logged one."""
    return f"{plain(field)} {value}"


def more_suspects(amount: int) -> str:
    """When the list of suspect sets is cut."""
    return f"{capital(counted(amount, 'earlier suspect set'))} not shown."


def disagreements_caption(amount: int) -> str:
    """Over the sets whose entries of effort contradict each other."""
    return f"{capital(counted(amount, 'set'))} whose entries of effort disagree"


def more_disagreements(amount: int) -> str:
    """When the list of contradicting entries is cut."""
    return (
        f"{capital(counted(amount, 'earlier one'))} not shown: "
        '`setledger query "from review.effort_disagreements"` lists all.'
    )


def in_reserve(rir: float) -> str:
    """Repetitions in reserve, in words."""
    return f"{number(rir, 0 if rir == int(rir) else 1)} in reserve"


def logged_effort(rir: float | None, rpe: float | None, has_failed: bool) -> str:
    """The entries of effort of one set, as logged."""
    parts = [] if rir is None else [in_reserve(rir)]
    if rpe is not None:
        parts.append(f"RPE {number(rpe, 0 if rpe == int(rpe) else 1)}")
    if has_failed:
        parts.append("to failure or beyond")
    return listing(parts)


def contract_kept(is_asked: bool) -> str:
    """When nothing of the data contract is broken.

    How many were asked is no figure for a page: a run asks more of what it read itself.
    """
    if not is_asked:
        return "The data contract has not been asked yet: `setledger check` asks it."
    return "The data contract holds: nothing expected of the ledger or of exports is broken."


NEAR_INTRO = "Spellings taken for a near name: look whether they are right."


def further_set_aside(amount: int) -> str:
    """Lines of shared exports that name no client."""
    return (
        f"{capital(counted(amount, 'further line'))} of exports shared with other clients "
        f"{'was' if amount == 1 else 'were'} set aside without naming this client; the roster page "
        "lists them all."
    )


def more_lines(amount: int) -> str:
    """When a list of lines is cut."""
    return (
        f"{capital(counted(amount, 'more line'))}, not shown: "
        '`setledger query "from ledger.set_aside"` lists all.'
    )


CAUTIONS = (
    "Estimates are not measurements: an estimated one-repetition maximum is a calculation from a "
    "set with more repetitions, and can be several per cent off.",
    "Sets near the limit need a spotter, or safeties set at the right height.",
    "Pain, illness or a sudden loss of strength is a matter for a licensed professional, not for "
    "a change of programme.",
    "Minors, pregnancy and medical conditions need qualified supervision.",
    "This review describes what was logged. It is no medical advice.",
)


def definitions(rules: dict[str, float]) -> tuple[tuple[str, str], ...]:
    """How each figure is counted, with the thresholds in force."""
    value = {name: short(float(threshold), 2) for name, threshold in rules.items()}
    share = {name: percent(float(threshold)) for name, threshold in rules.items()}
    return (
        (
            "Hard set",
            f"A work set of 1 to {value['hard_reps_max']} repetitions with at most "
            f"{value['hard_rir']} repetitions in reserve (left before failure). Where reserve was "
            "not logged it is estimated from the load, with a slack of "
            f"{value['estimated_slack']}; where that is not possible either, a set at "
            f"{share['warmup_share']} or more of the day’s top load counts.",
        ),
        (
            "Sets per muscle",
            f"1 for a muscle trained directly, {value['indirect_weight']} for one trained "
            "indirectly. Direct counts only the first kind.",
        ),
        (
            "7 days, weekly rate",
            "7 days: the as-of day and the six before. Weekly rate: the last "
            f"{value['rate_days']} days divided by {short(rules['rate_days'] / 7, 1)}; a rotation "
            "of four or five days beats against the calendar week, so judgements use the rate.",
        ),
        (
            "Hits, gap, sets per hit",
            "A hit is a day with at least one direct hard set. Gap: days from one hit to the next; "
            f"sets per hit: direct sets. Both are medians over {value['usual_days']} days.",
        ),
        (
            "Standing",
            "Below or above only if the rate is outside the guide by more than half the sets of a "
            "usual hit divided by four. Not judged with under four weeks of history, without a "
            "guide, or after more than "
            f"{value['standing_silent_days']} days without a set. Never below while unknown "
            f"exercises hold over {share['unknown_share_max']} of work sets, when over "
            f"{share['extended_share_max']} of the muscle’s sets are extended, or with a gap of "
            f"{value['standing_gap_days']} days between sessions.",
        ),
        (
            "Estimated 1RM",
            "Epley: load × (1 + repetitions ÷ 30). Brzycki: load × 36 ÷ (37 − repetitions). "
            "Repetitions are those to failure (done plus in reserve), up to "
            f"{value['e1rm_reps_max']}; beyond, no estimate. e1RM is the mean of the two.",
        ),
        (
            "Trend and status",
            f"Change per week, from up to {value['history_weeks']} weeks of sessions: a line, or "
            "the part since it bent where it clearly did, with a 95% interval, from at least "
            f"{value['trend_min_sessions']} sessions. Progressing: the whole interval is above 0. "
            "Slowing: the same, but clearly less than before. Regressing: all below 0. Stalled: "
            f"it left its course, or gains less than {value['useful_rate_pct']}% a week for "
            f"{value['flat_min_weeks']} weeks or more, on strong evidence. Unclear: the data allow "
            "more than one of these.",
        ),
        (
            "Suspect set",
            f"Load above {value['suspect_ratio']} times the lift’s best of the "
            f"{value['reference_days']} days before, unless repeated later.",
        ),
    )


SOURCES = (
    "Epley B. Poundage chart. Boyd Epley Workout. Lincoln: Body Enterprises, 1985.",
    "Brzycki M. Strength testing: predicting a one-rep max from reps-to-fatigue. Journal of "
    "Physical Education, Recreation & Dance 64(1), 1993, 88–90.",
)
"""Formulas that every page uses; thresholds add the sources that pipeline/rules.py names."""

PRACTICE_NOTE = (
    "Thresholds without a source are common practice; `setledger describe rules` lists all with "
    "their basis, and [rules] in setledger.toml changes them."
)


# Rhythm


def rhythm_reading(rotation: dict[str, Any] | None, rest_days: Sequence[int | None]) -> str:
    """The rotation found, and the rest days of the last 28 seven-day spans."""
    if rotation is None or rotation.get("days") is None:
        text = "No fixed rotation is found in the last 56 days."
    else:
        rounds = [part.strip().replace(", ", " + ") for part in rotation["parts"].split("|")]
        text = (
            f"A rotation of {count(rotation['days'], 'day')} is found, with "
            f"{count(rotation['sessions'], 'session')} and "
            f"{count(rotation['rest_days'] or 0, 'day')} without: {', then '.join(rounds)} "
            f"(likeness of its rounds {percent(rotation['similarity'])})."
        )
    known = [rests for rests in rest_days if rests is not None]
    if known:
        least, most = min(known), max(known)
        rests = count(least, "rest day") if least == most else f"{least} to {most} rest days"
        text += f" Any seven days of the last four weeks held {rests}"
        without = sum(rests == 0 for rests in known)
        text += f"; {counted(without, 'span')} held none." if without else "."
    return text


def rhythm_table(is_rotation: bool) -> str:
    """Over the lines of twelve weeks."""
    return f"Twelve weeks, a line a {'rotation' if is_rotation else 'week'}, the latest first"


def days_in_order(days: Sequence[Sequence[str] | None]) -> str:
    """Body parts of each day; days without training in a row are one word."""
    words: list[str] = []
    rests = 0
    for parts in (*days, ()):
        if parts is None:
            rests += 1
            continue
        if rests:
            words.append("rest" if rests == 1 else f"{rests} rests")
            rests = 0
        words.append(" + ".join(plain(part) for part in parts) or "light day")
    return "  ·  ".join(words[:-1])


# Effort

EFFORT_TITLE = "recorded sets by repetitions in reserve, 26 weeks"
EFFORT_UNIT = "RIR"
MOVEMENTS = {"compound": "Compound", "isolation": "Isolation"}
EFFORT_NUMBERS = "Work sets and recorded effort by week"
EFFORT_INTRO = (
    "How close to failure sets were taken, as logged: repetitions in reserve (RIR) are those that "
    "were left before failure. Only recorded sets are shown; estimates never enter here. Light "
    "sets under 60% of the day’s top load are left out of the shares."
)
EFFORT_KEY = "A dot is a week; its area is the number of recorded sets."
RESERVE_LABELS = ("0", "1", "2", "3", "4", "5 or more")
NOTHING_RECORDED = (
    "No effort was recorded in the last 26 weeks, so nothing is said about it. One number a set "
    "(repetitions left, or RPE) is enough."
)


def effort_reading(sums: dict[str, float]) -> str:
    """What was recorded in the last four weeks of one movement."""
    recorded = sums.get("recorded_sets", 0)
    if not recorded:
        return "Nothing was recorded in the last four weeks."
    return (
        f"Last four weeks: {percent(sums['rir_0'] / recorded)} at 0 RIR, "
        f"{percent((sums['rir_4'] + sums['rir_5_up']) / recorded)} at 4 or more, "
        f"{percent(sums['extended_sets'] / recorded)} extended; effort is recorded for "
        f"{percent(recorded / sums['work_sets'])} of {count(sums['work_sets'], 'set')}."
    )


# Inside the session

FADE_TITLE = "output of the nth set against the first"
LOWER_BOUND = "at least this: effort not recorded"
FADE_INTRO = (
    "How much of the first set’s strength is left in the nth set of an exercise that day, by sets "
    "with loads within 10%. It shows whether the last sets are worth their place."
)
FADE_KEY = "Across: nth set. Dot: output in per cent of the first set. Line: its 95% interval."
FADE_TABLE = "Output of later sets"
FADE_KINDS = {"within": "nth set of an exercise", "across": "exercise done later in the session"}


def fade_kind(code: str) -> str:
    """What is compared."""
    return FADE_KINDS.get(code, code)


TURNOVER_HEADING = "Consistency"
TURNOVER_TABLE = "Exercises kept and trackable sets by week"


def fade_reading(nth: int, share: float, low: float | None, high: float | None) -> str:
    """The last set that is compared."""
    span = "" if low is None or high is None else f" ({percent(low)} to {percent(high)})"
    return f"Set {nth}: {percent(share)}{span}."


def interval_share(low: float | None, high: float | None) -> str:
    """A range of shares."""
    if low is None or high is None:
        return NOTHING
    return f"{percent(low, 1)} to {percent(high, 1)}"


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


# The month against the month before

MONTH_NAMES = ("January", "February", "March", "April", "May", "June", "July", "August",
               "September", "October", "November", "December")  # fmt: skip
MONTH_MEASURES = {
    "weekly_sessions": "Sessions a week",
    "weekly_hard_sets": "Hard sets a week",
    "weekly_rest_days": "Rest days a week",
    "new_bests": "Lifts with a new best e1RM",
}


def month(value: date) -> str:
    """August 2026."""
    return f"{MONTH_NAMES[value.month - 1]} {value.year}"


def month_caption(now: date, before: date, days: int) -> str:
    """Over the comparison; says where the month is not over or began late."""
    text = f"{month(now)} against {month(before)}"
    last = (now.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)
    return text if days == last.day else f"{text} ({count(days, 'day')} so far)"


# Mail

LETTER_CLOSING = "The whole review is attached: open it in a browser, it needs no network."
COACH_CLOSING = "The roster is attached: open it in a browser, it needs no network."


def coach_subject(workspace_name: str, period: str) -> str:
    """Subject of the coach's copy of the roster."""
    return f"{workspace_name}: clients, {period}"


LIFTS_PICTURE = "Lifts that need a look first, sessions of 52 weeks"


# Before and after


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
            f"none of the {counted(judged, 'measure')} that can be judged differs by more than "
            "four weeks of this client usually do"
        )
    return sentence(
        f"{counted(len(unusual), 'measure')} of {judged} "
        f"{'differs' if len(unusual) == 1 else 'differ'} by more than four weeks of this client "
        f"usually do: {listing(_first_few([name[0].lower() + name[1:] for name in unusual]))}"
    )


def _first_few(names: list[str], most: int = 5) -> list[str]:
    """As many as a sentence carries, and how many more there are."""
    if len(names) <= most:
        return names
    return [*names[: most - 1], f"{counted(len(names) - most + 1, 'other')} below"]


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


def changes_intro(rules: dict[str, Any]) -> str:
    """What before and after can tell, and what usual variation is."""
    return (
        "What comes after a change need not come from it. Usual variation: no more than "
        f"{short(rules['change_spread'])} times what neighbouring four-week spans differed by "
        "(their root mean square) in the half year before the change; among so many measures one "
        "may be beyond it by chance. Rates are a week’s; the day of the change is the first after "
        "it."
    )


CHANGE_MEASURES = {
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


def measure(
    code: str,
) -> tuple[str, Callable[[float | None], str], Callable[[float | None], str]]:
    """A measure's name, and how its value and its difference are written."""
    name = CHANGE_MEASURES.get(code, capital(plain(code)))
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


# Roster

ROSTER_TABLE = "Those who need a look first"
NO_SETS_YET = "no set in the ledger yet"
NO_FIRST_CHANGE = "nothing to change"


def ago(days: int) -> str:
    """How long since the last session."""
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def before(value: float | None, digits: int) -> str:
    """The month before."""
    return f"before {number(value, digits)}"


def data_health(unknown: int, suspects: int) -> str:
    """What to look at in a log."""
    parts = []
    if unknown:
        parts.append(counted(unknown, "unknown exercise"))
    if suspects:
        parts.append(counted(suspects, "suspect set"))
    return listing(parts) or "in order"


def strip_title(name: str, weeks: Sequence[float]) -> str:
    """Alternative text of a roster strip."""
    return (
        f"{name}: hard sets a week over 26 weeks, {short(weeks[0], 0)} at first, "
        f"{short(weeks[-1], 0)} last, at most {short(max(weeks), 0)}"
    )


ROSTER_INTRO = "A name leads to the client’s page."
NO_CLIENTS = (
    "No client is in the ledger yet. Put exports and mappings into the workspace, then run "
    "`setledger run`."
)


def failed(why: str) -> str:
    """In place of a client's figures."""
    return f"This page could not be made: {why}. The last good page stays."

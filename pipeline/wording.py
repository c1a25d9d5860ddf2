"""Every sentence and label of the pages: the code that chooses them is elsewhere.

Written for a lifter and a coach: plain words of the trade, one meaning each, singular and plural
right, units named. Nothing here computes a figure; values arrive as the tables hold them.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from pipeline.units import Unit, from_kg

NOTHING = "–"
"""What a cell without a figure shows."""

MINUS = "−"
MONTHS = "Jan Feb Mar Apr May June July Aug Sept Oct Nov Dec".split()
WEEKDAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday".split()
SMALL = "no one two three four five six seven eight nine ten eleven twelve".split()


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
    if 0 < share and float(text.replace("\u202f", "").replace(MINUS, "-")) == 0:
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
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".")


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
    return (
        f"Logged from {day(first_on)} to {day(last_on)}. "
        f"As of {weekday(as_of)}, {day(as_of)}."
    )


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
        shares = {basis: percent(effort.get(basis, 0) / known) for basis in EFFORT_BASES}
        line += (
            f" How close to failure: recorded for {shares['recorded']} of work sets, estimated "
            f"from the load for {shares['estimated']}, assumed for {shares['assumed']}."
        )
    return line


EFFORT_BASES = ("recorded", "estimated", "assumed")


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


def outside(label: str, rate: float, low: float | None, high: float | None) -> str:
    """A muscle outside its guide, for the first screen."""
    return f"{label} {number(rate)} ({guide(low, high)})"


def muscles_reading(
    below: Sequence[str], above: Sequence[str], within: int, not_judged: int
) -> str:
    """What the figure of sets per muscle shows."""
    parts = []
    if below:
        parts.append(f"{listing(below)} {'is' if len(below) == 1 else 'are'} below the guide")
    if above:
        parts.append(f"{listing(above)} {'is' if len(above) == 1 else 'are'} above it"
                     if below else
                     f"{listing(above)} {'is' if len(above) == 1 else 'are'} above the guide")  # fmt: skip
    if within:
        rest = "the other " if parts else ""
        parts.append(f"{rest}{counted(within, 'muscle')} {'is' if within == 1 else 'are'} within")
    if not parts:
        return (
            "No muscle is judged against the guide at this day; the strips show what was done."
        )
    text = f"At the weekly rate of the last 28 days, {listing(parts, '; and')}"
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
    "stalled": "stalled",
    "regressing": "regressing",
    "unclear": "unclear",
    "too_little_data": "too little data",
}
STATUS_ORDER = ("regressing", "stalled", "unclear", "progressing", "too_little_data")

LIFTS_INTRO = (
    "Each dot is a session’s estimated one-repetition maximum (e1RM): what the best set suggests "
    "could be lifted once, the mean of the Epley and Brzycki formulas. The line is the trend with "
    "the range of its 95% interval; a ring marks a session that still holds a record; a layoff "
    "breaks the thread between sessions. Where no set allows such an estimate, the dots are a "
    "strength index, shown in per cent of its best."
)
LIFTS_TABLE = "Lifts, those that need a look first"
LIFT_NUMBERS = "Sessions of the last 52 weeks"
INDEX_AXIS = "% of best"
REPS_AXIS = "repetitions"
TARGETS_TABLE = "Targets"


def lift_title(exercise: str, axis: str) -> str:
    """Alternative text of a panel."""
    return f"{exercise}, sessions of 52 weeks, {axis}"


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


def target(exercise: str, load_kg: float, reps: int, units: Unit) -> str:
    """A target: Bench press 100 kg × 8."""
    return f"{sentence(exercise)[:-1]} {load_with_unit(load_kg, units)} × {reps}"


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
    return f"from {short(low, 0)}" if low is not None else f"up to {short(high, 0)}"


def e1rm_axis(units: Unit) -> str:
    """The unit on a panel's axis."""
    return units


REASONS = {
    "regaining": "regaining after a break or a change of level, still under the best before it",
    "not_attempted": (
        "not attempted: no session tried more load or more repetitions than before; the step is "
        "one more repetition"
    ),
    "not_trained": "not trained for three weeks or more",
    "phase": "no status during a pause or care",
    "light_run": "a long run of light sessions",
    "few_sessions": "too few sessions for a trend",
    "noisy": "the interval is too wide to tell",
}


def reason(code: str | None) -> str:
    """A status' reason in words; a text that is no code stays as it is."""
    if not code:
        return ""
    key = code.strip().replace(" ", "_")
    return REASONS.get(key, code.replace("_", " ").strip())


def lift_reading(
    status: str | None,
    why: str | None,
    change: tuple[float | None, float | None, float | None],
    expected: float | None,
    weeks_since_best: float | None,
) -> str:
    """A lift's status in words with its reason and its numbers."""
    head = STATUSES.get(status or "", "no status")
    text = reason(why)
    parts = [f"{head}: {text}" if text else head]
    middle, low, high = change
    if middle is not None:
        span = ""
        if low is not None and high is not None:
            span = f" ({signed(low, 2)} to {signed(high, 2)})"
        parts.append(f"{signed(middle, 2)}% a week{span}")
        if status == "stalled" and expected is not None:
            parts.append(f"{signed(expected, 2)}% expected")
    if weeks_since_best is not None:
        parts.append(
            "best this week"
            if weeks_since_best < 1
            else f"best {count(round(weeks_since_best), 'week')} ago"
        )
    return sentence("; ".join(parts))


def not_drawn(amount: int) -> str:
    """When there are more lifts than panels."""
    return f"{sentence(counted(amount, 'more lift'))[:-1]} in the table below, not drawn."


# First screen

GLANCE_OUTSIDE = "Outside the guide"
GLANCE_LIFTS = "Lifts that need a look"
ALL_WITHIN = "None: each muscle that is judged is within its guide."
NONE_JUDGED = "Not judged at this day."
NO_STALL = "None stalls or regresses."
NO_STATUS = "No lift has enough data for a status yet."


def glance_lift(exercise: str, status: str, weeks_since_best: float | None) -> str:
    """A lift that stalls or regresses, for the first screen."""
    text = f"{exercise}: {STATUSES[status]}"
    if weeks_since_best is not None and weeks_since_best >= 1:
        text += f", best {count(round(weeks_since_best), 'week')} ago"
    return text


# Data

DATA_INTRO = (
    "Every line of an export is either loaded or set aside with a reason. Any figure on this page "
    "leads back to its lines: point at it (or press and hold) to see the command."
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
NEAR_INTRO = "Spellings taken for a near name: look whether they are right."


def further_set_aside(amount: int) -> str:
    """Lines of shared exports that name no client."""
    return (
        f"{sentence(counted(amount, 'further line'))[:-1]} of exports shared with other clients "
        f"{'was' if amount == 1 else 'were'} set aside without naming this client; the roster page "
        "lists them all."
    )


def more_lines(amount: int) -> str:
    """When a list of lines is cut."""
    return (
        f"{sentence(counted(amount, 'more line'))[:-1]}, not shown: "
        "`setledger query \"from ledger.set_aside\"` lists all."
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
            f"Change per week over {value['trend_days']} days (up to {value['trend_days_max']} if "
            "the data are noisy), with a 95% interval, from at least "
            f"{value['trend_min_sessions']} sessions. Progressing: the whole interval is above 0. "
            "Regressing: all below 0. Stalled: surely under the rate that the lift made before. "
            "Unclear: the data allow more than one of these.",
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


# Roster

ROSTER_INTRO = "Those who need a look first. A name leads to the client’s page."
NO_CLIENTS = (
    "No client is in the ledger yet. Put exports and mappings into the workspace, then run "
    "`setledger run`."
)


def failed(why: str) -> str:
    """In place of a client's figures."""
    return f"This page could not be made: {why}. The last good page stays."

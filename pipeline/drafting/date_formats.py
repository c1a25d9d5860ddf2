"""In which form a column of an unknown export writes its days, and in which order day and month.

The order is decided from the whole column: by a number above 12, by a day beyond tomorrow, by
days that run through the file in one direction. Where both orders pass, it stays open.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import median

from pipeline.reading.dates import SERIAL, read_by_format, read_moment
from pipeline.reading.month_names import DAYS, MONTHS, fold_name

FIRST_YEAR = 1990
"""Days before it speak against a form: exports of training logs are younger."""

MOST_SHARE = 0.9
"""A form must read this share of a column's cells."""

_TRIED = 400
_MIXED_SHARE = 0.9
_LATE_SHARE = 0.03
_ORDER_STEPS = 5
_BACKWARD_SHARE = 0.1
_USUAL_DAYS = 7
_UNUSUAL_DAYS = 20
_YEARS_APART = 200
_WEEKS_APART = 60
_ONE_WAY = "read so, the days run through the file in one direction; as {other} they would jump"
_SPACING = "read so, sessions lie days apart; as {other} they would lie weeks apart"

_TIME = (
    r"(?P<tsep>,? |T|, ?| - | um | à | at | a las | às | alle | om )"
    r"(?P<hour>\d{1,2})(?P<hsep>[:h.])(?P<minute>\d{2})"
    r"(?:(?P<msep>[:.])(?P<second>\d{2})(?P<fraction>[.,]\d{1,6})?)?"
    r"(?P<psep> ?)(?P<half>[AaPp][Mm])?(?P<tail> Uhr| h)?(?P<zsep> ?)(?P<zone>Z|[+-]\d{2}:?\d{2})?"
)
_WEEKDAY = r"(?P<weekday>[^\W\d_]+\.?)(?P<wsep>,? )"
_DATES = (
    r"(?P<a>\d{1,4})(?P<s1>[./ -])(?P<b>\d{1,2})(?P<s2>[./ -] ?)(?P<c>\d{1,4})",
    r"(?P<dd>\d{1,2}(?:er|st|nd|rd|th|º)?)(?P<s1>\.? ?(?:de )?|[-/.])"
    r"(?P<month>[^\W\d_]{3,10}\.?)(?P<s2>,? ?(?:de )?|[-/.])(?P<year>\d{4}|\d{2})",
    r"(?P<month>[^\W\d_]{3,10}\.?)(?P<s1> |-)(?P<dd>\d{1,2}(?:st|nd|rd|th)?)(?P<s2>,? |-)"
    r"(?P<year>\d{4})",
    r"(?P<year>\d{4})(?P<s1>[ -/])(?P<month>[^\W\d_]{3,10}\.?)(?P<s2>[ -/])(?P<dd>\d{1,2})",
)
_SHAPES = [
    re.compile(f"{weekday}{day}(?:{_TIME})?")
    for day in _DATES
    for weekday in ("", _WEEKDAY)
]  # fmt: skip


_FIRST_WORD = re.compile(r"[^\W\d_]+")


@dataclass(frozen=True)
class DayForm:
    """How a column writes its days."""

    pattern: str | None
    """strptime pattern or "epoch"; None: ISO 8601, which needs none."""
    share: float
    """Share of the filled cells that it reads."""
    confidence: float
    reason: str
    has_clock: bool
    others: tuple[str, ...] = ()
    """Patterns that fit as well: the order of day and month is open."""


def day_form(counts: dict[str, int], in_order: Sequence[str], tomorrow: date) -> DayForm | None:
    """The form of a column's texts; None if they are no days.

    `counts` holds each distinct text, `in_order` the texts as the file has them, repeats that
    follow each other left out.
    """
    total = sum(counts.values())
    if not total:
        return None
    texts = [text for text, _ in Counter(counts).most_common(_TRIED)]
    iso = _iso_form(texts, counts, tomorrow)
    if iso:
        return iso
    epoch = _epoch_form(texts, counts, tomorrow)
    if epoch:
        return epoch
    known = {text: found for text in texts if (found := patterns_of(text))}
    candidates = list(dict.fromkeys(each for found in known.values() for each in found))
    if not candidates:
        return None
    days = {
        pattern: {text: day for text in known if (day := _day(text, pattern)) is not None}
        for pattern in candidates
    }
    weights = {pattern: sum(counts[text] for text in read) for pattern, read in days.items()}
    best = max(weights.values())
    if best < MOST_SHARE / 2 * sum(counts[text] for text in texts):
        return None
    readable = sum(counts[text] for text in set().union(*days.values()))
    slack = 1.0 if best == readable else _MIXED_SHARE
    fitting = [each for each in candidates if weights[each] >= slack * best]
    share = best / sum(counts[text] for text in texts)
    return _decided(fitting, candidates, days, counts, share, in_order, tomorrow)


def _iso_form(texts: list[str], counts: dict[str, int], tomorrow: date) -> DayForm | None:
    read = [(text, found) for text in texts if (found := read_moment(text)) is not None]
    read = [(text, each) for text, each in read if FIRST_YEAR <= each.day.year <= tomorrow.year + 1]
    share = sum(counts[text] for text, _ in read) / sum(counts[text] for text in texts)
    if share < MOST_SHARE:
        return None
    has_clock = any(each.at is not None for _, each in read)
    zoned = any(
        each.at is not None and re.search(r"(?:[Zz]|[+-]\d\d:?\d\d)$", text) for text, each in read
    )
    reason = "ISO 8601, year first"
    if zoned:
        reason += "; with a zone: the calendar day as written counts"
    return DayForm(None, share, 0.99, reason, has_clock)


def _epoch_form(texts: list[str], counts: dict[str, int], tomorrow: date) -> DayForm | None:
    for pattern, shape in (("epoch", r"\d{9,10}(?:\.\d+)?"), ("epoch_ms", r"\d{12,13}(?:\.0+)?")):
        read = [
            text for text in texts if re.fullmatch(shape, text) and _reads(text, pattern, tomorrow)
        ]
        share = sum(counts[text] for text in read) / sum(counts[text] for text in texts)
        if share >= MOST_SHARE:
            unit = "milliseconds" if pattern == "epoch_ms" else "seconds"
            reason = f"{unit} since 1970, which count days in UTC"
            return DayForm(pattern, share, 0.9, reason, True)
    return None


def serial_form(counts: dict[str, int], tomorrow: date) -> DayForm | None:
    """The form of the day numbers of spreadsheets; None if the texts are none."""
    shape = re.compile(r"\d{5}(?:[.,]\d+)?")
    read = [text for text in counts if shape.fullmatch(text) and _reads(text, SERIAL, tomorrow)]
    share = sum(counts[text] for text in read) / max(sum(counts.values()), 1)
    if share < MOST_SHARE:
        return None
    has_clock = any(re.search(r"[.,]\d*[1-9]", text) for text in read)
    reason = "day numbers of a spreadsheet, counted from 1900"
    return DayForm(SERIAL, share, 0.85, reason, has_clock)


def _decided(
    fitting: list[str],
    candidates: list[str],
    days: dict[str, dict[str, date]],
    counts: dict[str, int],
    share: float,
    in_order: Sequence[str],
    tomorrow: date,
) -> DayForm:
    """The one pattern that the column allows, or the first of those that stay open."""
    first = fitting[0]
    has_clock = "%H" in first or "%I" in first
    rivals = [each for each in candidates if each != first and _is_reordered(each, first)]
    if len(fitting) == 1:
        reason = "the only form that reads its cells"
        if rivals:
            reason = f"its numbers or weekdays rule out {' and '.join(rivals)}"
        return DayForm(first, share, 0.98, reason, has_clock)
    early = [each for each in fitting if not _late_share(days[each], counts, tomorrow)]
    late = [each for each in fitting if _late_share(days[each], counts, tomorrow) >= _LATE_SHARE]
    if len(early) == 1 and len(late) == len(fitting) - 1:
        reason = f"read as {late[0]}, days would lie beyond tomorrow"
        return DayForm(early[0], share, 0.95, reason, has_clock)
    walks = {pattern: _walk(in_order, days[pattern]) for pattern in fitting}
    is_bold = any(_typical(steps) >= _YEARS_APART for steps in walks.values())
    for tell, reason in ((_runs_one_way, _ONE_WAY), (_is_usual_spacing, _SPACING)):
        told = {pattern: tell(walks[pattern], is_bold) for pattern in fitting}
        refused = [pattern for pattern, verdict in told.items() if verdict is False]
        if not refused or not any(told.values()):
            continue
        fitting = [pattern for pattern in fitting if pattern not in refused]
        if len(fitting) == 1:
            said = reason.format(other=refused[0])
            return DayForm(fitting[0], share, 0.92, said, has_clock)
    reason = "nothing in the column tells day from month"
    return DayForm(fitting[0], share, 0.5, reason, has_clock, tuple(fitting[1:]))


def _is_reordered(pattern: str, other: str) -> bool:
    return sorted(pattern) == sorted(other)


def _late_share(days: dict[str, date], counts: dict[str, int], tomorrow: date) -> float:
    """Share of the cells beyond tomorrow; 0 if only one text is: that may be a slip."""
    late = [text for text, day in days.items() if day > tomorrow]
    if len(late) < 2:
        return 0.0
    return sum(counts[text] for text in late) / sum(counts[text] for text in days)


def _walk(in_order: Sequence[str], days: dict[str, date]) -> list[int]:
    """Days from each session to the next one of the file."""
    walked = [days[text] for text in in_order if text in days]
    return [(later - earlier).days for earlier, later in pairwise(walked) if later != earlier]


def _typical(steps: list[int]) -> float:
    return median(abs(step) for step in steps) if steps else 0.0


def _runs_one_way(steps: list[int], _is_bold: bool) -> bool | None:
    """Whether the days run in one direction; None: too few, or neither."""
    if len(steps) < _ORDER_STEPS:
        return None
    ups = sum(step > 0 for step in steps)
    against = min(ups, len(steps) - ups)
    if against <= _BACKWARD_SHARE * len(steps) / 2:
        return True
    return False if against else None


def _is_usual_spacing(steps: list[int], is_bold: bool) -> bool | None:
    """Whether sessions lie days apart (True) or weeks apart (False).

    Two steps are enough where the other reading would take years for them.
    """
    if len(steps) < 2:
        return None
    usual = _typical(steps)
    if usual >= _YEARS_APART:
        return False
    if len(steps) < _ORDER_STEPS:
        return True if usual <= _WEEKS_APART and is_bold else None
    return True if usual <= _USUAL_DAYS else False if usual >= _UNUSUAL_DAYS else None


def _day(text: str, pattern: str) -> date | None:
    """The day of a text; None if it is none, or not on the weekday that is written with it."""
    found = read_by_format(text, pattern)
    if found is None or found.day.year < FIRST_YEAR:
        return None
    if pattern.startswith("%a"):
        written = DAYS[fold_name(_FIRST_WORD.match(text)[0])]  # type: ignore[index]
        if written != f"{found.day:%A}":
            return None
    return found.day


def _reads(text: str, pattern: str, tomorrow: date) -> bool:
    found = read_by_format(text, pattern)
    return found is not None and found.day.year >= FIRST_YEAR and found.day <= tomorrow


def patterns_of(text: str) -> tuple[str, ...]:
    """Every strptime pattern that may have written a text, day first before month first."""
    patterns: list[str] = []
    for shape in _SHAPES:
        match = shape.fullmatch(text)
        if match:
            patterns += _patterns(match)
    return tuple(dict.fromkeys(patterns))


def _patterns(match: re.Match[str]) -> Iterator[str]:
    part = match.groupdict()
    before = ""
    if part.get("weekday"):
        if fold_name(part["weekday"]) not in DAYS:
            return
        before = f"%a{part['wsep']}"
    clock = _clock_pattern(part)
    if "month" in part:
        if fold_name(part["month"]) not in MONTHS:
            return
        day = re.sub(r"^\d+(?:er|st|nd|rd|th|º)?", "%d", part["dd"])
        year = "%Y" if len(part["year"]) == 4 else "%y"
        spans = sorted(("dd", "month", "year"), key=match.start)
        marks = {"dd": day, "month": "%b", "year": year}
        first, second, third = (marks[each] for each in spans)
        yield f"{before}{first}{part['s1']}{second}{part['s2']}{third}{clock}"
        return
    for order in _orders(part["a"], part["c"]):
        first, second, third = order
        yield f"{before}{first}{part['s1']}{second}{part['s2']}{third}{clock}"


def _orders(first: str, last: str) -> list[tuple[str, str, str]]:
    if len(first) == 4 and len(last) <= 2:
        return [("%Y", "%m", "%d")]
    if len(first) <= 2 and len(last) == 4:
        return [("%d", "%m", "%Y"), ("%m", "%d", "%Y")]
    if len(first) <= 2 and len(last) == 2:
        year_first = [("%y", "%m", "%d")] if len(first) == 2 else []
        return [("%d", "%m", "%y"), ("%m", "%d", "%y"), *year_first]
    return []


def _clock_pattern(part: dict[str, str | None]) -> str:
    if not part.get("hour"):
        return ""
    text = f"{part['tsep']}{'%I' if part['half'] else '%H'}{part['hsep']}%M"
    if part["second"]:
        text += f"{part['msep']}%S"
        if part["fraction"]:
            text += f"{part['fraction'][0]}%f"
    if part["half"]:
        text += f"{part['psep']}%p"
    text += part["tail"] or ""
    if part["zone"]:
        text += f"{part['zsep'] or ('' if part['half'] else part['psep'] or '')}%z"
    return text

"""The picture beside the first change: the very lift, muscle or measure that it names."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from pipeline.formats import count, day_near, guide, heading, listing, number, percent, sentence
from pipeline.ledger.connection import Row
from pipeline.pages.charts.lifts import LARGE, LIFT_WEEKS, LiftPanel, LiftPoint, lift_panels
from pipeline.pages.charts.svg import STRIP_WEEKS, named
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Chart
from pipeline.pages.sections.lifts import axis_of, lift_panel, lift_reading

UNPICTURED = frozenset({"care", "pain_note"})
"""Findings that no picture helps: they are talked about."""


@dataclass(frozen=True)
class Measure:
    """A weekly measure that a finding speaks of."""

    title: str
    read: Callable[[ClientData], list[tuple[date, float | None]]]
    limit: str = ""
    """The rule up to which it is usual."""
    is_share: bool = False


def lead_picture(
    data: ClientData, first: Row | None, muscles: list[Row], lifts: list[Row]
) -> Chart | None:
    """The picture of the first change; without one, of the lift that works and is done most."""
    code, subject = (first["code"], first["subject"]) if first else ("", "")
    if code in UNPICTURED:
        return None
    muscle = next((row for row in muscles if row["muscle"] == (subject or MUSCLES.get(code))), None)
    if muscle is not None:
        return _muscle(data, muscle)
    if code in MEASURES:
        return _measure(data, MEASURES[code])
    return _lift(data, lifts, code, subject)


def _lift(data: ClientData, lifts: list[Row], code: str, subject: str | None) -> Chart | None:
    since = data.covered_on - timedelta(weeks=LIFT_WEEKS)
    drawn = [row for row in lifts if row["sessions_of"][-1]["day"] > since]
    wanted = "progressing" if not code else "regressing"
    drawn.sort(
        key=lambda row: (
            row["exercise"] != subject,
            row["status"] != wanted,
            -row["sessions_of"][-1]["sessions"],
        )
    )
    if not drawn:
        return None
    row = drawn[0]
    panel = lift_panel(data, row, since)
    if not panel.points:
        return None
    title = picture_title(heading(row["exercise"]), axis_of(data, row))
    return _drawn(data, panel, title, lift_reading(row))


def _muscle(data: ClientData, row: Row) -> Chart | None:
    points = tuple(LiftPoint(week["day"], week["fractional_sets_7d"]) for week in row["weekly"])
    if not any(point.value for point in points) and not row["guide_high"]:
        return None
    panel = LiftPanel(points, guide=(row["guide_low"], row["guide_high"]), is_from_zero=True)
    reading = muscle_reading(
        row["weekly_rate"], row["weekly_rate_before"], row["guide_low"], row["guide_high"]
    )
    title = picture_title(data.label(row["muscle"]), SEVEN_DAYS)
    return _drawn(data, panel, title, reading, GUIDE_KEY if row["guide_high"] else "")


def _measure(data: ClientData, measure: Measure) -> Chart | None:
    factor = 100.0 if measure.is_share else 1.0
    points = tuple(
        LiftPoint(day, factor * value) for day, value in measure.read(data) if value is not None
    )
    if len(points) < 2:
        return None
    limit = data.rules[measure.limit] * factor if measure.limit else None
    panel = LiftPanel(points, guide=(None, limit), is_from_zero=True)
    reading = measure_reading([point.value for point in points], is_share=measure.is_share)
    key = limit_key(limit) if limit is not None else ""
    return _drawn(data, panel, measure.title, reading, key)


def _drawn(data: ClientData, panel: LiftPanel, title: str, reading: str, key: str = "") -> Chart:
    marked = tuple(change.changed_on for change in data.client.changes)
    panel = replace(panel, marked_on=marked)
    shown = [day for day in marked if panel.points[0].day <= day <= data.covered_on]
    key = " ".join(filter(None, (key, marked_key(shown, data.covered_on))))
    svg = lift_panels([panel], data.covered_on, LARGE)[0]
    return Chart(named(svg, "first-picture", title, reading), reading, key=key, title=title)


# Weekly measures


def _weekly(column: str) -> Callable[[ClientData], list[tuple[date, float | None]]]:
    def read(data: ClientData) -> list[tuple[date, float | None]]:
        rows = data.answer("weekly_measures", last_on=data.covered_on, weeks=STRIP_WEEKS)
        return [(row["day"], row[column]) for row in rows]

    return read


def _rest_days(data: ClientData) -> list[tuple[date, float | None]]:
    days = [data.covered_on - timedelta(weeks=back) for back in reversed(range(STRIP_WEEKS))]
    rows = data.rows(
        "select day, rest_days_7d from review.rhythm"
        " where client_id = ? and day in (select unnest(?::date[])) order by day",
        data.client_id,
        days,
    )
    return [(row["day"], row["rest_days_7d"]) for row in rows]


def _efforts(
    shown: str, whole: str, movement: str = ""
) -> Callable[[ClientData], list[tuple[date, float | None]]]:
    def read(data: ClientData) -> list[tuple[date, float | None]]:
        rows = data.rows(
            f"select week, sum({shown}) / nullif(sum({whole}), 0) as share from review.effort_week"
            " where client_id = ? and movement in (?, ?) and week > ? group by all order by week",
            data.client_id,
            movement or "compound",
            movement or "isolation",
            data.covered_on - timedelta(weeks=STRIP_WEEKS),
        )
        return [(row["week"], row["share"]) for row in rows]

    return read


def _trackable(data: ClientData) -> list[tuple[date, float | None]]:
    rows = data.of_client("exercise_turnover", "week desc")[:STRIP_WEEKS]
    return [(row["week"], row["trackable_share"]) for row in reversed(rows)]


# What it says

SEVEN_DAYS = "hard sets in seven days"
GUIDE_KEY = "Shaded: the guide."
SESSIONS = Measure("Sessions in seven days", _weekly("sessions"))
MEASURES = {
    "attendance": SESSIONS,
    "return": SESSIONS,
    "log": SESSIONS,
    "rest": Measure("Rest days in seven days", _rest_days),
    "extension": Measure(
        "Hard sets that went on after failure, % in seven days",
        _weekly("extended_share"),
        "extended_share_max",
        is_share=True,
    ),
    "failure": Measure(
        "Compound sets taken to failure, % of those noted, by week",
        _efforts("rir_0", "recorded_sets", "compound"),
        is_share=True,
    ),
    "unclear": Measure(
        "Sets with noted effort, % by week", _efforts("recorded_sets", "work_sets"), is_share=True
    ),
    "turnover": Measure("Sets on lifts that can be followed, % by week", _trackable, is_share=True),
}
MUSCLES = {"overlap": "front_delts"}
"""Codes that speak of one muscle without naming it."""


def picture_title(name: str, unit: str) -> str:
    """What is drawn, and in what."""
    return f"{name}, {unit}"


def muscle_reading(
    rate: float | None, before: float | None, low: float | None, high: float | None
) -> str:
    """A muscle's weekly rate beside its guide."""
    text = f"{number(rate)} a week now, {number(before)} in the four weeks before"
    return sentence(f"{text}; the guide is {guide(low, high)}" if high is not None else text)


def measure_reading(values: list[float], *, is_share: bool) -> str:
    """The latest week, and between what the measure lay."""

    def shown(value: float) -> str:
        return percent(value / 100) if is_share else number(value, 0)

    return sentence(
        f"the latest: {shown(values[-1])}; between {shown(min(values))} and {shown(max(values))} "
        f"over {count(len(values), 'week')}"
    )


def limit_key(limit: float) -> str:
    """What the shaded ground is, where it has one end."""
    return f"Shaded: up to {number(limit, 0)}%."


def marked_key(days: list[date], today: date) -> str:
    """What upright lines are."""
    if not days:
        return ""
    return f"Upright: what was changed {listing([day_near(each, today) for each in days])}."

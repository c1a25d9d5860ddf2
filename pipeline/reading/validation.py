"""Which lines are set aside: each reason with where it applies and how it is put in words.

A line is loaded whole or set aside whole, with the first reason that applies.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import polars as pl

from pipeline.reading.cells import said, text_of
from pipeline.reading.fields import shown_name
from pipeline.reading.reasons import Reason
from pipeline.settings.mapping import Mapping
from pipeline.settings.rules import Rules

FIRST_DAY = date(1950, 1, 1)
"""An earlier day is taken for a slip."""


BODYWEIGHT_KG = (20.0, 400.0)
"""A bodyweight outside is taken for a slip."""


NAME_MOST = 200
"""Characters; what is longer is no name of an exercise or a client."""


@dataclass(frozen=True)
class Test:
    """A reason to set a line aside: where it applies, and how it is put."""

    reason: Reason
    applies: pl.Expr
    explanation: pl.Expr


class Faults:
    """Lines set aside so far: the first reason of each."""

    def __init__(self) -> None:
        self._frames: list[pl.DataFrame] = []

    def sift(self, frame: pl.DataFrame, tests: Sequence[Test]) -> pl.DataFrame:
        """The rows of `frame` whose line no test sets aside."""
        if not tests or not frame.height:
            return frame
        first = pl.coalesce(
            pl.when(test.applies).then(pl.lit(place, dtype=pl.Int8))
            for place, test in enumerate(tests)
        )
        places = frame.select(first.alias("fault")).to_series()
        if places.null_count() == places.len():
            return frame
        bad = frame.with_columns(places).filter(pl.col("fault").is_not_null())
        found = [
            bad.filter(pl.col("fault") == place).select(
                "line",
                "n",
                pl.lit(test.reason.value).alias("reason"),
                test.explanation.alias("explanation"),
            )
            for place, test in enumerate(tests)
        ]
        faults = pl.concat(found).sort("line", "n").unique("line", keep="first")
        self._frames.append(faults.drop("n"))
        return frame.join(faults.select("line"), on="line", how="anti", maintain_order="left")

    def rows(self) -> pl.DataFrame:
        """line, reason, explanation: a row a line."""
        schema = {"line": pl.Int32, "reason": pl.String, "explanation": pl.String}
        return pl.concat([pl.DataFrame(schema=schema), *self._frames]).sort("line")


def line_tests(
    mapping: Mapping, tomorrow: date, period: tuple[date | None, date | None]
) -> list[Test]:
    day = pl.col("performed_on")
    client, on = shown_name(mapping, "client"), shown_name(mapping, "performed_on")
    form = f"in the form {mapping.date_format}" if mapping.date_format else "such as 2026-08-31"
    low, high = BODYWEIGHT_KG
    bodyweight = pl.col("bodyweight_kg")
    return [
        Test(
            Reason.NO_CLIENT,
            pl.col("client_id").is_null() & pl.col("client_doubt").is_null(),
            said(f"{client} is empty: whose line it is cannot be told."),
        ),
        Test(
            Reason.CLIENT_AMBIGUOUS,
            pl.col("client_doubt").is_not_null(),
            pl.col("client_doubt"),
        ),
        Test(
            Reason.CLIENT_TOO_LONG,
            pl.col("client_id").str.len_chars() > NAME_MOST,
            said(
                f"{client} holds more than {NAME_MOST} characters, which is no name: '",
                text_of("client"),
                "'…",
            ),
        ),
        Test(Reason.NO_DATE, text_of("performed_on").is_null(), said(f"{on} is empty: no day.")),
        Test(
            Reason.NOT_A_DATE,
            day.is_null(),
            said("'", text_of("performed_on"), f"' under {on} is not a day {form}."),
        ),
        Test(
            Reason.DATE_IN_FUTURE,
            day > tomorrow,
            said("'", text_of("performed_on"), f"' under {on} lies beyond tomorrow ({tomorrow})."),
        ),
        Test(
            Reason.DATE_TOO_EARLY,
            day < FIRST_DAY,
            said("'", text_of("performed_on"), f"' under {on} lies before {FIRST_DAY.year}."),
        ),
        Test(
            Reason.OUTSIDE_PERIOD,
            ~day.is_between(period[0] or date.min, period[1] or date.max),
            said(
                "'",
                text_of("performed_on"),
                "' lies outside the from and until of its [[sources]].",
            ),
        ),
        Test(
            Reason.NOT_A_TIME,
            ~pl.col("start_read"),
            said(
                "'",
                text_of("started_at"),
                f"' under {shown_name(mapping, 'started_at')} is not a clock time such as 18:05.",
            ),
        ),
        Test(
            Reason.BODYWEIGHT_WRONG,
            text_of("bodyweight").is_not_null()
            & (bodyweight.is_null() | ~bodyweight.is_between(low, high)),
            said(
                "'",
                text_of("bodyweight"),
                f"' under {shown_name(mapping, 'bodyweight')} is not a bodyweight of "
                f"{low:.0f} to {high:.0f} kg.",
            ),
        ),
    ]


def no_exercise(mapping: Mapping) -> Test:
    return Test(
        Reason.NO_EXERCISE,
        text_of("exercise").is_null(),
        said(f"{shown_name(mapping, 'exercise')} is empty: no exercise."),
    )


def entry_tests(mapping: Mapping, rules: Rules) -> list[Test]:
    def wrong(name: str, what: str) -> pl.Expr:
        return said("'", text_of(name), f"' under {shown_name(mapping, name)} is {what}.")

    def unknown(name: str, known: pl.Expr) -> pl.Expr:
        return text_of(name).is_not_null() & ~known

    def whole(name: str) -> pl.Expr:
        return pl.col(name) == pl.col(name).floor()

    reps, load, partials = pl.col("reps"), pl.col("load_kg"), pl.col("partial_reps")
    rir, rpe, set_no = pl.col("rir"), pl.col("rpe"), pl.col("set_no")
    most = rules.reps_max
    return [
        Test(
            Reason.EXERCISE_TOO_LONG,
            text_of("exercise").str.len_chars() > NAME_MOST,
            said(
                f"{shown_name(mapping, 'exercise')} holds more than {NAME_MOST} characters, "
                "which is no name: '",
                text_of("exercise"),
                "'…",
            ),
        ),
        Test(
            Reason.NO_REPS,
            text_of("reps").is_null(),
            said(f"{shown_name(mapping, 'reps')} is empty: no repetitions."),
        ),
        Test(
            Reason.REPS_NOT_WHOLE,
            reps.is_null() | ~whole("reps"),
            wrong("reps", "not a whole number of repetitions"),
        ),
        Test(
            Reason.REPS_OUT_OF_RANGE,
            ~reps.is_between(1, most),
            wrong("reps", f"outside 1 to {most} repetitions ([rules] reps_max)"),
        ),
        Test(
            Reason.PARTIALS_WRONG,
            unknown(
                "partial_reps",
                (partials.is_between(0, most) & whole("partial_reps")).fill_null(False),
            ),
            wrong("partial_reps", f"not a whole number of partial repetitions, 0 to {most}"),
        ),
        Test(
            Reason.LOAD_NOT_A_NUMBER,
            ~pl.col("load_read"),
            wrong("load", "not a number that is a load"),
        ),
        Test(
            Reason.LOAD_NEGATIVE,
            load < 0,
            wrong("load", 'a negative load; assistance is a load with load_basis = "assisted"'),
        ),
        Test(
            Reason.UNIT_UNKNOWN,
            unknown("load_unit", pl.col("load_unit").is_not_null()),
            wrong("load_unit", "not kg or lb; [values.load_unit] says what it means"),
        ),
        Test(
            Reason.NO_UNIT,
            (load != 0) & pl.col("unit").is_null(),
            said(
                f"{shown_name(mapping, 'load_unit')} is empty: the unit of the load '",
                text_of("load"),
                "' cannot be told; [formats] load_unit can say it.",
            ),
        ),
        Test(
            Reason.LOAD_TOO_HIGH,
            load > rules.load_max_kg,
            wrong("load", f"above {rules.load_max_kg:g} kg ([rules] load_max_kg)"),
        ),
        Test(
            Reason.BASIS_UNKNOWN,
            unknown("load_basis", pl.col("load_basis").is_not_null()),
            wrong("load_basis", "not total, per_hand, added, assisted or none"),
        ),
        Test(
            Reason.RIR_WRONG,
            unknown("rir", rir.is_between(0, rules.rir_max).fill_null(False)),
            wrong("rir", f"not repetitions in reserve, 0 to {rules.rir_max:g} ([rules] rir_max)"),
        ),
        Test(
            Reason.RPE_WRONG,
            unknown("rpe", rpe.is_between(1, 10).fill_null(False)),
            wrong("rpe", "not a perceived exertion, 1 to 10"),
        ),
        Test(
            Reason.FAILURE_UNKNOWN,
            unknown("to_failure", pl.col("to_failure").is_not_null()),
            wrong("to_failure", "neither yes nor no; [values.to_failure] says what it means"),
        ),
        Test(
            Reason.SET_KIND_UNKNOWN,
            unknown("set_kind", pl.col("set_kind").is_not_null()),
            wrong(
                "set_kind", "not work, warmup or extension; [values.set_kind] says what it means"
            ),
        ),
        Test(
            Reason.SIDE_UNKNOWN,
            unknown("side", pl.col("side_known")),
            wrong("side", "neither left nor right; [values.side] says what it means"),
        ),
        Test(
            Reason.SET_NO_WRONG,
            unknown("set_no", (whole("set_no") & set_no.is_between(0, 100_000)).fill_null(False)),
            wrong("set_no", "not a whole set number"),
        ),
    ]

"""Which lines are set aside: each reason with where it applies and how it is put in words.

A line is loaded whole or set aside whole, with the first reason that applies.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import polars as pl

from pipeline.reading.cells import by_distinct, said, text_of
from pipeline.reading.context import Context
from pipeline.reading.holds import is_hold
from pipeline.reading.noted_sets import SETS_MAX
from pipeline.reading.reasons import Reason
from pipeline.settings.mapping import SETS_COLUMN
from pipeline.settings.rules import BODYWEIGHT_KG, FIRST_DAY

NAME_MOST = 200
"""Characters; what is longer is no name of an exercise or a client."""


_HOLD = "is a time or a distance: no repetitions to count."


def _is_hold(name: str) -> pl.Expr:
    return text_of(name).map_batches(
        lambda texts: by_distinct(texts, is_hold, pl.Boolean()).fill_null(False),
        return_dtype=pl.Boolean,
    )


@dataclass(frozen=True)
class Fault:
    """A reason to set a line aside: where it applies, and how it is put."""

    reason: Reason
    applies: pl.Expr
    explanation: pl.Expr


class SetAside:
    """Lines set aside so far: the first reason of each."""

    def __init__(self) -> None:
        self._frames: list[pl.DataFrame] = []

    def sift(self, frame: pl.DataFrame, faults: Sequence[Fault]) -> pl.DataFrame:
        """The rows of `frame` whose line has none of the faults."""
        if not faults or not frame.height:
            return frame
        first = pl.coalesce(
            pl.when(fault.applies).then(pl.lit(place, dtype=pl.Int8))
            for place, fault in enumerate(faults)
        )
        places = frame.select(first.alias("fault")).to_series()
        if places.null_count() == places.len():
            return frame
        bad = frame.with_columns(places).filter(pl.col("fault").is_not_null())
        found = [
            bad.filter(pl.col("fault") == place).select(
                "line",
                "n",
                "fault",
                pl.lit(fault.reason.value).alias("reason"),
                fault.explanation.alias("explanation"),
            )
            for place, fault in enumerate(faults)
        ]
        firsts = pl.concat(found).sort("line", "n", "fault").unique("line", keep="first")
        self._frames.append(firsts.drop("n", "fault"))
        return frame.join(firsts.select("line"), on="line", how="anti", maintain_order="left")

    def rows(self) -> pl.DataFrame:
        """line, reason, explanation: a row a line."""
        schema = {"line": pl.Int32, "reason": pl.String, "explanation": pl.String}
        return pl.concat([pl.DataFrame(schema=schema), *self._frames]).sort("line")


def line_faults(context: Context) -> list[Fault]:
    """Faults of a line's client, day, start and bodyweight."""
    day, tomorrow, period = pl.col("performed_on"), context.tomorrow, context.period
    client, on = context.shown("client"), context.shown("performed_on")
    pattern = context.mapping.date_format
    form = f"in the form {pattern}" if pattern else "such as 2026-08-31"
    low, high = BODYWEIGHT_KG
    bodyweight = pl.col("bodyweight_kg")
    return [
        Fault(
            Reason.NO_CLIENT,
            pl.col("client_id").is_null() & pl.col("client_doubt").is_null(),
            said(f"{client} is empty: whose line it is cannot be told."),
        ),
        Fault(
            Reason.CLIENT_AMBIGUOUS,
            pl.col("client_doubt").is_not_null(),
            pl.col("client_doubt"),
        ),
        Fault(
            Reason.CLIENT_TOO_LONG,
            pl.col("client_id").str.len_chars() > NAME_MOST,
            said(
                f"{client} holds more than {NAME_MOST} characters, which is no name: '",
                text_of("client"),
                "'…",
            ),
        ),
        Fault(Reason.NO_DATE, text_of("performed_on").is_null(), said(f"{on} is empty: no day.")),
        Fault(
            Reason.NOT_A_DATE,
            day.is_null(),
            said("'", text_of("performed_on"), f"' under {on} is not a day {form}."),
        ),
        Fault(
            Reason.DATE_IN_FUTURE,
            day > tomorrow,
            said("'", text_of("performed_on"), f"' under {on} lies beyond tomorrow ({tomorrow})."),
        ),
        Fault(
            Reason.DATE_TOO_EARLY,
            day < FIRST_DAY,
            said("'", text_of("performed_on"), f"' under {on} lies before {FIRST_DAY.year}."),
        ),
        Fault(
            Reason.OUTSIDE_PERIOD,
            ~day.is_between(period[0] or date.min, period[1] or date.max),
            said(
                "'",
                text_of("performed_on"),
                "' lies outside the from and until of its [[sources]].",
            ),
        ),
        Fault(
            Reason.NOT_A_TIME,
            ~pl.col("start_read"),
            said(
                "'",
                text_of("started_at"),
                f"' under {context.shown('started_at')} is not a clock time such as 18:05.",
            ),
        ),
        Fault(
            Reason.BODYWEIGHT_WRONG,
            text_of("bodyweight").is_not_null()
            & (bodyweight.is_null() | ~bodyweight.is_between(low, high)),
            said(
                "'",
                text_of("bodyweight"),
                f"' under {context.shown('bodyweight')} is not a bodyweight of "
                f"{low:.0f} to {high:.0f} kg.",
            ),
        ),
    ]


def entry_faults(context: Context) -> list[Fault]:
    """Faults of what a line lists: no set, no exercise, sets that cannot be told."""
    is_set, rows = pl.col("is_set"), context.mapping.rows
    faults = [
        Fault(
            Reason.NO_SETS,
            ~is_set & pl.col("bodyweight_kg").is_null(),
            said("the line lists no set."),
        ),
        Fault(
            Reason.NO_EXERCISE,
            is_set & text_of("exercise").is_null(),
            said(f"{context.shown('exercise')} is empty: no exercise."),
        ),
    ]
    if rows == "sets" and context.gives("set_count"):
        faults.append(
            Fault(
                Reason.SET_COUNT_WRONG,
                is_set & ~pl.col("count_read"),
                said(
                    "'",
                    text_of("set_count"),
                    f"' under {context.shown('set_count')} is not a whole number of sets, "
                    f"1 to {SETS_MAX}.",
                ),
            )
        )
    if rows in ("exercises", "days"):
        where = text_of("exercise") if rows == "days" else pl.lit(context.shown(SETS_COLUMN))
        faults.append(
            Fault(
                Reason.NO_REPETITIONS,
                pl.col("doubt").is_not_null() & _is_hold(SETS_COLUMN),
                said("'", text_of(SETS_COLUMN), "' under ", where, f" {_HOLD}"),
            )
        )
        faults.append(
            Fault(
                Reason.SETS_UNREADABLE,
                pl.col("doubt").is_not_null(),
                pl.concat_str(
                    said("'", text_of(SETS_COLUMN), "' under ", where, ": "),
                    pl.col("doubt"),
                    pl.lit("."),
                ),
            )
        )
    return faults


def set_faults(context: Context) -> list[Fault]:
    """Faults of a set's values."""
    rules = context.rules

    def wrong(name: str, what: str) -> pl.Expr:
        return said("'", text_of(name), f"' under {context.shown(name)} is {what}.")

    def unknown(name: str, known: pl.Expr) -> pl.Expr:
        return text_of(name).is_not_null() & ~known

    def whole(name: str) -> pl.Expr:
        return pl.col(name) == pl.col(name).floor()

    reps, load, partials = pl.col("reps"), pl.col("load_kg"), pl.col("partial_reps")
    rir, rpe, set_no = pl.col("rir"), pl.col("rpe"), pl.col("set_no")
    most = rules.reps_max
    return [
        Fault(
            Reason.EXERCISE_TOO_LONG,
            text_of("exercise").str.len_chars() > NAME_MOST,
            said(
                f"{context.shown('exercise')} holds more than {NAME_MOST} characters, "
                "which is no name: '",
                text_of("exercise"),
                "'…",
            ),
        ),
        Fault(
            Reason.NO_REPETITIONS,
            _is_hold("reps"),
            said("'", text_of("reps"), f"' under {context.shown('reps')} {_HOLD}"),
        ),
        Fault(
            Reason.NO_REPS,
            text_of("reps").is_null(),
            said(f"{context.shown('reps')} is empty: no repetitions."),
        ),
        Fault(
            Reason.REPS_NOT_WHOLE,
            reps.is_null() | ~whole("reps"),
            wrong("reps", "not a whole number of repetitions"),
        ),
        Fault(
            Reason.REPS_OUT_OF_RANGE,
            ~reps.is_between(1, most),
            wrong("reps", f"outside 1 to {most} repetitions ([rules] reps_max)"),
        ),
        Fault(
            Reason.PARTIALS_WRONG,
            unknown(
                "partial_reps",
                (partials.is_between(0, most) & whole("partial_reps")).fill_null(False),
            ),
            wrong("partial_reps", f"not a whole number of partial repetitions, 0 to {most}"),
        ),
        Fault(
            Reason.LOAD_NOT_A_NUMBER,
            ~pl.col("load_read"),
            wrong("load", "not a number that is a load"),
        ),
        Fault(
            Reason.LOAD_NEGATIVE,
            load < 0,
            wrong("load", 'a negative load; assistance is a load with load_basis = "assisted"'),
        ),
        Fault(
            Reason.UNIT_UNKNOWN,
            unknown("load_unit", pl.col("load_unit").is_not_null()),
            wrong("load_unit", "not kg or lb; [values.load_unit] says what it means"),
        ),
        Fault(
            Reason.NO_UNIT,
            (load != 0) & pl.col("unit").is_null(),
            said(
                f"{context.shown('load_unit')} is empty: the unit of the load '",
                text_of("load"),
                "' cannot be told; [formats] load_unit can say it.",
            ),
        ),
        Fault(
            Reason.LOAD_TOO_HIGH,
            load > rules.load_max_kg,
            wrong("load", f"above {rules.load_max_kg:g} kg ([rules] load_max_kg)"),
        ),
        Fault(
            Reason.BASIS_UNKNOWN,
            unknown("load_basis", pl.col("load_basis").is_not_null()),
            wrong("load_basis", "not total, per_hand, added, assisted or none"),
        ),
        Fault(
            Reason.RIR_WRONG,
            unknown("rir", rir.is_between(0, rules.rir_max).fill_null(False)),
            wrong("rir", f"not repetitions in reserve, 0 to {rules.rir_max:g} ([rules] rir_max)"),
        ),
        Fault(
            Reason.RPE_WRONG,
            unknown("rpe", rpe.is_between(1, 10).fill_null(False)),
            wrong("rpe", "not a perceived exertion, 1 to 10"),
        ),
        Fault(
            Reason.FAILURE_UNKNOWN,
            unknown("to_failure", pl.col("to_failure").is_not_null()),
            wrong("to_failure", "neither yes nor no; [values.to_failure] says what it means"),
        ),
        Fault(
            Reason.SET_KIND_UNKNOWN,
            unknown("set_kind", pl.col("set_kind").is_not_null()),
            wrong(
                "set_kind", "not work, warmup or extension; [values.set_kind] says what it means"
            ),
        ),
        Fault(
            Reason.SIDE_UNKNOWN,
            unknown("side", pl.col("side_known")),
            wrong("side", "neither left nor right; [values.side] says what it means"),
        ),
        Fault(
            Reason.SET_NO_WRONG,
            unknown("set_no", (whole("set_no") & set_no.is_between(0, 100_000)).fill_null(False)),
            wrong("set_no", "not a whole set number"),
        ),
    ]


def repeat_faults(_: Context) -> list[Fault]:
    """A line that says what an earlier one said."""
    return [
        Fault(
            Reason.DUPLICATE,
            pl.col("equal_line").is_not_null(),
            said(
                "every cell equals line ",
                pl.col("equal_line"),
                ", with its set number or start time.",
            ),
        )
    ]


def extension_faults(_: Context) -> list[Fault]:
    """An extension that extends nothing."""
    return [
        Fault(
            Reason.EXTENSION_WITHOUT_SET,
            pl.col("extends_nothing"),
            said(
                "an extension of '",
                text_of("exercise"),
                "' without a work set of it before on that day.",
            ),
        )
    ]

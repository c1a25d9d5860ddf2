"""The data contract of the ledger: what must hold of every row, asked of great-expectations.

The normaliser judges single lines and sets them aside; the contract asks afterwards whether what
came out can be true at all, so that a fault in reading, laying over or replaying is seen before a
figure rests on it. Both read the same limits, `[rules]`.

great-expectations looks at pandas batches. Ranges, words and references are asked of the distinct
combinations of values, each with the number of its sets: the verdict and its counts are those of
row by row, at a small part of the cost.
"""

from __future__ import annotations

import logging
import os
import warnings
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any, Literal

from pipeline import clock
from pipeline.reading.reasons import Reason
from pipeline.reading.validation import BODYWEIGHT_KG, FIRST_DAY
from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Workspace
from pipeline.units import KG_PER_LB

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

BATCH_ROWS = 500_000
"""Largest pandas batch that is handed over at once."""

SWAP_REPS = 50
SWAP_SHARE = 0.25
SWAP_SETS = 200
"""Of so many sets or more, at most this share has more repetitions: else columns are swapped."""

CHANGED_DAYS = "changed_days"
"""Temporary table (client_id, performed_on) of the client-days that a run changed."""

RECEIPTS = "receipts"
"""Temporary table of what each version of this run gave: load_id, set_lines (lines that gave
sets), weighed_lines (lines that gave a weigh-in only), standing_sets (its sets, counted in the
ledger after it was laid over)."""

BY_RECEIPT = ("lines_counted", "sets_reconciled")
"""Clauses that can only be asked in the run that reads a version; later its verdict stands."""

_ASKED_VERSIONS = """
    state in ('loaded', 'replaced')
    and (sets_loaded = 0 or load_id in (select load_id from ledger.sets))
"""
"""Versions with verdicts of their own: not those that are held, or brought nothing new."""

CLIENT_LISTED = "Every client of the ledger is listed in setledger.toml."
"""A clause that is about the workspace, not about a client's data."""

_EXAMPLES = 3

Frame = Literal[
    "columns", "entries", "places", "days", "extensions", "spellings", "identities", "repeats",
    "lines", "weigh_ins", "loads", "newest",
]  # fmt: skip


@dataclass(frozen=True)
class Scope:
    """What the contract is asked of, and against which day and clients."""

    rules: Rules
    as_of: date
    """Data must be fresh at this day."""
    today: date
    """No set lies beyond the day after."""
    listed: tuple[str, ...] = ()
    """Ids of the configured clients; empty: everyone found is a client."""
    is_partial: bool = False
    """Only the client-days in `changed_days` and the versions in `receipts`."""


@dataclass(frozen=True)
class Clause:
    """One sentence of the contract, and the expectation that asks whether it holds."""

    key: str
    says: str
    frame: Frame
    column: str | None
    """Column of the ledger that it is about."""
    expects: str
    """Name of the great-expectations class."""
    given: dict[str, Any]
    """Its arguments; columns are those of the frame."""
    tolerance: float = 0.0
    """Share of the sets looked at that may break it."""
    least_sets: int = 0
    """Nothing is concluded from fewer."""
    is_breach: bool = True
    """False: worth knowing, but no fault of the data."""


@dataclass(frozen=True)
class Verdict:
    """Whether one clause holds of one version, or of the ledger as a whole."""

    key: str
    expectation: str
    column_name: str | None
    load_id: int | None
    is_met: bool
    unexpected: int
    share: float
    is_breach: bool
    examples: tuple[str, ...] = ()
    """Some of the values that break it."""

    @property
    def sentence(self) -> str:
        """The verdict for a person."""
        if self.is_met:
            return self.expectation
        if self.load_id is not None:
            where = f"load {self.load_id}"
        else:
            where = f"{self.unexpected:,} of the rows looked at ({self.share:.1%})"
        found = f": {', '.join(self.examples)}" if self.examples else ""
        return f"{self.expectation} Not so in {where}{found}."


# The suite


def clauses(scope: Scope) -> tuple[Clause, ...]:
    """The whole contract, in the order in which it is told."""
    return (
        *_layout_clauses(),
        *_value_clauses(scope.rules),
        *_place_clauses(scope),
        *_identity_clauses(),
        *_version_clauses(scope),
    )


def _layout_clauses() -> tuple[Clause, ...]:
    return (
        Clause(
            "columns",
            "The sets have the ledger's columns, each of its type.",
            "columns",
            None,
            "ExpectColumnPairValuesToBeEqual",
            {"column_A": "expected_type", "column_B": "data_type", "ignore_row_if": "neither"},
        ),
    )


def _within(column: str, low: object, high: object) -> dict[str, Any]:
    return {"column": column, "min_value": low, "max_value": high}


def _one_of(column: str, *values: object) -> dict[str, Any]:
    return {"column": column, "value_set": list(values)}


def _equal(column: str, other: str, ignored: str = "neither") -> dict[str, Any]:
    return {"column_A": column, "column_B": other, "ignore_row_if": ignored}


_BETWEEN = "ExpectColumnValuesToBeBetween"
_IN_SET = "ExpectColumnValuesToBeInSet"
_NOT_NULL = "ExpectColumnValuesToNotBeNull"
_REGEX = "ExpectColumnValuesToMatchRegex"
_EQUAL = "ExpectColumnPairValuesToBeEqual"
_NOT_BELOW = "ExpectColumnPairValuesAToBeGreaterThanB"


def _value_clauses(rules: Rules) -> tuple[Clause, ...]:
    most, heaviest = rules.reps_max, rules.load_max_kg
    low_kg, high_kg = BODYWEIGHT_KG
    return (
        Clause("reps_given", "Every set says how many repetitions.", "entries", "reps",
               _NOT_NULL, {"column": "reps"}),
        Clause("reps_range", f"A set has 1 to {most} repetitions.", "entries", "reps",
               _BETWEEN, _within("reps", 1, most)),
        Clause("reps_usual",
               f"Most sets have {SWAP_REPS} repetitions or fewer: loads and repetitions are not "
               "swapped.", "entries", "reps", _BETWEEN, _within("reps", None, SWAP_REPS),
               tolerance=SWAP_SHARE, least_sets=SWAP_SETS),
        Clause("partial_reps_range", f"A set has 0 to {most} partial repetitions.",
               "entries", "partial_reps", _BETWEEN, _within("partial_reps", 0, most)),
        Clause("load_range", f"A load lies between 0 and {heaviest:g} kg.", "entries", "load_kg",
               _BETWEEN, _within("load_kg", 0, heaviest)),
        Clause("load_unit", "A load was logged in kg or lb.", "entries", "load_unit",
               _IN_SET, _one_of("load_unit", "kg", "lb")),
        Clause("load_unit_given", "A load says its unit, and only a load does.", "entries",
               "load_unit", _EQUAL, _equal("has_load", "has_unit")),
        Clause("pounds_converted", "A load logged in pounds was turned into kilograms once.",
               "entries", "load_kg", _IN_SET, _one_of("is_converted", True)),
        Clause("load_basis",
               "A load is total, per hand, added, assisted or none, where the export says.",
               "entries", "load_basis", _IN_SET,
               _one_of("load_basis", "total", "per_hand", "added", "assisted", "none")),
        Clause("rir_range", f"Repetitions in reserve lie between 0 and {rules.rir_max:g}.",
               "entries", "rir", _BETWEEN, _within("rir", 0, rules.rir_max)),
        Clause("rpe_range", "Perceived exertion lies between 1 and 10.", "entries", "rpe",
               _BETWEEN, _within("rpe", 1, 10)),
        Clause("set_kind_given", "Every set says what kind it is.", "entries", "set_kind",
               _NOT_NULL, {"column": "set_kind"}),
        Clause("set_kind", "A set is work, a warm-up or an extension.", "entries", "set_kind",
               _IN_SET, _one_of("set_kind", "work", "warmup", "extension")),
        Clause("side", "A side is left or right.", "entries", "side",
               _IN_SET, _one_of("side", "left", "right")),
        Clause("bodyweight_range", f"A bodyweight lies between {low_kg:g} and {high_kg:g} kg.",
               "weigh_ins", "bodyweight_kg", _BETWEEN, _within("bodyweight_kg", low_kg, high_kg)),
    )  # fmt: skip


def _place_clauses(scope: Scope) -> tuple[Clause, ...]:
    last = scope.today + timedelta(days=1)
    days = _within("performed_on", _moment(FIRST_DAY), _moment(last))
    listed = (
        Clause("client_listed", CLIENT_LISTED, "places", "client_id",
               _IN_SET, _one_of("client_id", *scope.listed),
               is_breach=False),
    ) if scope.listed else ()  # fmt: skip
    return (
        Clause("client_given", "Every set belongs to a client.", "places", "client_id",
               _NOT_NULL, {"column": "client_id"}),
        Clause("client_id", "A client's id is of a-z, 0-9 and single hyphens.", "places",
               "client_id", _REGEX,
               {"column": "client_id", "regex": r"^[a-z0-9]+(-[a-z0-9]+)*$"}),
        *listed,
        Clause("day_given", "Every set has a day.", "places", "performed_on",
               _NOT_NULL, {"column": "performed_on"}),
        Clause("day_range", f"No set lies before {FIRST_DAY.year} or beyond tomorrow.", "places",
               "performed_on", _BETWEEN, days),
        Clause("day_in_version", "A set's day is one that its version spans.", "places",
               "performed_on", _IN_SET, _one_of("is_spanned", True)),
        Clause("clock", "A set's clock time falls on its day, or in the night before or after.",
               "places", "started_at", _BETWEEN, _within("start_lag", -1, 1)),
        Clause("session_id", "A session is one client's sets of one day.", "places", "session_id",
               _EQUAL, _equal("session_id", "expected_session_id")),
        Clause("version_known", "Every set comes from a version in ledger.loads that counts.",
               "places", "load_id", _IN_SET, _one_of("load_state", "loaded")),
        Clause("version_source", "A set and its version name the same source.", "places",
               "source", _EQUAL, _equal("source", "load_source")),
        Clause("one_version", "One source gives a client's day from one version only.", "days",
               "load_id", _BETWEEN, _within("versions", 1, 1)),
        Clause("day_order_starts", "The sets of a client's day are counted from 1.", "days",
               "day_order", _BETWEEN, _within("first_place", 1, 1)),
        Clause("day_order_whole", "No place in a client's day is missing or taken twice.", "days",
               "day_order", _EQUAL, _equal("last_place", "places")),
        Clause("day_order_sets", "Each place in a client's day holds one set.", "days",
               "day_order", _EQUAL, _equal("places", "sets")),
        Clause("extension_follows", "An extension follows a work set of its exercise.",
               "extensions", "set_kind", _BETWEEN, _within("work_sets_before", 1, None)),
        Clause("exercise_given", "Every set names an exercise.", "spellings", "exercise_raw",
               _REGEX, {"column": "spelling", "regex": r"\S"}),
        Clause("exercise_known", "Every spelling stands in ledger.exercise_names.", "spellings",
               "exercise_raw", _NOT_NULL, {"column": "exercise"}),
    )  # fmt: skip


def _moment(day: date) -> datetime:
    return datetime.combine(day, time())


def _identity_clauses() -> tuple[Clause, ...]:
    return (
        Clause("set_id_form", 'A set\'s id is "load:line:n".', "identities", "set_id",
               _REGEX, {"column": "shape", "regex": r"^9:9:9$"}),
        Clause("set_id_own", "A set's id names its own version and line.", "identities", "set_id",
               _IN_SET, _one_of("is_own", True)),
        Clause("set_id_unique", "No id is given to two sets.", "repeats", "set_id",
               _BETWEEN, _within("times", 1, 1)),
        Clause("line_whole", "The sets of one line are counted from 1 without a gap.", "lines",
               "set_id", _EQUAL, _equal("last_n", "sets_of_line")),
        Clause("line_day", "The sets of one line belong to one client and day.", "lines",
               "source_line", _BETWEEN, _within("sessions", 1, 1)),
    )  # fmt: skip


def _version_clauses(scope: Scope) -> tuple[Clause, ...]:
    rules = scope.rules
    limit = rules.set_aside_share
    either = "either_value_is_missing"
    return (
        Clause("lines_reconciled", "Lines read are lines loaded and lines set aside.", "loads",
               "lines_read", _EQUAL, _equal("lines_read", "lines_told")),
        Clause("lines_counted", "Every line loaded gave sets or a weigh-in.", "loads",
               "lines_loaded", _EQUAL, _equal("lines_loaded", "lines_found", either)),
        Clause("lines_aside_kept", "Every line set aside stands in ledger.set_aside once.",
               "loads", "lines_set_aside", _EQUAL, _equal("lines_set_aside", "aside_lines")),
        Clause("lines_once", "No line is both loaded and set aside.", "loads", "source_line",
               _BETWEEN, _within("lines_twice", 0, 0)),
        Clause("sets_reconciled", "The sets that a version gave stand in the ledger.", "loads",
               "sets_loaded", _EQUAL, _equal("sets_loaded", "standing_sets", either)),
        Clause("sets_no_more", "The ledger holds no more sets of a version than it gave.",
               "loads", "sets_loaded", _NOT_BELOW,
               {"column_A": "sets_loaded", "column_B": "rows_held", "or_equal": True}),
        Clause("set_aside_share", f"At most {limit:.3g} of a version's lines are set aside "
               "(days outside a source's period apart).", "loads", "lines_set_aside",
               _BETWEEN, _within("damaged_share", None, limit)),
        Clause("fresh", f"The newest set is at most {rules.fresh_days} days old at the as-of "
               "day.", "newest", "performed_on",
               _BETWEEN, _within("age_days", None, rules.fresh_days), is_breach=False),
    )  # fmt: skip


# What it looks at


_SETS_TYPES = {
    "set_id": "VARCHAR",
    "client_id": "VARCHAR",
    "performed_on": "DATE",
    "started_at": "TIMESTAMP",
    "session_id": "VARCHAR",
    "exercise_raw": "VARCHAR",
    "day_order": "INTEGER",
    "set_no": "INTEGER",
    "side": "VARCHAR",
    "load_kg": "DOUBLE",
    "load_unit": "VARCHAR",
    "load_basis": "VARCHAR",
    "reps": "INTEGER",
    "partial_reps": "INTEGER",
    "rir": "DOUBLE",
    "rpe": "DOUBLE",
    "to_failure": "BOOLEAN",
    "set_kind": "VARCHAR",
    "notes": "VARCHAR",
    "source": "VARCHAR",
    "load_id": "INTEGER",
    "source_line": "INTEGER",
    "replaced_by": "INTEGER",
}
"""Columns of ledger.sets with their types in DuckDB."""

# People and apps write pounds to a hundredth at most. A load that is no such number of pounds was
# either never turned into kilograms (then it is a round number of them), or turned twice; an app
# that turns kilograms into pounds leaves them within rounding of a round number, not on it.
_IS_CONVERTED = f"""
    load_unit is distinct from 'lb'
    or abs(load_kg / {KG_PER_LB} * 100 - round(load_kg / {KG_PER_LB} * 100)) < 1e-4
    or (abs(load_kg * 2 - round(load_kg * 2)) < 2e-3 and load_kg <> round(load_kg, 2))
"""

_QUERIES: dict[Frame, str] = {
    "columns": """
        select
            column_name,
            expected_types.data_type as expected_type,
            found_types.data_type,
            1 as sets,
        from expected_types
        full join (
            select column_name, data_type
            from duckdb_columns()
            where schema_name = 'ledger' and table_name = 'sets' and database_name <> 'temp'
        ) as found_types using (column_name)
        order by column_name
    """,
    "entries": f"""
        select
            reps,
            partial_reps,
            load_kg,
            load_unit,
            load_basis,
            rir,
            rpe,
            set_kind,
            side,
            load_kg is not null as has_load,
            load_unit is not null as has_unit,
            coalesce({_IS_CONVERTED}, true) as is_converted,
            count(*) as sets,
        from contract_sets
        group by all
    """,
    "places": """
        select
            batch.client_id,
            batch.performed_on,
            batch.session_id,
            batch.client_id || '/' || batch.performed_on as expected_session_id,
            batch.source,
            loads.source as load_source,
            coalesce(loads.state, 'none') as load_state,
            coalesce(batch.performed_on between loads.first_on and loads.last_on, false)
                as is_spanned,
            batch.started_at::date - batch.performed_on as start_lag,
            count(*) as sets,
        from contract_sets as batch
        left join ledger.loads as loads on batch.load_id = loads.load_id
        group by all
    """,
    "days": """
        select
            client_id,
            performed_on,
            source,
            count(distinct load_id) as versions,
            min(day_order) as first_place,
            max(day_order) as last_place,
            count(distinct day_order) as places,
            count(*) as sets,
        from contract_sets
        group by all
    """,
    "extensions": """
        with in_order as (
            select
                set_kind,
                count(*) filter (where set_kind = 'work') over (
                    partition by client_id, performed_on, source, lower(exercise_raw)
                    order by day_order
                    rows between unbounded preceding and 1 preceding
                ) as work_sets_before,
            from contract_sets
            where
                (client_id, performed_on, source) in (
                    select (client_id, performed_on, source)
                    from contract_sets
                    where set_kind = 'extension'
                )
        )

        select least(work_sets_before, 1) as work_sets_before, count(*) as sets
        from in_order
        where set_kind = 'extension'
        group by all
    """,
    "spellings": """
        select
            coalesce(batch.exercise_raw, '') as spelling,
            names.exercise,
            count(*) as sets,
        from contract_sets as batch
        left join ledger.exercise_names as names on batch.exercise_raw = names.exercise_raw
        group by all
    """,
    "identities": """
        select
            coalesce(regexp_replace(set_id, '[0-9]+', '9', 'g'), '') as shape,
            coalesce(starts_with(set_id, load_id || ':' || source_line || ':'), false) as is_own,
            count(*) as sets,
        from contract_sets
        group by all
    """,
    "repeats": """
        with ids as (
            select set_id, count(*) as times
            from contract_sets
            group by all
        )

        select least(times, 2) as times, sum(times)::bigint as sets
        from ids
        group by least(times, 2)
    """,
    "lines": """
        with numbered_lines as (
            select
                max(coalesce(try_cast(split_part(set_id, ':', 3) as integer), 0)) as last_n,
                count(*) as sets_of_line,
                min(session_id) is distinct from max(session_id) as is_split,
            from contract_sets
            group by load_id, source_line
        )

        select
            last_n,
            sets_of_line,
            1 + is_split::integer as sessions,
            sum(sets_of_line)::bigint as sets,
        from numbered_lines
        group by all
    """,
    "weigh_ins": """
        select bodyweight_kg, count(*) as sets
        from ledger.bodyweights
        where replaced_by is null
        group by all
    """,
    "loads": """
        with versions as (
            select *
            from ledger.loads
            where {asked_versions} {only_receipts}
        ),

        aside as (
            select
                load_id,
                count(*) as aside_rows,
                count(distinct source_line) as aside_lines,
                count(*) filter (where reason <> '{outside_period}') as damaged_lines,
            from ledger.set_aside
            group by all
        ),

        held as (
            select load_id, count(*) as rows_held
            from ledger.sets
            where load_id in (select load_id from versions)
            group by all
        ),

        twice as (
            select set_rows.load_id, count(distinct set_rows.source_line) as lines_twice
            from ledger.sets as set_rows
            semi join ledger.set_aside as set_aside
                on
                    set_rows.load_id = set_aside.load_id
                    and set_rows.source_line = set_aside.source_line
            group by all
        )

        select
            versions.load_id,
            versions.path,
            versions.lines_read,
            versions.lines_loaded,
            versions.lines_set_aside,
            versions.lines_loaded + versions.lines_set_aside as lines_told,
            receipts.set_lines + receipts.weighed_lines as lines_found,
            greatest(coalesce(aside.aside_lines, 0), coalesce(aside.aside_rows, 0)) as aside_lines,
            coalesce(aside.damaged_lines, 0) / greatest(versions.lines_read, 1) as damaged_share,
            coalesce(twice.lines_twice, 0) as lines_twice,
            versions.sets_loaded,
            receipts.standing_sets,
            coalesce(held.rows_held, 0) as rows_held,
            1 as sets,
        from versions
        left join aside on versions.load_id = aside.load_id
        left join held on versions.load_id = held.load_id
        left join twice on versions.load_id = twice.load_id
        left join receipts on versions.load_id = receipts.load_id
        order by versions.load_id
    """,
    "newest": """
        select '{as_of}'::date - max(performed_on) as age_days, 1 as sets
        from ledger.sets
        where replaced_by is null and performed_on <= '{as_of}'::date
        having count(*) > 0
    """,
}


def validate(con: duckdb.DuckDBPyConnection, scope: Scope) -> list[Verdict]:
    """The verdict on every clause: of each version, or of the ledger as a whole."""
    _prepare(con, scope)
    suite = clauses(scope)
    verdicts: list[Verdict] = []
    for frame in dict.fromkeys(clause.frame for clause in suite):
        asked = [clause for clause in suite if clause.frame == frame]
        batch = con.sql(_query(frame, scope)).df()
        verdicts += _judge(asked, batch, frame)
    verdicts = _with_standing(con, verdicts)
    places = {clause.key: place for place, clause in enumerate(suite)}
    return sorted(verdicts, key=lambda each: (places[each.key], each.load_id or 0))


def _with_standing(con: duckdb.DuckDBPyConnection, verdicts: Sequence[Verdict]) -> list[Verdict]:
    """Where no receipt tells what a version gave, the verdict of the run that read it."""
    receipts = {load_id for (load_id,) in con.execute("select load_id from receipts").fetchall()}
    stored = {
        (load_id, says): (is_met, unexpected, share)
        for load_id, says, is_met, unexpected, share in con.execute(
            "select load_id, expectation, is_met, unexpected, share from ledger.checks"
        ).fetchall()
    }
    asked: list[Verdict] = []
    for verdict in verdicts:
        if verdict.key not in BY_RECEIPT or verdict.load_id in receipts:
            asked.append(verdict)
        elif (verdict.load_id, verdict.expectation) in stored:
            is_met, unexpected, share = stored[verdict.load_id, verdict.expectation]
            asked.append(replace(verdict, is_met=is_met, unexpected=unexpected, share=share))
    return asked


def _prepare(con: duckdb.DuckDBPyConnection, scope: Scope) -> None:
    """The temporary relations that the queries read."""
    only = (
        "and (client_id, performed_on) in (select (client_id, performed_on) from changed_days)"
        if scope.is_partial
        else ""
    )
    con.execute(
        "create or replace temp view contract_sets as"
        f" select * from ledger.sets where replaced_by is null {only}"
    )
    con.execute(
        f"create temp table if not exists {RECEIPTS}"
        " (load_id integer, set_lines integer, weighed_lines integer, standing_sets bigint)"
    )
    con.execute("create or replace temp table expected_types (column_name text, data_type text)")
    con.executemany("insert into expected_types values (?, ?)", list(_SETS_TYPES.items()))


def _query(frame: Frame, scope: Scope) -> str:
    only = "and load_id in (select load_id from receipts)" if scope.is_partial else ""
    text = _QUERIES[frame]
    if frame in ("loads", "newest"):
        return text.format(
            asked_versions=_ASKED_VERSIONS,
            only_receipts=only,
            as_of=scope.as_of,
            outside_period=Reason.OUTSIDE_PERIOD.value,
        )
    return text


# Asking great-expectations


@dataclass
class _Tally:
    """Sets looked at and sets that break a clause, over the batches of a frame."""

    looked_at: int = 0
    unexpected: int = 0
    examples: tuple[str, ...] = ()

    def add(self, other: _Tally) -> None:
        self.looked_at += other.looked_at
        self.unexpected += other.unexpected
        self.examples = (self.examples + other.examples)[:_EXAMPLES]


def _judge(asked: Sequence[Clause], frame: pd.DataFrame, name: Frame) -> list[Verdict]:
    tallies: dict[tuple[str, int | None], _Tally] = {}
    for start in range(0, max(len(frame), 1), BATCH_ROWS):
        batch = frame.iloc[start : start + BATCH_ROWS].reset_index(drop=True)
        for key, load_id, tally in _ask(asked, batch, is_by_load=name == "loads"):
            tallies.setdefault((key, load_id), _Tally()).add(tally)
    by_key = {clause.key: clause for clause in asked}
    return [_verdict(by_key[key], load_id, tally) for (key, load_id), tally in tallies.items()]


def _verdict(clause: Clause, load_id: int | None, tally: _Tally) -> Verdict:
    share = tally.unexpected / tally.looked_at if tally.looked_at else 0.0
    is_met = share <= clause.tolerance or tally.looked_at < clause.least_sets
    return Verdict(
        key=clause.key,
        expectation=clause.says,
        column_name=clause.column,
        load_id=load_id,
        is_met=is_met,
        unexpected=tally.unexpected,
        share=round(share, 9),
        is_breach=clause.is_breach,
        examples=() if is_met else tally.examples,
    )


def _ask(
    asked: Sequence[Clause], batch: pd.DataFrame, *, is_by_load: bool
) -> Iterable[tuple[str, int | None, _Tally]]:
    """(key, load_id, tally) of each clause in one pandas batch."""
    by_key = {clause.key: clause for clause in asked}
    weights = batch["sets"].tolist()
    results = _library().validated(asked, batch) if weights else []
    broken = {
        each.expectation_config.meta["key"]: _rows_that_break(each, batch) for each in results
    }
    for key, clause in by_key.items():
        wrong = broken.get(key, set())
        if is_by_load:
            for place, load_id in enumerate(batch["load_id"].tolist()):
                here = wrong & {place}
                yield key, int(load_id), _Tally(1, len(here), _examples(clause, batch, here))
        else:
            unexpected = int(sum(weights[place] for place in wrong))
            examples = _examples(clause, batch, wrong)
            yield key, None, _Tally(int(sum(weights)), unexpected, examples)


def _rows_that_break(result: Any, batch: pd.DataFrame) -> set[int]:
    """Places in the batch; all of them where the question itself could not be asked."""
    if result.success:
        return set()
    if result.exception_info.get("raised_exception", True):
        return set(range(len(batch)))
    return {int(place) for place in result.result["unexpected_index_list"]}


def _examples(clause: Clause, batch: pd.DataFrame, wrong: set[int]) -> tuple[str, ...]:
    """Some of the values that break a clause."""
    if not wrong:
        return ()
    given = clause.given
    shown = [given[each] for each in ("column", "column_A", "column_B") if each in given]
    rows = batch.iloc[sorted(wrong)][shown].drop_duplicates().head(_EXAMPLES)
    return tuple(" ≠ ".join(map(_shown, row)) for row in rows.itertuples(index=False))


def _shown(value: Any) -> str:
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, float):
        return f"{value:g}"
    return repr(value) if isinstance(value, str) else str(value)


class _Library:
    """great-expectations in memory: no file, no network, no progress bar, no word on stderr."""

    def __init__(self) -> None:
        # It reports its use over the network unless told not to before it is imported.
        os.environ["GX_ANALYTICS_ENABLED"] = "false"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # it imports modules that Python calls deprecated
            import great_expectations as gx
            from great_expectations import expectations
            from great_expectations.data_context.types import base
        logging.getLogger("great_expectations").setLevel(logging.CRITICAL)
        self._gx: Any = gx
        self._expectations: Any = expectations
        context: Any = gx.get_context(
            project_config=base.DataContextConfig(
                store_backend_defaults=base.InMemoryStoreBackendDefaults(init_temp_docs_sites=False)
            ),
            mode="ephemeral",
        )
        context.variables.progress_bars = {"globally": False}
        asset = context.data_sources.add_pandas("ledger").add_dataframe_asset("batch")
        self._definition: Any = asset.add_batch_definition_whole_dataframe("whole")

    def validated(self, asked: Sequence[Clause], batch: pd.DataFrame) -> list[Any]:
        """One result a clause, with the places of all rows that break it."""
        suite = self._gx.ExpectationSuite(
            name="ledger",
            expectations=[
                getattr(self._expectations, clause.expects)(
                    **clause.given, meta={"key": clause.key}
                )
                for clause in asked
            ],
        )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # pandas deprecations inside the library
            whole = self._definition.get_batch(batch_parameters={"dataframe": batch})
            results = whole.validate(suite, result_format={"result_format": "COMPLETE"}).results
        return list(results)


_LIBRARY: list[_Library] = []


def _library() -> _Library:
    """The library, imported on first use: that takes two seconds."""
    if not _LIBRARY:
        _LIBRARY.append(_Library())
    return _LIBRARY[0]


# The verdicts in the ledger


def store_verdicts(con: duckdb.DuckDBPyConnection, verdicts: Sequence[Verdict]) -> None:
    """Put verdicts in the place of the earlier ones on the same versions and on the ledger."""
    con.execute(
        "delete from ledger.checks where load_id is null or load_id not in"
        f" (select load_id from ledger.loads where {_ASKED_VERSIONS})"
    )
    if not verdicts:
        return
    told = sorted({each.load_id for each in verdicts if each.load_id is not None})
    con.execute("delete from ledger.checks where load_id in (select unnest(?::integer[]))", [told])
    con.executemany(
        "insert into ledger.checks values (?, ?, ?, ?, ?, ?)", [_row(each) for each in verdicts]
    )


def differs(con: duckdb.DuckDBPyConnection, verdicts: Sequence[Verdict]) -> bool:
    """Whether the verdicts that stand in ledger.checks say anything else."""
    rows = con.execute("select * from ledger.checks").fetchall()
    return sorted(rows, key=repr) != sorted(map(_row, verdicts), key=repr)


def _row(verdict: Verdict) -> tuple[int | None, str, str | None, bool, int, float]:
    return (
        verdict.load_id,
        verdict.expectation,
        verdict.column_name,
        verdict.is_met,
        verdict.unexpected,
        verdict.share,
    )


def is_in_doubt(con: duckdb.DuckDBPyConnection, scope: Scope) -> bool:
    """Whether the whole ledger has to be asked: a clause was broken, or no verdict stands."""
    stored = con.execute(
        "select expectation, is_met from ledger.checks where load_id is null"
    ).fetchall()
    if not stored:
        return bool(con.execute("from ledger.sets limit 1").fetchall())
    breaches = {clause.says for clause in clauses(scope) if clause.is_breach}
    return any(not is_met and says in breaches for says, is_met in stored)


def contract_scope(workspace: Workspace, as_of: date) -> Scope:
    """What the data contract is asked against: the workspace's limits, clients and days."""
    from pipeline.checks.contract import Scope

    listed = tuple(client.id for client in workspace.clients)
    return Scope(workspace.rules, as_of, clock.today(workspace.timezone), listed)

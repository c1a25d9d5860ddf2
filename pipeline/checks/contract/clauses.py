"""The clauses of the data contract: what must hold, and the expectation that asks whether it does.

The limits are those of reading, `[rules]`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, Literal

from pipeline.checks.contract.scope import Scope
from pipeline.settings.rules import BODYWEIGHT_KG, FIRST_DAY, Rules

SWAP_REPS = 50
SWAP_SHARE = 0.25
SWAP_SETS = 200
"""Of so many sets or more, at most this share has more repetitions: else columns are swapped."""

BY_RECEIPT = ("lines_counted", "sets_reconciled")
"""Clauses that can only be asked in the run that reads a version; later its verdict stands."""

CLIENT_LISTED = "Every client of the ledger is listed in setledger.toml."
"""A clause that is about the workspace, not about a client's data."""

Frame = Literal[
    "columns", "entries", "places", "days", "extensions", "spellings", "identities", "repeats",
    "lines", "weigh_ins", "loads", "newest",
]  # fmt: skip


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


def clauses(scope: Scope) -> tuple[Clause, ...]:
    """The whole contract, in the order in which it is told."""
    return (
        Clause(
            "columns",
            "The sets have the ledger's columns, each of its type.",
            "columns",
            None,
            _EQUAL,
            _equal("expected_type", "data_type"),
        ),
        *_value_clauses(scope.rules),
        *_place_clauses(scope),
        *_identity_clauses(),
        *_version_clauses(scope),
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

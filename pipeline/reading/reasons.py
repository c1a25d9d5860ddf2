"""Why a line of an export is not loaded: the short names that ledger.set_aside carries."""

from __future__ import annotations

from enum import StrEnum


class Reason(StrEnum):
    """A line is loaded whole or set aside whole, with the first reason that applies."""

    # The line cannot be read as a record.
    UNCLOSED_QUOTE = "unclosed_quote"
    SURPLUS_CELLS = "surplus_cells"
    UNFINISHED_LINE = "unfinished_line"
    UNREADABLE_CHARACTERS = "unreadable_characters"
    LINE_TOO_LONG = "line_too_long"

    # Whose line, of which day, of what.
    NO_CLIENT = "no_client"
    CLIENT_AMBIGUOUS = "client_ambiguous"
    CLIENT_TOO_LONG = "client_too_long"
    NO_DATE = "no_date"
    NOT_A_DATE = "not_a_date"
    DATE_IN_FUTURE = "date_in_future"
    DATE_TOO_EARLY = "date_too_early"
    OUTSIDE_PERIOD = "outside_period"
    NOT_A_TIME = "not_a_time"
    NO_EXERCISE = "no_exercise"
    EXERCISE_TOO_LONG = "exercise_too_long"

    # What was done.
    NO_SETS = "no_sets"
    SET_COUNT_WRONG = "set_count_wrong"
    SETS_UNREADABLE = "sets_unreadable"
    NO_REPETITIONS = "no_repetitions"
    NO_REPS = "no_reps"
    REPS_NOT_WHOLE = "reps_not_whole"
    REPS_OUT_OF_RANGE = "reps_out_of_range"
    PARTIALS_WRONG = "partials_wrong"
    LOAD_NOT_A_NUMBER = "load_not_a_number"
    LOAD_NEGATIVE = "load_negative"
    LOAD_TOO_HIGH = "load_too_high"
    NO_UNIT = "no_unit"
    UNIT_UNKNOWN = "unit_unknown"
    BASIS_UNKNOWN = "basis_unknown"
    RIR_WRONG = "rir_wrong"
    RPE_WRONG = "rpe_wrong"
    FAILURE_UNKNOWN = "failure_unknown"
    SET_KIND_UNKNOWN = "set_kind_unknown"
    SIDE_UNKNOWN = "side_unknown"
    SET_NO_WRONG = "set_no_wrong"
    BODYWEIGHT_WRONG = "bodyweight_wrong"

    # The line beside the others.
    DUPLICATE = "duplicate"
    EXTENSION_WITHOUT_SET = "extension_without_set"


NO_FAULTS = frozenset((Reason.OUTSIDE_PERIOD, Reason.NO_REPETITIONS))
"""Reasons that say nothing against a file: they do not count in the share set aside."""

"""Every reason to set a line aside: a line that meets it, and how it is put in words."""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.names.clients import ClientIndex
from pipeline.reading.encoding import LONGEST_LINE
from pipeline.reading.export import read_export
from pipeline.reading.normalise import normalise
from pipeline.reading.reasons import Reason
from pipeline.reading.validation import NAME_MOST
from pipeline.settings.mapping_file import parse_mapping
from pipeline.settings.rules import Rules

TOMORROW = date(2026, 9, 1)

FIELDS = {
    "day": "performed_on", "lift": "exercise", "kg": "load", "reps": "reps", "who": "client",
    "start": "started_at", "nth": "set_no", "side": "side", "rir": "rir", "rpe": "rpe",
    "fail": "to_failure", "part": "partial_reps", "kind": "set_kind", "unit": "load_unit",
    "basis": "load_basis", "bw": "bodyweight", "sets": "sets", "count": "set_count",
}  # fmt: skip

Case = tuple[str, str, int, str]
"""Header, lines, the physical line that is set aside, words of the explanation."""

CASES: dict[Reason, Case] = {
    Reason.UNCLOSED_QUOTE: (
        "day,lift,reps", '2026-08-31,"Row,8\n2026-08-31,Dip,8', 2, "a quote opens here"),
    Reason.SURPLUS_CELLS: ("day,lift,reps", "2026-08-31,Row,8,9", 2, "'9' is surplus"),
    Reason.UNFINISHED_LINE: (
        "day,lift,reps", "2026-08-30,Row,8\n2026-08-31,Row", 3, "fewer cells than the header"),
    Reason.UNREADABLE_CHARACTERS: (
        "day,lift,reps", "2026-08-31,Row\0,8", 2, "bytes that are no characters"),
    Reason.LINE_TOO_LONG: (
        "day,lift,reps", f"2026-08-31,{'x' * LONGEST_LINE},8\n2026-08-31,Row,8", 2,
        "longer than 4,000,000 bytes"),
    Reason.NO_CLIENT: ("day,lift,reps,who", "2026-08-31,Row,8,", 2, "whose line it is"),
    Reason.CLIENT_AMBIGUOUS: (
        "day,lift,reps,who", "2026-08-31,Row,8,José\n2026-08-31,Row,8,Jose", 2,
        "both give the id 'jose'"),
    Reason.CLIENT_TOO_LONG: (
        "day,lift,reps,who", f"2026-08-31,Row,8,{'x' * (NAME_MOST + 1)}", 2,
        "'who' holds more than 200 characters"),
    Reason.NO_DATE: ("day,lift,reps", ",Row,8", 2, "'day' is empty: no day"),
    Reason.NOT_A_DATE: (
        "day,lift,reps", "2026-02-30,Row,8", 2, "'2026-02-30' under 'day' is not a day"),
    Reason.DATE_IN_FUTURE: ("day,lift,reps", "2062-08-31,Row,8", 2, "lies beyond tomorrow"),
    Reason.DATE_TOO_EARLY: ("day,lift,reps", "1926-08-31,Row,8", 2, "lies before 1950"),
    Reason.OUTSIDE_PERIOD: ("day,lift,reps", "2019-12-31,Row,8", 2, "from and until"),
    Reason.NOT_A_TIME: (
        "day,start,lift,reps", "2026-08-31,noon,Row,8", 2, "'noon' under 'start' is not a clock"),
    Reason.NO_EXERCISE: ("day,lift,reps", "2026-08-31,,8", 2, "'lift' is empty: no exercise"),
    Reason.EXERCISE_TOO_LONG: (
        "day,lift,reps", f"2026-08-31,{'x' * (NAME_MOST + 1)},8", 2,
        "'lift' holds more than 200 characters"),
    Reason.NO_SETS: ("day,lift,sets", "2026-08-31,Row,", 2, "the line lists no set"),
    Reason.SET_COUNT_WRONG: (
        "day,lift,reps,count", "2026-08-31,Row,8,many", 2, "'many' under 'count' is not a whole"),
    Reason.SETS_UNREADABLE: (
        "day,lift,sets", "2026-08-31,Row,40xsix", 2, "'40xsix' under 'sets': '40xsix' is no set"),
    Reason.NO_REPETITIONS: (
        "day,lift,reps", "2026-08-31,Plank,3x45s", 2, "'3x45s' under 'reps' is a time or a dist"),
    Reason.NO_REPS: ("day,lift,reps", "2026-08-31,Row,", 2, "'reps' is empty"),
    Reason.REPS_NOT_WHOLE: (
        "day,lift,reps", "2026-08-31,Row,8.5", 2, "'8.5' under 'reps' is not a whole number"),
    Reason.REPS_OUT_OF_RANGE: ("day,lift,reps", "2026-08-31,Row,101", 2, "outside 1 to 100"),
    Reason.PARTIALS_WRONG: (
        "day,lift,reps,part", "2026-08-31,Row,8,some", 2, "'some' under 'part' is not a whole"),
    Reason.LOAD_NOT_A_NUMBER: (
        "day,lift,kg,reps", "2026-08-31,Row,heavy,8", 2, "'heavy' under 'kg' is not a number"),
    Reason.LOAD_NEGATIVE: ("day,lift,kg,reps", "2026-08-31,Row,-5,8", 2, "a negative load"),
    Reason.LOAD_TOO_HIGH: ("day,lift,kg,reps", "2026-08-31,Row,701,8", 2, "above 700 kg"),
    Reason.NO_UNIT: (
        "day,lift,kg,unit,reps", "2026-08-31,Row,80,,8", 2, "the unit of the load '80' cannot be"),
    Reason.UNIT_UNKNOWN: (
        "day,lift,kg,unit,reps", "2026-08-31,Row,80,stone,8", 2, "'stone' under 'unit' is not kg"),
    Reason.BASIS_UNKNOWN: (
        "day,lift,kg,basis,reps", "2026-08-31,Row,80,both,8", 2, "'both' under 'basis' is not"),
    Reason.RIR_WRONG: (
        "day,lift,reps,rir", "2026-08-31,Row,8,21", 2, "'21' under 'rir' is not repetitions in"),
    Reason.RPE_WRONG: (
        "day,lift,reps,rpe", "2026-08-31,Row,8,11", 2, "'11' under 'rpe' is not a perceived"),
    Reason.FAILURE_UNKNOWN: (
        "day,lift,reps,fail", "2026-08-31,Row,8,perhaps", 2, "'perhaps' under 'fail' is neither"),
    Reason.SET_KIND_UNKNOWN: (
        "day,lift,reps,kind", "2026-08-31,Row,8,odd", 2, "'odd' under 'kind' is not work"),
    Reason.SIDE_UNKNOWN: (
        "day,lift,reps,side", "2026-08-31,Row,8,front", 2, "'front' under 'side' is neither left"),
    Reason.SET_NO_WRONG: (
        "day,lift,reps,nth", "2026-08-31,Row,8,first", 2, "'first' under 'nth'"),
    Reason.BODYWEIGHT_WRONG: (
        "day,lift,reps,bw", "2026-08-31,Row,8,800", 2, "'800' under 'bw' is not a bodyweight"),
    Reason.DUPLICATE: (
        "day,lift,reps,nth", "2026-08-31,Row,8,1\n2026-08-31,Row,8,1", 3, "equals line 2"),
    Reason.EXTENSION_WITHOUT_SET: (
        "day,lift,reps,kind", "2026-08-31,Row,8,drop", 2, "an extension of 'Row' without a work"),
}  # fmt: skip


def test_every_reason_has_its_case() -> None:
    assert set(CASES) == set(Reason)


@pytest.mark.parametrize("reason", Reason)
def test_a_line_is_set_aside_for_its_reason_in_plain_words(reason: Reason) -> None:
    header, lines, line, words = CASES[reason]
    names = header.split(",")
    columns = "\n".join(f'{FIELDS[name]} = "{name}"' for name in names)
    rows = "exercises" if "sets" in names else "sets"
    formats = "" if "unit" in names else '[formats]\nload_unit = "kg"\n'
    mapping = parse_mapping(
        f'name = "log"\n[layout]\nrows = "{rows}"\n[columns]\n{columns}\n{formats}', "log.toml"
    )
    end = "" if reason is Reason.UNFINISHED_LINE else "\n"
    export = read_export(f"{header}\n{lines}{end}".encode(), mapping.file, "log.csv", names)
    result = normalise(
        export, mapping, 1, ClientIndex(), TOMORROW, Rules(), (date(1900, 1, 1), None)
        if reason is not Reason.OUTSIDE_PERIOD else (date(2020, 1, 1), None),
    )  # fmt: skip
    told = {row["source_line"]: row for row in result.set_aside.iter_rows(named=True)}
    assert told[line]["reason"] == reason
    said = told[line]["explanation"]
    assert words in said
    assert said.endswith((".", "…"))
    assert len(said) < 300
    assert result.lines_read == result.lines_loaded + len(told)

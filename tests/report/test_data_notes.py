"""Data notes of a page: contradicting entries of effort, and what the data contract found."""

from __future__ import annotations

from pipeline import formats
from pipeline.checks.contract.clauses import CLIENT_LISTED
from pipeline.pages import texts
from pipeline.pages.client_data import read_client_data
from pipeline.pages.page_data import Block, Passage, Table
from pipeline.pages.sections import data as data_notes
from pipeline.pages.sections import notes
from pipeline.pages.sections.notes import (
    LISTED_MOST,
    contract_blocks,
    disagreement_blocks,
    slip_blocks,
)
from pipeline.settings.workspace import Client
from tests.conftest import MONDAY, Log, day

INES = Client(id="ines", name="Ines")


def cells(blocks: list[Block]) -> list[tuple[str, ...]]:
    (table,) = [each for each in blocks if isinstance(each, Table)]
    return [tuple(figure.text for figure in row) for row in table.rows]


def passages(blocks: list[Block]) -> list[str]:
    return [each.text for each in blocks if isinstance(each, Passage)]


def with_version(log: Log, load_id: int, path: str, state: str = "loaded") -> None:
    """A version of an export in ledger.loads."""
    log.con.execute(
        "insert into ledger.loads (load_id, source, path, sha256, mapping_sha256, bytes, encoding, "
        "delimiter, state, lines_read, lines_loaded, lines_set_aside, lines_skipped, sets_loaded, "
        "loaded_at) values (?, 'log', ?, 'x', 'y', 1, 'utf-8', ',', ?, 1, 1, 0, 1, 1, now())",
        [load_id, path, state],
    )


def with_check(log: Log, load_id: int | None, says: str, is_met: bool, unexpected: int = 0) -> None:
    log.con.execute(
        "insert into ledger.checks values (?, ?, 'reps', ?, ?, ?)",
        [load_id, says, is_met, unexpected, unexpected / 100],
    )


def test_contradicting_entries_are_listed_with_file_and_line_newest_first(log: Log) -> None:
    log.set(day(0), "bench press", 80.0, 8, rir=2.0, rpe=9.5, load_id=1)
    log.set(day(1), "back squat", 100.0, 5, rir=1.0, to_failure=True, load_id=1)
    log.set(day(1), "back squat", 100.0, 5, rir=1.0, client_id="kofi", rpe=6.0, load_id=1)
    with_version(log, 1, "exports/log.csv")
    log.build(day(1))
    blocks = disagreement_blocks(read_client_data(log.con, INES, day(1)))
    assert cells(blocks) == [
        (
            "back squat",
            formats.day(day(1)),
            "1 in reserve and to failure or beyond",
            "1 in reserve",
            texts.place("exports/log.csv", 3),
        ),
        (
            "bench press",
            formats.day(day(0)),
            "2 in reserve and RPE 9.5",
            "2 in reserve",
            texts.place("exports/log.csv", 2),
        ),
    ]


def test_without_a_contradiction_nothing_is_said(log: Log) -> None:
    log.set(MONDAY, "bench press", 80.0, 8, rir=2.0, rpe=8.0)
    log.build(MONDAY)
    assert disagreement_blocks(read_client_data(log.con, INES, MONDAY)) == []


def test_a_long_list_is_cut_and_counted(log: Log) -> None:
    for _ in range(LISTED_MOST + 2):
        log.set(MONDAY, "bench press", 80.0, 8, rir=3.0, rpe=10.0)
    log.build(MONDAY)
    blocks = disagreement_blocks(read_client_data(log.con, INES, MONDAY))
    assert len(cells(blocks)) == LISTED_MOST
    assert passages(blocks)[-1].startswith("Two earlier ones not shown")


def test_a_kept_contract_is_one_sentence(log: Log) -> None:
    with_check(log, None, "A set has 1 to 100 repetitions.", is_met=True)
    assert passages(contract_blocks(log.con)) == [
        "The data contract holds: nothing expected of the ledger or of exports is broken."
    ]


def test_a_contract_that_was_not_asked_is_not_called_kept(log: Log) -> None:
    (said,) = passages(contract_blocks(log.con))
    assert "has not been asked yet" in said


def test_what_is_broken_is_told_with_its_export_and_its_rows(log: Log) -> None:
    with_version(log, 1, "exports/ines.csv")
    with_version(log, 2, "exports/kofi.csv")
    with_version(log, 3, "exports/ines.csv", state="replaced")
    with_check(log, None, "A set has 1 to 100 repetitions.", is_met=False, unexpected=3)
    with_check(log, 1, "The lines add up.", is_met=False, unexpected=1)
    with_check(log, 2, "The lines add up.", is_met=False, unexpected=2)
    with_check(log, 3, "The lines add up.", is_met=False, unexpected=4)
    assert cells(contract_blocks(log.con, [1])) == [
        ("A set has 1 to 100 repetitions.", notes.WHOLE_LEDGER, "3"),
        ("The lines add up.", "exports/ines.csv", "1"),
    ]
    assert len(cells(contract_blocks(log.con))) == 3


def test_an_unlisted_client_is_no_matter_of_a_page(log: Log) -> None:
    with_check(log, None, CLIENT_LISTED, is_met=False, unexpected=9)
    with_check(log, None, "A set has 1 to 100 repetitions.", is_met=True)
    assert len(contract_blocks(log.con)) == 1


def test_sessions_in_another_unit_are_asked_about_and_no_suspects_besides(log: Log) -> None:
    for place in range(10):
        load = 132.5 if place == 9 else 60.0
        log.set(day(3 * place), "bench press", load, 8)
        log.set(day(3 * place), "back squat", 80.0, 8)
    log.build(day(27))
    data = read_client_data(log.con, INES, day(27))
    assert cells(slip_blocks(data)) == [
        (
            "bench press",
            formats.day(day(27)),
            formats.day(day(27)),
            "1",
            "2.20 times those before",
            "pounds noted as kilograms",
            f"setledger client change ines --on {day(27)} --exercise 'bench press' "
            '"WHAT CHANGED"',
        )
    ]
    # the unlikely load is the same one: it is asked about once
    assert data.rows("select 1 from review.graded_sets where is_suspect and is_slip")
    assert data_notes.suspect_blocks(data) == []


def test_without_slips_nothing_is_asked(log: Log) -> None:
    log.set(day(0), "bench press", 60.0, 8)
    log.build(day(0))
    assert slip_blocks(read_client_data(log.con, INES, day(0))) == []

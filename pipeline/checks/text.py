"""The report of check as lines for a person and as JSON for a machine."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any

from pipeline import formats
from pipeline.checks.exercises import EXERCISES, Written
from pipeline.checks.remarks import Remark, Report, Severity

LISTED_MOST = 25
"""Remarks of one kind that are listed each for itself."""

_HEADINGS: dict[Severity, str] = {
    "wrong": "To be mended",
    "open": "Waiting for you",
    "note": "Good to know",
}


def as_lines(report: Report, written: Written | None, *, with_notes: bool = True) -> Iterator[str]:
    """The report for a person, the gravest first."""
    if written is not None:
        yield from _written_lines(written)
    for severity, heading in _HEADINGS.items():
        remarks = [each for each in report.remarks if each.severity == severity]
        if remarks and (with_notes or severity != "note"):
            yield heading
            yield from _grouped(remarks)
            yield ""
    if with_notes and report.verdicts:
        unmet = len({each.key for each in report.verdicts if not each.is_met} - {"client_listed"})
        asked = len({each.key for each in report.verdicts})
        held = f"all but {unmet} hold" if unmet else "all hold"
        yield (
            f"Data contract: {asked} expectations of {formats.count(report.sets, 'set')}, {held}."
        )
    if with_notes and not report.exit_code:
        yield "Nothing needs a person."


def _grouped(remarks: Sequence[Remark]) -> Iterator[str]:
    """A line a remark; what several have in common is said once, above them."""
    alike: dict[str, list[Remark]] = {}
    for each in remarks:
        alike.setdefault(each.group or f"{each.where}: {each.text}", []).append(each)
    for group, members in alike.items():
        first = members[0]
        if len(members) == 1 or not first.group:
            yield f"  {first.where}: {first.text}"
            continue
        yield f"  {group.format(f'{len(members):,}')}"
        yield from (f"    {each.item}" for each in members[:LISTED_MOST])
        if len(members) > LISTED_MOST:
            yield f"    and {len(members) - LISTED_MOST:,} more; --json lists them all"


def _written_lines(written: Written) -> Iterator[str]:
    if not written.mapped and not written.proposed:
        yield f"{EXERCISES}: nothing to write."
    if written.mapped:
        yield f"{EXERCISES}: these lines were added and count with the next run"
        yield from (f"  {line}" for line in written.mapped)
    if written.proposed:
        yield f"{EXERCISES}: these lines were added; take the # away from those that are right"
        yield from (f"  {line}" for line in written.proposed)
    yield ""


def as_json(report: Report, written: Written | None) -> dict[str, Any]:
    """The report for a machine."""
    return {
        "exit_code": report.exit_code,
        "remarks": [
            {key: value for key, value in asdict(each).items() if key not in ("group", "item")}
            for each in report.remarks
        ],
        "contract": [
            {
                "load_id": each.load_id,
                "expectation": each.expectation,
                "column_name": each.column_name,
                "is_met": each.is_met,
                "unexpected": each.unexpected,
                "share": each.share,
            }
            for each in report.verdicts
        ],
        "written": None if written is None else asdict(written),
    }

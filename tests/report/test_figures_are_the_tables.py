"""No figure on a page that the ledger does not have: each is looked up by the command it names."""

from __future__ import annotations

import re
import shlex
from collections import Counter
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest

from pipeline.pages.client_data import data_of
from pipeline.review.trace import value_of
from pipeline.units import from_kg

if TYPE_CHECKING:
    from tests.report.conftest import Room

_NUMBER = re.compile(r"(?:to )?[<>]?([+−]?[\d\u202f]+(?:\.(\d+))?)(?:–([\d.]+))?")
_WORDS = {"guide_high": 3}
"""Columns of which a cell shows another number first: "8–16" is guide_low and guide_high."""


_NO_NUMBERS = ("body_parts",)
"""Columns of words: a line of them may begin with a number of rest days."""


def shown(text: str, column: str) -> tuple[float, int] | None:
    """The number that a cell shows for a column, with its decimals."""
    found = _NUMBER.match(text)
    if found is None:
        return None
    digits = (found[_WORDS.get(column, 1)] or found[1]).replace("\u202f", "").replace("−", "-")
    return float(digits), len(digits.partition(".")[2])


def readings(value: float, units: str) -> list[float]:
    """What a page may show of a value: as it is, in per cent, in the client's unit."""
    return [value, 100 * value, from_kg(value, units)]


@pytest.mark.parametrize("client_id", ["ines", "odalys", "hanging", "gone"])
def test_each_number_is_that_of_the_table_it_names(room: Room, client_id: str) -> None:
    units = room.workspace.client(client_id).units
    compared: Counter[str] = Counter()
    pages = (room.page(client_id), room.evidence(client_id), room.years(client_id))
    for element in (element for page in pages for element in page.elements):
        if not element["title"].startswith("setledger trace") or element.tag != "td":
            continue
        words = shlex.split(element["title"])
        grain: dict[str, Any] = {
            option[2:].replace("-", "_"): value
            for option, value in zip(words[3::2], words[4::2], strict=True)
        }
        grain["client_id"] = grain.pop("client")
        _, table, column = words[2].split(".")
        value = value_of(room.con, table, column, grain)
        text = element.text.strip()
        number = None if column in _NO_NUMBERS else shown(text, column)
        if value is None:
            assert number is None, element
        if isinstance(value, str) or number is None:
            continue
        amount, decimals = number
        room_for = 0.5 * 10**-decimals + 1e-6
        assert any(abs(each - amount) <= room_for for each in readings(float(value), units)), (
            element["title"],
            text,
            value,
        )
        compared[words[2]] += 1
    assert sum(compared.values()) > {"ines": 800, "odalys": 200}.get(client_id, 20), compared


@pytest.mark.parametrize("client_id", ["ines", "odalys", "three", "hanging", "gone"])
def test_what_pages_ask_of_the_last_weeks_is_what_the_views_say(room: Room, client_id: str) -> None:
    """The views go through the whole log; the pages' own queries through its last weeks only."""
    data = data_of(room.con, room.workspace, client_id)
    last_on, first_on = data.covered_on, data.covered_on - timedelta(days=83)
    shown = data.answer("rhythm", first_on=first_on, last_on=last_on)
    said = data.rows(
        "select day, trained, body_parts, rest_days_7d, hard_sets from review.rhythm"
        " where client_id = ? and day between ? and ? order by day",
        client_id,
        first_on,
        last_on,
    )
    assert shown == said and said
    shown = data.answer("muscle_weeks", last_on=last_on, weeks=26)
    said = data.rows(
        "select muscle, day, fractional_sets_7d, hits_7d from review.rolling_week"
        " where client_id = ? and (?::date - day) % 7 = 0 and day > ?::date - 182 and day <= ?"
        " order by muscle, day",
        client_id,
        *[last_on] * 3,
    )
    assert shown == said and said

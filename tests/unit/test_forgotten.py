"""Who was forgotten, told from digests: spellings in any case, and nobody else."""

from __future__ import annotations

import pytest

from pipeline.ledger.forgotten import Forgotten, digests_of

FORGET = {
    "event": "forget",
    "salt": "aa",
    "who": sorted(digests_of("aa", ("ines", "Ines Duarte"))),
    "contents": ["c1"],
}


@pytest.mark.parametrize("spelling", ["ines", "INES", " Ines ", "Ines  duarte", "ines-duarte"])
def test_spellings_of_a_forgotten_client_are_known_again(spelling: str) -> None:
    assert Forgotten.of([FORGET]).has(spelling)


@pytest.mark.parametrize("spelling", [None, "", "inés d.", "Ines Duarte-Lima", "duarte", "kofi"])
def test_others_are_not_taken_for_the_client(spelling: str | None) -> None:
    assert not Forgotten.of([FORGET]).has(spelling)


def test_the_digests_hold_no_spelling_and_differ_by_salt() -> None:
    assert "ines" not in " ".join(FORGET["who"])
    assert not digests_of("aa", ("ines",)) & digests_of("bb", ("ines",))


def test_contents_are_passed_over_until_the_client_is_let_in_again() -> None:
    events = [FORGET, {"event": "passed_over", "sha256": "c2"}]
    assert Forgotten.of(events).passed_over == {"c1", "c2"}
    again = Forgotten.of([*events, {"event": "readmit", "salt": "aa"}])
    assert (bool(again), again.passed_over, again.has("ines")) == (False, set(), False)

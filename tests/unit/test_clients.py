"""Whose line it is."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.names.clients import SOLE_CLIENT, ClientIndex, slug

INES = ("ines", "Ines Duarte", ["Ines D."])


@pytest.mark.parametrize(
    ("spelling", "client_id"),
    [
        ("Inês  Duarte", "ines-duarte"),
        ("MÜLLER, Jürgen", "muller-jurgen"),
        ("Łukasz Śliwa", "lukasz-sliwa"),
        ("Straße 3", "strasse-3"),
        ("田中", "u7530-u4e2d"),
        ("🙂", "u1f642"),
    ],
)
def test_an_id_is_plain_ascii(spelling: str, client_id: str) -> None:
    assert slug(spelling) == client_id


@given(st.text(min_size=1))
def test_every_spelling_has_an_id(spelling: str) -> None:
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", slug(spelling))


def test_id_name_and_alias_are_known_whatever_their_case_and_spaces() -> None:
    spellings = ["INES", "ines duarte", "Ines  D."]
    assert ClientIndex.of([INES]).resolve(spellings).ids == dict.fromkeys(spellings, "ines")


def test_an_unlisted_spelling_gives_its_slug() -> None:
    found = ClientIndex.of([INES]).resolve(["Kofi A.", "KOFI A."])
    assert (found.ids, found.ambiguous) == ({"Kofi A.": "kofi-a", "KOFI A.": "kofi-a"}, {})


def test_two_spellings_with_one_slug_are_not_taken() -> None:
    found = ClientIndex().resolve(["Jose Lima", "José Lima"])
    assert found.ids == {}
    assert set(found.ambiguous) == {"Jose Lima", "José Lima"}
    assert "aliases" in found.ambiguous["Jose Lima"]


def test_an_alias_settles_two_spellings() -> None:
    index = ClientIndex.of([("jose", None, ["Jose Lima", "José Lima"])])
    assert index.resolve(["Jose Lima", "José Lima"]).ids == {
        "Jose Lima": "jose",
        "José Lima": "jose",
    }


def test_a_spelling_that_slugs_to_a_configured_id_needs_an_alias() -> None:
    found = ClientIndex.of([INES]).resolve(["Inês"])
    assert (found.ids, list(found.ambiguous)) == ({}, ["Inês"])


def test_the_spelling_known_from_before_keeps_its_id() -> None:
    found = ClientIndex.of([], {"jose-lima": "Jose Lima"}).resolve(["José Lima", "jose lima"])
    assert (found.ids, list(found.ambiguous)) == ({"jose lima": "jose-lima"}, ["José Lima"])


def test_without_a_client_field_the_sets_belong_to_the_only_client() -> None:
    assert ClientIndex.of([INES]).sole == "ines"
    assert ClientIndex.of([INES, ("kofi", None, [])]).sole == SOLE_CLIENT == "lifter"
    assert ClientIndex().sole == "lifter"

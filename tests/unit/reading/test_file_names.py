"""The client's name in a file's name."""

from __future__ import annotations

import unicodedata

import pytest

from pipeline.reading.file_names import name_in, shared_words


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("exports/mara.csv", "mara"),
        ("exports/mara-2026-03.csv", "mara"),
        ("exports/Jürgen Groß März 2026.csv", "Jürgen Groß"),
        ("exports/training_log_tomas_reis_v2.csv", "tomas reis"),
        ("exports/tomas-reis-2026-03-final (1).csv", "tomas-reis"),
        ("exports/Anna-Lena Berg, Trainingstagebuch KW 12.csv", "Anna-Lena Berg"),
        ("exports/Kopie von Mara.csv", "Mara"),
        ("exports/Piet van Dam.csv", "Piet van Dam"),
        ("exports/O'Hara workouts Q1.csv", "O'Hara"),
        ("exports/20260314.csv", ""),
        ("exports/training-log-2026.csv", ""),
        ("exports/Juni 2026 - copy.csv", ""),
    ],
)
def test_dates_numbers_and_words_for_a_log_are_no_part_of_a_name(path: str, name: str) -> None:
    assert name_in(path) == name


def test_a_name_of_decomposed_letters_is_the_same_name() -> None:
    assert name_in(unicodedata.normalize("NFD", "exports/Jürgen.csv")) == "Jürgen"


def test_words_that_the_mapping_names_are_left_out_whatever_their_case() -> None:
    assert name_in("exports/Mara Harbour Lane 3.csv", ("harbour", "lane")) == "Mara"


@pytest.mark.parametrize(
    ("paths", "shared"),
    [
        (["mara harbour 1.csv", "tomas harbour 1.csv"], ("harbour",)),
        (["mara harbour 1.csv", "mara harbour 2.csv"], ()),
        (["harbour.csv", "mara harbour.csv"], ()),
        (["mara.csv", "tomas.csv"], ()),
        (["mara.csv"], ()),
    ],
)
def test_shared_words_are_dropped_only_where_different_names_stay(
    paths: list[str], shared: tuple[str, ...]
) -> None:
    assert shared_words(paths) == shared

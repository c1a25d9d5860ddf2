"""Sets in one cell: the grammar in `pipeline.reading.set_notation`, read by hand."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.reading.noted_sets import SETS_MAX, SMALL, NotationError, NotedSet
from pipeline.reading.set_notation import CELL_MAX, _cut, _plain, parse, parse_column
from tests.conftest import examples


def written_sets(sets: Iterable[NotedSet]) -> str:
    """Sets as one cell that parses to equal sets; an extension follows the set it extends.

    Raises ValueError if the first set is an extension.
    """
    text = ""
    for each in sets:
        if each.kind == "extension" and not text:
            raise ValueError("an extension needs a set before it")
        text += " > " if each.kind == "extension" else ", " if text else ""
        text += written(each)
    return text


def written(each: NotedSet) -> str:
    unit = f" {each.unit}" if each.unit else ""
    if each.load is None:
        weight = "bw"
    elif each.basis:
        weight = f"bw{'+' if each.basis == 'added' else '-'}{number(each.load)}{unit}"
    else:
        weight = f"{number(each.load, as_load=not unit)}{unit}"
    words = [f"{'w ' if each.kind == 'warmup' else ''}{weight} x {each.reps}"]
    if each.partial_reps is not None:
        words.append(f"+{each.partial_reps}")
    if each.rir is not None:
        words.append(f"rir {number(each.rir)}" if each.rir > SMALL else f"@{number(each.rir)}")
    if each.rpe is not None:
        words.append(f"rpe {number(each.rpe)}")
    if each.to_failure:
        words.append("F")
    return " ".join(words)


def number(value: float, as_load: bool = False) -> str:
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return f"{text}.0" if as_load and "." not in text and value <= SETS_MAX else text


def loads(cell: str) -> list[tuple[float | None, int]]:
    read = parse(cell)
    assert not isinstance(read, NotationError), read
    return [(each.load, each.reps) for each in read]


@pytest.mark.parametrize(
    ("cell", "sets"),
    [
        ("80x8", [(80, 8)]),
        ("80 x 8", [(80, 8)]),
        ("80×8", [(80, 8)]),
        ("80 X 8", [(80, 8)]),
        ("80*8", [(80, 8)]),
        ("80x8, 80x8, 75x10", [(80, 8), (80, 8), (75, 10)]),
        ("80x8;75x10", [(80, 8), (75, 10)]),
        ("80x8/75x10", [(80, 8), (75, 10)]),
        ("80x8 | 75x10", [(80, 8), (75, 10)]),
        ("80x8\n75x10", [(80, 8), (75, 10)]),
        ("80x8 and 75x10", [(80, 8), (75, 10)]),
        ("80x8 75x10", [(80, 8), (75, 10)]),
        ("80x8,", [(80, 8)]),
        ("82.5x8", [(82.5, 8)]),
        ("82,5x8", [(82.5, 8)]),
        ("82,5x8,80x8", [(82.5, 8), (80, 8)]),
        ("80x8,82,5x8", [(80, 8), (82.5, 8)]),
        ("80x8,8,7", [(80, 8), (80, 8), (80, 7)]),
        ("80x8/8/7", [(80, 8), (80, 8), (80, 7)]),
        ("3x8@80", [(80, 8)] * 3),
        ("3x8@82,5", [(82.5, 8)] * 3),
        ("3 x 8 @ 5kg", [(5, 8)] * 3),
        ("8,8,7 @ 80kg", [(80, 8), (80, 8), (80, 7)]),
        ("12, 10, 8 @ 80", [(80, 12), (80, 10), (80, 8)]),
        ("bw x 12", [(None, 12)]),
        ("5kg x 12", [(5, 12)]),
        ("10x12, 60x8", [(10, 12), (60, 8)]),
    ],
)
def test_loads_and_reps(cell: str, sets: list[tuple[float | None, int]]) -> None:
    assert loads(cell) == sets


@pytest.mark.parametrize(
    ("cell", "noted"),
    [
        ("80x8@1", NotedSet(80, 8, rir=1)),
        ("80 x 8 @ 1,5", NotedSet(80, 8, rir=1.5)),
        ("80x8 @RPE8", NotedSet(80, 8, rpe=8)),
        ("80x8 rir 2", NotedSet(80, 8, rir=2)),
        ("80x8 F", NotedSet(80, 8, to_failure=True)),
        ("80x8 AMRAP", NotedSet(80, 8, to_failure=True)),
        ("80x8+3", NotedSet(80, 8, partial_reps=3)),
        ("175lbs x 5", NotedSet(175, 5, unit="lb")),
        ("80kg x 5", NotedSet(80, 5, unit="kg")),
        ("+20x5", NotedSet(20, 5, basis="added")),
        ("bw+20kg x 5", NotedSet(20, 5, unit="kg", basis="added")),
        ("-15x8", NotedSet(15, 8, basis="assisted")),
        ("−15x8", NotedSet(15, 8, basis="assisted")),
        ("w 40x10", NotedSet(40, 10, kind="warmup")),
        ("warm-up 40x10", NotedSet(40, 10, kind="warmup")),
    ],
)
def test_what_may_stand_with_a_set(cell: str, noted: NotedSet) -> None:
    assert parse(cell) == (noted,)


@pytest.mark.parametrize(
    ("cell", "sets"),
    [
        ("8 x 80kg", (NotedSet(80, 8, unit="kg"),)),
        ("8 x 82,5 kg", (NotedSet(82.5, 8, unit="kg"),)),
        ("8x175 lbs @2", (NotedSet(175, 8, unit="lb", rir=2),)),
        ("8 x 80kg F", (NotedSet(80, 8, unit="kg", to_failure=True),)),
        ("3x8x80kg", (NotedSet(80, 8, unit="kg"),) * 3),
        ("3 x 8 x 80 kg rir 1", (NotedSet(80, 8, unit="kg", rir=1),) * 3),
        ("8 x 80kg, 7 x 80kg", (NotedSet(80, 8, unit="kg"), NotedSet(80, 7, unit="kg"))),
    ],
)
def test_a_load_with_its_unit_may_stand_last(cell: str, sets: tuple[NotedSet, ...]) -> None:
    assert parse(cell) == sets


@pytest.mark.parametrize("cell", ["21x8x80kg", "80kg x 8 x 3", "3x8x2x80kg", "8 x kg"])
def test_other_orders_of_three_numbers_are_refused(cell: str) -> None:
    assert isinstance(parse(cell), NotationError)


@pytest.mark.parametrize(
    ("cell", "sets"),
    [
        ("80x10-9-8", [(80, 10), (80, 9), (80, 8)]),
        ("80x10 9 8", [(80, 10), (80, 9), (80, 8)]),
        ("80x10-9", [(80, 10), (80, 9)]),
        ("80: 10 9 8", [(80, 10), (80, 9), (80, 8)]),
        ("80: 10 9, 82,5: 8", [(80, 10), (80, 9), (82.5, 8)]),
        ("80kg - 10/9/8", [(80, 10), (80, 9), (80, 8)]),
        ("80 kg 10, 9; 85 kg 6", [(80, 10), (80, 9), (85, 6)]),
        ("10-9-8 (82,5 kg)", [(82.5, 10), (82.5, 9), (82.5, 8)]),
        ("10/9/8 à 80 kg", [(80, 10), (80, 9), (80, 8)]),
        ("10 9 8 @ BW", [(None, 10), (None, 9), (None, 8)]),
        ("2x10 80kg + 1x8 80kg", [(80, 10), (80, 10), (80, 8)]),
        ("3 x 10 mit 80 kg", [(80, 10)] * 3),
        ("BW 12, 10", [(None, 12), (None, 10)]),
    ],
)
def test_one_load_may_stand_before_or_after_its_reps(
    cell: str, sets: list[tuple[float | None, int]]
) -> None:
    assert loads(cell) == sets


@pytest.mark.parametrize(
    "word",
    ["BW", "own weight", "KG", "Körpergewicht", "PDC", "P.D.C.", "poids du corps", "PC", "PdC",
     "peso corporal", "p. corporal", "peso do corpo", "CL", "a corpo libero", "LG",
     "eigen gewicht"],
)  # fmt: skip
def test_own_weight_has_a_word_in_seven_languages(word: str) -> None:
    assert parse(f"{word} x 9, {word}x8") == (NotedSet(None, 9), NotedSet(None, 8))
    assert parse(f"{word}+10kg x 6") == (NotedSet(10, 6, "kg", "added"),)
    assert parse(f"{word} - 15 x 8") == (NotedSet(15, 8, None, "assisted"),)


@pytest.mark.parametrize(
    ("cell", "noted"),
    [
        ("éch. 40x8", NotedSet(40, 8, kind="warmup")),
        ("cal 40 x 8", NotedSet(40, 8, kind="warmup")),
        ("w40x8", NotedSet(40, 8, kind="warmup")),
        ("40x8 (warm-up)", NotedSet(40, 8, kind="warmup")),
        ("top 100x3", NotedSet(100, 3)),
        ("80x8 échec", NotedSet(80, 8, to_failure=True)),
        ("80x8 a cedimento", NotedSet(80, 8, to_failure=True)),
        ("80x8 (RPE 8,5)", NotedSet(80, 8, rpe=8.5)),
        ("80x8 2 RIR", NotedSet(80, 8, rir=2)),
        ("80 kg x 8 Wdh", NotedSet(80, 8, unit="kg")),
    ],
)
def test_marks_of_other_languages(cell: str, noted: NotedSet) -> None:
    assert parse(cell) == (noted,)


@pytest.mark.parametrize("drop", ["165x8,7,6 > 135x8", "165x8,7,6 → 135x8", "165x8/7/6 -> 135x8"])
def test_a_drop_may_follow_several_reps_of_one_load(drop: str) -> None:
    sets = parse(drop)
    assert sets == (*(NotedSet(165, reps) for reps in (8, 7, 6)),
                    NotedSet(135, 8, kind="extension"))  # fmt: skip


@pytest.mark.parametrize(
    "cell",
    ["1:30", "0:45, 1:00", "18:05", "80x8-10", "bw 82", "KG: 82", "80x8 3", "80x8 3-1-1",
     "80x8 3 90", "80x10 9-8", "80kg 3x8", "8 x 80 kg x 10", "(45x8), 92,5 x 8",
     "80x8 (2)", "Satz 1: 8", "1: 80x8", "80 - 10/9/8", "2026-03-02", "80x8 failed"],
)  # fmt: skip
def test_clocks_ranges_weigh_ins_and_riddles_are_no_sets(cell: str) -> None:
    assert isinstance(parse(cell), NotationError)


def test_drops_are_extensions_of_the_set_before() -> None:
    assert parse("80x8 > 60x6 > 40x8 F") == (
        NotedSet(80, 8),
        NotedSet(60, 6, kind="extension"),
        NotedSet(40, 8, to_failure=True, kind="extension"),
    )


def test_effort_words_hold_for_each_of_several_sets() -> None:
    assert parse("3x8@80 rir 2") == (NotedSet(80, 8, rir=2),) * 3


@pytest.mark.parametrize(
    ("cell", "because"),
    [
        ("", "lists no set"),
        ("what", "'what' is no set"),
        ("80x8, what", "'what' is no set"),
        ("80x", "is no set"),
        ("80xAMRAP", "is no set"),
        ("12, 10", "is no set"),
        ("3x8x80", "is no set"),
        ("80x8.5", "is no set"),
        ("1,250x3", "is no set"),
        ("80x8 - 75x8", "is no set"),
        ("3x8", "3 as load or 3 sets"),
        ("3x8@5", "3 sets at a load of 5, or a load of 3 with 5 in reserve"),
        ("80x8@12", "too much for reps in reserve"),
        ("80x8, 3x8@5, 3x8@100", "could be"),
        ("3x8,8,7", "could be"),
    ],
)
def test_what_is_not_clear_is_refused_whole(cell: str, because: str) -> None:
    read = parse(cell)
    assert isinstance(read, NotationError)
    assert because in read.reason


def test_the_column_settles_what_a_cell_leaves_open() -> None:
    read = parse_column(["80x8@1", "5x10@2", "8x12"])
    assert read["5x10@2"] == (NotedSet(5, 10, rir=2),)
    assert read["8x12"] == (NotedSet(8, 12),)
    assert parse_column(["3x8@80", "5x10@8"])["5x10@8"] == (NotedSet(8, 10),) * 5


def test_a_column_of_both_styles_settles_nothing() -> None:
    assert isinstance(parse_column(["80x8@1", "3x8@80", "5x10@8"])["5x10@8"], NotationError)


def test_bodyweight_and_signs_settle_nothing() -> None:
    assert isinstance(parse_column(["bw x 12", "+20x5", "3x8"])["3x8"], NotationError)


NUMBERS = st.integers(0, 9999).map(lambda n: n / 4)
SETS = st.builds(
    NotedSet,
    load=NUMBERS,
    reps=st.integers(1, 999),
    unit=st.sampled_from([None, "kg", "lb"]),
    basis=st.sampled_from([None, "added", "assisted"]),
    partial_reps=st.none() | st.integers(0, 50),
    rir=st.none() | st.integers(0, 40).map(lambda n: n / 2),
    rpe=st.none() | st.integers(2, 20).map(lambda n: n / 2),
    to_failure=st.sampled_from([None, True]),
    kind=st.sampled_from(["work", "warmup", "extension"]),
) | st.builds(NotedSet, load=st.none(), reps=st.integers(1, 99))


@given(st.lists(SETS, min_size=1, max_size=8).filter(lambda sets: sets[0].kind != "extension"))
@settings(max_examples=examples(400), deadline=None)
def test_what_is_printed_parses_to_equal_sets(sets: list[NotedSet]) -> None:
    assert parse(written_sets(sets)) == tuple(sets)


def test_an_extension_alone_cannot_be_printed() -> None:
    with pytest.raises(ValueError, match="set before it"):
        written_sets([NotedSet(60, 8, kind="extension")])


@given(
    st.text(max_size=60)
    | st.text(alphabet="0123456789x@,;/ +->.kglbwfrie\n", max_size=40)
    | st.lists(
        st.sampled_from(
            ["80", "x", "8", "@", ",", " ", "3", "kg", "1,5", "+", ">", "bw", "F", "x 80kg"]
        ),
        max_size=25,
    ).map("".join)
)
@settings(max_examples=examples(600), deadline=None)
def test_any_text_is_read_or_refused_and_what_is_read_prints_and_parses_again(text: str) -> None:
    read = parse(text)
    if isinstance(read, NotationError):
        assert read.reason
        return
    assert read
    if read[0].kind != "extension":
        assert parse(written_sets(read)) == read


@given(
    st.lists(
        st.sampled_from(
            [
                "80x8",
                "75x10@1",
                "8",
                "82,5x8",
                "3x8@80",
                "8 @ 75kg",
                "bw x 12",
                "80x8,8",
                "5",
                "",
                "8 x 80kg",
            ]
        ),
        min_size=1,
        max_size=5,
    ),
    st.sampled_from([", ", "; ", "\n", ","]),
)
@settings(max_examples=examples(300), deadline=None)
def test_cutting_at_clear_separators_first_changes_no_reading(
    parts: list[str], separator: str
) -> None:
    from pipeline.reading.set_notation import _items

    cell = separator.join(parts)
    assert _items(cell) == _cut(_plain(cell))


@pytest.mark.parametrize(
    "cell",
    [
        "1," * 5000,
        "1x1>" * 400,
        "80x8," * 399 + "80x8",
        "1x1@1,1>" * 240,
        "(" * 3000,
        "\ufdfa" * 1999,
    ],
)
def test_hostile_cells_end_quickly(cell: str) -> None:
    parse(cell)


def test_a_cell_longer_than_any_list_of_sets_is_refused() -> None:
    read = parse("80x8, " * CELL_MAX)
    assert isinstance(read, NotationError)
    assert str(CELL_MAX) in read.reason

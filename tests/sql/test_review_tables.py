"""What every table of schema review promises: its header, its grain, and finite numbers."""

from __future__ import annotations

import random

import pytest

from pipeline.review.model_files import Model, find_models
from pipeline.settings.workspace import Client, Phase
from tests.conftest import Log, day

REVIEW = [model for model in find_models() if model.is_review]
EXERCISES = (
    "bench press",
    "back squat",
    "barbell row",
    "dumbbell bench press",
    "pull-up",
    "assisted pull-up",
    "plank",
    "pec deck",
    "zzz machine thing",
)


@pytest.fixture(scope="module")
def mixed() -> Log:
    """Two clients, 200 days, each trap of an export: no load, no reps, slips, sides, extensions."""
    chance = random.Random(7)
    log = Log()
    log.bodyweight(80.0, day(20))
    log.bodyweight(82.0, day(90))
    for client in ("ines", "kofi"):
        for offset in sorted(chance.sample(range(200), 90)):
            for exercise in chance.sample(EXERCISES, 3):
                for nth in range(chance.randint(1, 5)):
                    load = chance.choice([None, 0.0, 40.0, 60.0, 62.5, 600.0])
                    log.set(
                        day(offset),
                        exercise,
                        load,
                        chance.randint(0, 32),
                        client_id=client,
                        rir=chance.choice([None, 0.0, 1.5, 4.0, 9.0]),
                        rpe=chance.choice([None, None, 7.0, 10.0]),
                        to_failure=chance.choice([None, True, False]),
                        partial_reps=chance.choice([None, None, 2]),
                        side=chance.choice([None, None, None, "left", "right"]),
                        set_no=chance.choice([None, nth + 1]),
                        set_kind=chance.choice(["work", "work", "work", "warmup", "extension"]),
                    )
    phases = (Phase("deload", day(180), day(186)), Phase("cut", day(100), None))
    return log.build(day(205), clients=[Client(id="ines", name="Ines", phases=phases)]).make()


@pytest.mark.parametrize("model", REVIEW, ids=lambda model: model.name)
def test_the_header_names_the_columns_in_their_order(mixed: Log, model: Model) -> None:
    columns = [row[0] for row in mixed.ask(f"describe {model.table}")]
    assert list(model.columns) == columns
    assert model.meaning


@pytest.mark.parametrize("model", REVIEW, ids=lambda model: model.name)
def test_the_grain_is_unique_and_complete(mixed: Log, model: Model) -> None:
    grain = ", ".join(model.grain)
    assert set(model.grain) <= set(model.columns)
    assert (
        mixed.ask(f"select {grain}, count(*) from {model.table} group by all having count(*) > 1")
        == []
    )
    missing = " or ".join(f"{column} is null" for column in model.grain)
    assert mixed.one(f"select count(*) from {model.table} where {missing}") == 0


@pytest.mark.parametrize("model", REVIEW, ids=lambda model: model.name)
def test_no_number_is_infinite_or_not_a_number(mixed: Log, model: Model) -> None:
    doubles = [
        name
        for name, kind, *_ in mixed.ask(f"describe {model.table}")
        if kind in ("DOUBLE", "FLOAT")
    ]
    for column in doubles:
        assert mixed.one(f"select count(*) from {model.table} where not isfinite({column})") == 0, (
            column
        )


@pytest.mark.parametrize("model", REVIEW, ids=lambda model: model.name)
def test_no_column_has_a_type_of_the_build_alone(mixed: Log, model: Model) -> None:
    kinds = [row[1] for row in mixed.ask(f"describe {model.table}")]
    assert [kind for kind in kinds if kind.startswith("ENUM")] == []


@pytest.mark.parametrize("model", REVIEW, ids=lambda model: model.name)
def test_every_column_has_its_meaning_in_the_database(mixed: Log, model: Model) -> None:
    without = mixed.ask(
        "select column_name from duckdb_columns() where schema_name = 'review'"
        f" and table_name = '{model.name}' and comment is null"
    )
    assert without == []


def test_every_current_set_has_one_graded_row(mixed: Log) -> None:
    assert (
        mixed.ask(
            "select set_id from ledger.current_sets"
            " where performed_on <= (select as_of from review.run)"
            " except all select set_id from review.graded_sets"
        )
        == []
    )
    assert mixed.one("select count(*) from review.graded_sets") == mixed.one(
        "select count(*) from ledger.current_sets"
    )


def test_hard_sets_are_the_same_in_every_table(mixed: Log) -> None:
    """One figure, one number: sets, sessions, muscles and days agree."""
    assert (
        mixed.ask(
            "select client_id, exercise, performed_on, count(*) from review.graded_sets"
            " where is_hard group by all except all"
            " select client_id, exercise, day, hard_sets from review.lift_session"
        )
        == []
    )
    assert (
        mixed.ask(
            "select graded.client_id, muscles.muscle, performed_on, sum(weight)"
            " from review.graded_sets as graded"
            " join review.exercise_muscles as muscles using (exercise) where is_hard group by all"
            " except all select client_id, muscle, day, fractional_sets from review.muscle_day"
        )
        == []
    )
    assert (
        mixed.ask(
            "select client_id, performed_on, count(*) from review.graded_sets where is_hard"
            " group by all except all select client_id, day, hard_sets from review.rhythm"
        )
        == []
    )


def test_two_builds_are_equal_to_the_last_bit(mixed: Log) -> None:
    def contents() -> dict[str, list[tuple[object, ...]]]:
        return {
            model.name: mixed.ask(f"select * from {model.table} order by all") for model in REVIEW
        }

    before = contents()
    mixed.build(
        day(205),
        clients=[
            Client(
                id="ines",
                name="Ines",
                phases=(Phase("deload", day(180), day(186)), Phase("cut", day(100), None)),
            )
        ],
    ).make()
    assert contents() == before


def test_a_build_of_one_client_equals_that_of_all(mixed: Log) -> None:
    from pipeline.review.build import build_models
    from pipeline.review.inputs import BuildInputs
    from pipeline.settings.rules import Rules

    before = {
        model.name: mixed.ask(f"select * from {model.table} order by all") for model in REVIEW
    }
    phases = (Phase("deload", day(180), day(186)), Phase("cut", day(100), None))
    inputs = BuildInputs(
        as_of=day(205),
        rules=Rules(),
        clients=(Client(id="ines", name="Ines", phases=phases),),
        catalogue=mixed.catalogue,
        tool_version="test",
    )
    build_models(mixed.con, inputs, scope=["kofi"])
    for model in REVIEW:
        assert mixed.ask(f"select * from {model.table} order by all") == before[model.name]


def test_an_empty_ledger_builds(log: Log) -> None:
    log.build(day(0)).make()
    for model in REVIEW:
        if "client_id" in model.grain or model.name == "graded_sets":
            assert log.one(f"select count(*) from {model.table}") == 0, model.name

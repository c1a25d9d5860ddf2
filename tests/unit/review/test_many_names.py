"""Twenty thousand distinct exercise names are resolved and stand in the ledger within seconds."""

from __future__ import annotations

import itertools
import time
from datetime import date

from pipeline.names.exercises_file import load_catalogue
from pipeline.review.inputs import BuildInputs, resolve_names
from pipeline.settings.rules import Rules
from tests.conftest import Log

SYLLABLES = ("ba", "be", "ko", "lu", "mi", "ra", "sto", "tre", "win", "zan", "pul", "row", "cur")


def test_twenty_thousand_names_take_seconds(log: Log) -> None:
    words = ["".join(each) for each in itertools.product(SYLLABLES, repeat=3)]
    invented = (f"{one} {other}" for one, other in itertools.product(words, words[::200]))
    names = [*itertools.islice(invented, 20_000), "Bench Press", "deadlitf"]
    for name in names:
        log.set(date(2026, 6, 1), name, 60.0, 8)
    log.insert()
    inputs = BuildInputs(date(2026, 6, 1), Rules(), (), load_catalogue(), "test")

    start = time.process_time()  # not the clock: other work on the machine is not ours
    resolve_names(log.con, inputs)
    assert time.process_time() - start < 8

    [(found,)] = log.con.execute("select count(*) from ledger.exercise_names").fetchall()
    assert found == len(names)
    told = dict(
        log.con.execute(
            "select exercise_raw, how from ledger.exercise_names"
            " where exercise_raw in ('Bench Press', 'deadlitf')"
        ).fetchall()
    )
    assert told == {"Bench Press": "catalogue", "deadlitf": "near"}

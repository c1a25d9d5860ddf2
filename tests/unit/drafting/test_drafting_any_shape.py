"""Any log in any shape is read right, or a key stays open: never a wrong reading in silence."""

from __future__ import annotations

import importlib.util
import random
import re
import sys
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.drafting.draft import Draft
from pipeline.drafting.mapping_text import mapping_text
from pipeline.drafting.steps import draft_export
from pipeline.drafting.trial import try_mapping
from pipeline.names.exercises_file import load_catalogue
from pipeline.settings.rules import Rules
from tests.conftest import examples

_spec = importlib.util.spec_from_file_location("shapes", Path(__file__).with_name("shapes.py"))
assert _spec and _spec.loader
shapes: Any = importlib.util.module_from_spec(_spec)
sys.modules["shapes"] = shapes
_spec.loader.exec_module(shapes)

TOMORROW = date(2026, 6, 30)
CATALOGUE = load_catalogue()


def settled_by_truth(text: str, truth: dict[str, Any]) -> str:
    """The mapping with the right line of each open group taken, as the owner of the log would."""
    lines = []
    for line in text.split("\n"):
        match = re.fullmatch(r'#\? (\w+) = "(.*)"', line)
        if match and truth.get(match[1]) == match[2]:
            lines.append(line.removeprefix("#? "))
        else:
            lines.append(line)
    return "\n".join(lines)


def outcome(log: Any) -> tuple[str, Draft, str]:
    """hit, open (a key was left open, and chosen rightly) or wrong; with the draft and why."""
    found = draft_export(log.data, "theirs.csv", CATALOGUE, Rules(), TOMORROW)
    text = settled_by_truth(mapping_text(found, "theirs", "theirs.csv", log.data), log.truth)
    trial = try_mapping(text, "theirs.csv", log.data, None)
    if trial.loaded is None:
        return "wrong", found, f"{log.shape}\n{trial.trouble}\n{text}"
    sets = trial.loaded.sets
    if not log.shape["rir"]:
        assert sets["rir"].null_count() == sets.height
    got = sorted(
        sets.select("performed_on", "exercise_raw", "load_kg", "reps", "rir").rows(), key=str
    )
    got = [(day, lift, round(load, 3), reps, rir) for day, lift, load, reps, rir in got]
    if sorted(got, key=str) != sorted(log.sets, key=str):
        return "wrong", found, f"{log.shape}\n{got[:4]}\n{sorted(log.sets, key=str)[:4]}\n{text}"
    return ("open" if found.opens else "hit"), found, ""


@settings(max_examples=examples(150), deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])  # fmt: skip
@given(st.data())
def test_a_log_in_any_shape_is_read_right_or_a_key_stays_open(data: st.DataObject) -> None:
    log = shapes.rendered(lambda options: data.draw(st.sampled_from(list(options))))
    verdict, _, why = outcome(log)
    assert verdict != "wrong", why


def drawn(seed: int) -> Any:
    generator = random.Random(seed)
    return shapes.rendered(lambda options: generator.choice(list(options)))


@pytest.mark.slow
def test_most_shapes_need_no_person() -> None:
    # tests/README.md states the rates that this counts.
    verdicts = [outcome(drawn(seed))[0] for seed in range(1000)]
    assert verdicts.count("wrong") == 0
    assert verdicts.count("hit") >= 900

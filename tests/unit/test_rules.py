"""The thresholds as sql/seeds/rules.csv lists them, and the values that a run goes by."""

from __future__ import annotations

import re
from typing import get_type_hints

import pytest

from pipeline.settings.rules import Rules, all_rules


def test_every_rule_says_its_unit_its_meaning_and_what_it_rests_on() -> None:
    for name, rule in all_rules().items():
        assert re.fullmatch(r"[a-z0-9]+(_[a-z0-9]+)*", name)
        assert rule.unit and rule.meaning and rule.basis, name
        assert rule.default > 0, name


def test_no_rule_is_listed_twice() -> None:
    from pipeline.resources import resource

    lines = (resource("sql") / "seeds" / "rules.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 1 + len(all_rules())


def test_the_rules_that_python_reads_have_the_type_that_the_list_gives_them() -> None:
    declared = get_type_hints(Rules)
    assert declared
    for name, kind in declared.items():
        assert kind is (int if all_rules()[name].is_whole else float)
        assert type(getattr(Rules(), name)) is kind


def test_a_value_that_is_given_takes_the_place_of_the_default_and_no_other() -> None:
    usual, changed = Rules(), Rules(reps_max=60)
    assert (usual.reps_max, changed.reps_max) == (100, 60)
    assert changed != usual
    assert changed == Rules(reps_max=60)
    different = [a != b for a, b in zip(usual.values(), changed.values(), strict=True)]
    assert sum(different) == 1


def test_rules_are_not_changed_after_they_are_made_and_none_is_made_up() -> None:
    with pytest.raises(AttributeError, match="reps_max"):
        Rules().reps_max = 60
    with pytest.raises(TypeError, match="reps_maxx"):
        Rules(reps_maxx=60)

"""The thresholds as sql/seeds/rules.csv lists them, and the values that a run goes by."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_type_hints

import pytest

from pipeline.checks.workspace_files import retired
from pipeline.settings.rules import Rules, all_rules, retired_rules
from pipeline.settings.workspace_file import parse_workspace


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


FIRST_VERSION = [
    "set_aside_share",
    "taken_away_share",
    "reps_max",
    "load_max_kg",
    "rir_max",
    "fresh_days",
    "suspect_ratio",
    "suspect_repeat_share",
    "reference_days",
    "reference_min_sessions",
    "restart_days",
    "hard_rir",
    "effort_disagreement",
    "estimated_slack",
    "hard_reps_max",
    "estimated_reps_max",
    "warmup_share",
    "index_reps_max",
    "reserve_max",
    "level_change_share",
    "bodyweight_days",
    "indirect_weight",
    "guide_week_low",
    "guide_week_high",
    "guide_session_low",
    "guide_session_high",
    "rate_days",
    "usual_days",
    "standing_silent_days",
    "standing_gap_days",
    "unknown_share_max",
    "extended_share_max",
    "rest_day_sets",
    "rotation_days",
    "rotation_gap_days",
    "rotation_sessions_max",
    "rotation_days_min",
    "rotation_days_max",
    "rotation_min_pairs",
    "rotation_similarity",
    "rotation_slack",
    "effort_load_share",
    "fade_days",
    "fade_load_share",
    "fade_min_sessions",
    "trackable_weeks",
    "trackable_sessions",
    "trend_days",
    "trend_days_max",
    "trend_min_sessions",
    "trend_min_days",
    "expected_days",
    "expected_low_pct",
    "expected_high_pct",
    "expected_default_pct",
    "break_days",
    "long_break_days",
    "break_min_sessions",
    "curve_weeks",
    "curve_days",
    "curve_variances",
    "worthwhile_pct",
    "noise_low_pct",
    "clip_scales",
    "clip_sessions",
    "clip_scale_sessions",
    "easy_load_share",
    "reps_change",
    "reps_change_scales",
    "correlation_low",
    "correlation_sessions",
    "not_trained_days",
    "new_record_days",
    "light_share",
    "light_run_days",
    "silent_days",
    "assumed_share_max",
    "drop_share",
    "drop_lifts",
    "drop_parts",
    "drop_reps_slack",
    "return_days",
    "return_share",
    "attendance_share",
    "share_min_sets",
    "extension_share",
    "extension_compound_weight",
    "frequent_gap_days",
    "failure_share",
    "effort_recorded_share",
    "restless_days",
    "large_share",
    "late_output",
    "crammed_gap_days",
    "easy_rir",
    "easy_share",
    "easy_min_sets",
    "heavy_reps_max",
    "heavy_reps_to_failure",
    "volume_step",
    "trackable_share_min",
    "stall_apart_days",
    "false_alarm_share",
    "jump_ratio",
    "jump_sets",
    "working_share",
    "change_days",
    "change_history_days",
    "change_min_days",
    "change_min_sessions",
    "change_min_pairs",
    "change_spread",
]
"""Every rule that the first version knew."""


def test_a_rule_of_the_first_version_is_known_still_or_retired() -> None:
    known = all_rules()
    assert [
        name for name in FIRST_VERSION if name not in known and name not in retired_rules()
    ] == []
    assert not known.keys() & retired_rules().keys()
    assert set(retired_rules().values()) <= known.keys()


def test_a_retired_rule_is_read_and_does_nothing(tmp_path: Path) -> None:
    text = '[workspace]\nname = "Room"\n[rules]\nbreak_days = 40\nrate_days = 21\n'
    workspace = parse_workspace(text, tmp_path)
    assert workspace.retired == ("break_days",)
    assert workspace.rules == Rules(rate_days=21)
    (remark,) = retired(workspace)
    assert (remark.severity, remark.where) == ("note", "setledger.toml:4")
    assert "bend_weeks_low" in remark.text

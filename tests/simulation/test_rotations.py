"""Planted rotations are found, counted on few logs: the bounds catch a worse method.

`rotations.py` counts on many; its table is in tests/README.md. Seeds are fixed; bounds are the
table's shares less about two and a half standard errors of these sample sizes.
"""

from __future__ import annotations

import functools
import itertools

from rotations import Found, counted, judged, logs_of, without_rotation
from splits import PLANS

LOGS = 12
SEED = 11
CELLS = [
    (plan, kind, share)
    for plan in (*PLANS, None)
    for kind, share in (("none", 0.0), ("skipped", 0.15), ("postponed", 0.15), ("swapped", 0.05))
]


@functools.cache
def verdicts() -> dict[str, Found]:
    """Counts of all plans together, by what was done to them."""
    cells = [logs_of(plan, kind, share, LOGS, SEED) for plan, kind, share in CELLS]
    rows = judged(list(itertools.chain(*cells)))
    by_kind: dict[str, list[tuple[bool, bool] | None]] = {}
    for number, (_, kind, _) in enumerate(CELLS):
        by_kind.setdefault(kind, []).extend(rows[number * LOGS : (number + 1) * LOGS])
    return {kind: counted(each) for kind, each in by_kind.items()}


def test_a_rotation_kept_to_is_found_with_its_rest_days() -> None:
    counts = verdicts()["none"]
    assert counts.share(counts.right_rest) == 1.0


def test_a_rotation_with_every_seventh_session_skipped_or_postponed_is_found() -> None:
    for kind in ("skipped", "postponed"):
        counts = verdicts()[kind]
        assert counts.share(counts.right_length) >= 0.95, kind


def test_a_rotation_with_some_sessions_out_of_turn_is_found() -> None:
    counts = verdicts()["swapped"]
    assert counts.share(counts.right_length) >= 0.75


def test_what_is_called_a_rotation_has_the_right_length() -> None:
    found = sum(each.found for each in verdicts().values())
    assert sum(each.right_length for each in verdicts().values()) / found >= 0.96


def test_training_at_random_is_not_called_a_rotation() -> None:
    for logs in without_rotation(60, SEED):
        assert sum(row is not None for row in judged(logs)) <= 1

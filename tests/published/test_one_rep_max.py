"""Estimated one-repetition maxima against the published formulas, charts and an outside equation.

Epley B (1985), Poundage chart; Brzycki M (1993), JOPERD 64(1):88–90; Reynolds, Gordon & Robergs
(2006), J Strength Cond Res 20(3):584–592; the training load chart of the NSCA (Baechle & Earle).
Each expected value is printed there or follows from the formula by hand.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.conftest import MONDAY, Log

# 1RM from 100 kg by repetitions to failure; Epley's single is the load itself: our choice, for a
# logged single is its own 1RM (the formula gives 103.33)
EPLEY = {1: 100.0, 2: 106.67, 3: 110.0, 4: 113.33, 5: 116.67, 6: 120.0, 7: 123.33, 8: 126.67,
         9: 130.0, 10: 133.33, 12: 140.0}  # fmt: skip
BRZYCKI = {1: 100.0, 2: 102.86, 3: 105.88, 4: 109.09, 5: 112.5, 6: 116.13, 7: 120.0, 8: 124.14,
           9: 128.57, 10: 133.33, 12: 144.0}  # fmt: skip
CHART = {2: 95, 3: 93, 4: 90, 5: 87, 6: 85, 7: 83, 8: 80, 9: 77, 10: 75}
"""Percent of 1RM at a number of repetitions, NSCA training load chart, up to 10 repetitions."""


def estimates(log: Log, sets: list[tuple[float, int, float]]) -> list[tuple[float, float, float]]:
    """Epley, Brzycki and their mean for (load, reps, reps in reserve), each on its own client."""
    for number, (load, reps, rir) in enumerate(sets):
        log.set(MONDAY, "bench press", load, reps, rir=rir, client_id=f"c{number:03}")
    log.build(MONDAY)
    return log.ask(
        "select e1rm_epley, e1rm_brzycki, e1rm from review.graded_sets order by client_id"
    )


def test_both_formulas_give_the_published_table(log: Log) -> None:
    rows = estimates(log, [(100.0, reps, 0.0) for reps in EPLEY])
    assert [round(row[0], 2) for row in rows] == list(EPLEY.values())
    assert [round(row[1], 2) for row in rows] == list(BRZYCKI.values())


def test_the_formulas_agree_at_ten_repetitions_only(log: Log) -> None:
    """(1 + r/30)(37 − r) = 36 has the roots 10 and −3."""
    rows = estimates(log, [(100.0, reps, 0.0) for reps in range(2, 13)])
    signs = [(epley > brzycki) - (epley < brzycki) for epley, brzycki, _ in rows]
    assert signs == [1] * 8 + [0] + [-1] * 2


def test_both_stay_near_the_chart_up_to_ten_repetitions(log: Log) -> None:
    """Within 3.3 and 2.3 points of the chart's percentages."""
    rows = estimates(log, [(100.0, reps, 0.0) for reps in CHART])
    for (epley, brzycki, _), percent in zip(rows, CHART.values(), strict=True):
        assert abs(10000 / epley - percent) <= 3.3
        assert abs(10000 / brzycki - percent) <= 2.3


@pytest.mark.parametrize("reps", [13, 30, 36, 37, 40])
def test_no_estimate_from_more_than_twelve_repetitions(log: Log, reps: int) -> None:
    """Brzycki divides by zero at 37 and is negative beyond; validity falls long before."""
    assert estimates(log, [(100.0, reps, 0.0)]) == [(None, None, None)]


def test_the_five_repetition_equation_of_reynolds_lies_between(log: Log) -> None:
    """Chest press: 1RM = 1.1307 × 5RM + 0.6999 (Reynolds et al. 2006), 20 to 300 kg."""
    loads = [float(load) for load in range(20, 301, 5)]
    for load, (epley, brzycki, _) in zip(
        loads, estimates(log, [(load, 5, 0.0) for load in loads]), strict=True
    ):
        assert brzycki < 1.1307 * load + 0.6999 < epley


def test_the_mean_lies_between_the_two(log: Log) -> None:
    """Averaging two equations may reduce the error: Mayhew et al. 1995."""
    rows = estimates(log, [(82.5, reps, 0.0) for reps in range(1, 13)])
    for epley, brzycki, mean in rows:
        assert min(epley, brzycki) <= mean <= max(epley, brzycki)
        assert mean == pytest.approx((epley + brzycki) / 2, abs=1e-8)


def test_repetitions_in_reserve_count_like_repetitions_done(new_log: Callable[[], Log]) -> None:
    """e1RM(w, r, reserve k) = e1RM(w, r + k); 100 kg × 8 with 2 left is 133.33 by both."""
    pairs = [(reps, rir) for reps in range(1, 9) for rir in range(5)]
    with_reserve = estimates(new_log(), [(100.0, reps, float(rir)) for reps, rir in pairs])
    to_failure = estimates(new_log(), [(100.0, reps + rir, 0.0) for reps, rir in pairs])
    assert with_reserve == to_failure
    epley, brzycki, _ = with_reserve[pairs.index((8, 2))]
    assert (round(epley, 2), round(brzycki, 2)) == (133.33, 133.33)


def test_between_one_and_two_repetitions_epley_runs_straight(log: Log) -> None:
    """Our choice: from the load at 1 to its value at 2, so that half steps do not jump."""
    rows = estimates(log, [(90.0, 1, 0.0), (90.0, 1, 0.5), (90.0, 1, 1.0)])
    assert [row[0] for row in rows] == [90.0, 93.0, 96.0]


def test_the_estimate_commutes_with_the_unit(log: Log) -> None:
    """1 lb = 0.45359237 kg exactly; 225 lb × 5 by Epley is 262.5 lb."""
    pound = 0.45359237
    ((epley, brzycki, _),) = estimates(log, [(225 * pound, 5, 0.0)])
    assert epley / pound == pytest.approx(262.5, abs=1e-6)
    assert brzycki / pound == pytest.approx(253.125, abs=1e-6)


def test_more_load_or_more_repetitions_never_estimate_less(log: Log) -> None:
    rows = estimates(log, [(load, reps, 0.0) for load in (60.0, 61.0) for reps in range(1, 13)])
    lighter, heavier = rows[:12], rows[12:]
    for column in range(3):
        values = [row[column] for row in lighter]
        assert values == sorted(values)
        assert all(a[column] < b[column] for a, b in zip(lighter, heavier, strict=True))

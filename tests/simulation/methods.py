"""Methods that were tried for the stall detector, each cut at 5 % false alarms of its own.

    python tests/simulation/methods.py

Sessions are drawn as they would reach the detector (log index, two sessions a week, forty weeks);
each method gives one figure a lifter, the lower the worse, and is cut where it accuses 5 % of
lifters who gain 0.5 % a week. What is compared is what a method can see, apart from how its
threshold would be found in practice; that is measured by `measure.py` on the SQL that won.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Method = Callable[[Floats, Floats], Floats]
"""Weeks of the sessions (m,) and log values in % (lifters, m) to one figure a lifter."""

WEEKS = np.repeat(np.arange(40.0), 2) + np.tile([0.0, 0.5], 40)


def series(
    lifters: int,
    noise: float,
    flat_weeks: float,
    bad_days: float,
    rng: np.random.Generator,
    rate: float = 0.5,
) -> Floats:
    """Log index in %: `rate` % a week, then flat for the last weeks, with noise and bad days."""
    course = rate * np.minimum(WEEKS, WEEKS[-1] - flat_weeks)
    noisy = course + noise * rng.normal(size=(lifters, len(WEEKS)))
    return np.where(rng.random(noisy.shape) < bad_days, noisy - 12.0, noisy)


def slope_of(weeks: Floats, values: Floats, weights: Floats | None = None) -> tuple[Floats, Floats]:
    """Slope of a (weighted) least-squares line a lifter, and its standard error."""
    weight = np.ones_like(values) if weights is None else weights
    total = weight.sum(1, keepdims=True)
    x = weeks - (weight * weeks).sum(1, keepdims=True) / total
    y = values - (weight * values).sum(1, keepdims=True) / total
    sxx = (weight * x * x).sum(1)
    slope = (weight * x * y).sum(1) / sxx
    rest = (weight * (y - slope[:, None] * x) ** 2).sum(1)
    return slope, np.sqrt(rest / (total[:, 0] - 2) / sxx)


def bisquare(values: Floats) -> Floats:
    """Weights of Tukey's bisquare about a line through running medians."""
    centre = np.median(values, axis=1, keepdims=True)
    scale = np.maximum(1.4826 * np.median(np.abs(values - centre), axis=1, keepdims=True), 0.5)
    far = np.clip(np.abs(values - centre) / (4.685 * scale), 0, 1)
    return (1 - far**2) ** 2


def last(weeks: Floats, values: Floats, length: float, skip: float = 0.0) -> tuple[Floats, Floats]:
    """Sessions of the last `length` weeks before the last `skip`."""
    back = weeks[-1] - weeks
    kept = (back < length + skip) & (back >= skip)
    return weeks[kept], values[:, kept]


def slope_of_12_weeks(weeks: Floats, values: Floats) -> Floats:
    """Slope of the last 12 weeks."""
    return slope_of(*last(weeks, values, 12))[0]


def robust_slope(weeks: Floats, values: Floats) -> Floats:
    """Slope of the last 12 weeks, sessions weighted by how far off a first line they are."""
    x, y = last(weeks, values, 12)
    slope, _ = slope_of(x, y)
    rest = y - slope[:, None] * x
    return slope_of(x, y, bisquare(rest))[0]


def theil_sen(weeks: Floats, values: Floats) -> Floats:
    """Median of the slopes of all pairs of the last 12 weeks (Theil 1950, Sen 1968)."""
    x, y = last(weeks, values, 12)
    first, second = np.triu_indices(len(x), 1)
    return np.asarray(np.median((y[:, second] - y[:, first]) / (x[second] - x[first]), axis=1))


def recent_against_earlier(weeks: Floats, values: Floats) -> Floats:
    """Welch's t of the last 4 weeks against the 8 before."""
    _, recent = last(weeks, values, 4)
    _, earlier = last(weeks, values, 8, 4)
    spread = recent.var(1, ddof=1) / recent.shape[1] + earlier.var(1, ddof=1) / earlier.shape[1]
    return np.asarray((recent.mean(1) - earlier.mean(1)) / np.sqrt(spread))


def weighted_trend(weeks: Floats, values: Floats) -> Floats:
    """Local line with weights that halve every 4 weeks back."""
    weights = np.broadcast_to(0.5 ** ((weeks[-1] - weeks) / 4), values.shape)
    return slope_of(weeks, values, weights)[0]


def against_own_slope(weeks: Floats, values: Floats) -> Floats:
    """Slope of the last 12 weeks less that of the 26 before, over the standard error of both."""
    now, now_se = slope_of(*last(weeks, values, 12))
    before, before_se = slope_of(*last(weeks, values, 26, 12))
    return (now - before) / np.hypot(now_se, before_se)


def joined_lines(end: float) -> Method:
    """Two lines that meet `end` weeks before the last session: difference over its error."""

    def judge(weeks: Floats, values: Floats) -> Floats:
        x, y = last(weeks, values, 38)
        x = x - x[-1]
        design = np.column_stack([np.ones_like(x), x, np.maximum(x + end, 0)])
        inverse = np.linalg.inv(design.T @ design)
        found = y @ design @ inverse
        rest = y - found @ design.T
        error = np.sqrt((rest**2).sum(1) / (len(x) - 3) * inverse[2, 2])
        return np.asarray(found[:, 2] / error)

    return judge


def best_joined_lines(weeks: Floats, values: Floats) -> Floats:
    """The joined lines whose bend is clearest among 6, 8, 12 and 16 weeks."""
    return np.asarray(np.min([joined_lines(end)(weeks, values) for end in (6, 8, 12, 16)], axis=0))


def drawn_in(values: Floats) -> Floats:
    """Sessions drawn in to 2.5 robust standard deviations of the median of the eight before."""
    windows = np.lib.stride_tricks.sliding_window_view(values, 8, axis=1)[:, :-1]
    usual = np.concatenate(
        [
            np.repeat(np.median(values[:, :8], axis=1, keepdims=True), 8, axis=1),
            np.median(windows, axis=2),
        ],
        axis=1,
    )
    far = values - usual
    reach = 2.5 * 1.4826 * np.median(np.abs(far), axis=1, keepdims=True)
    return np.asarray(usual + np.clip(far, -reach, reach))


def joined_lines_drawn_in(weeks: Floats, values: Floats) -> Floats:
    """The joined lines with an end of 8 weeks, through sessions drawn in."""
    return joined_lines(8)(weeks, drawn_in(values))


METHODS: dict[str, Method] = {
    "slope of 12 weeks": slope_of_12_weeks,
    "the same, robust weights": robust_slope,
    "Theil–Sen of 12 weeks": theil_sen,
    "4 weeks against the 8 before (Welch)": recent_against_earlier,
    "exponentially weighted trend": weighted_trend,
    "12 weeks against the own 26 before": against_own_slope,
    "joined lines, end of 6 weeks": joined_lines(6),
    "joined lines, end of 8 weeks": joined_lines(8),
    "the same, far days drawn in": joined_lines_drawn_in,
    "joined lines, end of 12 weeks": joined_lines(12),
    "joined lines, clearest of four ends": best_joined_lines,
}


def share_accused(
    method: Method,
    noise: float,
    flat_weeks: float,
    bad_days: float = 0.0,
    rate: float = 0.5,
    lifters: int = 4000,
) -> float:
    """Share called worse, where the cut accuses 5 % of those who gain 0.5 % a week."""
    rng = np.random.default_rng(20260601)
    moving = method(WEEKS, series(lifters, noise, 0.0, bad_days, rng))
    judged = method(WEEKS, series(lifters, noise, flat_weeks, bad_days, rng, rate))
    return float(np.mean(judged < np.quantile(moving, 0.05)))


def main() -> None:
    """Print the table of methods."""
    cases = {
        "flat 6 weeks, 2 %": (2.0, 6.0),
        "flat 8, 2 %": (2.0, 8.0),
        "flat 8, 3.5 %": (3.5, 8.0),
        "flat 12, 3.5 %": (3.5, 12.0),
        "flat 8, 2 %, bad days": (2.0, 8.0, 0.03),
        "gaining 0.1 %, 2 %": (2.0, 0.0, 0.0, 0.1),
    }
    print("| method | " + " | ".join(cases) + " | ms for 1,000 lifts |")  # noqa: T201
    print("| --- |" + " ---: |" * (len(cases) + 1))  # noqa: T201
    thousand = series(1000, 2.0, 0.0, 0.0, np.random.default_rng(1))
    for name, method in METHODS.items():
        cells = [f"{100 * share_accused(method, *case):.0f} %" for case in cases.values()]
        started = time.process_time()
        method(WEEKS, thousand)
        cells.append(f"{1000 * (time.process_time() - started):.0f}")
        print(f"| {name} | " + " | ".join(cells) + " |")  # noqa: T201


if __name__ == "__main__":
    main()

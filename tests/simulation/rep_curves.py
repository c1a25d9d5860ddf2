"""Whether a lifter's own repetition curve steadies e1RM: fitted on the past, measured later.

    python tests/simulation/rep_curves.py [WORKSPACE]

Prints the table of tests/README.md; with a built workspace (`setledger demo DIR`) its lifts too.
Own curve: the mean of Epley and Brzycki times exp(tilt × (repetitions − 5) / 5). The tilt is the
least-squares slope inside blocks of 28 days, drawn towards 0 (the population) as ridge regression
does, with weight (noise / spread of tilts between lifters)².
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

LIFTERS = 1000
DAYS = 364
BLOCK_DAYS = 28
SPREAD = 0.04
"""Standard deviation between lifters of the tilt from fives to tens (assumed, no source)."""
PLANNED = {"eights only": (8, 8), "fives and tens by turns": (5, 10), "three to twelve": None}
"""Repetitions are planned and the load is what the day allows for them."""
AS_THE_DAY_GIVES = "one load for four weeks, repetitions as the day gives"


def log_e1rm(loads: Floats, reps: Floats) -> Floats:
    """Natural log of the mean of Epley (1985) and Brzycki (1993)."""
    logs: Floats = np.log((loads * (1 + reps / 30) + loads * 36 / (37 - reps)) / 2)
    return logs


def inside_blocks(values: Floats, blocks: Floats) -> Floats:
    """Values less the mean of their block."""
    centred = values.copy()
    for block in np.unique(blocks):
        centred[blocks == block] -= values[blocks == block].mean()
    return centred


def own_tilt(days: Floats, loads: Floats, reps: Floats, noise: float) -> float:
    """The lifter's tilt, drawn towards 0."""
    blocks = days // BLOCK_DAYS
    x = inside_blocks((reps - 5) / 5, blocks)
    y = inside_blocks(log_e1rm(loads, reps), blocks)
    return float(-(x @ y) / (x @ x + (noise / SPREAD) ** 2))


def unsteadiness(days: Floats, logs: Floats) -> float:
    """Standard deviation around a straight line over the days given."""
    columns = np.column_stack([np.ones_like(days), days])
    residuals = logs - columns @ np.linalg.lstsq(columns, logs, rcond=None)[0]
    return float(np.sqrt(residuals @ residuals / (len(days) - 2)))


def with_and_without(
    days: Floats, loads: Floats, reps: Floats, noise: float
) -> tuple[float, float, float]:
    """Noise by the population's curve and by the lifter's own, on the later half; and the tilt."""
    past = days < np.median(days)
    tilt = own_tilt(days[past], loads[past], reps[past], noise)
    later = ~past
    logs = log_e1rm(loads[later], reps[later])
    own = logs + tilt * (reps[later] - 5) / 5
    return unsteadiness(days[later], logs), unsteadiness(days[later], own), tilt


def lifter(
    chance: np.random.Generator, scheme: tuple[int, int] | None, noise: float, tilt: float
) -> tuple[Floats, Floats, Floats]:
    """Two sessions a week for a year, 0.25 % a week stronger, loads to 2.5 kg."""
    days = np.arange(0, DAYS, 3.5)
    reps = (
        chance.integers(3, 13, len(days)).astype(float)
        if scheme is None
        else np.where(np.arange(len(days)) % 2 == 0, *map(float, scheme))
    )
    strength = np.log(140) + 0.0025 * days / 7 + chance.normal(0, noise, len(days))
    able = np.exp(strength - tilt * (reps - 5) / 5 - log_e1rm(np.ones_like(reps), reps))
    return days, np.round(able / 2.5) * 2.5, reps


def by_the_day(
    chance: np.random.Generator, noise: float, tilt: float
) -> tuple[Floats, Floats, Floats]:
    """The load of eight repetitions, held for a block; a good day gives more repetitions."""
    days = np.arange(0, DAYS, 3.5)
    plain = np.log(140) + 0.0025 * (days // BLOCK_DAYS * BLOCK_DAYS) / 7
    eights = np.full_like(days, 8.0)
    able = np.exp(plain - tilt * 3 / 5 - log_e1rm(np.ones_like(days), eights))
    loads = np.round(able / 2.5) * 2.5
    strength = np.log(140) + 0.0025 * days / 7 + chance.normal(0, noise, len(days))
    tried = np.arange(3.0, 13.0)
    given = np.array(
        [log_e1rm(np.full(10, load), tried) + tilt * (tried - 5) / 5 for load in loads]
    )
    return days, loads, tried[np.abs(given - strength[:, None]).argmin(axis=1)]


def simulated(
    scheme: str, noise: float, spread: float, lifters: int, seed: int
) -> tuple[Floats, Floats, Floats]:
    """Noise by the population's and by the own curve, and how far off the tilt is [%]."""
    chance = np.random.default_rng(seed)
    rows = []
    for _ in range(lifters):
        tilt = chance.normal(0, spread)
        log = (
            by_the_day(chance, noise, tilt)
            if scheme == AS_THE_DAY_GIVES
            else lifter(chance, PLANNED[scheme], noise, tilt)
        )
        before, after, fitted = with_and_without(*log, noise)
        rows.append((before, after, fitted - tilt))
    found = 100 * np.array(rows)
    return found[:, 0], found[:, 1], found[:, 2]


_SETS = """
    with near as (
        select client_id, exercise, performed_on, effective_load_kg, reps_to_failure, strength_index
        from review.graded_sets
        where effort_basis = 'recorded' and rir_used <= 2 and not is_suspect
            and reps_to_failure between 1 and 12 and effective_load_kg > 0
    )
    select
        client_id || ' ' || exercise as lift,
        (performed_on - date '2000-01-01')::double as day,
        arg_max(effective_load_kg, strength_index) as load_kg,
        arg_max(reps_to_failure, strength_index)::double as reps,
    from near
    group by all
    order by all
"""


def logged(workspace: Path) -> list[tuple[str, float, float, float]]:
    """Lifts of a workspace with 40 near-failure days and repetitions that vary: both noises."""
    import duckdb

    with duckdb.connect(str(workspace / "setledger.duckdb"), read_only=True) as con:
        rows = con.execute(_SETS).fetchnumpy()
    found = []
    for name in sorted(set(rows["lift"])):
        of_lift = rows["lift"] == name
        days, loads, reps = (
            np.asarray(rows[column][of_lift], float) for column in ("day", "load_kg", "reps")
        )
        recent = days > days.max() - DAYS
        if recent.sum() < 40 or reps[recent].std() < 1:
            continue
        found.append(
            (name, *with_and_without(days[recent] - days.min(), loads[recent], reps[recent], 0.02))
        )
    return found


def main() -> None:
    """Print the table."""
    print("| lifters | noise | by the formulas | by the own curve | change | tilt off by |")  # noqa: T201
    print("| --- | ---: | ---: | ---: | ---: | ---: |")  # noqa: T201
    for spread, kind in ((SPREAD, "own curves ±4 %"), (0.0, "the population's curve")):
        for scheme in (*PLANNED, AS_THE_DAY_GIVES):
            for noise in (0.02, 0.035):
                before, after, off = simulated(scheme, noise, spread, LIFTERS, 2026)
                change = 100 * (after - before) / before.mean()
                error = change.std() / np.sqrt(LIFTERS)
                print(  # noqa: T201
                    f"| {kind}, {scheme} | {100 * noise:g} % | {before.mean():.2f} % |"
                    f" {after.mean():.2f} % | {change.mean():+.1f} ± {error:.1f} % |"
                    f" {np.sqrt((off**2).mean()):.1f} % |"
                )
    for path in sys.argv[1:]:
        lifts = logged(Path(path))
        before, after = (100 * np.array([lift[place] for lift in lifts]) for place in (1, 2))
        change_pct = 100 * (after.mean() / before.mean() - 1)
        print(  # noqa: T201
            f"| {len(lifts)} lifts of the samples | | {before.mean():.2f} % |"
            f" {after.mean():.2f} % | {change_pct:+.1f} % | |"
        )


if __name__ == "__main__":
    main()

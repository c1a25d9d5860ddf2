"""The seeds as their files say, read without the package's own reader."""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass

from pipeline.resources import resource

EVEN = 1e-6
"""Slack of a comparison of loads [kg]: an even share of a load in pounds is no round number."""


@dataclass(frozen=True)
class Catalogue:
    """Exercises, their names and roles, and the muscles in order."""

    exercise: dict[str, dict[str, str]]
    known_as: dict[str, str]
    roles: dict[str, dict[str, str]]
    """Exercise to muscle to direct or indirect."""
    muscles: list[dict[str, str]]

    @classmethod
    def read(cls) -> Catalogue:
        """All of sql/seeds that the reference needs."""
        seeds: dict[str, list[dict[str, str]]] = {}
        for name in ("exercises.csv", "exercise_muscles.csv", "muscles.csv"):
            with (resource("sql") / "seeds" / name).open(encoding="utf-8") as lines:
                seeds[name] = list(csv.DictReader(lines))
        known_as: dict[str, str] = {}
        for row in seeds["exercises.csv"]:
            for name in (row["exercise"], *row["aliases"].split("|")):
                known_as[name] = row["exercise"]
        roles: dict[str, dict[str, str]] = defaultdict(dict)
        for row in seeds["exercise_muscles.csv"]:
            roles[row["exercise"]][row["muscle"]] = row["role"]
        by_name = {row["exercise"]: row for row in seeds["exercises.csv"]}
        order = sorted(seeds["muscles.csv"], key=lambda row: int(row["position"]))
        return cls(by_name, known_as, dict(roles), order)

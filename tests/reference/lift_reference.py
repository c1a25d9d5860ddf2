"""The whole reference over a room: the same tables as review's, as Python rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Client
from tests.conftest import Log
from tests.reference import lift_tables
from tests.reference.lifts import Kind, Lift, Row, Weighins, lifts_of, work_sets


@dataclass
class Known:
    """One client: configuration, counting rows up to the as-of day (exercise named), lifts."""

    client: Client
    rows: list[Row]
    weighins: Weighins
    lifts: list[Lift]

    @property
    def last(self) -> date:
        """Last logged day."""
        return max(row["performed_on"] for row in self.rows)


def kinds_of(log: Log) -> dict[str, Kind]:
    """What the catalogue, as used, says of every exercise."""
    muscles: dict[str, dict[str, str]] = {}
    for exercise, muscle, role in log.ask(
        "select exercise, muscle, role from review.exercise_muscles"
    ):
        muscles.setdefault(exercise, {})[muscle] = role
    return {
        exercise: Kind(basis, share, muscles.get(exercise, {}))
        for exercise, basis, share in log.ask(
            "select exercise, load_basis, bodyweight_share from review.exercises"
        )
    }


def known(log: Log, as_of: date, clients: Iterable[Client], rules: Rules) -> list[Known]:
    """Every client of a built log, from the ledger's rows alone."""
    names = dict(log.ask("select exercise_raw, exercise from ledger.exercise_names"))
    byclient: dict[str, list[Row]] = {}
    columns, logged = log.table("select * from ledger.sets where replaced_by is null")
    for values in logged:
        row: dict[str, Any] = dict(zip(columns, values, strict=True))
        raw = row["exercise_raw"]
        row["exercise"] = names.get(raw) or raw.lower()
        if row["performed_on"] <= as_of:
            byclient.setdefault(row["client_id"], []).append(row)
    weighins: dict[str, list[tuple[date | None, float]]] = {}
    for client_id, on, kg in log.ask(
        "select client_id, performed_on, bodyweight_kg from ledger.bodyweights"
    ):
        if on is None or on <= as_of:
            weighins.setdefault(client_id, []).append((on, kg))
    configured: Mapping[str, Client] = {client.id: client for client in clients}
    kinds = kinds_of(log)
    found = []
    for client_id, rows in sorted(byclient.items()):
        own = weighins.get(client_id, [])
        client = configured.get(client_id, Client(id=client_id, name=client_id))
        lifts = lifts_of(client_id, work_sets(rows, kinds, own, rules), rules)
        for lift in lifts:
            lift_tables.mark_light(lift, client.phases, rules)
        found.append(Known(client, rows, own, lifts))
    return found

"""Rooms written after the rules: tried once."""

from __future__ import annotations

from tests.rooms.logs import Room

ROOMS: list[Room] = []

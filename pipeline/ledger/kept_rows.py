"""The rows of one version as bytes: kept in place of an export of which some lines must not stay.

Reading such a file again without these lines could read the others differently (what a file does
not say is detected from all of it), so that the rows themselves are kept: a replay takes them as
they are.
"""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import fields
from datetime import date
from typing import Any

import polars as pl

from pipeline.reading.normalise import Normalised

_FRAMES = ("sets", "set_aside", "bodyweights", "owners")
_DAYS = ("first_on", "last_on", "beyond_on")
_FACTS = "facts.json"


def pack(rows: Normalised) -> bytes:
    """The rows as a bundle; equal rows give equal bytes."""
    bundle = io.BytesIO()
    with zipfile.ZipFile(bundle, "w") as files:
        for name in _FRAMES:
            frame = io.BytesIO()
            getattr(rows, name).write_parquet(frame, compression="uncompressed")
            files.writestr(zipfile.ZipInfo(f"{name}.parquet"), frame.getvalue())
        files.writestr(zipfile.ZipInfo(_FACTS), json.dumps(_facts(rows), ensure_ascii=False))
    return bundle.getvalue()


def _facts(rows: Normalised) -> dict[str, Any]:
    facts = {
        each.name: getattr(rows, each.name)
        for each in fields(Normalised)
        if each.name not in _FRAMES
    }
    return facts | {name: facts[name].isoformat() if facts[name] else None for name in _DAYS}


def unpack(content: bytes) -> Normalised:
    """The rows that a bundle holds."""
    with zipfile.ZipFile(io.BytesIO(content)) as files:
        frames = {
            name: pl.read_parquet(io.BytesIO(files.read(f"{name}.parquet"))) for name in _FRAMES
        }
        facts = json.loads(files.read(_FACTS))
    days = {name: date.fromisoformat(facts[name]) if facts.get(name) else None for name in _DAYS}
    return Normalised(**(facts | days | frames))

"""What people of a room did, before anybody writes it down: the truth that a reading is held to."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from random import Random

LIFTS = {
    "en": ("Back Squat", "Bench Press", "Barbell Row", "Overhead Press", "Romanian Deadlift"),
    "de": ("Kniebeuge", "Bankdrücken", "Langhantelrudern", "Schulterdrücken", "Kreuzheben"),
    "fr": ("Squat", "Développé couché", "Rowing barre", "Développé militaire", "Soulevé de terre"),
    "es": ("Sentadilla", "Press de banca", "Remo con barra", "Press militar", "Peso muerto"),
    "pt": ("Agachamento", "Supino", "Remada curvada", "Desenvolvimento", "Levantamento terra"),
    "it": ("Squat", "Panca piana", "Rematore", "Lento avanti", "Stacco da terra"),
    "nl": ("Kniebuiging", "Bankdrukken", "Roeien", "Schouderdrukken", "Deadlift"),
}
PULL_UPS = {
    "en": "Pull-up", "de": "Klimmzug", "fr": "Tractions", "es": "Dominadas", "pt": "Barra fixa",
    "it": "Trazioni", "nl": "Pull-up",
}  # fmt: skip
_BASE = (90.0, 70.0, 60.0, 40.0, 100.0)


@dataclass(frozen=True)
class Set:
    """One set. A load without a basis is the whole load; None: one's own weight."""

    load: float | None
    reps: int
    kind: str = "work"
    basis: str | None = None
    side: str | None = None
    rir: float | None = None
    rpe: float | None = None
    failure: bool | None = None


@dataclass(frozen=True)
class Entry:
    """An exercise of a day."""

    day: date
    lift: str
    sets: tuple[Set, ...]


@dataclass(frozen=True)
class Log:
    """A person's month."""

    who: str
    entries: tuple[Entry, ...]

    def by_day(self) -> Iterator[tuple[date, list[Entry]]]:
        """The days with their exercises."""
        for day in sorted({each.day for each in self.entries}):
            yield day, [each for each in self.entries if each.day == day]

    def singly(self) -> Iterator[tuple[date, str, int, Set]]:
        """Each set with its day, its lift and its number."""
        for each in self.entries:
            for number, one in enumerate(each.sets, start=1):
                yield each.day, each.lift, number, one


@dataclass(frozen=True)
class Month:
    """What a room writes down of a month."""

    number: int
    logs: tuple[Log, ...]


Written = tuple[str, str] | tuple[str, str, str]
"""A file's name, its text, and its encoding if that is not UTF-8."""


@dataclass(frozen=True)
class Room:
    """A way to write logs down, and who does."""

    name: str
    unit: str
    people: tuple[str, ...]
    habit: dict[str, object]
    write: Callable[[Month], Iterable[Written]]

    def month(self, number: int) -> Month:
        """The truth of a month."""
        seed = sum(map(ord, self.name))
        return Month(
            number,
            tuple(
                _log(who, number, seed + place, self.unit, **self.habit)  # type: ignore[arg-type]
                for place, who in enumerate(self.people)
            ),
        )

    def files(self, number: int) -> dict[str, bytes]:
        """The files of a month by their names."""
        return {
            name: text.encode(rest[0] if rest else "utf-8")
            for name, text, *rest in self.write(self.month(number))
        }


def slug(who: str) -> str:
    """The id that a name gets: ASCII, lower case, hyphens."""
    plain = unicodedata.normalize("NFKD", who.replace("ß", "ss")).encode("ascii", "ignore")
    return plain.decode().lower().replace(" ", "-").replace(".", "").replace("'", "-")


def num(value: float, mark: str = ".") -> str:
    """A number as people write it."""
    return f"{value:g}".replace(".", mark)


def own(one: Set, word: str, mark: str = ".", joint: str = "") -> str:
    """A load, or one's own weight by a word, with what is added to it or taken off."""
    if one.load is None:
        return word
    sign = {"added": "+", "assisted": "-"}.get(one.basis or "", "")
    shown = f"{joint}{sign}{joint}{num(one.load, mark)}" if sign else num(one.load, mark)
    return f"{word}{shown}" if sign else shown


def _log(
    who: str,
    month: int,
    seed: int,
    unit: str,
    *,
    lifts: tuple[str, ...],
    days: tuple[int, ...] = (2, 5, 9, 12, 16, 19, 23, 27),
    pull_up: str | None = None,
    own_weight: str = "bare",
    warm: bool = False,
    drop: bool = False,
    varied: bool = False,
    rir: bool = False,
    rpe: bool = False,
    sided: bool = False,
    failure: bool = False,
) -> Log:
    """Sets of three lifts a day by turns; `pull_up` is done with one's own weight."""
    random = Random(seed * 100 + month)
    step = 2.5 if unit == "kg" else 5.0
    scale = 1.0 if unit == "kg" else 2.2
    strength = 0.7 + 0.6 * random.random()
    entries = []
    for turn, number in enumerate(days):
        for place in (turn % len(lifts), (turn + 1) % len(lifts), (turn + 3) % len(lifts)):
            top = round(_BASE[place % 5] * strength * scale / step + turn + month) * step
            most = random.choice((6, 8, 10, 12))
            sets = [
                Set(top - step * nth * varied, max(most - nth * random.choice((0, 1)), 3))
                for nth in range(random.choice((2, 3, 3, 4)))
            ]
            if rir:
                sets = [replace(each, rir=float(random.choice((0, 1, 2, 3)))) for each in sets]
            if rpe:
                sets = [replace(each, rpe=random.choice((7.0, 8.0, 8.5, 9.0))) for each in sets]
            if failure:
                sets[-1] = replace(sets[-1], failure=True)
            if warm:
                sets.insert(0, Set(round(top * 0.5 / step) * step, 8, "warmup"))
            if drop and turn % 2:
                sets.append(Set(round(top * 0.8 / step) * step, most + 2, "extension"))
            if sided:
                sets = [replace(each, side=side) for each in sets for side in ("left", "right")]
            entries.append(Entry(date(2026, month, number), lifts[place], tuple(sets)))
        if pull_up:
            basis = {"bare": None, "added": "added", "assisted": "assisted"}[own_weight]
            load = step * random.choice((2, 3, 4)) if basis and turn % 3 else None
            entries.append(
                Entry(
                    date(2026, month, number),
                    pull_up,
                    tuple(Set(load, 9 - nth, basis=basis if load else None) for nth in range(3)),
                )
            )
    return Log(who, tuple(entries))

"""Sets written in one cell, as lifters note them: "80x8, 80x8, 75x10@1" or "3x8@80".

    cell     = item (separator item)*          separator: , ; / | & line end "and" space " + "
    item     = [kind] set (">" set)*           w 40x8: a warm-up; > 60x6 or → 60x6: a drop
             | weight x reps (mark reps)+      80x8,8,7 or 80x8/8/7 or 80x8-8-7 or 80x8 8 7
             | weight ":" reps (mark reps)*    80: 8 8 7, 80kg - 8/8/7, 80kg 8,8,7: the load first
             | sets x reps "@" load            3x8@80, 3x8 (80kg), 3x8 80kg
             | reps (mark reps)* "@" weight    8,8,7 @ 80kg, 8-8-7 (80kg), 8/8/7 @ bw
             | reps x load                     8 x 80kg: the load has its unit
             | sets x reps x load              3x8x80kg: the load has its unit
    set      = weight x reps ["+" partials] effort*
    weight   = load | "+" load (added) | "-" load (assisted) | "bw" | "bw+" load | "bw-" load
    load     = number ["kg" | "lb"]            decimal comma or point
    effort   = "@" rir | "rir" number | "rpe" number | "F" | "failure" | "AMRAP" | "(" kind ")"

Words for one's own weight (bw, KG, PDC, PC, LG), kinds of sets and failure are those of seven
languages (`notation_words`), and of a mapping's [values].

The x may be ×, X or *. A comma between digits is a decimal mark or a separator, whichever gives the
whole cell a meaning; where both do, the cell is refused. What stands left of the x:

* a load: it has a decimal mark, a sign or a unit, or is above 10, and what follows an @ is at
  most 10 and has no unit: reps in reserve (80x8@1);
* a number of sets: it is whole, at most 20, and what follows the @ has a unit or is above 10:
  a load (3x8@80);
* 5x8 and 5x8@2 could be either. They are read as the other items of the cell are, else as the
  other cells of the column are, if those have one style; else the cell is refused.

A cell is understood whole or refused whole, with the reason.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import lru_cache

from pipeline.reading.notation_words import (
    FAILURES,
    KINDS,
    OWN_WEIGHT,
    REPS,
    folded,
    kind_of,
)
from pipeline.reading.noted_sets import (
    SETS_MAX,
    SMALL,
    Item,
    Kind,
    LoadItem,
    NotationError,
    NotedSet,
    OpenItem,
    Reading,
    Style,
    Weight,
    styles_of,
)
from pipeline.settings.words import UNIT_WORDS
from pipeline.units import Unit

CELL_MAX = 2000
"""Characters; a longer cell is no list of sets."""

_LIKE = 3
"""Repetitions of one load, parted by spaces, differ by less than this factor."""

DROPS_MAX = 20
"""More drops of one set than this are no drop set."""


def parse(cell: str, settled: Style | None = None) -> Reading:
    """The sets of a cell, or why it is refused.

    `settled` says how the rest of the column is written, for what the cell alone leaves open.
    """
    items = _items(cell)
    if isinstance(items, NotationError):
        return items
    styles = styles_of(items)
    if len(styles) == 1:
        settled = next(iter(styles))
    elif styles:
        settled = None
    sets: list[NotedSet] = []
    for item in items:
        read = item.read(settled)
        if isinstance(read, NotationError):
            return read
        sets.extend(read)
    return tuple(sets)


def parse_column(cells: Iterable[str]) -> dict[str, Reading]:
    """Every distinct cell of a column with its sets; the column's style settles what is open."""
    distinct = sorted(set(cells))
    read = {cell: parse(cell) for cell in distinct}
    refused = [cell for cell in distinct if isinstance(read[cell], NotationError)]
    if refused:
        styles: set[Style] = set()
        for cell in distinct:
            items = _items(cell)
            if not isinstance(items, NotationError):
                styles |= styles_of(items)
            if len(styles) > 1:
                return read
        if styles:
            settled = next(iter(styles))
            read |= {cell: parse(cell, settled) for cell in refused}
    return read


@lru_cache(maxsize=4096)
def _items(cell: str) -> tuple[Item, ...] | NotationError:
    """The one way to cut the cell into items; none and several are refused.

    Most cells part their sets by a comma and a space, and each part is a set with an x: such
    parts repeat from cell to cell, and no item reaches over such a boundary.
    """
    text = _plain(cell)
    if len(text) > CELL_MAX:
        return NotationError(f"the cell is longer than {CELL_MAX} characters")
    parts = _CLEAR_SEPARATOR.split(text)
    if len(parts) > 1:
        items: list[Item] = []
        for part in parts:
            found = _part_items(part) if "x" in part else None
            if found is None or isinstance(found, NotationError):
                break
            items.extend(found)
        else:
            return tuple(items)
    return _cut(text)


@lru_cache(maxsize=8192)
def _part_items(text: str) -> tuple[Item, ...] | NotationError:
    return _cut(text)


def _cut(text: str) -> tuple[Item, ...] | NotationError:
    """The items of a text, whichever way its commas must be read."""
    start = _SEPARATOR.match(text)
    first = start.end() if start else 0
    if first == len(text):
        return NotationError("the cell lists no set")
    edges: dict[int, list[tuple[int, Item]]] = {}
    pending = {first}
    furthest = first
    while pending:
        at = min(pending)
        pending.discard(at)
        edges[at] = []
        for end, item in _items_at(text, at):
            separator = _SEPARATOR.match(text, end)
            following = separator.end() if separator else end
            if following == len(text):
                edges[at].append((-1, item))
            elif separator:
                edges[at].append((following, item))
                if following not in edges:
                    pending.add(following)
                furthest = max(furthest, following)
    ways: dict[int, list[tuple[Item, ...]]] = {-1: [()]}
    for at in sorted(edges, reverse=True):
        found = [(item, *rest) for end, item in edges[at] for rest in ways[end]]
        ways[at] = list(dict.fromkeys(found))[:2]
    if not ways[first]:
        return NotationError(f"'{_excerpt(text[furthest:])}' is no set")
    if len(ways[first]) > 1:
        return NotationError("its commas can be read in two ways; part the sets with ';' or ', '")
    return ways[first][0]


def _plain(cell: str) -> str:
    text = folded(cell[: CELL_MAX + 1]).translate(_SIGNS)
    text = _SPACES.sub(" ", text.replace("\r\n", "\n").replace("\r", "\n"))
    if ">" in text:
        text = _ARROW.sub(" > ", text)
    if any(each in text for each in _WITH_WORDS):
        text = _WITH.sub(" @", text)
    if "(" in text:
        text = _BRACKETED_LOAD.sub(r" @\1", text)
        text = _BRACKETED_EFFORT.sub(r" \1", text)
    return text.strip()


def _excerpt(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 30 else f"{line[:30]}…"


_SIGNS = str.maketrans(
    {"×": "x", "✕": "x", "✖": "x", "х": "x", "*": "x", "−": "-", "–": "-", "＋": "+", "\0": "?"}
    | dict.fromkeys("→➔⇒➜", ">")
)
_UNITS = "|".join(sorted(UNIT_WORDS, key=len, reverse=True))
_LOADS = rf"[0-9]{{1,5}}(?:[.,][0-9]{{1,2}})? ?(?:{_UNITS})(?![a-wyz])\.?"
_HEAVY = r"(?!10(?![0-9]))[1-9][0-9]{1,3}(?:[.,][0-9]{1,2})?(?![0-9])"
"""A number that is no reserve and no exertion: above 10."""

_SPACES = re.compile(r"[^\S\n]+")
_ARROW = re.compile(r" ?(?:[-=]{0,3}>+) ?")
_WITH_WORDS = tuple(
    f" {each} " for each in ["at", "mit", "bei", "with", "con", "com", "met", "avec", "a"]
)
_WITH = re.compile(rf"(?<=[0-9a-z])(?:{'|'.join(_WITH_WORDS)})(?={_LOADS}|{_HEAVY})")
_BRACKETED_LOAD = re.compile(rf" ?\( ?({_LOADS}|{_HEAVY}|{OWN_WEIGHT}) ?\)")
_BRACKETED_EFFORT = re.compile(
    rf" ?\( ?(@?(?:rir|rpe) ?[0-9.,]{{1,4}}|[0-9.,]{{1,4}} ?(?:rir|rpe)|{FAILURES}) ?\)"
)
_SEPARATOR = re.compile(r"(?:[\s,;/|&]|\band\b|(?<=[ \n])[+](?=[ \n]))+")
_CLEAR_SEPARATOR = re.compile(r" ?[;\n] ?| ?, ")
_KIND = re.compile(rf"(?:({KINDS})\.?(?: ?: ?| )|(w)(?=[0-9]))(?=[0-9+-]|{OWN_WEIGHT})")
_KIND_AFTER = re.compile(rf" ?\( ?({KINDS})\.? ?\)")
_BODYWEIGHT = re.compile(rf"(?:{OWN_WEIGHT})(?![a-wyz])\.?")
_SIGN = re.compile(r" ?([+-]) ?")
_TIGHT_SIGN = re.compile(r"([+-])")
_NUMBER = re.compile(r"([0-9]{1,5})(?![0-9])(?:([.,])([0-9]{1,6})(?![0-9]))?")
_UNIT = re.compile(rf" ?({_UNITS})(?![a-wyz])")
_TIMES = re.compile(r" ?x ?")
_WHOLE = re.compile(r"([0-9]{1,4})(?![0-9])")
_REPS_WORD = re.compile(rf" ?(?:{REPS})(?![a-z])\.?")
_PARTIALS = re.compile(r" ?\+ ?([0-9]{1,4})(?![0-9])")
_AT = re.compile(rf" ?@ ?| (?={_LOADS})")
_EFFORT_WORD = re.compile(r" ?@? ?(rir|rpe) ?(?=[0-9])")
_EFFORT_LAST = re.compile(r" ?@? ?(10|[0-9](?:[.,][0-9])?) ?(rir|rpe)(?![a-z0-9])")
_FAILURE = re.compile(rf" ?(?:{FAILURES})(?![a-z0-9])")
_DROP = re.compile(r" ?> ?")
_CARRY = re.compile(r"( ?[,/-] ?| )([0-9]{1,4})(?![0-9])")
_THEN = re.compile(r" ?: ?| - | = | ")
_CLOCK = re.compile(r":[0-9]{2}(?![0-9])")
_ANY_END = re.compile("")
_LIST_END = re.compile(r" ?(?:$|[;|>@\n&]|and\b|, )")
_CARRY_END = re.compile(r" ?(?:$|[;|>@\n&]|and\b)")
_SPACED_END = re.compile(r" ?(?:$|[;|>\n&,@/-]|and\b)| (?=[^ ])")


def _items_at(text: str, at: int) -> Iterator[tuple[int, Item]]:
    """Every item that can start here, with its end."""
    mark = None if text[at : at + 1].isdigit() else _KIND.match(text, at)
    kind: Kind = kind_of(mark[1] or mark[2]) if mark else "work"
    for end, weight in _weights(text, mark.end() if mark else at):
        times = _TIMES.match(text, end)
        reps = times and _WHOLE.match(text, times.end())
        if not reps:
            yield from _load_then_reps(text, end, weight, kind)
            continue
        noted = _noted(weight, int(reps[1]), kind)
        yield from _sets_at(text, reps.end(), weight, noted)
        yield from _carried(text, reps.end(), weight, noted)
    if not mark:
        yield from _reps_first(text, at)
        yield from _load_last(text, at)


def _sets_at(text: str, at: int, weight: Weight, noted: NotedSet) -> Iterator[tuple[int, Item]]:
    """The rest of an item whose weight and reps are read: partials, effort, drops."""
    for end, first, bare, unit in _rest(text, at, noted):
        simple = first == replace(noted, rir=first.rir, rpe=first.rpe) and noted.kind == "work"
        count = int(weight.value) if simple and weight.is_whole and weight.value else None
        yield end, OpenItem((first,), count, bare, unit)
        if not (bare is not None and (bare > SMALL or unit)):
            done = first if bare is None else replace(first, rir=bare)
            yield from _drops(text, end, (done,))


def _drops(text: str, at: int, before: tuple[NotedSet, ...]) -> Iterator[tuple[int, Item]]:
    mark = _DROP.match(text, at)
    if not mark or len(before) > DROPS_MAX:
        return
    for end, weight in _weights(text, mark.end()):
        times = _TIMES.match(text, end)
        reps = times and _WHOLE.match(text, times.end())
        if not reps:
            continue
        noted = _noted(weight, int(reps[1]), "extension")
        for after, drop, bare, unit in _rest(text, reps.end(), noted):
            if bare is not None and (bare > SMALL or unit):
                continue
            done = drop if bare is None else replace(drop, rir=bare)
            yield after, OpenItem((*before, done))
            yield from _drops(text, after, (*before, done))


def _rest(
    text: str, at: int, noted: NotedSet
) -> Iterator[tuple[int, NotedSet, float | None, Unit | None]]:
    """After the reps: partials, then effort in any order; each with the bare number after an @."""
    word = _REPS_WORD.match(text, at) if at < len(text) else None
    at = word.end() if word else at
    yield from _efforts(text, at, noted, None, None)
    partials = _PARTIALS.match(text, at)
    if partials:
        more = replace(noted, partial_reps=int(partials[1]))
        yield from _efforts(text, partials.end(), more, None, None)


def _efforts(
    text: str, at: int, noted: NotedSet, bare: float | None, unit: Unit | None
) -> Iterator[tuple[int, NotedSet, float | None, Unit | None]]:
    yield at, noted, bare, unit
    if at == len(text):
        return
    word = _EFFORT_WORD.match(text, at)
    if word:
        name = word[1]
        is_open = name == "rpe" or bare is None or bare > SMALL or unit is not None
        if getattr(noted, name) is None and is_open:
            for end, value, _ in _numbers(text, word.end()):
                more = replace(noted, rir=value) if name == "rir" else replace(noted, rpe=value)
                yield from _efforts(text, end, more, bare, unit)
        return
    mark = _AT.match(text, at)
    if mark and bare is None and noted.rir is None:
        for end, value, _ in _numbers(text, mark.end()):
            found = _UNIT.match(text, end)
            yield from _efforts(text, found.end() if found else end, noted, value, _unit(found))
        return
    last = _EFFORT_LAST.match(text, at)
    if last and getattr(noted, last[2]) is None and (last[2] == "rpe" or bare is None):
        value = float(last[1].replace(",", "."))
        more = replace(noted, rir=value) if last[2] == "rir" else replace(noted, rpe=value)
        yield from _efforts(text, last.end(), more, bare, unit)
    failure = _FAILURE.match(text, at)
    if failure and noted.to_failure is None:
        yield from _efforts(text, failure.end(), replace(noted, to_failure=True), bare, unit)
    kind = _KIND_AFTER.match(text, at)
    if kind and noted.kind == "work":
        yield from _efforts(text, kind.end(), replace(noted, kind=kind_of(kind[1])), bare, unit)


def _carried(text: str, at: int, weight: Weight, noted: NotedSet) -> Iterator[tuple[int, Item]]:
    """80x8,8,7 or 80x8/8/7: one load for several reps."""
    for end, reps in _reps_list(text, at, noted.reps):
        if len(reps) == 2 and text[at] == " " and text[at + 1].isdigit():
            continue  # "80x8 3" may be three sets, or three in reserve
        sets = tuple(replace(noted, reps=each) for each in reps)
        count = int(weight.value) if weight.is_whole and weight.value == len(sets) else None
        yield end, OpenItem(sets, count if noted.kind == "work" else None)
        yield from _drops(text, end, sets)


def _reps_list(text: str, at: int, first: int) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Reps that go on from a first: "8,8,7" and the like, with the end of each such list.

    Reps parted by slashes may be followed by any separator; by commas alone, by a comma and a
    space; by commas and spaces, only by a stronger separator; by spaces or dashes, by what is no
    reps. Two with a dash between them that rise are a range.
    """
    reps, marks, end = [first], set(), at
    while more := _CARRY.match(text, end):
        reps.append(int(more[2]))
        marks.add(more[1])
        end = more.end()
        if len({each.strip() for each in marks}) > 1 and marks & {" ", "-", " -", "- ", " - "}:
            return  # "80x8 3-1-1" tells a tempo
        ends = _CARRY_END
        if marks == {"/"}:
            ends = _ANY_END
        elif marks == {","}:
            ends = _LIST_END
        elif marks == {" "} or {each.strip() for each in marks} == {"-"}:
            ends = _SPACED_END
        if marks == {" "} and max(reps) > _LIKE * min(reps):
            return  # "80x8 3 90" tells sets and a rest
        is_range = len(reps) == 2 and "-" in more[1] and reps[1] > reps[0]
        if ends.match(text, end) and not is_range:
            yield end, tuple(reps)


def _load_then_reps(text: str, at: int, weight: Weight, kind: Kind) -> Iterator[tuple[int, Item]]:
    """80: 8 8 7, 80kg - 8/8/7 or 80kg 8,8,7: reps of several sets after their load."""
    mark = _THEN.match(text, at)
    reps = mark and _WHOLE.match(text, mark.end())
    if not mark or not reps:
        return
    is_plain = weight.value is not None and not weight.unit and not weight.basis
    if is_plain and (":" not in mark[0] or _CLOCK.match(text, at)):
        return
    first = int(reps[1])
    lists = [(reps.end(), (first,)), *_reps_list(text, reps.end(), first)]
    for end, found in lists:
        if len(found) == 1 and weight.value is None:
            continue  # "bw: 82" tells what somebody weighs
        word = _REPS_WORD.match(text, end)
        sets = tuple(_noted(weight, each, kind) for each in found)
        yield word.end() if word else end, LoadItem(sets)
        yield from _drops(text, end, sets)


def _reps_first(text: str, at: int) -> Iterator[tuple[int, Item]]:
    """8,8,7 @ 80kg: reps of several sets at one load."""
    first = _WHOLE.match(text, at)
    if not first:
        return
    one = int(first[1])
    for end, reps in [(first.end(), (one,)), *_reps_list(text, first.end(), one)]:
        word = _REPS_WORD.match(text, end)
        mark = _AT.match(text, word.end() if word else end)
        if not mark or not mark[0].strip():
            continue
        for after, weight in _weights(text, mark.end()):
            heavy = weight.value is not None and weight.value > SMALL and len(reps) > 1
            if weight.unit or weight.value is None or weight.basis or heavy:
                yield after, LoadItem(tuple(_noted(weight, each, "work") for each in reps))


def _load_last(text: str, at: int) -> Iterator[tuple[int, Item]]:
    """8 x 80kg and 3x8x80kg: the unit tells that the last number is the load."""
    counts: list[int] = []
    while len(counts) < 2:
        whole = _WHOLE.match(text, at)
        times = whole and _TIMES.match(text, whole.end())
        if not whole or not times:
            return
        counts.append(int(whole[1]))
        at = times.end()
        for after, value, _ in _numbers(text, at):
            unit = _UNIT.match(text, after)
            alike = counts[0] if len(counts) == 2 else 1
            if unit is None or not 1 <= alike <= SETS_MAX:
                continue
            noted = NotedSet(value, counts[-1], _unit(unit))
            for end, done, bare, at_unit in _efforts(text, unit.end(), noted, None, None):
                if bare is None:
                    yield end, LoadItem((done,) * alike)
                elif bare <= SMALL and at_unit is None:
                    yield end, LoadItem((replace(done, rir=bare),) * alike)


def _weights(text: str, at: int) -> Iterator[tuple[int, Weight]]:
    bodyweight = None if text[at : at + 1].isdigit() else _BODYWEIGHT.match(text, at)
    if bodyweight:
        yield bodyweight.end(), Weight(None, None, None, False)
        at = bodyweight.end()
    sign = (_SIGN if bodyweight else _TIGHT_SIGN).match(text, at)
    if bodyweight and not sign:
        return
    at = sign.end() if sign else at
    for end, value, is_whole in _numbers(text, at):
        unit = _UNIT.match(text, end)
        yield (
            unit.end() if unit else end,
            Weight(
                value,
                _unit(unit),
                None if not sign else "added" if sign[1] == "+" else "assisted",
                is_whole and not unit and not sign,
            ),
        )


def _numbers(text: str, at: int) -> Iterator[tuple[int, float, bool]]:
    """A number, once up to its comma or point and once beyond it; 1,250 is not guessed at."""
    match = _NUMBER.match(text, at)
    if not match:
        return
    whole, mark, decimals = match.groups()
    if mark != ".":
        yield match.end(1), float(whole), True
    if mark and not (mark == "," and len(decimals) == 3):
        yield match.end(), float(f"{whole}.{decimals}"), False


def _noted(weight: Weight, reps: int, kind: Kind) -> NotedSet:
    return NotedSet(weight.value, reps, weight.unit, weight.basis, kind=kind)


def _unit(match: re.Match[str] | None) -> Unit | None:
    if match is None:
        return None
    return UNIT_WORDS[match[1]]

"""No text of a file, however long and odd, makes reading or drafting take more than its length.

Each example has a limit of processor time, kept by a timer: what never ends fails as well.
"""

from __future__ import annotations

import ast
import re
import signal
import tracemalloc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

import pipeline
from pipeline.drafting.mapping_text import mapping_text
from pipeline.drafting.steps import draft_export
from pipeline.drafting.trial import try_mapping
from pipeline.errors import SetledgerError
from pipeline.names.exercises_file import load_catalogue
from pipeline.settings.rules import Rules

PIPELINE = Path(pipeline.__file__).parent
LIMIT = 3.0
"""Seconds of processor time for one example; one takes about 0.1 s."""
LETTERS = 20_000
CATALOGUE = load_catalogue()

OWN_TEXT = (
    "pages/charts/svg.py",
    "pages/render.py",
    "pages/sections/counted.py",
    "review/model_files.py",
    "review/trace.py",
)
"""Modules whose patterns see nothing that a user wrote."""

METHODS = ("match", "fullmatch", "search", "sub", "split", "findall", "finditer")

PIECES = [
    *" \t,;.:/|+-–@x>()[]{}'\"#%=_*",
    *("8", "0", "1 ", "8x", "80x8", "kg", "lb", "bw", "a", "W", "aB", "é", "ß", "rir", "rpe"),
    *("11:", "2026-08-", "T10", "12.", ", ", " - ", "superset", " with ", "set ", "ex ", "A1) "),
    *("1rm", "st", "and ", "bench press", "kilogram", "%d", "'a' ", '"a"', "(a", "{n}"),
]


@contextmanager
def limited(seconds: float) -> Iterator[None]:
    """Ends the block with TimeoutError after so much processor time."""

    def stop(*_: object) -> None:
        raise TimeoutError(f"more than {seconds} s of processor time")

    before = signal.signal(signal.SIGVTALRM, stop)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


@dataclass(frozen=True)
class Repeated:
    """A beginning, a few pieces over and over, and an end that spoils the match."""

    head: str
    unit: str
    tail: str

    def text(self, letters: int) -> str:
        """The text, of about so many letters."""
        return self.head + self.unit * (letters // len(self.unit)) + self.tail


def some(least: int, most: int) -> st.SearchStrategy[str]:
    return st.lists(st.sampled_from(PIECES), min_size=least, max_size=most).map("".join)


REPEATED = st.builds(Repeated, some(0, 3), some(1, 4), some(0, 3))

FUZZ = {
    "deadline": None,
    "suppress_health_check": list(HealthCheck),
    # no shrinking: each smaller example of what never ends takes the whole limit again
    "phases": (Phase.explicit, Phase.reuse, Phase.generate),
}


def log_with(header: str, cell: str, name: str, note: str) -> bytes:
    """An export of a month whose header, cells and exercises hold odd text."""
    lines = [
        f"2026-08-{day:02}\t{name if day % 2 else 'squat'}\t{80 + day}\t8\t{cell}{day % 3}\t{note}"
        for day in range(1, 13)
    ]
    return "\n".join([f"day\texercise\tload\treps\t{header}\tnote", *lines, ""]).encode()


def drafted_and_tried(data: bytes) -> None:
    """What `draft-mapping` does with a file, short of writing."""
    try:
        draft = draft_export(data, "theirs.csv", CATALOGUE, Rules(), date(2026, 9, 1))
        text = mapping_text(draft, "theirs", "theirs.csv", data)
        try_mapping(text, "theirs.csv", data, None)
    except SetledgerError:
        pass  # a sentence is an answer


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(log_with("sets", "   ".join(["8"] * 22) + "x", "row", ""), id="22 numbers"),
        pytest.param(log_with("(" * 200_000, "1", "row", ""), id="brackets"),
        pytest.param(log_with("x", "1", f"a{' ' * 200_000}b", ""), id="spaces in a name"),
        pytest.param(log_with("x", "1", f"ex 1{' ' * 200_000}!", ""), id="spaces after a label"),
        pytest.param(log_with("reps", f"8{' ' * 200_000}x", "row", ""), id="spaces after reps"),
        pytest.param(log_with("x", "1", "row", f"1 {'abc' * 60_000}"), id="a day without year"),
        pytest.param(log_with("a" * 200_000, "1", "row", ""), id="a long word as header"),
    ],
)
def test_what_once_hung_is_answered(data: bytes) -> None:
    with limited(LIMIT):
        drafted_and_tried(data)


def in_every_place(letters: int, header: Repeated, cell: Repeated, name: Repeated) -> bytes:
    """A file of few columns: many thousands take their time, each a little."""
    texts = [each.text(letters).replace("\t", " ") for each in (header, cell, name)]
    return log_with(*texts, "")


@settings(max_examples=25, **FUZZ)
@given(*[REPEATED] * 3)
def test_a_file_of_odd_text_is_drafted_in_time(
    header: Repeated, cell: Repeated, name: Repeated
) -> None:
    with limited(LIMIT):
        drafted_and_tried(in_every_place(LETTERS, header, cell, name))


@pytest.mark.slow
@settings(max_examples=400, **FUZZ)
@given(*[REPEATED] * 3)
def test_a_file_of_much_odd_text_is_drafted_in_time(
    header: Repeated, cell: Repeated, name: Repeated
) -> None:
    with limited(5 * LIMIT):
        drafted_and_tried(in_every_place(10 * LETTERS, header, cell, name))


def test_a_line_of_twenty_megabytes_takes_no_memory_of_its_own() -> None:
    long = b"x" * 20_000_000
    data = log_with("x", "1", "row", "") + long + b"\n"
    tracemalloc.start()
    try:
        draft = draft_export(data, "theirs.csv", CATALOGUE, Rules(), date(2026, 9, 1))
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()

    assert peak < 5_000_000
    aside = draft.sniffed.export.set_aside.select("source_line", "reason").rows()
    assert aside == [(14, "line_too_long")]


def patterns() -> Iterator[tuple[str, re.Pattern[str], str]]:
    """Each pattern of the package that sees a user's text, and how it is applied."""
    for path in sorted(PIPELINE.rglob("*.py")):
        shown = path.relative_to(PIPELINE).as_posix()
        if shown in OWN_TEXT:
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        named: dict[str, re.Pattern[str]] = {}
        calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
        for node in ast.walk(tree):
            if isinstance(node, ast.Assign) and (made := compiled(node.value)) is not None:
                named |= {each.id: made for each in node.targets if isinstance(each, ast.Name)}
        for call in calls:
            match call.func:
                case ast.Attribute(value=ast.Name(id="re"), attr=method) if method in METHODS:
                    if isinstance(call.args[0], ast.Constant):
                        pattern = call.args[0].value
                        if isinstance(pattern, str):
                            yield f"{shown}:{call.lineno}", re.compile(pattern), method
                case ast.Attribute(value=ast.Name(id=name), attr=method) if name in named:
                    yield f"{shown}:{call.lineno}", named[name], method


def compiled(node: ast.expr) -> re.Pattern[str] | None:
    """The pattern of `re.compile("…", re.FLAG)`, if a node is that."""
    match node:
        case ast.Call(
            func=ast.Attribute(value=ast.Name(id="re"), attr="compile"),
            args=[ast.Constant(value=str(text)), *flags],
        ):
            used = [getattr(re, each.attr) for each in ast.walk(flags[0]) if isinstance(
                each, ast.Attribute)] if flags else []  # fmt: skip
            return re.compile(text, sum(used) if used else 0)
    return None


PATTERNS = list(dict.fromkeys((pattern, method) for _, pattern, method in patterns()))


def test_the_patterns_are_found() -> None:
    assert len(PATTERNS) > 60


@settings(max_examples=60, **FUZZ)
@given(REPEATED)
def test_each_pattern_takes_time_as_the_text_is_long(repeated: Repeated) -> None:
    text = repeated.text(LETTERS)
    for pattern, method in PATTERNS:
        try:
            with limited(LIMIT / 4):
                if method == "sub":
                    pattern.sub("", text)
                elif method == "finditer":
                    list(pattern.finditer(text))
                else:
                    getattr(pattern, method)(text)
        except TimeoutError:
            pytest.fail(f"{pattern.pattern!r}.{method} on {repeated}")

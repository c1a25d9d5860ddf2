"""The map of rooms holds: one way of imports, and each library known to one room only."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "pipeline"
ONLY = {
    "click": {"cli"},
    "jinja2": {"render"},
    "altair": {"charts"},
    "vl_convert": {"charts"},
    "great_expectations": {"contract"},
    "smtplib": {"mail"},
    "css_inline": {"render"},
}


def _imports(path: Path) -> dict[str, bool]:
    """Modules that a file imports, and whether at its top (so that importing it imports them)."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    typing_only = {
        id(each)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for each in ast.walk(node)
    }
    found: dict[str, bool] = {}
    for node in ast.walk(tree):
        if id(node) in typing_only:
            continue
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
            if node.module.startswith("pipeline"):
                names = [f"{node.module}.{alias.name}" for alias in node.names] + names
        for name in names:
            found[name] = found.get(name, False) or node in tree.body
    return found


MODULES = sorted(PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_a_library_is_known_to_its_room_only(path: Path) -> None:
    tops = {name.split(".")[0] for name in _imports(path)}
    for library, rooms in ONLY.items():
        assert library not in tops or path.stem in rooms, f"{path.name} imports {library}"


def _room_imports() -> dict[str, set[str]]:
    rooms = {
        ".".join(("pipeline", *path.relative_to(PACKAGE).with_suffix("").parts)): path
        for path in MODULES
        if path.name != "__init__.py"
    }
    return {
        room: {name for name in _imports(path) if name in rooms and name != room}
        for room, path in rooms.items()
    }


def test_rooms_do_not_import_each_other_in_a_circle() -> None:
    graph = _room_imports()
    done: set[str] = set()

    def visit(room: str, path: tuple[str, ...]) -> None:
        assert room not in path, " → ".join((*path, room))
        if room in done:
            return
        for other in sorted(graph[room]):
            visit(other, (*path, room))
        done.add(room)

    for room in graph:
        visit(room, ())


def test_the_command_line_imports_nothing_heavy_at_its_top() -> None:
    at_top = {name.split(".")[0] for name, is_top in _imports(PACKAGE / "cli.py").items() if is_top}
    assert not at_top & {"polars", "duckdb", "altair", "jinja2", "vl_convert", "pyarrow"}

"""The map of rooms holds: one way of imports, each library known to one place only.

Imports are read as text, at the top, inside functions and for types alike: what a module names is
what its reader must know.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "pipeline"
ONLY = {
    "click": {"cli", "commands"},
    "jinja2": {"pages.render"},
    "altair": {"pages.charts"},
    "vl_convert": {"pages.charts"},
    "great_expectations": {"checks.contract.expectations"},
    "smtplib": {"mail.line", "mail.smtp"},
    "css_inline": {"pages.render"},
    "markdown_it": {"pages.coach_note"},
    "tomlkit": {"settings.edit"},
}
BELOW = {
    "names": {"top"},
    "settings": {"top", "names"},
    "reading": {"top", "names", "settings"},
    "drafting": {"top", "names", "settings", "reading"},
    "ledger": {"top", "names", "settings", "reading", "drafting"},
    "review": {"top", "names", "settings", "reading", "ledger"},
    "checks": {"top", "names", "settings", "reading", "ledger"},
    "pages": {"top", "names", "settings", "reading", "ledger", "review", "checks"},
    "mail": {"top", "names", "settings", "reading", "ledger", "review", "pages"},
    "runs": {"top", "names", "settings", "reading", "ledger", "review", "checks", "pages", "mail"},
}
"""Room to the rooms that it may import from; cli and commands may from all, nothing from them."""

MODULES = {
    ".".join(path.relative_to(PACKAGE).with_suffix("").parts): path
    for path in sorted(PACKAGE.rglob("*.py"))
}


def _room(module: str) -> str:
    first = module.split(".")[0]
    return first if (PACKAGE / first).is_dir() else "top"


def _imports(path: Path) -> dict[str, bool]:
    """Names that a file imports, and whether at its top (so that importing it imports them)."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found: dict[str, bool] = {}
    for node in ast.walk(tree):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
            if node.module.split(".")[0] == "pipeline":
                names = [f"{node.module}.{alias.name}" for alias in node.names] + names
        for name in names:
            found[name] = found.get(name, False) or node in tree.body
    return found


def _arrows() -> dict[str, set[str]]:
    """Module to the modules of the package that it imports anywhere in its text."""
    arrows = {}
    for module, path in MODULES.items():
        names = {name.removeprefix("pipeline.") for name in _imports(path)}
        arrows[module] = {
            other for name in names for other in (name, f"{name}.__init__") if other in MODULES
        } - {module}
    return arrows


def test_a_library_is_known_to_its_place_only() -> None:
    for module, path in MODULES.items():
        tops = {name.split(".")[0] for name in _imports(path)}
        for library, places in ONLY.items():
            is_home = any(module == place or module.startswith(place + ".") for place in places)
            assert library not in tops or is_home, f"{module} imports {library}"


def test_no_room_imports_from_one_above_it() -> None:
    wrong = [
        f"{module} → {other}"
        for module, others in _arrows().items()
        if module != "cli" and _room(module) != "commands"
        for other in sorted(others)
        if _room(other) != _room(module)
        and _room(other) not in BELOW.get(_room(module), set())
        and other != "__init__"
    ]
    assert not wrong, "against the order of the rooms: " + ", ".join(wrong)


def test_modules_do_not_import_each_other_in_a_circle() -> None:
    arrows = _arrows()
    done: set[str] = set()

    def visit(module: str, path: tuple[str, ...]) -> None:
        assert module not in path, " → ".join((*path, module))
        if module in done:
            return
        for other in sorted(arrows[module]):
            visit(other, (*path, module))
        done.add(module)

    for module in arrows:
        visit(module, ())


def test_a_room_says_what_it_is_for_and_imports_nothing() -> None:
    for module, path in MODULES.items():
        if path.name != "__init__.py" or module == "__init__":
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        assert ast.get_docstring(tree), f"{module} does not say what its room is for"
        assert not _imports(path), f"{module} imports something"


def test_the_top_is_small_and_no_module_is_long() -> None:
    top = [module for module in MODULES if _room(module) == "top" and module != "__init__"]
    assert len(top) <= 12
    long = {
        module: lines
        for module, path in MODULES.items()
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 500
    }
    assert not long


@pytest.mark.parametrize("module", ["cli", "outcome", "errors", "clock"])
def test_the_command_line_imports_nothing_heavy_at_its_top(module: str) -> None:
    tops = {name.split(".")[0] for name, is_top in _imports(MODULES[module]).items() if is_top}
    assert not tops & {"polars", "duckdb", "altair", "jinja2", "vl_convert", "pyarrow"}

"""Modules import each other one way only, inside packages too."""

from __future__ import annotations

import ast
from graphlib import TopologicalSorter
from pathlib import Path

import printprep

_ROOT = Path(printprep.__file__).parent


def _name(file: Path) -> str:
    parts = file.relative_to(_ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _imports(tree: ast.AST, modules: set[str]) -> set[str]:
    """Modules imported at the top, inside functions, or for types."""
    found = set[str]()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {m if (m := f"{node.module}.{a.name}") in modules else node.module for a in node.names}
        elif isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
    return found & modules


def test_no_circles() -> None:
    files = {_name(file): file for file in _ROOT.rglob("*.py")}
    modules = set(files) - {"printprep"}  # the package itself names everything, to be looked up when asked for
    graph = {m: _imports(ast.parse(files[m].read_text()), modules) - {m} for m in modules}
    assert "printprep.colour.lab" in graph["printprep.colour.hue"]  # it does see imports
    order = list(TopologicalSorter(graph).static_order())  # raises CycleError, which shows the circle
    assert len(order) == len(modules)

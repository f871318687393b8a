"""What is public changes on purpose only: names, signatures, and docstrings that others read."""

import ast
import inspect
from difflib import unified_diff
from pathlib import Path

import printprep as pp
from tests.support.public_api import FILE, described


def test_the_public_api_is_as_it_is_written_down() -> None:
    was, now = FILE.read_text(encoding="utf-8"), described()
    changes = "\n".join(unified_diff(was.splitlines(), now.splitlines(), "written down", "now", lineterm="", n=0))
    assert was == now, f"{changes}\nif that is meant: python -m tests.support.public_api, and a line in the changelog"


def test_type_checkers_know_the_same_names() -> None:
    stub = ast.parse(Path(pp.__file__).with_suffix(".pyi").read_text())
    told = {a.asname for node in stub.body if isinstance(node, ast.ImportFrom) for a in node.names}
    assert told == set(pp.__all__)


def test_every_public_name_has_a_docstring() -> None:
    for name in pp.__all__:
        text = inspect.getdoc(getattr(pp, name)) or ""
        assert text.split("\n")[0].endswith((".", ";", ":")), name


def test_the_changelog_begins_with_this_version() -> None:
    text = (Path(pp.__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    entries = [line for line in text.split("## Changelog\n", 1)[1].split("\n") if line.startswith("### ")]
    assert entries[0].split()[1] == pp.__version__

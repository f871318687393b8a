"""What is public changes on purpose only: names, signatures, and docstrings that others read."""

import ast
import inspect
from collections.abc import Iterator
from difflib import unified_diff
from doctest import DocTestParser, Example
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


def test_every_public_name_and_method_has_an_example() -> None:
    """Doctests, that pytest runs; what fulfils a promise of a base class is shown there."""
    without = {text for name in pp.__all__ for text in _without_example(name)}
    assert not without, f"give it an example in its docstring: {', '.join(sorted(without))}"


def _without_example(name: str) -> Iterator[str]:
    value = getattr(pp, name)
    if not _examples(value):
        yield name
    for key in dir(value) if isinstance(value, type) else ():
        homes = [cls for cls in value.__mro__ if key in vars(cls) and cls.__module__.startswith("printprep")]
        methods = [found for cls in homes if inspect.ismethod(found := getattr(cls, key)) or inspect.isfunction(found)]
        if not key.startswith("_") and methods and not any(map(_examples, methods)):
            yield f"{homes[-1].__name__}.{key}"


def _examples(value: object) -> list[Example]:
    return DocTestParser().get_examples(getattr(value, "__doc__", None) or "")


def test_the_changelog_begins_with_this_version() -> None:
    text = (Path(pp.__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    entries = [line for line in text.split("## Changelog\n", 1)[1].split("\n") if line.startswith("### ")]
    assert entries[0].split()[1] == pp.__version__

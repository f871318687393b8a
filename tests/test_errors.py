"""Errors carry where, what and what to do; every caller says the last in its own words."""

from __future__ import annotations

import ast
import copy
import pickle
from pathlib import Path

import numpy as np
import pytest

import printprep
from printprep.errors import (
    InputError,
    OutputError,
    OutsideError,
    ParameterError,
    PresetError,
    PrintprepError,
    UnknownName,
    expect,
)
from tests.support.command import run
from tests.support.tiffs import tiff

EVERY = [
    PrintprepError("is wrong"),
    InputError("is damaged", where="'a.tif'", do="export it again"),
    OutputError("exists already", where="'b.tif'", do="allow it with {way}", way="overwrite=True"),
    ParameterError("side", 0, "must be a whole number, 1 to 9 (pixels)"),
    ParameterError("side", 0, "must be more", "take 4"),
    UnknownName("paper", "gloss2", ["gloss", "baryta"]),
    PresetError("a.toml", "[paper]", ParameterError("white", 3, "must be a colour")),
    InputError("is damaged", do="export it again").within("'c.tif'").within("[paper]"),
]


@pytest.mark.parametrize("error", EVERY, ids=lambda e: type(e).__name__)
def test_fields_survive_pickle_and_copy(error: PrintprepError) -> None:
    for other in (pickle.loads(pickle.dumps(error)), copy.copy(error), copy.deepcopy(error)):
        assert type(other) is type(error)
        assert (str(other), other.where, other.what, other.do) == (str(error), error.where, error.what, error.do)


def test_the_line_joins_the_fields() -> None:
    assert [str(error) for error in EVERY] == [
        "is wrong",
        "'a.tif': is damaged; export it again",
        "'b.tif': exists already; allow it with overwrite=True",
        "side = 0: must be a whole number, 1 to 9 (pixels); correct it",
        "side = 0: must be more; take 4",
        "'gloss2': unknown paper; did you mean gloss?",
        "'a.toml': [paper] white = 3: must be a colour; correct it",
        "[paper]: 'c.tif': is damaged; export it again",
    ]


def test_what_to_do_may_hold_a_semicolon() -> None:
    """Nothing is told from punctuation: a name with a semicolon in it changes no advice."""
    cause = ParameterError("white;", "a;b", "must be a colour")
    assert str(PresetError("a;b.toml", "[paper]", cause)).endswith("must be a colour; correct it")


def test_a_caller_says_it_in_its_own_words() -> None:
    assert EVERY[2].line("--overwrite") == "'b.tif': exists already; allow it with --overwrite"
    assert EVERY[1].line("--overwrite") == str(EVERY[1])


def test_another_kind_is_refused_by_name() -> None:
    expect("photo", 3, int, "must be a number")
    with pytest.raises(ParameterError, match=r"photo = 3: must be text; write it"):
        expect("photo", 3, str, "must be text", "write it")


def test_the_command_names_its_option_and_the_library_its_argument(tmp_path: Path) -> None:
    edit = tiff(tmp_path / "a.tif")
    taken = tmp_path / "b.tif"
    taken.write_bytes(b"there")
    out = run("prepare", edit, "--paper", "gloss", "-o", taken, cwd=tmp_path)
    assert out.stderr.strip().endswith("exists already; choose another name, or allow replacing it with --overwrite")
    with pytest.raises(OutputError, match="overwrite=True"):
        printprep.read(edit).write(taken)


COMMAND_LINES = {"ticket.py", "advice.py", "strips.py"}
"""Modules that tell whole command lines, to be typed."""


def test_no_message_of_the_library_names_an_option() -> None:
    """Outside cli/, no text that is shown has ``--`` before a word."""
    found = []
    package = Path(printprep.__file__).parent
    for file in package.rglob("*.py"):
        if "cli" in file.parts or file.name in COMMAND_LINES:
            continue
        tree = ast.parse(file.read_text())
        documents = {
            id(n.body[0].value)
            for n in ast.walk(tree)
            if isinstance(n, (ast.Module, ast.ClassDef, ast.FunctionDef)) and n.body and isinstance(n.body[0], ast.Expr)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documents:
                words = [w for w in node.value.replace("(", " ").split() if w[:2] == "--" and w[2:3].isalpha()]
                if words and "var(" not in node.value:
                    found.append((file.name, words))
    assert not found


def test_an_interrupted_job_is_no_fault_of_the_file(tmp_path: Path) -> None:
    """Stopped from outside, whose exit status is 1."""
    from printprep.jobs.one import Options, Stopped, one

    def stop(pixels: int, total: int) -> None:
        raise Stopped

    edit = tiff(tmp_path / "a.tif", pixels=np.zeros((4, 4, 3), np.uint16))
    result = one(edit, tmp_path / "b.tif", printprep.pipeline(paper="gloss"), Options(), stop)
    assert isinstance(result.error, OutsideError)
    assert result.error.exit_code == 1
    assert result.error.do == "run again with skip_done=True"

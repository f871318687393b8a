"""Commands that read a picture, run on a damaged one: what must hold however that ends."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import tifffile
from PIL import Image

from printprep.photo.read import read
from tests.support.inside import inside

WHERE = ("--paper", "gloss", "--room", "hallway")
COMMANDS: dict[str, tuple[str, ...]] = {
    "prepare": ("prepare", "a.tif", *WHERE, "-o", "out.tif"),
    "prepare compressed": ("prepare", "a.tif", *WHERE, "-o", "out.tif", "--compress", "zstd", "--threads", "3"),
    "prepare assumed": ("prepare", "a.tif", *WHERE, "-o", "out.tif", "--assume", "sRGB"),
    "proof": ("proof", "a.tif", *WHERE, "-o", "out.png"),
    "proof pair": ("proof", "a.tif", *WHERE, "-o", "out.tif", "--pair", "--side", "64"),
    "report": ("report", "a.tif", *WHERE, "-o", "out.html"),
    "rank": ("rank", "a.tif", *WHERE, "-o", "out.html"),
    "rank json": ("rank", "a.tif", "a.tif", *WHERE, "--json"),
    "compare": ("compare", "a.tif", "--papers", "gloss,cotton-rag", "--room", "hallway", "-o", "out.png"),
    "compare page": ("compare", "a.tif", "--papers", "gloss", "--room", "hallway", "-o", "out.html", "--json"),
    "ticket": ("ticket", "a.tif"),
    "ticket json": ("ticket", "a.tif", "--json"),
}


def run_on(data: bytes, name: str) -> bool:
    """Run one of `COMMANDS` in the present folder, which is empty, on these bytes as a.tif.

    Returns whether it did its work; a refusal is one line. Anything else is an AssertionError.
    """
    words = COMMANDS[name]
    here = Path()
    (here / "a.tif").write_bytes(data)
    result = inside(*words)
    told = f"{result.returncode}: {result.stdout}{result.stderr}"
    assert result.returncode in (0, 2), told
    assert (here / "a.tif").read_bytes() == data, "the input was changed"
    said = result.stderr.splitlines()
    assert all(line.replace("\xa0", " ").isprintable() for line in [*result.stdout.splitlines(), *said]), told
    assert all(line.startswith("printprep: ") for line in said), told
    assert not any("unexpected:" in line or "Traceback" in line for line in said), told
    done = result.returncode == 0
    if not done:
        assert said[-1].startswith("printprep: 'a.tif': "), told
    wanted = {word for word in words if word.startswith("out.")}
    made = {path.name for path in here.iterdir()} - {"a.tif"}
    assert made == wanted if done else made <= (wanted if name == "rank" else set()), f"{sorted(made)}, {told}"
    for output in made:
        whole(here / output)
        (here / output).unlink()
    return done


def whole(path: Path) -> None:
    """Hold an output to what others read in it."""
    if path.suffix == ".tif":
        np.testing.assert_array_equal(np.asarray(read(path)), tifffile.imread(path))
    elif path.suffix == ".png":
        with Image.open(path) as image:
            image.load()
    else:
        assert path.read_text(encoding="utf-8").rstrip().endswith("</html>")

"""Any text as a preset: read, or refused in one line; and what is read can be used."""

from __future__ import annotations

import datetime
import json
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import event, given
from hypothesis import strategies as st

from printprep.compose import pipeline
from printprep.errors import PrintprepError
from printprep.preset import load
from printprep.preset_files import shipped
from tests.support.effort import tried

SHIPPED = [str(p) for folder in ("papers", "rooms") for p in sorted(Path(str(shipped())).joinpath(folder).iterdir())]
SOLIDS = ("cyan", "magenta", "yellow", "red", "green", "blue")
KEYS = st.sampled_from([
    "title", "notes", "source", "schema", "uses", "paper", "room", "adjust", "step", "strength", "detail", "knee",
    "white", "black", "solids", "surface", "native_ppi", "profile", "measurements", "illuminance_lux", "cct_kelvin",
    "evening_illuminance_lux", "reference", "surround", "glazing", "viewing_distance_m", "wall_reflectance", *SOLIDS,
])  # fmt: skip
NAMES = st.sampled_from(["gloss", "hallway", "shadow-lift", "gamut-fit", "room-colour", "matte", "clear", "p.icc", ""])
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
COLOUR = st.lists(st.floats(-200, 200), min_size=2, max_size=4)
PLAIN = (
    NAMES | TEXT | st.booleans() | st.integers(-2, 600) | st.integers() | st.floats() | st.datetimes() | st.dates()
    | st.times() | COLOUR
)  # fmt: skip
VALUES: st.SearchStrategy[Any] = st.recursive(
    PLAIN, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS | TEXT, inner, max_size=4), max_leaves=8
)
ROOMS = st.dictionaries(KEYS, PLAIN, max_size=4)
STEPS = st.fixed_dictionaries({"step": NAMES}, optional={"strength": PLAIN, "knee": PLAIN, "detail": PLAIN})
DOCUMENTS = st.dictionaries(KEYS, VALUES, max_size=5) | st.fixed_dictionaries(
    {},
    optional={
        "title": PLAIN, "uses": st.lists(NAMES | TEXT, max_size=3), "room": ROOMS,
        "paper": st.fixed_dictionaries(
            {"white": COLOUR, "black": COLOUR, "solids": st.fixed_dictionaries(dict.fromkeys(SOLIDS, COLOUR))}
        ),
        "adjust": st.lists(STEPS, max_size=3),
    },
)  # fmt: skip


def toml(value: object) -> str:
    """A value as TOML 1.0 writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, (datetime.datetime, datetime.date, datetime.time)):
        return value.isoformat()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{toml(k)} = {toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(toml, value)) + "]"
    return repr(value)


def used_or_refused(file: Path) -> bool:
    """Whether a preset can be used; everything else is one line of ours."""
    try:
        preset = load(file)
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            if preset.paper is not None or preset.room is not None or preset.adjust:
                pipeline(paper=preset.paper or "gloss", room=preset.room, preset=preset)
    except PrintprepError as error:
        said = str(error)
        assert said.isprintable(), said
        assert len(said) < 2000
        assert ";" in said, said
        return False
    return True


@tried(300)
@given(document=DOCUMENTS)
def test_random_documents(tmp_path: Path, document: dict[str, Any]) -> None:
    file = tmp_path / "p.toml"
    file.write_text("".join(f"{key if key.isascii() and key.isalpha() else toml(key)} = {toml(value)}\n"
                            for key, value in document.items()), encoding="utf-8")  # fmt: skip
    used_or_refused(file)


KINDS = st.sampled_from(["drop", "twice", "value", "cut", "bytes"])
LINES = st.tuples(KINDS, st.integers(0, 60), PLAIN, st.binary(max_size=3))


@tried(300)
@given(file=st.sampled_from(SHIPPED), changes=st.lists(LINES, min_size=1, max_size=3))
def test_changed_presets(tmp_path: Path, file: str, changes: list[tuple[str, int, Any, bytes]]) -> None:
    lines = Path(file).read_bytes().split(b"\n")
    for kind, at, value, junk in changes:
        at %= len(lines)
        if kind == "drop" and len(lines) > 1:
            del lines[at]
        elif kind == "twice":
            lines.insert(at, lines[at])
        elif kind == "value":
            lines[at] = lines[at].split(b"=")[0] + b"= " + toml(value).encode()
        elif kind == "cut":
            lines[at] = lines[at][: len(lines[at]) // 2]
        else:
            lines[at] = lines[at][: len(junk)] + junk + lines[at][len(junk) :]
    out = tmp_path / "p.toml"
    out.write_bytes(b"\n".join(lines))
    used_or_refused(out)


def test_shipped_presets_as_they_are_can_be_used(tmp_path: Path) -> None:
    for file in SHIPPED:
        if "measurements" in Path(file).read_text(encoding="utf-8"):
            continue  # leads to a file beside it
        (tmp_path / "p.toml").write_bytes(Path(file).read_bytes())
        assert used_or_refused(tmp_path / "p.toml"), file


ENDS = st.sampled_from([0.0, 1.0]) | st.floats(0, 1)
AB = ENDS.map(lambda t: 300 * t - 150)
WHITE = st.tuples(ENDS.map(lambda t: 89 + 11 * t), ENDS.map(lambda t: 20 * t - 10), ENDS.map(lambda t: 20 * t - 10))
BLACK = st.tuples(ENDS.map(lambda t: 28 * t), ENDS.map(lambda t: 20 * t - 10), ENDS.map(lambda t: 20 * t - 10))
SOLID = st.tuples(ENDS.map(lambda t: 31 + 38 * t), AB, AB)


@tried(20)
@given(
    white=WHITE, black=BLACK,
    solids=st.just({}) | st.fixed_dictionaries(dict.fromkeys(SOLIDS, SOLID)),
    lux=st.sampled_from([0.1, 1, 50, 2000, 200_000]), glazing=st.sampled_from(["none", "clear"]),
    strengths=st.tuples(ENDS, ENDS, ENDS), surround=st.sampled_from(["average", "dim", "dark"]),
)  # fmt: skip
def test_whatever_is_within_bounds_can_be_prepared_for(
    tmp_path: Path, white: Any, black: Any, solids: dict[str, Any], lux: float, glazing: str, strengths: Any,
    surround: str, monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """At the ends of every range too: finite pixels, or one line that says why not."""
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "none"))
    usual = {"cyan": [57, -34, -43], "magenta": [50, 66, -4], "yellow": [88, -5, 84], "red": [48, 60, 38],
             "green": [50, -55, 24], "blue": [28, 16, -42]}  # fmt: skip
    file = tmp_path / "p.toml"
    file.write_text(
        f"paper = {toml({'white': white, 'black': black, 'solids': {**usual, **solids}})}\n"
        f"room = {toml({'illuminance_lux': lux, 'glazing': glazing, 'surround': surround})}\n"
    )
    settings_ = {"shadow-lift.strength": strengths[0], "gamut-fit.strength": strengths[1],
                 "room-brightness.strength": strengths[2]}  # fmt: skip
    rgb = np.random.default_rng(1).integers(0, 65536, (24, 24, 3), dtype=np.uint16)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            pipe = pipeline(paper=str(file), room=str(file), settings=settings_)
            done = pipe.apply(rgb.astype(np.float32) / 65535, "sRGB")
    except PrintprepError as error:
        said = str(error)
    else:
        said = ""
    event("refused" if said else "prepared")
    if said:
        assert said.isprintable() and ";" in said
        return
    assert np.isfinite(done).all() and done.min() >= 0 and done.max() <= 1

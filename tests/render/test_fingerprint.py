"""What a table is kept under: everything that can change a pixel makes it anew, and nothing that cannot."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from types import ModuleType
from typing import Any, ClassVar, get_args

import msgspec
import numpy as np
import pytest

import printprep as pp
from printprep.adjust import _registry
from printprep.adjust._base import Adjustment, Stage, Steps
from printprep.adjust._foreign import _probe
from printprep.check.simulate import simulation
from printprep.colour.lab import Lab
from printprep.colour.profile import Profile
from printprep.conditions._eight import SOLIDS, Colour
from printprep.conditions.conditions import Conditions
from printprep.conditions.measurement import Measurement
from printprep.conditions.paper import Paper
from printprep.conditions.room import Reference, Room
from printprep.conditions.sheet import Sheet
from printprep.files import cache
from printprep.parameters import _hints
from printprep.render import plan as plan_module
from printprep.render.chain import Chain
from printprep.render.fingerprint import UNREAD
from printprep.render.plan import Plan
from printprep.render.table import Table
from printprep.testing import plain
from tests.support.lutprofile import MatrixInk, output_profile
from tests.support.plugins import step

PAPER = plain().paper
ROOM = Room(
    illuminance_lux=80, evening_illuminance_lux=40, wall_illuminance_lux=50, glazing="clear", surround="dim",
    reference=Reference(screen_white_cd_m2=160, screen_black_cd_m2=0.2),
)  # fmt: skip


@pytest.fixture(autouse=True)
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "kept"))
    return tmp_path / "kept"


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[Plan]:
    """One entry for each table that is made rather than found; making is left out, as it is not what is tested."""
    tables: list[Plan] = []

    def compile_table(chain: Chain, size: int) -> Table:
        tables.append(Plan(chain.profile, chain.on, chain.steps, size))
        return Table(np.zeros((size,) * 3 + (3,), np.float32))

    monkeypatch.setattr(plan_module, "compile_table", compile_table)
    return tables


def own_steps() -> Steps:
    return Steps(tuple(_registry.adjustment(name)() for name in sorted(_registry._own())))


def plan(
    *, paper: Paper = PAPER, room: Room = ROOM, sheet: Sheet | None = None, steps: Steps | None = None,
    profile: str = "sRGB", size: int = 5, hand_over: Any = "source",
) -> Plan:  # fmt: skip
    data = Profile.named(profile).data
    steps = own_steps() if steps is None else steps
    pipe = pp.Pipeline(steps, paper=paper, room=room, sheet=sheet, hand_over=hand_over)
    made = Plan(data, pipe.conditions(data), steps, size)
    return replace(made, steps=made.flat.steps)


def is_made_anew(change: dict[str, Any], base: dict[str, Any], made: list[Plan]) -> bool:
    """Whether a change to the arguments of `plan` asks for a table that is not there after `base`'s."""
    for _ in range(2):
        assert plan(**base).table is not None
    before = len(made)
    assert plan(**{**base, **change}).table is not None
    return len(made) > before


# ---------------------------------------------------------------- what can change a pixel


def moved(colour: Colour | None) -> Colour:
    assert colour is not None
    L, a, b = colour
    return L + 1, a, b


def ink(saturation: float) -> bytes:
    model = MatrixInk(15.0, saturation=saturation)
    return output_profile(model.lab, model.rgb, device_nodes=9, lab_nodes=17)


def chart(shift: float) -> Measurement:
    """A chart of the eight corners of a cube, mixed evenly."""
    assert PAPER.solids is not None and PAPER.white is not None and PAPER.black is not None
    device = np.array([(r, g, b) for r in (0, 1) for g in (0, 1) for b in (0, 1)], float)
    names = ["", "blue", "green", "cyan", "red", "magenta", "yellow", ""]
    lab = np.array([PAPER.solids[name] if name else PAPER.black for name in names])
    lab[-1] = PAPER.white
    lab[3, 1] += shift
    return Measurement("RGB", device, lab)


PAPER_CHANGES: dict[str, list[tuple[Paper, Paper]]] = {
    "white": [(PAPER, replace(PAPER, white=moved(PAPER.white)))],
    "surface": [(PAPER, replace(PAPER, surface="canvas"))],  # hangs without a pane
    "black": [(PAPER, replace(PAPER, black=moved(PAPER.black)))],
    "solids": [
        (PAPER, replace(PAPER, solids={**PAPER.solids, name: moved(PAPER.solids[name])}))
        for name in SOLIDS
        if PAPER.solids
    ],
    "measured": [(Paper(measured=chart(0)), Paper(measured=chart(1)))],
    "profile": [(Paper(profile=ink(0.55)), Paper(profile=ink(0.5)))],
}

ROOM_CHANGES: dict[str, Any] = {
    "illuminance_lux": 81.0,
    "evening_illuminance_lux": None,
    "surround": "dark",
    "wall_reflectance": 0.6,
    "wall_illuminance_lux": None,
    "glazing": "low-reflection",
    "reference": Reference(),
}

REFERENCE_CHANGES: dict[str, Any] = {
    "illuminance_lux": 400.0,
    "screen_white_cd_m2": 170.0,
    "screen_black_cd_m2": None,
    "surround": "dim",
}


def test_every_field_either_counts_or_is_known_to_be_unread() -> None:
    """A new field has to be put on one side, by hand."""
    for cls, changes in ((Paper, PAPER_CHANGES), (Room, ROOM_CHANGES), (Sheet, {})):
        assert {f.name for f in fields(cls)} == set(changes) | UNREAD[cls]
        assert not set(changes) & UNREAD[cls]
    assert {f.name for f in fields(Reference)} == set(REFERENCE_CHANGES)


@pytest.mark.parametrize("name", PAPER_CHANGES)
def test_each_field_of_the_paper_counts(name: str, made: list[Plan]) -> None:
    for one, other in PAPER_CHANGES[name]:
        assert is_made_anew({"paper": other}, {"paper": one}, made)


@pytest.mark.parametrize("name", ROOM_CHANGES)
def test_each_field_of_the_room_counts(name: str, made: list[Plan]) -> None:
    assert is_made_anew({"room": replace(ROOM, **{name: ROOM_CHANGES[name]})}, {}, made)


@pytest.mark.parametrize("name", REFERENCE_CHANGES)
def test_each_field_of_the_reference_counts(name: str, made: list[Plan]) -> None:
    reference = replace(ROOM.reference, **{name: REFERENCE_CHANGES[name]})
    assert is_made_anew({"room": replace(ROOM, reference=reference)}, {}, made)


def parameters() -> Iterator[tuple[str, str, object]]:
    """Each parameter of each step of ours, with a value that is not its default."""
    for name in sorted(_registry._own()):
        cls = _registry.adjustment(name)
        for f in fields(cls):
            hint = _hints(cls)[f.name]
            hints = [hint, *get_args(hint)]
            bounds = next(m for h in hints for m in getattr(h, "__metadata__", ()) if isinstance(m, msgspec.Meta))
            assert bounds.ge is not None and bounds.le is not None
            yield name, f.name, bounds.ge + 0.37 * (bounds.le - bounds.ge)


@pytest.mark.parametrize(("name", "parameter", "value"), list(parameters()))
def test_each_parameter_of_each_step_counts(name: str, parameter: str, value: object, made: list[Plan]) -> None:
    """In the form that a table is made of: one that is for neighbours alone does not count."""
    cls = _registry.adjustment(name)
    on = plan().on
    one, other = Steps((cls().flat(on),)), Steps((cls(**{parameter: value}).flat(on),))
    assert is_made_anew({"steps": other}, {"steps": one}, made) == (one != other)


def test_all_else_that_shapes_a_table_counts(made: list[Plan], monkeypatch: pytest.MonkeyPatch) -> None:
    paper = Paper(profile=ink(0.55))
    steps = own_steps()
    assert is_made_anew({"profile": "opRGB"}, {}, made)
    assert is_made_anew({"size": 6}, {}, made)
    assert is_made_anew({"hand_over": "paper"}, {"paper": paper}, made)
    assert is_made_anew({"steps": Steps(steps.items[:-1])}, {}, made)
    assert is_made_anew({"steps": Steps(steps.items[::-1])}, {}, made)
    before = len(made)
    monkeypatch.setattr(cache, "code_stamp", lambda: "other code")
    assert plan().table is not None
    assert len(made) == before + 1


def test_every_file_of_ours_that_shapes_colours_counts_and_no_files_time_does(tmp_path: Path) -> None:
    copy = tmp_path / "printprep"
    shutil.copytree(Path(pp.__file__).parent, copy, ignore=shutil.ignore_patterns("__pycache__"))
    (copy / "adjust" / "curve.dat").write_text("0 1")
    stamps = {cache.stamp_of(copy)}
    assert stamps == {cache.stamp_of(copy)}
    files = [f for part in cache._SHAPING for f in sorted((copy / part).iterdir()) if f.is_file()]
    assert {f.suffix for f in files} >= {".py", ".dat"}
    for file in files:
        os.utime(file, (1, 1))
        assert cache.stamp_of(copy) in stamps
        data = bytearray(file.read_bytes()) or bytearray(b"\n")
        data[-1] ^= 1
        file.write_bytes(data)
        os.utime(file, (1, 1))
        stamps.add(cache.stamp_of(copy))
    assert len(stamps) == len(files) + 1
    assert cache.stamp_of(copy, "numpy 1") != cache.stamp_of(copy, "numpy 2")


# ---------------------------------------------------------------- what cannot


@pytest.mark.parametrize(
    "change",
    [
        {"paper": replace(PAPER, title="another")},
        {"paper": replace(PAPER, source="another")},

        {"paper": replace(PAPER, native_ppi=300.0)},
        {"room": replace(ROOM, cct_kelvin=2700.0)},
        {"room": replace(ROOM, viewing_distance_m=3.0)},
        {"sheet": Sheet(ppi=240)},
        {"sheet": Sheet(distance_m=2.0)},
    ],
    ids=lambda change: str(change)[:90],
)
def test_what_cannot_change_a_pixel_does_not_count(change: dict[str, Any], made: list[Plan]) -> None:
    assert not is_made_anew(change, {}, made)


def test_notes_of_a_preset_do_not_count(tmp_path: Path, made: list[Plan]) -> None:
    table = 'uses = ["gloss"]\ntitle = "one"\nnotes = "one"\nsource = "one"\n'
    (tmp_path / "one.toml").write_text(table)
    (tmp_path / "two.toml").write_text(table.replace("one", "two"))
    one, two = (pp.paper(tmp_path / name) for name in ("one.toml", "two.toml"))
    assert not is_made_anew({"paper": two}, {"paper": one}, made)


def test_no_pointwise_step_reads_what_does_not_count() -> None:
    """Each step of ours, and the chain around them, watched at reading."""
    read: set[tuple[str, str]] = set()

    def watched(value: Any) -> Any:
        kind: Any = type(value)

        def get(self: object, name: str) -> object:
            read.add((kind.__name__, name))
            return kind.__getattribute__(self, name)

        new: Any = object.__new__(type(kind.__name__, (kind,), {"__getattribute__": get}))
        new.__dict__.update(value.__dict__)
        return new

    base = plan()
    assert PAPER.fingerprint  # found before: a paper's own identity may read all
    on = Conditions(watched(PAPER), watched(ROOM), watched(Sheet()), base.on.source)
    lab = _probe()[::20]
    for each in own_steps():
        flat = each.resolved(base.on).flat(base.on)  # what this decides, the steps that are told apart say
        if flat.reach(base.on) == 0:
            flat(lab, on)
    Chain(base.profile, on, Steps())(np.zeros((2, 3), np.float32))
    assert {("Room", "illuminance_lux"), ("Paper", "white")} <= read
    unread = {(cls.__name__, name) for cls, names in UNREAD.items() for name in names}
    assert not unread & read
    assert on.sheet.pixels_per_mm > 0
    assert ("Sheet", "ppi") in unread & read  # reading is noticed


# ---------------------------------------------------------------- steps of other packages


CODES = np.full((2, 2, 3), 30000, np.uint16)


def blue(result: np.ndarray) -> int:
    return int(result[0, 0, 2])


def applied(*steps: Adjustment) -> int:
    return blue(pp.Pipeline(steps, paper=PAPER, room=ROOM).apply(CODES, "sRGB"))


def cell(source: str) -> Callable[..., Adjustment]:
    """A class as a cell of a notebook defines it."""
    names: dict[str, Any] = {"__name__": "__main__"}
    exec(compile(source, "cell", "exec", dont_inherit=True), names)
    return names["Warm"]  # type: ignore[no-any-return]


def test_a_cell_that_is_run_again_gives_its_new_result() -> None:
    warmer = cell(step("Warm", "out[..., 2] += 8"))
    cooler = cell(step("Warm", "out[..., 2] -= 8"))
    plain = applied()
    assert applied(warmer()) < plain < applied(cooler())
    assert applied(warmer()) < plain


def test_nothing_of_another_packages_step_is_kept_on_disk(place: Path) -> None:
    warm = cell(step("Warm", "out[..., 2] += 8"))()
    pipe = pp.Pipeline([warm], paper=PAPER, room=ROOM)
    made = pipe.plan("sRGB")
    assert made.fingerprint is None
    for each in (pp.Pipeline([], paper=PAPER, room=ROOM), pipe):  # first what the paper alone is
        before = sorted(place.glob("*"))
        simulation(made.profile, each).picture("placed", CODES, lambda lab: lab)
    assert made.table is not None
    assert sorted(place.glob("*")) == before


@dataclass(frozen=True)
class Hidden(Adjustment):
    """A parameter that equality does not see."""

    stage: ClassVar[Stage] = Stage.COLOUR
    amount: float = field(default=0.0, compare=False)

    def __call__(self, lab: Lab, on: Conditions) -> Lab:
        return lab + np.array([0, 0, self.amount], np.float32)


def test_what_equality_does_not_see_counts() -> None:
    assert Hidden(amount=8.0) == Hidden(amount=-8.0)
    assert applied(Hidden(amount=8.0)) < applied() < applied(Hidden(amount=-8.0))


@pytest.fixture
def helped(monkeypatch: pytest.MonkeyPatch) -> tuple[ModuleType, type[Adjustment]]:
    """A step whose amount stands in a helper module, and that module."""
    helper = ModuleType("helper_of_steps")
    helper.GAIN = 8.0  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "helper_of_steps", helper)
    warm = cell("import helper_of_steps\n" + step("Warm", "out[..., 2] += helper_of_steps.GAIN"))
    return helper, warm  # type: ignore[return-value]


def test_a_changed_constant_of_a_helper_counts(helped: tuple[Any, type[Adjustment]]) -> None:
    helper, warm = helped
    pipe = pp.Pipeline([warm()], paper=PAPER, room=ROOM)
    plain, profile = applied(), Profile.named("sRGB").data
    grey = np.full((1, 3), 0.5, np.float32)
    assert blue(pipe.apply(CODES, "sRGB")) < plain
    assert simulation(profile, pipe).exactly(grey).ready[0, 2] > 4
    helper.GAIN = -8.0
    assert blue(pipe.apply(CODES, "sRGB")) > plain
    assert simulation(profile, pipe).exactly(grey).ready[0, 2] < -4


def test_a_method_that_is_replaced_in_its_class_counts(helped: tuple[Any, type[Adjustment]]) -> None:
    """As notebooks do that load changed modules again."""
    _, warm = helped
    pipe = pp.Pipeline([warm()], paper=PAPER, room=ROOM)
    assert blue(pipe.apply(CODES, "sRGB")) < applied()
    warm.__call__ = lambda self, lab, on: lab.copy()  # type: ignore[method-assign]
    assert blue(pipe.apply(CODES, "sRGB")) == applied()


def test_a_step_that_stays_the_same_keeps_its_table(helped: tuple[Any, type[Adjustment]]) -> None:
    _, warm = helped
    one, other = (pp.Pipeline([warm()], paper=PAPER, room=ROOM).plan("sRGB") for _ in range(2))
    assert one is other


def test_a_changed_helper_counts_after_a_restart(tmp_path: Path, place: Path) -> None:
    """With the files' times as they were, as in packages made to be reproducible."""
    (tmp_path / "some_steps.py").write_text("import some_helper\n" + step("Warm", "out[..., 2] += some_helper.GAIN"))
    script = (
        "import numpy as np, printprep as pp, some_steps\n"
        "pipe = pp.Pipeline([some_steps.Warm()], paper=pp.paper('gloss'))\n"
        "print(pipe.apply(np.full((2, 2, 3), 30000, np.uint16), 'sRGB')[0, 0, 2])\n"
    )
    path = f"{tmp_path}:{Path(pp.__file__).parents[1]}"
    seen = []
    for gain in (8, -8):
        (tmp_path / "some_helper.py").write_text(f"GAIN = {gain}\n")
        for file in tmp_path.glob("*.py"):
            os.utime(file, (1_600_000_000, 1_600_000_000))
        env = {**os.environ, "PYTHONPATH": path, "PYTHONDONTWRITEBYTECODE": "1"}
        out = subprocess.run([sys.executable, "-c", script], env=env, capture_output=True, text=True, check=True)
        seen.append(int(out.stdout))
    assert seen[0] < seen[1]

"""Papers, rooms and bundles of other packages and of several folders of one's own; none can do others harm."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import printprep as pp
from printprep import preset_files
from printprep.errors import ParameterError, PresetError, PrintprepError, UnknownName

ROOM = 'title = "{title}"\nsource = "measured"\n[room]\nilluminance_lux = {lux}\n[[adjust]]\nstep = "room-brightness"\n'
Install = Callable[..., Path]


@pytest.fixture
def install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Install]:
    """Put a package on the path that offers a folder of presets: files by their place in it."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.syspath_prepend(str(tmp_path / "site"))

    def make(package: str, files: dict[str, str], value: str = "") -> Path:
        module = package.replace("-", "_")
        info = tmp_path / "site" / f"{module}-1.0.dist-info"
        info.mkdir(parents=True)
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {package}\nVersion: 1.0\n")
        (info / "entry_points.txt").write_text(f"[printprep.presets]\nall = {value or module + '.presets'}\n")
        folder = tmp_path / "site" / module / "presets"
        folder.mkdir(parents=True)
        (folder.parent / "__init__.py").write_text("raise RuntimeError('this is not to be run for its presets')\n")
        for name, text in files.items():
            (folder / name).parent.mkdir(exist_ok=True)
            (folder / name).write_text(text)
        preset_files._offered.cache_clear()
        return folder

    yield make
    preset_files._offered.cache_clear()


def own(folder: Path, title: str, lux: float, name: str = "studio-wall") -> Path:
    (folder / "rooms").mkdir(parents=True, exist_ok=True)
    (folder / "rooms" / f"{name}.toml").write_text(ROOM.format(title=title, lux=lux))
    return folder


def test_a_packages_paper_room_and_bundle(install: Install) -> None:
    paper = 'uses = ["cotton-rag"]\ntitle = "Studio rag"\n[paper]\nnative_ppi = 300\n'
    bundle = 'title = "Both"\nuses = ["studio-rag", "studio-wall"]\nstrength = 0.8\n'
    folder = install("my-studio", {
        "papers/studio-rag.toml": paper,
        "rooms/studio-wall.toml": ROOM.format(title="Wall", lux=60),
        "studio.toml": bundle,
        "not a name.toml": "",
    })  # fmt: skip
    assert pp.paper("studio-rag").native_ppi == 300
    assert pp.room("Studio-Wall").illuminance_lux == 60
    pipe = pp.pipeline(preset="studio")
    assert (pipe.strength, pipe.paper.native_ppi, pipe.room.illuminance_lux) == (0.8, 300, 60)
    found = {p.name: p for p in pp.presets() if p.owner == "my-studio"}
    assert {n: (p.kind, p.title, p.fault) for n, p in found.items()} == {
        "studio-rag": ("paper", "Studio rag", ""),
        "studio-wall": ("room", "Wall", ""),
        "studio": ("bundle", "Both", ""),
    }
    assert found["studio"].file == str(folder / "studio.toml")
    with pytest.raises(UnknownName, match="did you mean studio-rag"):
        pp.paper("studio-rga")


def test_none_shadows_ours_or_yours(install: Install, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    files = {"rooms/hallway.toml": ROOM.format(title="Theirs", lux=3), "rooms/mine.toml": ROOM.format(title="T", lux=3)}
    install("their-rooms", files)
    assert pp.room("hallway").illuminance_lux != 3
    assert pp.room("mine").illuminance_lux == 3
    monkeypatch.setenv("PRINTPREP_PRESETS", str(own(tmp_path / "a", "Mine", 70, "mine")))
    assert pp.room("mine").illuminance_lux == 70
    listed = {p.name: p.owner for p in pp.presets("room")}
    assert (listed["hallway"], listed["mine"]) == ("printprep", "yours")


def test_two_packages_of_one_name_are_named(install: Install) -> None:
    for package in ("one", "two"):
        install(package, {"rooms/wall.toml": ROOM.format(title=package, lux=60)})
    with pytest.raises(PrintprepError, match="'wall': offered by one and two; name the file, or remove one"):
        pp.room("wall")
    fault = next(p for p in pp.presets("room") if p.name == "wall").fault
    assert "offered by one and two" in fault
    assert pp.room("hallway").illuminance_lux > 0


@pytest.mark.parametrize("value", ["nowhere.presets", "their_rooms.elsewhere", ".", "a:b"])
def test_a_package_without_its_folder_harms_nobody_else(install: Install, value: str) -> None:
    install("their-rooms", {}, value)
    assert pp.room("hallway").illuminance_lux > 0
    assert all(p.owner == "printprep" for p in pp.presets())
    with pytest.raises(PrintprepError, match="'hallwya': unknown room, and the presets of their-rooms are not where"):
        pp.room("hallwya")


def test_a_broken_file_is_listed_with_its_fault(install: Install) -> None:
    install("their-rooms", {"rooms/dark.toml": "[room]\nilluminance_lux = -1\n"})
    found = next(p for p in pp.presets("room") if p.name == "dark")
    assert "illuminance_lux = -1: must be a number" in found.fault and found.owner == "their-rooms"
    with pytest.raises(PresetError, match="illuminance_lux"):
        pp.room("dark")
    with pytest.raises(ParameterError, match="kind"):
        pp.presets("rooms")  # type: ignore[arg-type]


def test_several_folders_of_ones_own(install: Install, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one, two = own(tmp_path / "one", "One", 61), own(tmp_path / "two", "Two", 62)
    own(two, "Other", 63, "other")
    monkeypatch.setenv("PRINTPREP_PRESETS", os.pathsep.join(["", str(one), str(tmp_path / "none"), str(two)]))
    assert pp.room("studio-wall").illuminance_lux == 61  # the first that has it
    assert pp.room("other").illuminance_lux == 63
    mine = {p.name: (p.title, p.file) for p in pp.presets("room") if p.owner == "yours"}
    assert mine["studio-wall"] == ("One", str(one / "rooms" / "studio-wall.toml"))
    assert mine["other"] == ("Other", str(two / "rooms" / "other.toml"))

"""printprep presets: what there is, what one resolves to, what is wrong with one, and the defaults."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from printprep.cli import _complete
from printprep.cli._options import Group, json_option, named, result, say

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from printprep.preset import Preset, Setting


@click.group(cls=Group, invoke_without_command=True)
@json_option
@click.pass_context
def command(context: click.Context, as_json: bool) -> None:
    """Papers and rooms by name: list them, show one, check a file, set the defaults.

    \b
    printprep presets
    printprep presets show cotton-rag
    printprep presets use cotton-rag hallway
    """
    if context.invoked_subcommand is None:
        context.invoke(list_command, as_json=as_json)
    elif as_json:
        raise click.UsageError("--json stands after the command, as in: printprep presets list --json", context)


@command.command("list")
@json_option
def list_command(as_json: bool) -> None:
    """List the papers and rooms that can be named.

    \b
    printprep presets list --json
    """
    from printprep.cli._defaults import defaults

    papers, rooms, bundles = _listed()
    if as_json:
        result(json.dumps({"papers": papers, "rooms": rooms, "bundles": bundles, "defaults": defaults()}, indent=2))
        return
    from printprep.cli._tables import Screen, columns, row

    screen = Screen()
    table = columns("Paper", "Surface", "White L*", "Black L*", "D", "Gamut", "Values", right=(2, 3, 4, 5))
    for each in papers:
        gamut = f"{each['gamut_volume'] / 1000:.0f}k"
        black, density = f"{each['black_L']:.1f}", f"{each['black_density']:.2f}"
        row(table, each["name"], each["surface"], f"{each['white_L']:.1f}", black, density, gamut, each["basis"])
    screen.show(table)
    screen.line("D: density of black. Gamut: volume in thousand cubic dE.\n", "dim")
    table = columns("Room", "Lux", "Kelvin", "Glazing", "Metres", right=(1, 2, 4))
    for each in rooms:
        evening = each["evening_illuminance_lux"]
        lux = f"{each['illuminance_lux']:g}" + (f" / {evening:g}" if evening else "")
        kelvin, far = f"{each['cct_kelvin']:g}", f"{each['viewing_distance_m']:g}"
        row(table, each["name"], lux, kelvin, each["glazing"], far)
    screen.show(table)
    screen.line("Two lux values: by day and in the evening. Metres: from eye to print.\n", "dim")
    if bundles:
        table = columns("Bundle", "Title")
        for each in bundles:
            row(table, each["name"], each["title"])
        screen.show(table)
    if chosen := defaults():
        screen.line(f"Defaults: paper {chosen['paper']}, room {chosen['room']}", "dim")
    screen.line("One in full: printprep presets show NAME", "dim")


@command.command("show")
@click.argument("name", shell_complete=_complete.any_preset)
@json_option
def show_command(name: str, as_json: bool) -> None:
    """Show each value of the preset NAME, and where it comes from.

    NAME may also be the path of a preset, of an ICC profile or of a measurement.

    \b
    printprep presets show cotton-rag
    """
    from printprep.named import shown

    preset = shown(name)
    rows = _resolved(preset)
    if as_json:
        document = {
            "name": preset.name,
            "file": preset.file,
            "title": preset.title,
            "notes": preset.notes.strip(),
            "source": preset.source,
            "values": [dict(zip(("key", "value", "unit", "from"), row, strict=True)) for row in rows],
        }
        result(json.dumps(document, indent=2))
        return
    from printprep.cli._tables import Screen, columns, row

    screen = Screen()
    screen.line(preset.title or preset.name, "bold")
    if preset.notes.strip():
        screen.line(preset.notes.strip().replace("\n", " "))
    screen.line(f"source: {preset.source or 'not stated'}", "dim")
    files = list(dict.fromkeys(row[3] for row in rows if row[3].endswith(".toml")))
    table = columns("Value", "", "Unit", "From")
    table.columns[1].justify = "right"
    for column in table.columns:
        column.overflow = "fold"  # a long path goes on in the next line
    stems = [Path(file).name for file in files]
    short = {
        f: n if stems.count(n) == 1 else f"{n} ({stems[:i].count(n) + 1})"
        for i, (f, n) in enumerate(zip(files, stems, strict=True))
    }
    for key, value, unit, file in rows:
        row(table, key, _text(value), unit, short.get(file, file), dim=file == "default")
    screen.show(table)
    for file in files:
        screen.line(f"{short[file]}: {_short(file)}", "dim")
    if preset.paper is not None:
        screen.line(preset.paper.certainty + ".", "dim")


@command.command("check")
@click.argument("file", type=click.Path(path_type=Path))
def check_command(file: Path) -> None:
    """Say what is wrong with a preset FILE; exit status 2 if anything is.

    \b
    printprep presets check my-hallway.toml
    """
    from printprep.check.basis import typical_values
    from printprep.errors import InputError
    from printprep.preset import load

    if file.suffix != ".toml":
        raise InputError("a preset's name must end in .toml", where=repr(str(file)), do="rename it")
    preset = load(file)
    tables = {"a paper": preset.paper_table, "a room": preset.room_table, "a sheet": preset.sheet_table}
    parts = [word for word, table in tables.items() if table]
    if preset.adjust:
        parts.append(f"{len(preset.adjust)} step{'s' if len(preset.adjust) > 1 else ''}")
    shown = repr(str(file))
    if not preset.source:
        say(f"{shown}: warning: source is missing, so nobody can tell where the values come from; add it")
    if not parts:
        say(f"{shown}: warning: has no paper, no room and no steps; add [paper], [room] or [[adjust]]")
    if preset.paper is not None and preset.paper.typical:
        say(f"{shown}: warning: {typical_values()}")
    result(f"{named(file)}: good" + (f" ({', '.join(parts)})" if parts else ""))


@command.command("use")
@click.argument("paper", shell_complete=_complete.papers)
@click.argument("room", shell_complete=_complete.rooms)
def use_command(paper: str, room: str) -> None:
    """Set the paper and the room that commands use when none is named.

    \b
    printprep presets use cotton-rag hallway
    """
    from printprep.cli._defaults import set_defaults
    from printprep.named import named_paper, named_room

    named_paper(paper), named_room(room)
    kept = [str(Path(n).absolute()) if Path(n).suffix and Path(n).exists() else n for n in (paper, room)]
    where = set_defaults(*kept)
    result(f"paper {kept[0]}, room {kept[1]} are used from now on when none is named")
    say(f"kept in {_short(str(where))}")


# ---------------------------------------------------------------- rows


def _listed() -> tuple[list[dict[str, Any]], list[dict[str, Any]], list[dict[str, Any]]]:
    """Papers, rooms and bundles as they are listed; what cannot be read is said."""
    from printprep.check.basis import basis
    from printprep.errors import PrintprepError
    from printprep.preset import load
    from printprep.preset_files import names

    papers, rooms, bundles = list[dict[str, Any]](), list[dict[str, Any]](), list[dict[str, Any]]()
    for kind in ("paper", "room", "bundle"):
        for name in names(kind):
            try:
                preset = load(name, kind)
            except PrintprepError as error:
                say(error)
                continue
            head, paper, room = {"name": name, "title": preset.title}, preset.paper, preset.room
            if kind == "paper" and paper is not None:
                assert paper.white is not None and paper.black is not None
                papers.append({
                    **head,
                    "surface": paper.surface,
                    "white_L": round(paper.white[0], 1),
                    "black_L": round(paper.black[0], 1),
                    "black_density": round(_density(paper.black[0]), 2),
                    "gamut_volume": round(paper.solid.volume),
                    "basis": basis(paper),
                    "file": preset.file,
                })  # fmt: skip
            elif kind == "room" and room is not None:
                rooms.append({
                    **head,
                    "illuminance_lux": room.illuminance_lux,
                    "evening_illuminance_lux": room.evening_illuminance_lux,
                    "prepared_lux": round(room.prepared_lux, 1),
                    "cct_kelvin": room.cct_kelvin,
                    "glazing": room.glazing,
                    "viewing_distance_m": room.viewing_distance_m,
                    "file": preset.file,
                })  # fmt: skip
            else:
                bundles.append(head)
    return papers, rooms, bundles


def _density(lightness: float) -> float:
    """Absolute density of a neutral: D = -log10 Y (ISO 5), Y from CIE L*."""
    from math import log10

    from printprep.colour.lab import luminance_from_lightness

    return -log10(max(float(luminance_from_lightness(lightness)), 1e-6))


_UNITS = {
    "white": "L* a* b*, D50",
    "black": "L* a* b*, D50",
    "native_ppi": "pixels per inch",
    "illuminance_lux": "lux",
    "evening_illuminance_lux": "lux",
    "wall_illuminance_lux": "lux",
    "screen_white_cd_m2": "cd/m2",
    "screen_black_cd_m2": "cd/m2",
    "cct_kelvin": "kelvin",
    "wall_reflectance": "0 to 1",
    "viewing_distance_m": "metres",
    "strength": "1 is the model",
    "radius_mm": "millimetres of paper",
    "last_light": "L*",
    "lighter": "L*",
    "shadows": "C*",
    "highlights": "C*",
    "shadows_hue": "degrees",
    "highlights_hue": "degrees",
}


Row = tuple[str, object, str, str]
"""Key, value, unit, and the file that it comes from."""


def _resolved(preset: Preset) -> list[Row]:
    """Every value, set or default; paper, room, then steps in their order."""
    from printprep.adjust._registry import step_name

    rows = list(_of_paper(preset)) if preset.paper is not None else []
    if (room := preset.room) is not None:
        rows += _of_fields(room, preset.room_table)
        if room.evening_illuminance_lux is not None:
            rows.append(("  prepared for", round(room.prepared_lux, 1), "lux", "geometric mean"))
    rows += [(f"sheet {key}", s.value, "", s.file) for key, s in preset.sheet_table.items()]
    whole = (("hand_over", preset.hand_over), ("strength", preset.strength))
    rows += [(key, value, _UNITS.get(key, ""), preset.file) for key, value in whole if value is not None]
    for step in preset.steps:
        own = preset.adjust[step_name(step)]
        rows.append((f"step {step_name(step)}", "", "", next((s.file for s in own.values()), preset.file)))
        rows += _of_fields(step, own, "  ")
    return rows


def _of_fields(thing: Any, table: Mapping[str, Setting], before: str = "") -> Iterator[Row]:
    """The fields of a room or a step that are not left open; `table` has those that a preset sets."""
    from dataclasses import fields, is_dataclass, replace

    for name in (f.name for f in fields(thing)):
        value, at = getattr(thing, name), table.get(name)
        if is_dataclass(value):
            given: Any = at.value if at is not None else {}
            yield from _of_fields(value, {k: replace(at, value=v) for k, v in given.items() if at}, f"{name}.")
        elif value is not None:
            yield f"{before}{name}", value, _UNITS.get(name, ""), at.file if at is not None else "default"


def _of_paper(preset: Preset) -> Iterator[Row]:
    paper, table = preset.paper, preset.paper_table
    assert paper is not None and paper.white is not None and paper.black is not None

    def row(key: str, value: object, *within: str, unit: str = "") -> Row:
        file = next((table[k].file for k in (key, *within) if k in table), "default")
        return key, value, unit or _UNITS.get(key, ""), file

    yield row("surface", paper.surface)
    for key in ("profile", "measurements"):
        if key in table:
            yield row(key, table[key].value)
    yield row("white", _rounded(paper.white), "profile", "measurements")
    yield row("black", _rounded(paper.black), "profile", "measurements")
    yield "  density", round(_density(paper.black[0]), 2), "D, absolute", "from black"
    for ink, colour in (paper.solids or {}).items():
        yield f"  {ink}", _rounded(colour), "L* a* b*, D50", table["solids"].file
    yield "  gamut volume", round(paper.solid.volume / 1000) * 1000, "cubic dE", "from the gamut"
    yield row("native_ppi", paper.native_ppi)
    if paper.grey_ramp is not None:
        yield row("grey_mode", paper.grey_mode)
        span = f"{len(paper.grey_ramp)} codes, L* {paper.grey_ramp[0][1]:g} to {paper.grey_ramp[-1][1]:g}"
        yield row("grey_ramp", span, unit="absolute")


def _rounded(colour: tuple[float, ...]) -> list[float]:
    return [round(c, 2) for c in colour]


def _text(value: object) -> str:
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, (list, tuple)):
        return "  ".join(f"{v:.1f}" for v in value)
    return str(value)


def _short(file: str) -> str:
    """A preset's file as people know it: shipped ones from ``presets/`` on, those at home from ``~`` on."""
    from printprep.preset_files import shipped

    base, home = str(shipped()), os.path.expanduser("~")  # noqa: PTH111  (itself where there is no home)
    if file.startswith(base):
        return "shipped " + file[len(base) + 1 :]
    return "~" + file[len(home) :] if file.startswith(home + "/") else file
